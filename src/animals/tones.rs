//! CIELAB of the flattened picture, plane by plane.

use crate::lanes::widest;
use crate::plane::Plane;
use crate::scene::light::FlatPicture;
use rayon::prelude::*;
use std::ops::Range;

/// CIELAB (D65) of the ratio to the floor: the floor is (100, 0, 0).
#[derive(Debug, Clone)]
pub struct Tones {
    /// Lightness; above 100 where brighter than the floor.
    pub lightness: Plane,
    /// Green to red.
    pub a: Plane,
    /// Blue to yellow.
    pub b: Plane,
}

/// Rows that one task takes.
const ROWS: usize = 32;

/// CIELAB planes of a flattened picture; ground (100, 0, 0) outside the columns that `reach` gives for a row.
///
/// On dark ground lightness is 100 less the step from the ground up to the pixel, so that bodies are darker than 100
/// there too, and a*, b* are the steps from the ground's own.
pub fn tones(flat: &FlatPicture, reach: impl Fn(usize) -> Range<usize> + Sync) -> Tones {
    let (w, h) = (flat.width(), flat.height());
    let [mut lightness, mut a, mut b] = [(); 3].map(|()| Plane::filled(w, h, 0.0));
    let [l_rows, a_rows, b_rows] =
        [&mut lightness, &mut a, &mut b].map(|plane| plane.values.par_chunks_mut(w * ROWS));
    l_rows
        .zip(a_rows)
        .zip(b_rows)
        .enumerate()
        .for_each(|(part, ((l, a), b))| {
            let mut rows = flat.rows();
            let mut seen: [Vec<f32>; 3] = Default::default();
            let mut ground: [Vec<f32>; 3] = Default::default();
            let parts = l.chunks_mut(w).zip(a.chunks_mut(w)).zip(b.chunks_mut(w));
            for (k, ((l, a), b)) in parts.enumerate() {
                let y = part * ROWS + k;
                let columns = reach(y);
                l[..columns.start].fill(100.0);
                l[columns.end..].fill(100.0);
                if columns.is_empty() {
                    continue;
                }
                rows.ratio(y, columns.clone(), &mut seen);
                let out = [l, a, b].map(|row| &mut row[columns.clone()]);
                if flat.white.is_some() {
                    rows.ground(y, &mut ground);
                    let ground = ground.each_ref().map(|row| &row[columns.clone()]);
                    widest((&seen, ground, out), steps);
                } else {
                    widest((&seen, out), plain);
                }
            }
        });
    Tones { lightness, a, b }
}

/// CIELAB of what is seen.
#[inline(always)]
fn plain((seen, [l, a, b]): (&[Vec<f32>; 3], [&mut [f32]; 3])) {
    let [red, green, blue] = seen;
    let seen = red.iter().zip(green).zip(blue);
    for (((l, a), b), ((red, green), blue)) in l.iter_mut().zip(a).zip(b).zip(seen) {
        [*l, *a, *b] = crate::colour::lab_of_ratio_fast([*red, *green, *blue]);
    }
}

/// What [`steps`] works on: what is seen, the ground, and where lightness, a*, b* go.
type Steps<'a> = (&'a [Vec<f32>; 3], [&'a [f32]; 3], [&'a mut [f32]; 3]);

/// Steps in CIELAB from the ground to what is seen.
#[inline(always)]
fn steps((seen, ground, [l, a, b]): Steps<'_>) {
    let lab = crate::colour::lab_of_ratio_fast;
    for (i, ((l, a), b)) in l.iter_mut().zip(a).zip(b).enumerate() {
        let seen = lab(seen.each_ref().map(|row| row[i]));
        let ground = lab(ground.map(|row| row[i]));
        *l = 100.0 - (seen[0] - ground[0]);
        *a = seen[1] - ground[1];
        *b = seen[2] - ground[2];
    }
}
