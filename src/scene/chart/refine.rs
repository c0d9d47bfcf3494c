//! The chart's plane to a fraction of a pixel: the middles of the patches between their own edges.

use super::super::grid::Grid;
use super::perspective::Perspective;
use super::published::{COLUMNS, PATCHES};

/// How far from a patch's middle its edges are looked for, in pitches, and points on the way out.
const REACH: f64 = 0.72;
const POINTS: usize = 25;
/// Across the way, light is the mean of so many lines, this far apart at the outermost.
const LINES: usize = 3;
const ACROSS: f64 = 0.2;
/// Least change of square-rooted light (three channels together) from patch to frame.
const LEAST_STEP: f64 = 0.12;
/// An edge nearer to the middle than this is dirt on the patch, pitches.
const NEAREST: f64 = 0.28;
/// How far a middle may lie from where the plane has it, in pitches.
const OFF_CENTRE: f64 = 0.07;
const ROUNDS: usize = 2;

/// The plane through the middles found on the planes of light; the plane given where too few are found.
pub(super) fn refined(planes: [&Grid; 3], coarse: Perspective) -> Perspective {
    let mut map = coarse;
    for _ in 0..ROUNDS {
        let pairs: Vec<([f64; 2], [f64; 2])> = (0..PATCHES)
            .filter_map(|k| {
                let place = [(k % COLUMNS) as f64, (k / COLUMNS) as f64];
                let off = [
                    middle_between_edges(planes, &map, place, 0)?,
                    middle_between_edges(planes, &map, place, 1)?,
                ];
                Some((place, map.at(place[0] + off[0], place[1] + off[1])))
            })
            .collect();
        let Some(better) = fit_most(pairs) else {
            return map;
        };
        map = better;
    }
    map
}

/// The plane through most of the pairs; `None` where fewer than eight agree.
fn fit_most(mut pairs: Vec<([f64; 2], [f64; 2])>) -> Option<Perspective> {
    for _ in 0..3 {
        if pairs.len() < 8 {
            return None;
        }
        let map = Perspective::fit(&pairs)?;
        let pitch = map.pitch(2.5, 1.5);
        let before = pairs.len();
        pairs.retain(|(place, point)| {
            let at = map.at(place[0], place[1]);
            (at[0] - point[0]).hypot(at[1] - point[1]) < OFF_CENTRE * pitch
        });
        if pairs.len() == before {
            return Some(map);
        }
    }
    Perspective::fit(&pairs).filter(|_| pairs.len() >= 8)
}

/// How far the middle between a patch's two edges lies from `place` along the chart's x or y axis, in pitches.
fn middle_between_edges(
    planes: [&Grid; 3],
    map: &Perspective,
    place: [f64; 2],
    axis: usize,
) -> Option<f64> {
    let own = light_across(planes, map, place, axis, 0.0)?;
    let step = REACH / (POINTS - 1) as f64;
    let [right, left] = [1.0, -1.0].map(|side| -> Vec<f64> {
        (0..POINTS)
            .map_while(|k| {
                let there = light_across(planes, map, place, axis, side * k as f64 * step)?;
                Some((0..3).map(|c| (there[c] - own[c]).abs()).sum())
            })
            .collect()
    });
    // One and the same step on both sides: blur then moves both edges alike.
    let least = |v: &[f64]| first_peak(v, LEAST_STEP);
    let cut = CUT * least(&right).min(least(&left));
    let edge = |unlike: &[f64]| {
        let k = unlike.iter().position(|v| *v > cut)?.max(1);
        let share = (cut - unlike[k - 1]) / (unlike[k] - unlike[k - 1]).max(1e-9);
        let at = (k as f64 - 1.0 + share.clamp(0.0, 1.0)) * step;
        (cut > CUT * LEAST_STEP && (NEAREST..FARTHEST).contains(&at)).then_some(at)
    };
    Some(0.5 * (edge(&right)? - edge(&left)?))
}

/// Share of the step at which the edge is taken: low, where the patch beyond the frame has no say yet.
const CUT: f64 = 0.4;
/// No edge of a patch lies beyond this, pitches.
const FARTHEST: f64 = 0.53;

/// The first value that is no longer exceeded by the next and is at least `least`: the frame beside a patch.
fn first_peak(values: &[f64], least: f64) -> f64 {
    let peaks = values.windows(2).find(|w| w[0] >= least && w[1] <= w[0]);
    peaks.map_or_else(|| values.iter().copied().fold(0.0, f64::max), |w| w[0])
}

/// Square-rooted light at `along` pitches from a place, mean of lines across; `None` outside the picture.
fn light_across(
    planes: [&Grid; 3],
    map: &Perspective,
    place: [f64; 2],
    axis: usize,
    along: f64,
) -> Option<[f64; 3]> {
    let mut sum = [0.0; 3];
    for line in 0..LINES {
        let mut at = place;
        at[axis] += along;
        at[1 - axis] += ACROSS * (line as f64 - (LINES - 1) as f64 / 2.0);
        let [x, y] = map.at(at[0], at[1]);
        for (s, plane) in sum.iter_mut().zip(planes) {
            *s += f64::from(plane.at(x as f32, y as f32)?.max(0.0)).sqrt() / LINES as f64;
        }
    }
    Some(sum)
}
