//! A lamp's reflection on the water lays an even veil of light over an animal.

use super::spots::Spot;

/// What the faintest channel of a veil-free pigmented body and the darkest spot of an animal (its eyes) show at the least
/// (rendered scenes; eyes are blurred with their surroundings).
const FAINTEST: f64 = 0.05;
const EYES: f64 = 0.15;
/// More than this is no veil.
const MOST: f64 = 0.3;

/// Light added evenly over the body, relative to the floor, 0..=0.3: bounded by the faintest channel and by the darkest spot,
/// so that neither pale pigment nor missing eyes alone make one.
pub fn veil(spots: &[Spot]) -> f64 {
    let low = |values: Vec<f64>, share: f64| crate::stats::quantile(&values, share).unwrap_or(0.0);
    let step = (spots.len() / 4000).max(1);
    let faintest = low(
        spots
            .iter()
            .step_by(step)
            .map(|s| s.ratio.iter().copied().fold(f64::INFINITY, f64::min))
            .collect(),
        0.05,
    );
    if faintest <= FAINTEST {
        return 0.0;
    }
    let darkest = low(
        spots
            .iter()
            .step_by(step)
            .map(|s| s.ratio.iter().copied().fold(0.0, f64::max))
            .collect(),
        0.005,
    );
    (faintest - FAINTEST).min(darkest - EYES).clamp(0.0, MOST)
}

/// A colour without the veil; the floor beside it stays 1.
pub fn unveiled(ratio: [f64; 3], veil: f64) -> [f64; 3] {
    ratio.map(|v| (v - veil).max(0.0) / (1.0 - veil))
}
