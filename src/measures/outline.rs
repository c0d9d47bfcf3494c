//! Outlines of a body in full-size pixels.

use super::borders::{Side, borders};
use crate::animals::blobs::Mask;
use crate::animals::field::Field;
use crate::animals::find::Animal;
use crate::animals::raster::{Pixels, rasterise};
use crate::animals::runs::{Run, runs};
use crate::units::Pixel;

/// The animal's pixels at full size, without those that other animals own.
pub fn full_pixels(animal: &Animal, field: &Field, width: usize, height: usize) -> Pixels {
    if field.step == 1 {
        return animal.pixels.clone();
    }
    let mut pixels = rasterise(&animal.body, &|p| field.full_of_fine(p), width, height);
    let near = rows_of(&near(&animal.pixels));
    let first = [0, 1].map(|axis| near_origin(animal, axis));
    let step = field.step as i32;
    let [x0, y0] = pixels.origin;
    for (y, row) in (y0..).zip(pixels.station.chunks_exact_mut(pixels.width)) {
        let place = usize::try_from(y / step - first[1]).ok();
        let kept = place
            .and_then(|k| near.get(k))
            .map_or(&[][..], Vec::as_slice);
        let column = |x: usize| {
            let x = (x as i32 + first[0]) * step - x0;
            x.clamp(0, row.len() as i32) as usize
        };
        let ends: Vec<[usize; 2]> = kept
            .iter()
            .map(|r| [column(r.from), column(r.to)])
            .collect();
        let mut done = 0;
        for [from, to] in ends {
            row[done..from].fill(0);
            done = to;
        }
        row[done..].fill(0);
    }
    pixels.keep_largest();
    pixels
}

/// The runs of each row of a mask.
fn rows_of(mask: &Mask) -> Vec<Vec<Run>> {
    let mut rows = vec![Vec::new(); mask.height];
    for run in runs(&mask.bits, mask.width, |b| b > 0) {
        rows[run.y].push(run);
    }
    rows
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
