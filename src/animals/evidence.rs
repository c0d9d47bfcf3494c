//! Log-odds that a pixel belongs to a body: an additive logistic model over local signs.

use super::additive::Additive;
use super::features;
use super::tones::Tones;
use crate::plane::Plane;

/// Log-odds outside the searched area.
const NOWHERE: f32 = -8.0;

/// Log-odds of body at each pixel (negative = ground), `NOWHERE` outside `searched`.
/// `unit` is the body unit in pixels of `tones`, `noise` the spread of the ground's lightness.
pub fn evidence(tones: &Tones, searched: &[u8], unit: f32, noise: f32, model: &Additive) -> Plane {
    let planes = features::first_stage(tones, unit, noise);
    let mut out = model.log_odds_plane(&planes);
    for (v, m) in out.values.iter_mut().zip(searched) {
        if *m == 0 {
            *v = NOWHERE;
        }
    }
    out
}
