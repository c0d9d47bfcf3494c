//! Binary masks: connected components, filled holes, distance to the edge.

use super::runs::{Run, groups, runs};
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

/// The pixels of a group of runs, which is not empty, alone.
fn cut_out(group: &[Run]) -> Blob {
    let (x0, x1) = group.iter().fold((usize::MAX, 0), |(low, high), r| {
        (low.min(r.from), high.max(r.to))
    });
    let (y0, y1) = (group[0].y, group[group.len() - 1].y);
    let mut mask = Mask::empty(x1 - x0 + 2, y1 - y0 + 3);
    for run in group {
        let row = (run.y - y0 + 1) * mask.width + 1;
        mask.bits[row + run.from - x0..row + run.to - x0].fill(1);
    }
    Blob {
        origin: [x0 as i32 - 1, y0 as i32 - 1],
        mask,
        area: group.iter().map(Run::count).sum(),
    }
}

impl Mask {
    /// An empty mask.
    pub fn empty(width: usize, height: usize) -> Self {
        Self {
            width,
            height,
            bits: vec![0; width * height],
        }
    }

    /// Set where the plane is above `limit`.
    pub fn above(plane: &Plane, limit: f32) -> Self {
        let bits = plane.values.iter().map(|&v| u8::from(v > limit)).collect();
        Self {
            width: plane.width,
            height: plane.height,
            bits,
        }
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
        let set = runs(&self.bits, self.width, |b| b > 0);
        groups(&set, true)
            .iter()
            .map(|group| cut_out(group))
            .collect()
    }

    /// The mask with its holes of at most `largest` pixels filled (4-connected background that does not reach the border).
    pub fn filled(&self, largest: usize) -> Mask {
        let mut out = self.clone();
        let (right, bottom) = (self.width, self.height.saturating_sub(1));
        for hole in groups(&runs(&self.bits, self.width, |b| b == 0), false) {
            let open = hole
                .iter()
                .any(|r| r.from == 0 || r.to == right || r.y == 0 || r.y == bottom);
            if !open && hole.iter().map(Run::count).sum::<usize>() <= largest {
                for run in hole {
                    out.bits[run.y * self.width + run.from..run.y * self.width + run.to].fill(1);
                }
            }
        }
        out
    }

    /// Distance of each set pixel to the nearest unset one (3-4 chamfer / 3: within 8 % of the Euclidean distance).
    pub fn depth(&self) -> Plane {
        const FAR: f32 = 1e6;
        const DIAGONAL: f32 = 4.0 / 3.0;
        let (w, h) = (self.width, self.height);
        // With a border of zeros, so that every pixel has all its neighbours.
        let wide = w + 2;
        let mut d = vec![0.0f32; wide * (h + 2)];
        let set: Vec<usize> = (0..w * h)
            .filter(|&i| self.bits[i] > 0)
            .map(|i| (i / w + 1) * wide + i % w + 1)
            .collect();
        for &i in &set {
            d[i] = FAR;
        }
        let mut relax = |i: usize, beside: usize, across: [usize; 3]| {
            let [left, straight, right] = across;
            d[i] = d[i]
                .min(d[beside] + 1.0)
                .min(d[straight] + 1.0)
                .min(d[left] + DIAGONAL)
                .min(d[right] + DIAGONAL);
        };
        for &i in &set {
            relax(i, i - 1, [i - wide - 1, i - wide, i - wide + 1]);
        }
        for &i in set.iter().rev() {
            relax(i, i + 1, [i + wide - 1, i + wide, i + wide + 1]);
        }
        let rows = d.chunks_exact(wide).skip(1).take(h);
        Plane {
            width: w,
            height: h,
            values: rows.flat_map(|row| &row[1..=w]).copied().collect(),
        }
    }
}
