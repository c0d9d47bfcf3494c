//! The light of each patch.

use super::super::grid::Grid;
use super::perspective::Perspective;
use super::published::{COLUMNS, PATCHES};

/// What is seen of one patch.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PatchReading {
    /// Linear light of its middle, sRGB primaries.
    pub rgb: [f64; 3],
    /// It lies in the picture, is flat and not burnt out.
    pub usable: bool,
}

/// Half-width of the part of a patch that is read, in pitches (patches fill 0.42 each way; blur reaches in from the frame).
const READ_HALF: f64 = 0.25;
/// Points read across it.
const POINTS: usize = 9;
/// Light at which a channel is burnt out (code 253 of 255), and the share of points that may be.
const BURNT: f32 = 0.98;
const MOST_BURNT: f64 = 0.1;
/// Spread of square-rooted light within a patch (10th to 90th percentile) above which something lies over it.
const MOST_SPREAD: f64 = 0.09;
/// Shares of the ranked points left out at both ends: specks and dust.
const LEFT_OUT: usize = POINTS * POINTS / 5;

/// The light of all patches, row by row. `planes` are of the picture that `map` leads to.
pub(super) fn read_patches(planes: [&Grid; 3], map: &Perspective) -> [PatchReading; PATCHES] {
    std::array::from_fn(|k| {
        let (column, row) = ((k % COLUMNS) as f64, (k / COLUMNS) as f64);
        read_patch(planes, map, column, row)
    })
}

fn read_patch(planes: [&Grid; 3], map: &Perspective, column: f64, row: f64) -> PatchReading {
    let step = 2.0 * READ_HALF / (POINTS - 1) as f64;
    let mut seen: [Vec<f32>; 3] = Default::default();
    let mut burnt = 0;
    for j in 0..POINTS * POINTS {
        let (dx, dy) = ((j % POINTS) as f64 * step, (j / POINTS) as f64 * step);
        let [x, y] = map.at(column - READ_HALF + dx, row - READ_HALF + dy);
        let light = planes.map(|p| p.at(x as f32, y as f32));
        if let [Some(r), Some(g), Some(b)] = light {
            burnt += usize::from(r.max(g).max(b) >= BURNT);
            [r, g, b]
                .into_iter()
                .zip(&mut seen)
                .for_each(|(v, s)| s.push(v));
        }
    }
    let all = seen[0].len();
    if all < POINTS * POINTS {
        return PatchReading {
            rgb: [0.0; 3],
            usable: false,
        };
    }
    let mut spread = 0.0f64;
    let rgb = seen.map(|mut v| {
        v.sort_by(f32::total_cmp);
        let root = |share: usize| f64::from(v[all * share / 10].max(0.0)).sqrt();
        spread = spread.max(root(9) - root(1));
        let kept = &v[LEFT_OUT..all - LEFT_OUT];
        kept.iter().map(|v| f64::from(*v)).sum::<f64>() / kept.len() as f64
    });
    PatchReading {
        rgb,
        usable: spread < MOST_SPREAD && (burnt as f64) < MOST_BURNT * all as f64,
    }
}
