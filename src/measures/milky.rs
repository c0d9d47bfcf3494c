//! Milky bodies, told from glassy ones on dark ground.
//!
//! Checked on twelve animals of two rendered scenes only: the clear parts of milky ones were 3.5 to 5 times as bright as the ground
//! beside them, those of glassy and plain ones 1.3 to 2 times. Where pigment covers nearly all, nothing can be said.

use super::spots::Spot;
use crate::animals::field::Field;
use crate::stats;

/// Less opaque than this is a clear part.
const CLEAR_BELOW: f64 = 0.35;
/// A body shows its clear parts when they fill this share of it.
const CLEAR_SHARE: f64 = 0.2;
/// Clear parts this many times as bright as the ground are milky: between 2 and 3.5, in equal ratios.
const MILKY_FROM: f64 = 2.6;

/// True when the clear parts of a body scatter light on dark ground; false on white ground, where that can't be seen.
pub fn is_milky(spots: &[Spot], field: &Field) -> bool {
    let Some(white) = field.flat.white else {
        return false;
    };
    let light = seen(spots, field);
    let ground = ground(spots, field, f64::from(white));
    scatters(&light, ground, spots.len())
}

/// Light of the clear parts, relative to white.
fn seen(spots: &[Spot], field: &Field) -> Vec<f64> {
    let light = |s: &Spot| {
        let ratio = field.flat.ratio_at(s.x as usize, s.y as usize);
        ratio.map(f64::from).iter().sum::<f64>() / 3.0
    };
    spots
        .iter()
        .filter(|s| !s.unread && s.opacity < CLEAR_BELOW)
        .map(light)
        .collect()
}

/// Light of the ground under the body, relative to white.
fn ground(spots: &[Spot], field: &Field, white: f64) -> f64 {
    let (floor, step) = (&field.flat.floor, field.flat.floor_step as f32);
    let at = |s: &Spot| [s.x, s.y].map(|v| (v as f32 + 0.5) / step - 0.5);
    let light = |s: &Spot| {
        let [x, y] = at(s);
        floor.iter().map(|p| f64::from(p.sample(x, y))).sum::<f64>() / 3.0
    };
    let every = (spots.len() / 200).max(1);
    let all: Vec<f64> = spots.iter().step_by(every).map(light).collect();
    stats::median(&all).unwrap_or(0.0) / white.max(1e-6)
}

fn scatters(clear: &[f64], ground: f64, body: usize) -> bool {
    let shown = clear.len() as f64 >= CLEAR_SHARE * body.max(1) as f64;
    let light = stats::median(clear).unwrap_or(0.0);
    shown && light > MILKY_FROM * ground.max(0.01)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn milky_is_far_brighter_than_the_ground_and_needs_clear_parts_to_be_seen() {
        assert!(scatters(&[0.2; 40], 0.045, 100));
        assert!(!scatters(&[0.08; 40], 0.045, 100)); // glassy
        assert!(!scatters(&[0.17; 40], 0.1, 100)); // a lighter ground
        assert!(!scatters(&[0.2; 10], 0.045, 100)); // nearly all covered
        assert!(!scatters(&[], 0.0, 0));
    }
}
