//! One-channel pictures of `f32` and the neighbourhood operations the finding is built on.
//!
//! All operations keep the size and treat the border by leaving out what lies outside the picture.
//! Results do not depend on the number of threads: each output row is computed by one thread in a fixed order.

use rayon::prelude::*;

/// A `width` x `height` grid of numbers, row by row from the top left.
#[derive(Debug, Clone, PartialEq)]
pub struct Plane {
    /// Width in pixels.
    pub width: usize,
    /// Height in pixels.
    pub height: usize,
    /// `width * height` values.
    pub values: Vec<f32>,
}

impl Plane {
    /// A plane filled with one value.
    pub fn filled(width: usize, height: usize, value: f32) -> Self {
        Self {
            width,
            height,
            values: vec![value; width * height],
        }
    }

    /// The value at (x, y), the nearest border value outside.
    pub fn at_clamped(&self, x: i32, y: i32) -> f32 {
        let x = x.clamp(0, self.width as i32 - 1) as usize;
        let y = y.clamp(0, self.height as i32 - 1) as usize;
        self.values[y * self.width + x]
    }

    /// Bilinear value at a fractional position (pixel centres at whole numbers), nearest border value outside.
    pub fn sample(&self, x: f32, y: f32) -> f32 {
        let [value] = Self::sample_all([self], x, y);
        value
    }

    /// [`Plane::sample`] of several planes of one size.
    pub fn sample_all<const N: usize>(planes: [&Plane; N], x: f32, y: f32) -> [f32; N] {
        let (w, h) = (planes[0].width, planes[0].height);
        let x = x.clamp(0.0, (w - 1) as f32);
        let y = y.clamp(0.0, (h - 1) as f32);
        let (x0, y0) = (x as usize, y as usize);
        let right = usize::from(x0 + 1 < w);
        let (top, bottom) = (y0 * w + x0, (y0 + 1).min(h - 1) * w + x0);
        let (fx, fy) = (x - x0 as f32, y - y0 as f32);
        planes.map(|plane| {
            let row = |i: usize| {
                let (p, q) = (plane.values[i], plane.values[i + right]);
                p + (q - p) * fx
            };
            let (top, bottom) = (row(top), row(bottom));
            top + (bottom - top) * fy
        })
    }

    /// Each value mapped by `f`.
    pub fn map(&self, f: impl Fn(f32) -> f32 + Sync) -> Plane {
        let values = self
            .values
            .par_chunks(self.width)
            .flat_map_iter(|row| row.iter().map(|&v| f(v)))
            .collect();
        Plane {
            width: self.width,
            height: self.height,
            values,
        }
    }

    /// Two planes of one size combined value by value.
    pub fn zip(&self, other: &Plane, f: impl Fn(f32, f32) -> f32 + Sync) -> Plane {
        let mut out = Plane::filled(self.width, self.height, 0.0);
        out.values
            .par_chunks_mut(self.width)
            .zip(
                self.values
                    .par_chunks(self.width)
                    .zip(other.values.par_chunks(self.width)),
            )
            .for_each(|(o, (a, b))| {
                for ((o, &a), &b) in o.iter_mut().zip(a).zip(b) {
                    *o = f(a, b);
                }
            });
        out
    }

    /// Mean over the (2r+1) x (2r+1) square around each pixel.
    pub fn box_mean(&self, r: usize) -> Plane {
        if r == 0 {
            return self.clone();
        }
        self.row_mean(r).column_mean(r)
    }

    /// Two passes of [`Plane::box_mean`]: close to a Gaussian of standard deviation about 0.82 r.
    pub fn smooth(&self, r: usize) -> Plane {
        self.box_mean(r).box_mean(r)
    }

    fn row_mean(&self, r: usize) -> Plane {
        let mut out = Plane::filled(self.width, self.height, 0.0);
        out.values
            .par_chunks_mut(self.width)
            .zip(self.values.par_chunks(self.width))
            .for_each(|(o, row)| running_mean(row, r, o));
        out
    }

    fn column_mean(&self, r: usize) -> Plane {
        let (w, h) = (self.width, self.height);
        let mut out = Plane::filled(w, h, 0.0);
        // Bands of rows: each starts its column sums anew, so that rounding does not depend on the thread count.
        let band = 64;
        out.values
            .par_chunks_mut(w * band)
            .enumerate()
            .for_each(|(b, chunk)| {
                let first = b * band;
                let mut sums = vec![0.0f32; w];
                let (mut top, mut bottom) = (first.saturating_sub(r), first.saturating_sub(r));
                for (k, o) in chunk.chunks_mut(w).enumerate() {
                    let y = first + k;
                    while bottom < (y + r + 1).min(h) {
                        add_row(&mut sums, &self.values[bottom * w..(bottom + 1) * w], 1.0);
                        bottom += 1;
                    }
                    while top < y.saturating_sub(r) {
                        add_row(&mut sums, &self.values[top * w..(top + 1) * w], -1.0);
                        top += 1;
                    }
                    let scale = 1.0 / (bottom - top) as f32;
                    for (o, s) in o.iter_mut().zip(&sums) {
                        *o = s * scale;
                    }
                }
            });
        out
    }

