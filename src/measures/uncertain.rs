//! Standard uncertainties of the measures of one animal.
//!
//! The constants were fitted on the rendered scenes, each photo left out of the fit that was tried on it.

use super::spots::Spot;
use crate::animals::body::Body;

/// The opacity scale may be off by this for all pixels together.
const SCALE: f64 = 0.07;
/// The outline is known to about this many fine pixels all round.
const RIM_PX: f64 = 1.2;
/// Parts of the uncertainty of coverage: at the least, of scale and outline, of a doubtful end, of doubtful direction.
/// Set by hand on 156 animals of the rendered scenes between too narrow (errors within two) and too wide (calls left open).
const COVERAGE: [f64; 4] = [0.024, 0.69, 0.093, 0.2];
/// Half-covered bodies are known less well: where their patches end is a matter of shade and blur.
const HALF_COVERED: f64 = 0.043;
/// Parts of the relative uncertainty of length: at the least, of a doubtful end, of doubtful direction.
const LENGTH: [f64; 3] = [0.019, 0.12, 0.2];
/// Animals stand above the floor and bend towards the lens: length in millimetres is known no better than this.
const LENGTH_MM: f64 = 0.035;
/// Parts of the uncertainty of opacity: at the least, and by unevenness.
const OPACITY: [f64; 2] = [0.028, 0.11];
/// Parts of the uncertainty of evenness: at the least, by unevenness, by lack of colour.
const EVENNESS: [f64; 3] = [0.024, 0.08, 0.03];

/// Standard uncertainty of coverage: how far it moves when the opacity scale does, when the outline does, and when an end of
/// the body was missed.
pub fn coverage(spots: &[Spot], body: &Body, cut: f64) -> f64 {
    let read = spots.iter().filter(|s| !s.unread).count().max(1) as f64;
    let share = |level: f64| {
        let above = spots.iter().filter(|s| !s.unread && s.broad >= level);
        above.count() as f64 / read
    };
    let by_scale = 0.5 * (share(cut - SCALE) - share(cut + SCALE));
    let covered = share(cut);
    let rim = RIM_PX * 2.0 / f64::from(body.mean_width().max(8.0));
    let by_rim = 0.5 * rim * (0.25 + covered * (1.0 - covered));
    let unread = 0.5 * (1.0 - read / spots.len().max(1) as f64);
    let [least, reading, end, direction] = COVERAGE;
    let parts = [
        least,
        reading * by_scale,
        reading * by_rim,
        unread,
        HALF_COVERED * 4.0 * covered * (1.0 - covered),
        end * doubt(body.end_score),
        direction * doubt(body.head_log_odds),
    ];
    root_of_squares(&parts)
}

/// Standard uncertainty of a length along the body, relative to it.
pub fn length(body: &Body) -> f64 {
    let [least, end, direction] = LENGTH;
    let parts = [
        least,
        end * doubt(body.end_score),
        direction * doubt(body.head_log_odds),
    ];
    root_of_squares(&parts)
}

/// The same in millimetres, with the relative uncertainty of the scale.
pub fn length_mm(body: &Body, scale: f64) -> f64 {
    root_of_squares(&[length(body), LENGTH_MM, scale])
}

/// Standard uncertainty of opacity.
pub fn opacity(even: f64) -> f64 {
    root_of_squares(&[OPACITY[0], OPACITY[1] * (1.0 - even)])
}

/// Standard uncertainty of evenness.
pub fn evenness(even: f64, coverage: f64) -> f64 {
    let [least, uneven, clear] = EVENNESS;
    root_of_squares(&[least, uneven * (1.0 - even), clear * (1.0 - coverage)])
}

/// Probability that something with these log-odds is not so.
fn doubt(log_odds: f32) -> f64 {
    1.0 / (1.0 + f64::from(log_odds).exp())
}

fn root_of_squares(parts: &[f64]) -> f64 {
    parts.iter().map(|p| p * p).sum::<f64>().sqrt()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn doubt_is_half_at_even_odds_and_falls_with_evidence() {
        assert!((doubt(0.0) - 0.5).abs() < 1e-12);
        assert!(doubt(3.0) < 0.05 && doubt(-3.0) > 0.95);
    }

    #[test]
    fn uneven_and_clear_animals_are_known_less_well() {
        assert!(opacity(0.5) > opacity(0.9));
        assert!(evenness(0.9, 0.2) > evenness(0.9, 0.9));
        assert!(evenness(0.5, 0.9) > evenness(0.9, 0.9));
    }
}
