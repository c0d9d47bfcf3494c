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
                let there = if u < 0 || v < 0 || u >= w || v >= h {
                    0.0
                } else {
                    d.values[(v * w + u) as usize]
                };
                best = best.min(there + cost);
            }
            d.values[i] = best;
        };
        const DIAGONAL: f32 = 4.0 / 3.0;
        for y in 0..h {
            for x in 0..w {
                relax(
                    &mut d,
                    x,
                    y,
                    [
                        (-1, 0, 1.0),
                        (0, -1, 1.0),
                        (-1, -1, DIAGONAL),
                        (1, -1, DIAGONAL),
                    ],
                );
            }
        }
        for y in (0..h).rev() {
            for x in (0..w).rev() {
                relax(
                    &mut d,
                    x,
                    y,
                    [
                        (1, 0, 1.0),
                        (0, 1, 1.0),
                        (1, 1, DIAGONAL),
                        (-1, 1, DIAGONAL),
                    ],
                );
            }
        }
        d
    }
}