    /// Largest value over the (2r+1) x (2r+1) square around each pixel.
    pub fn box_max(&self, r: usize) -> Plane {
        self.reach_max(1, 0, r)
            .reach_max(-1, 0, r)
            .reach_max(0, 1, r)
            .reach_max(0, -1, r)
    }

    /// Smallest value over the (2r+1) x (2r+1) square around each pixel.
    pub fn box_min(&self, r: usize) -> Plane {
        self.map(|v| -v).box_max(r).map(|v| -v)
    }

    /// Grey opening with the square: bright spots narrower than 2r+1 vanish.
    pub fn open(&self, r: usize) -> Plane {
        self.box_min(r).box_max(r)
    }

    /// Largest value on the ray from each pixel over `reach` steps in direction (dx, dy), the pixel itself included.
    pub fn reach_max(&self, dx: i32, dy: i32, reach: usize) -> Plane {
        let mut current = self.clone();
        let mut covered = 0usize; // current = max over steps 0..=covered
        while covered < reach {
            let step = (covered + 1).min(reach - covered);
            current = current.max_with_shifted(dx * step as i32, dy * step as i32);
            covered += step;
        }
        current
    }

    /// Value by value the larger of this plane and this plane read (dx, dy) further on.
    fn max_with_shifted(&self, dx: i32, dy: i32) -> Plane {
        let (w, h) = (self.width as i32, self.height as i32);
        let mut out = self.clone();
        out.values
            .par_chunks_mut(self.width)
            .enumerate()
            .for_each(|(y, row)| {
                let from = y as i32 + dy;
                if from < 0 || from >= h || dx.abs() >= w {
                    return;
                }
                let source = &self.values[(from * w) as usize..((from + 1) * w) as usize];
                let (first, last) = ((-dx).max(0) as usize, (w - dx.max(0)) as usize);
                let shifted = &source[(first as i32 + dx) as usize..(last as i32 + dx) as usize];
                for (o, &s) in row[first..last].iter_mut().zip(shifted) {
                    *o = if s > *o { s } else { *o };
                }
            });
        out
    }

    /// Largest value over the disc of radius r around each pixel.
    pub fn disc_max(&self, r: usize) -> Plane {
        let (w, h) = (self.width, self.height);
        let widths: Vec<usize> = (0..=r)
            .map(|dy| (((r * r - dy * dy) as f32 + r as f32).sqrt() as usize).min(r))
            .collect();
        let rows: Vec<Plane> = widths
            .iter()
            .map(|&hw| self.reach_max(1, 0, hw).reach_max(-1, 0, hw))
            .collect();
        let mut out = rows[0].clone();
        out.values.par_chunks_mut(w).enumerate().for_each(|(y, o)| {
            for (dy, plane) in rows.iter().enumerate().skip(1) {
                for from in [y.checked_sub(dy), Some(y + dy)]
                    .into_iter()
                    .flatten()
                    .filter(|&f| f < h)
                {
                    for (o, &s) in o.iter_mut().zip(&plane.values[from * w..(from + 1) * w]) {
                        *o = if s > *o { s } else { *o };
                    }
                }
            }
        });
        out
    }

    /// Smallest value over the disc of radius r around each pixel.
    pub fn disc_min(&self, r: usize) -> Plane {
        self.map(|v| -v).disc_max(r).map(|v| -v)
    }

    /// Median over the 3 x 3 square around each pixel.
    pub fn median3(&self) -> Plane {
        let mut out = self.clone();
        let w = self.width;
        out.values
            .par_chunks_mut(w)
            .enumerate()
            .for_each(|(y, row)| {
                for (x, o) in row.iter_mut().enumerate() {
                    let mut v: [f32; 9] = std::array::from_fn(|k| {
                        self.at_clamped(x as i32 + k as i32 % 3 - 1, y as i32 + k as i32 / 3 - 1)
                    });
                    v.sort_by(f32::total_cmp);
                    *o = v[4];
                }
            });
        out
    }

    /// Mean over blocks of `step` x `step`; partial blocks at the far edges are averaged over what is there.
    pub fn reduced(&self, step: usize) -> Plane {
        let (w, h) = (self.width.div_ceil(step), self.height.div_ceil(step));
        let mut out = Plane::filled(w, h, 0.0);
        out.values
            .par_chunks_mut(w)
            .enumerate()
            .for_each(|(by, row)| {
                let (y0, y1) = (by * step, ((by + 1) * step).min(self.height));
                for (bx, o) in row.iter_mut().enumerate() {
                    let (x0, x1) = (bx * step, ((bx + 1) * step).min(self.width));
                    let sum: f32 = (y0..y1)
                        .map(|y| {
                            self.values[y * self.width + x0..y * self.width + x1]
                                .iter()
                                .sum::<f32>()
                        })
                        .sum();
                    *o = sum / ((y1 - y0) * (x1 - x0)) as f32;
                }
            });
        out
    }

