//! Standard uncertainties of the measures of one animal.

use super::spots::Spot;
use crate::animals::find::Animal;

/// The standard uncertainty of the opacity scale itself: one pixel's opacity may be off by this together with all others.
const SCALE: f64 = 0.07;
/// What the truth itself is known to, and the noise of pixels.
const LEAST: f64 = 0.015;
/// The outline is known to about this many fine pixels all round.
const RIM_PX: f64 = 1.2;

/// Standard uncertainty of coverage: how far it moves when the opacity scale does, and when the outline does.
pub fn coverage(spots: &[Spot], animal: &Animal, cut: f64) -> f64 {
    let read = spots.iter().filter(|s| !s.unread).count().max(1) as f64;
    let share = |level: f64| {
        spots
            .iter()
            .filter(|s| !s.unread && s.broad >= level)
            .count() as f64
            / read
    };
    let by_scale = 0.5 * (share(cut - SCALE) - share(cut + SCALE));
    let covered = share(cut);
    let rim = RIM_PX * 2.0 / f64::from(animal.body.mean_width().max(8.0));
    let by_rim = rim * (0.25 + covered * (1.0 - covered));
    let unread = 1.0 - read / spots.len().max(1) as f64;
    (LEAST.powi(2) + by_scale.powi(2) + (0.5 * by_rim).powi(2) + (0.5 * unread).powi(2)).sqrt()
}

/// Standard uncertainty of opacity, the same for all animals: nothing seen in a photo was found to tell larger errors from smaller.
pub const OPACITY: f64 = 0.036;

/// Standard uncertainty of evenness: an error of the spread of opacity in proportion to it.
pub fn evenness(even: f64) -> f64 {
    0.02_f64.hypot(0.12 * (1.0 - even))
}
