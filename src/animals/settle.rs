//! At which size animals are looked for where a scale or a cup tells how large they are.

use super::attempt::{
    ACCEPT, Attempt, OWN_SHARE, OWN_SHARE_AMONG_UNITS, Rated, UNITS, attempt, coarse_pixels,
    distinct, surroundings, usual_length,
};
use super::body::Body;
use super::field::Field;
use super::models::Models;
use super::unscaled::settle_unscaled;
use crate::photo::Photo;
use crate::scene::Scene;

/// Body length of an adult in millimetres for a first guess of the unit (adults are 20 to 32 mm; common practice,
/// no source).
const ADULT_MM: f64 = 24.0;
/// Floor diameter in millimetres of a cup that nobody measured: catch cups are mostly 70 to 110 wide (common practice, no
/// source). It decides only the size at which animals are looked for first, never a length that is told.
const USUAL_CUP_MM: f64 = 88.0;
/// A usual length this much off the assumed one has the field built anew.
const TOLERANCE: f32 = 1.3;
/// An attempt that makes animals of this share of the evidence needs no other.
const GOOD_SHARE: f32 = 0.6;
/// Length in full-size pixels that an adult would have: by the scale, else by a cup of the usual size; none without both.
pub fn adult_length_px(scene: &Scene) -> Option<f64> {
    let of_cup = || {
        let cup = scene.cup.as_ref()?;
        Some(f64::from(cup.axes[0] + cup.axes[1]) / USUAL_CUP_MM)
    };
    let px_per_mm = scene.px_per_mm.map(|scale| scale.value).or_else(of_cup)?;
    Some(px_per_mm * ADULT_MM)
}

/// The attempt whose unit fits what was found with it.
pub(super) fn settle(photo: &Photo, scene: &Scene, models: &Models) -> Attempt {
    let settled = match adult_length_px(scene) {
        Some(length) => settle_scaled(photo, scene, length as f32 / UNITS, models),
        None => settle_unscaled(photo, scene, models),
    };
    settled.relit(models)
}

/// The unit of an adult is tried first, and half of it (young ones) where that explains little; the better is refined
/// once. A scoop may hold both: what the other found beside the better one's animals is taken too.
fn settle_scaled(photo: &Photo, scene: &Scene, adult: f32, models: &Models) -> Attempt {
    let longest = photo.width().max(photo.height()) as f32 / UNITS;
    let tried = |unit: f32| {
        attempt(
            photo,
            scene,
            unit.clamp(5.0, longest),
            OWN_SHARE,
            None,
            models,
        )
    };
    let mut best = tried(adult);
    let mut others = Vec::new();
    if best.share <= GOOD_SHARE {
        let young = tried(adult / 2.0);
        let other = if young.score() > best.score() {
            std::mem::replace(&mut best, young)
        } else {
            young
        };
        others.push((other.field.step, other.rated));
    }
    if !(1.0 / TOLERANCE..=TOLERANCE).contains(&best.factor) {
        let refined = tried(best.field.unit * best.field.step as f32 * best.factor);
        if refined.score() > best.score() {
            let coarser = std::mem::replace(&mut best, refined);
            others.push((coarser.field.step, coarser.rated));
        }
    }
    others.retain(|other| other.0 == best.field.step);
    let beside = apart(&best, others.into_iter().flat_map(|other| other.1));
    if let Some(length) = usual_length(beside.iter().map(|r| r.body.length())) {
        // They were found with a unit that was not made for them.
        let step = best.field.step;
        let again = tried(length * step as f32 / UNITS);
        let better = match again.field.step == step {
            true => apart(&best, again.rated.into_iter()),
            false => Vec::new(),
        };
        let taken = if better.len() < beside.len() {
            beside
        } else {
            better
        };
        best.rated.extend(taken);
        best.rated.sort_by(|p, q| q.worth.total_cmp(&p.worth));
    }
    best
}

/// The likely animals among `bodies`, found with other units, that lie apart from those of `best`: feelers and pieces of an
/// animal lie against it.
fn apart(best: &Attempt, bodies: impl Iterator<Item = Rated>) -> Vec<Rated> {
    let own = best.rated.iter().filter(|r| r.worth >= ACCEPT);
    let taken = surroundings(&best.field, own.map(|r| &r.body));
    let mut likely: Vec<Rated> = bodies
        .filter(|r| r.worth >= ACCEPT && !meets(&best.field, &r.body, &taken))
        .collect();
    likely.sort_by(|p, q| q.rank.total_cmp(&p.rank));
    let all = likely.iter().map(|r| &r.body);
    let kept = distinct(&best.field, all, OWN_SHARE_AMONG_UNITS);
    let mut place = 0..;
    likely.retain(|_| place.next().is_some_and(|k| kept.binary_search(&k).is_ok()));
    likely
}

/// True where a pixel of the body is `taken`, coarse pixels.
fn meets(field: &Field, body: &Body, taken: &[bool]) -> bool {
    let w = field.evidence.width;
    let pixels = coarse_pixels(field, body);
    pixels
        .iter()
        .any(|(x, y, _)| taken[y as usize * w + x as usize])
}
