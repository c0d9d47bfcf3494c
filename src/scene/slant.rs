//! Photos taken from the side: a round cup looks so flat there that its floor's edge is not found as it is.

use super::cup;
use super::grid::Grid;

/// How flat a round floor is tried to be: height over width, and the other way round.
const FLATTENED: [f32; 3] = [0.82, 0.68, 0.54];
/// Least share of the floor's edge that must be in the frame.
const LEAST_IN_FRAME: f32 = 0.7;

/// Shorter over longer axis of a round floor seen from the side; `None` where none is found so either.
///
/// To be asked only where the floor was not found: the picture is drawn out until the floor would be round, and looked at
/// again, along both sides of the frame.
pub(super) fn flattened_floor(light: &Grid, barred: &[bool], coarser: usize) -> Option<f32> {
    for flat in FLATTENED {
        for upright in [true, false] {
            let (drawn, bars) = drawn_out(light, barred, flat, upright);
            let seen = cup::find(&drawn, &bars, coarser);
            if let Some(floor) =
                seen.filter(|s| s.is_floor && s.is_round && s.in_frame >= LEAST_IN_FRAME)
            {
                let o = &floor.outline;
                return Some(flat * o.a.min(o.b) / o.a.max(o.b));
            }
        }
    }
    None
}

/// The picture squeezed to `flat` of its width (`upright`) or of its height, with its bars.
fn drawn_out(light: &Grid, barred: &[bool], flat: f32, upright: bool) -> (Grid, Vec<bool>) {
    let side = |n: usize, squeeze: bool| {
        if squeeze {
            (n as f32 * flat) as usize
        } else {
            n
        }
    };
    let (w, h) = (side(light.w, upright), side(light.h, !upright));
    let pace = |n: usize, to: usize| {
        (0..to)
            .map(|v| ((v as f32 + 0.5) * n as f32 / to as f32) as usize)
            .collect::<Vec<_>>()
    };
    let (columns, rows) = (pace(light.w, w), pace(light.h, h));
    let places = || {
        rows.iter()
            .flat_map(|y| columns.iter().map(move |x| y * light.w + x))
    };
    let px = places().map(|i| light.px[i]).collect();
    (Grid { w, h, px }, places().map(|i| barred[i]).collect())
}
