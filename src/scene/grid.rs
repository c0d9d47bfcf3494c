//! Small grey pictures for finding the cup: box reduction, logarithm, blur.

use crate::photo::LinearImage;

/// Luminance of linear sRGB primaries [IEC61966-2-1].
pub(super) const LUMINANCE: [f32; 3] = [0.2126, 0.7152, 0.0722];

/// A grey picture, row by row from the top left.
#[derive(Debug, Clone)]
pub(super) struct Grid {
    pub w: usize,
    pub h: usize,
    pub px: Vec<f32>,
}

impl Grid {
    /// Linear luminance of a picture, never below zero.
    pub fn luminance(image: &LinearImage) -> Self {
        let [r, g, b] = &image.planes;
        let px = r
            .iter()
            .zip(g)
            .zip(b)
            .map(|((r, g), b)| (LUMINANCE[0] * r + LUMINANCE[1] * g + LUMINANCE[2] * b).max(0.0))
            .collect();
        Self {
            w: image.width,
            h: image.height,
            px,
        }
    }

    /// Red, green and blue of a picture.
    pub fn planes(image: &LinearImage) -> [Self; 3] {
        image.planes.each_ref().map(|px| Self {
            w: image.width,
            h: image.height,
            px: px.clone(),
        })
    }

    /// Mean over `k` by `k` blocks; a remainder at the right and bottom is left out.
    pub fn reduced(&self, k: usize) -> Self {
        Self::reduced_plane(&self.px, self.w, self.h, k)
    }

    /// The same of a plane of `width` by `height` values.
    pub fn reduced_plane(plane: &[f32], width: usize, height: usize, k: usize) -> Self {
        let (w, h) = (width / k, height / k);
        let mut px = vec![0.0f32; w * h];
        for (y, out) in px.chunks_exact_mut(w.max(1)).enumerate() {
            for row in (y * k..(y + 1) * k).map(|sy| &plane[sy * width..sy * width + w * k]) {
                add_blocks(row, k, out);
            }
        }
        let share = 1.0 / (k * k) as f32;
        px.iter_mut().for_each(|v| *v *= share);
        Self { w, h, px }
    }

    /// Natural logarithm of value plus `floor`, so that steps are ratios of light and dark noise stays small.
    pub fn log(mut self, floor: f32) -> Self {
        self.px.iter_mut().for_each(|v| *v = (*v + floor).ln());
        self
    }

    /// Three running means of half-width `radius` in both directions: close to a Gaussian of
    /// standard deviation sqrt(radius * (radius + 1)).
    pub fn blurred(&self, radius: usize) -> Self {
        let mut out = self.clone();
        let mut line = Vec::new();
        for _ in 0..3 {
            for y in 0..self.h {
                running_mean(&mut out.px[y * self.w..(y + 1) * self.w], radius, &mut line);
            }
            out.mean_down(radius);
        }
        out
    }

    /// Running mean of half-width `radius` down the columns, a whole row at a time.
    fn mean_down(&mut self, radius: usize) {
        let (w, h) = (self.w, self.h);
        if h == 0 {
            return;
        }
        let row = |y: isize| y.clamp(0, h as isize - 1) as usize * w;
        let mut sum = vec![0.0f32; w];
        let mut out = vec![0.0f32; w * h];
        let r = radius as isize;
        for y in -r..=r {
            let at = row(y);
            sum.iter_mut()
                .zip(&self.px[at..at + w])
                .for_each(|(s, v)| *s += v);
        }
        let share = 1.0 / (2 * radius + 1) as f32;
        for y in 0..h as isize {
            let at = y as usize * w;
            out[at..at + w]
                .iter_mut()
                .zip(&sum)
                .for_each(|(o, s)| *o = s * share);
            let (add, drop) = (row(y + r + 1), row(y - r));
            for ((s, a), d) in sum
                .iter_mut()
                .zip(&self.px[add..add + w])
                .zip(&self.px[drop..drop + w])
            {
                *s += a - d;
            }
        }
        self.px = out;
    }

    /// Bilinear value at a place given in pixels (pixel centres on whole numbers); `None` outside.
    pub fn at(&self, x: f32, y: f32) -> Option<f32> {
        if !(x >= 0.0 && y >= 0.0 && x <= (self.w as f32 - 1.0) && y <= (self.h as f32 - 1.0)) {
            return None;
        }
        let (ix, iy) = (
            (x as usize).min(self.w.saturating_sub(2)),
            (y as usize).min(self.h.saturating_sub(2)),
        );
        let (fx, fy) = (x - ix as f32, y - iy as f32);
        let (right, down) = (usize::from(self.w > 1), if self.h > 1 { self.w } else { 0 });
        let i = iy * self.w + ix;
        let top = self.px[i] * (1.0 - fx) + self.px[i + right] * fx;
        let bottom = self.px[i + down] * (1.0 - fx) + self.px[i + down + right] * fx;
        Some(top * (1.0 - fy) + bottom * fy)
    }
}

/// Adds the sums of `k` values side by side.
fn add_blocks(row: &[f32], k: usize, out: &mut [f32]) {
    if k == 2 {
        let pairs = row.as_chunks::<2>().0;
        out.iter_mut()
            .zip(pairs)
            .for_each(|(o, [a, b])| *o += a + b);
    } else {
        let blocks = row.chunks_exact(k);
        out.iter_mut()
            .zip(blocks)
            .for_each(|(o, block)| *o += block.iter().sum::<f32>());
    }
}

/// Replaces a line by its running mean of half-width `radius`; ends are repeated.
fn running_mean(line: &mut [f32], radius: usize, copy: &mut Vec<f32>) {
    let n = line.len() as isize;
    if n == 0 {
        return;
    }
    copy.clear();
    copy.extend_from_slice(line);
    let r = radius as isize;
    let get = |i: isize| copy[i.clamp(0, n - 1) as usize];
    let mut sum: f32 = (-r..=r).map(get).sum();
    let share = 1.0 / (2 * radius + 1) as f32;
    for i in 0..n {
        line[i as usize] = sum * share;
        sum += get(i + r + 1) - get(i - r);
    }
}
