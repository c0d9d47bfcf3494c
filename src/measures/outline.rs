//! Outlines of a body in full-size pixels.

use super::borders::{Side, borders};
use crate::animals::blobs::Mask;
use crate::animals::field::Field;
use crate::animals::find::Animal;
use crate::animals::raster::{Pixels, rasterise};
use crate::units::Pixel;

/// The animal's pixels at full size, without those that other animals own.
pub fn full_pixels(animal: &Animal, field: &Field, width: usize, height: usize) -> Pixels {
    if field.step == 1 {
        return animal.pixels.clone();
    }
    let mut pixels = rasterise(&animal.body, &|p| field.full_of_fine(p), width, height);
    let step = field.step;
    let near = near(&animal.pixels);
    let (x0, y0) = (pixels.origin[0] as usize, pixels.origin[1] as usize);
    for (y, row) in pixels.station.chunks_exact_mut(pixels.width).enumerate() {
        let fine_y = ((y + y0) / step) as i32;
        let (mut x, end) = (x0, x0 + row.len());
        while x < end {
            let to = ((x / step + 1) * step).min(end);
            if !near.get(
                (x / step) as i32 - near_origin(animal, 0),
                fine_y - near_origin(animal, 1),
            ) {
                row[x - x0..to - x0].fill(0);
            }
            x = to;
        }
    }
    pixels.keep_largest();
    pixels
}

/// First column (0) or row (1) of [`near`] in the fine picture.
fn near_origin(animal: &Animal, axis: usize) -> i32 {
    animal.pixels.origin[axis] - 1
}

/// The fine pixels and those next to them: a full-size pixel at the rim may fall into a fine pixel just outside.
fn near(fine: &Pixels) -> Mask {
    let mut out = Mask::empty(fine.width + 2, fine.height + 2);
    for run in fine.runs() {
        for y in run.y..run.y + 3 {
            out.bits[y * out.width + run.from..y * out.width + run.to + 2].fill(1);
        }
    }
    out
}

/// Chain of border pixels of the outer edge, and of each hole of more than four pixels.
pub fn chains(pixels: &Pixels) -> (Vec<Pixel>, Vec<Vec<Pixel>>) {
    let back = |p: &[i32; 2]| [p[0] + pixels.origin[0], p[1] + pixels.origin[1]];
    let mut outer: Vec<Pixel> = Vec::new();
    let mut holes = Vec::new();
    for border in borders(pixels.width, pixels.height, &pixels.runs()) {
        let chain: Vec<Pixel> = border.points.iter().map(back).collect();
        match border.side {
            Side::Outer if chain.len() > outer.len() => outer = chain,
            Side::Hole if chain.len() > 8 => holes.push(chain),
            _ => {}
        }
    }
    (outer, holes)
}
