//! Binary masks: connected components, filled holes, distance to the edge.

use crate::plane::Plane;

/// A binary picture, 1 = set.
#[derive(Debug, Clone, PartialEq)]
pub struct Mask {
    /// Width in pixels.
    pub width: usize,
    /// Height in pixels.
    pub height: usize,
    /// One byte a pixel, 0 or 1.
    pub bits: Vec<u8>,
}

/// One 8-connected component of a mask, cut out with a border of one empty pixel.
#[derive(Debug, Clone)]
pub struct Blob {
    /// Position of the cut-out's pixel (0, 0) in the mask (may be -1 at the edge).
    pub origin: [i32; 2],
    /// The component alone.
    pub mask: Mask,
    /// Count of set pixels.
    pub area: usize,
}

impl Mask {
    /// An empty mask.
    pub fn empty(width: usize, height: usize) -> Self {
        Self { width, height, bits: vec![0; width * height] }
    }

    /// Set where the plane is above `limit`.
    pub fn above(plane: &Plane, limit: f32) -> Self {
        let bits = plane.values.iter().map(|&v| u8::from(v > limit)).collect();
        Self { width: plane.width, height: plane.height, bits }
    }

    /// True when (x, y) lies in the picture and is set.
    pub fn get(&self, x: i32, y: i32) -> bool {
        x >= 0
            && y >= 0
            && (x as usize) < self.width
            && (y as usize) < self.height
            && self.bits[y as usize * self.width + x as usize] > 0
    }

    /// The 8-connected components in reading order of their first pixel.
    pub fn blobs(&self) -> Vec<Blob> {
        let mut seen = vec![false; self.bits.len()];
        let mut out = Vec::new();
        let mut stack = Vec::new();
        for start in 0..self.bits.len() {
            if self.bits[start] == 0 || seen[start] {
                continue;
            }
            seen[start] = true;
            stack.push(start);
            let mut pixels = Vec::new();
            while let Some(i) = stack.pop() {
                pixels.push(i);
                self.push_neighbours(i, &mut seen, &mut stack);
            }
            out.push(self.cut_out(&pixels));
        }
        out
    }

    fn push_neighbours(&self, i: usize, seen: &mut [bool], stack: &mut Vec<usize>) {
        let (x, y) = ((i % self.width) as i32, (i / self.width) as i32);
        for dy in -1..=1 {
            for dx in -1..=1 {
                if self.get(x + dx, y + dy) {
                    let j = (y + dy) as usize * self.width + (x + dx) as usize;
                    if !seen[j] {
                        seen[j] = true;
                        stack.push(j);
                    }
                }
            }
        }
    }

    fn cut_out(&self, pixels: &[usize]) -> Blob {
        let xs = pixels.iter().map(|i| i % self.width);
        let ys = pixels.iter().map(|i| i / self.width);
        let (x0, x1) = (xs.clone().min().unwrap_or(0), xs.max().unwrap_or(0));
        let (y0, y1) = (ys.clone().min().unwrap_or(0), ys.max().unwrap_or(0));
        let mut mask = Mask::empty(x1 - x0 + 3, y1 - y0 + 3);
        for &i in pixels {
            let (x, y) = (i % self.width - x0 + 1, i / self.width - y0 + 1);
            mask.bits[y * mask.width + x] = 1;
        }
        Blob { origin: [x0 as i32 - 1, y0 as i32 - 1], mask, area: pixels.len() }
    }

    /// The mask with its holes of at most `largest` pixels filled (4-connected background that does not reach the border).
    pub fn filled(&self, largest: usize) -> Mask {
        let mut out = self.clone();
        let mut seen = vec![false; self.bits.len()];
        for start in 0..self.bits.len() {
            if self.bits[start] > 0 || seen[start] {
                continue;
            }
            let (pixels, open) = self.background_from(start, &mut seen);
            if !open && pixels.len() <= largest {
                for i in pixels {
                    out.bits[i] = 1;
                }
            }
        }
        out
    }

    fn background_from(&self, start: usize, seen: &mut [bool]) -> (Vec<usize>, bool) {
        let (w, h) = (self.width, self.height);
        let mut pixels = vec![start];
        seen[start] = true;
        let mut open = false;
        let mut next = 0;
        while next < pixels.len() {
            let i = pixels[next];
            next += 1;
            let (x, y) = (i % w, i / w);
            open |= x == 0 || y == 0 || x + 1 == w || y + 1 == h;
            let around = [(x > 0, i.wrapping_sub(1)), (x + 1 < w, i + 1), (y > 0, i.wrapping_sub(w)), (y + 1 < h, i + w)];
            for (inside, j) in around {
                if inside && self.bits[j] == 0 && !seen[j] {
                    seen[j] = true;
                    pixels.push(j);
                }
            }
        }
        (pixels, open)
    }

    /// Distance of each set pixel to the nearest unset one (3-4 chamfer / 3: within 8 % of the Euclidean distance).
    pub fn depth(&self) -> Plane {
        let (w, h) = (self.width as i32, self.height as i32);
        let far = 1e6f32;
        let mut d = Plane::filled(self.width, self.height, 0.0);
        for (v, b) in d.values.iter_mut().zip(&self.bits) {
            *v = if *b > 0 { far } else { 0.0 };
        }
        let relax = |d: &mut Plane, x: i32, y: i32, around: [(i32, i32, f32); 4]| {
            let i = (y * w + x) as usize;
            let mut best = d.values[i];
            for (dx, dy, cost) in around {
                let (u, v) = (x + dx, y + dy);
                let there = if u < 0 || v < 0 || u >= w || v >= h { 0.0 } else { d.values[(v * w + u) as usize] };
                best = best.min(there + cost);
            }
            d.values[i] = best;
        };
        const DIAGONAL: f32 = 4.0 / 3.0;
        for y in 0..h {
            for x in 0..w {
                relax(&mut d, x, y, [(-1, 0, 1.0), (0, -1, 1.0), (-1, -1, DIAGONAL), (1, -1, DIAGONAL)]);
            }
        }
        for y in (0..h).rev() {
            for x in (0..w).rev() {
                relax(&mut d, x, y, [(1, 0, 1.0), (0, 1, 1.0), (1, 1, DIAGONAL), (-1, 1, DIAGONAL)]);
            }
        }
        d
    }
}
