//! Front and rear end of the body along its axis.

use super::additive::Additive;
use super::profile::{Contrast, Line, signs_and};
use super::ribbon::{ACROSS, ALONG, Ribbon};

/// Names of the end features: the signs along a narrow strip, evidence steps along a wide one, and the place.
pub const NAMES: [&str; 25] = signs_and([
    "wide_in",
    "wide_out",
    "wide_share_step",
    "beyond_rough_end",
    "contrast_x_evidence_step",
]);

/// Window lengths in stations.
const NARROW: usize = (ALONG * 0.34) as usize;
const WIDE: usize = (ALONG * 0.9) as usize;
/// How far inside the rough end the true end is sought, body units.
const INSIDE: f32 = 1.4;

fn strip(ribbon: &Ribbon, stations: &[usize], reach: f32, contrast: &Contrast) -> Line {
    let (w, r) = (ribbon.width(), (reach * ACROSS) as usize);
    let (from, to) = (ribbon.half - r, ribbon.half + r);
    let samples = stations.iter().map(|&s| {
        std::array::from_fn(|c| {
            ribbon.channels[c][s * w + from..=s * w + to]
                .iter()
                .sum::<f32>()
                / (to - from + 1) as f32
        })
    });
    Line::new(samples, contrast)
}

/// Stations from the middle of the body outward through one end, and the count of them up to the rough end.
pub fn outward(ribbon: &Ribbon, first: usize, last: usize, rear: bool) -> (Vec<usize>, usize) {
    let middle = (first + last) / 2;
    if rear {
        ((middle..ribbon.stations()).collect(), last - middle)
    } else {
        ((0..=middle).rev().collect(), middle - first)
    }
}

/// Features of an end after each count of stations in the sought range: (count, features).
pub fn end_features(
    ribbon: &Ribbon,
    stations: &[usize],
    rough: usize,
    contrast: &Contrast,
    scale: f32,
) -> Vec<(usize, [f32; 25])> {
    let narrow = strip(ribbon, stations, 0.16, contrast);
    let wide = strip(ribbon, stations, 0.45, contrast);
    let first = rough.saturating_sub((INSIDE * ALONG) as usize).max(2);
    let size = (1.0 + contrast.size / 10.0).ln();
    (first..stations.len())
        .map(|k| {
            let signs = narrow.signs(k, 0, NARROW, WIDE, scale);
            let broad = wide.signs(k, 0, NARROW, WIDE, scale);
            let mut f = [0.0; 25];
            f[..20].copy_from_slice(&signs);
            f[20] = broad[7];
            f[21] = broad[8];
            f[22] = broad[14];
            f[23] = (k as f32 - rough as f32) / ALONG;
            f[24] = size * signs[9];
            (k, f)
        })
        .collect()
}

/// The station of the end beyond or before the rough one, and its log-odds.
pub fn end_station(
    ribbon: &Ribbon,
    first: usize,
    last: usize,
    rear: bool,
    contrast: &Contrast,
    scale: f32,
    model: &Additive,
) -> (usize, f32) {
    let (stations, rough) = outward(ribbon, first, last, rear);
    let best = end_features(ribbon, &stations, rough, contrast, scale)
        .into_iter()
        .map(|(k, f)| (k, model.log_odds(&f)))
        .max_by(|p, q| p.1.total_cmp(&q.1));
    best.map_or((if rear { last } else { first }, -8.0), |(k, odds)| {
        (stations[k - 1], odds)
    })
}