    /// Bilinear enlargement of a plane made by [`Plane::reduced`] with this `step`, to the given size.
    pub fn enlarged(&self, step: usize, width: usize, height: usize) -> Plane {
        let centre = |i: usize| ((i as f32 + 0.5) / step as f32 - 0.5).max(0.0);
        let columns: Vec<(usize, usize, f32)> = (0..width)
            .map(|x| {
                let c = centre(x);
                let x0 = (c as usize).min(self.width - 1);
                (x0, (x0 + 1).min(self.width - 1), c - x0 as f32)
            })
            .collect();
        let mut out = Plane::filled(width, height, 0.0);
        out.values
            .par_chunks_mut(width)
            .enumerate()
            .for_each(|(y, row)| {
                let c = centre(y);
                let y0 = (c as usize).min(self.height - 1);
                let y1 = (y0 + 1).min(self.height - 1);
                let fy = (c - y0 as f32).min(1.0);
                let mixed: Vec<f32> = self.values[y0 * self.width..(y0 + 1) * self.width]
                    .iter()
                    .zip(&self.values[y1 * self.width..(y1 + 1) * self.width])
                    .map(|(a, b)| a + (b - a) * fy)
                    .collect();
                for (o, &(x0, x1, fx)) in row.iter_mut().zip(&columns) {
                    *o = mixed[x0] + (mixed[x1] - mixed[x0]) * fx.min(1.0);
                }
            });
        out
    }
}

fn add_row(sums: &mut [f32], row: &[f32], sign: f32) {
    for (s, v) in sums.iter_mut().zip(row) {
        *s += sign * v;
    }
}

fn running_mean(row: &[f32], r: usize, out: &mut [f32]) {
    let n = row.len();
    let mut sum = 0.0f64;
    let (mut first, mut last) = (0usize, 0usize);
    for (x, o) in out.iter_mut().enumerate() {
        while last < (x + r + 1).min(n) {
            sum += f64::from(row[last]);
            last += 1;
        }
        while first < x.saturating_sub(r) {
            sum -= f64::from(row[first]);
            first += 1;
        }
        *o = (sum / (last - first) as f64) as f32;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn spot() -> Plane {
        let mut p = Plane::filled(7, 5, 0.0);
        p.values[2 * 7 + 3] = 1.0;
        p
    }

    #[test]
    fn box_max_is_a_square_and_disc_max_a_disc() {
        let square: usize = spot()
            .box_max(2)
            .values
            .iter()
            .filter(|&&v| v > 0.5)
            .count();
        assert_eq!(square, 25);
        let disc: usize = spot()
            .disc_max(2)
            .values
            .iter()
            .filter(|&&v| v > 0.5)
            .count();
        assert_eq!(disc, 21); // 5 x 5 without its corners
    }

    #[test]
    fn reach_looks_one_way_only() {
        let p = spot().reach_max(1, 0, 2);
        let row: Vec<f32> = p.values[14..21].to_vec();
        assert_eq!(row, [0.0, 1.0, 1.0, 1.0, 0.0, 0.0, 0.0]);
    }

    #[test]
    fn means_keep_a_constant_and_the_total_inside() {
        let p = Plane::filled(130, 90, 3.5).box_mean(4);
        assert!(p.values.iter().all(|v| (v - 3.5).abs() < 1e-5));
        let s = spot().box_mean(1);
        assert!((s.values.iter().sum::<f32>() - 1.0).abs() < 1e-5);
    }

    #[test]
    fn enlarging_a_ramp_gives_the_ramp_back_inside() {
        let mut p = Plane::filled(40, 12, 0.0);
        for (i, v) in p.values.iter_mut().enumerate() {
            *v = (i % 40) as f32;
        }
        let back = p.reduced(4).enlarged(4, 40, 12);
        for x in 2..38 {
            assert!((back.values[5 * 40 + x] - x as f32).abs() < 1e-4);
        }
    }

    #[test]
    fn opening_removes_thin_lines_and_keeps_blocks() {
        let mut p = Plane::filled(20, 20, 0.0);
        for i in 0..20 {
            p.values[10 * 20 + i] = 1.0;
        }
        for y in 2..7 {
            for x in 2..7 {
                p.values[y * 20 + x] = 1.0;
            }
        }
        let o = p.open(1);
        assert_eq!(o.values.iter().filter(|&&v| v > 0.5).count(), 25);
    }
}
