//! At which size animals are looked for where a scale or a cup tells how large they are.

use super::attempt::{Attempt, OWN_SHARE, Search, UNITS, attempt};
use super::contest::{self, Contest};
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
/// A usual length this much off the assumed one asks for other units.
const TOLERANCE: f32 = 1.3;
/// Smallest unit with which bodies are sought, full-size pixels: smaller ones are a few pixels wide.
const LEAST_UNIT: f32 = 5.0;
/// Units that compete with an adult's, in steps from it: down to half of it, for young ones, and one larger.
const STEPS: [i32; 6] = [0, -1, -2, -3, -4, 1];
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

/// The unit of an adult is tried first. Where that explains little, or lengths belie it, it competes with others: the half of
/// it for young ones, and those between, since what is cut wrongly with one unit is often cut rightly with another. A scoop
/// may hold old and young: what units far from the best one found beside its animals is taken too.
fn settle_scaled(photo: &Photo, scene: &Scene, adult: f32, models: &Models) -> Attempt {
    let longest = photo.width().max(photo.height()) as f32 / UNITS;
    let sought = |unit: f32, how: Search| {
        let unit = unit.clamp(LEAST_UNIT, longest.max(LEAST_UNIT));
        attempt(photo, scene, unit, how, models)
    };
    let alone = Search {
        own_share: OWN_SHARE,
        parted: true,
        grid: None,
    };
    let first = sought(adult, alone);
    if first.share > GOOD_SHARE && fits(&first) {
        return first;
    }
    drop(first);
    let mut contest = Contest::new(photo);
    let enter = |contest: &mut Contest, unit: f32| {
        let steps = ((unit / adult).ln() / contest::STEP.ln()).round() as i32;
        let this = sought(unit, contest.search(true));
        let score = this.score();
        contest.enter(steps, this, score);
    };
    for steps in STEPS {
        let unit = adult * contest::STEP.powi(steps);
        if steps == 0 || (LEAST_UNIT..=longest).contains(&unit) {
            enter(&mut contest, unit);
        }
    }
    if let Some(best) = contest.best().filter(|best| !fits(best)) {
        let unit = best.field.unit * best.field.step as f32 * best.factor;
        enter(&mut contest, unit);
    }
    contest.decided(true).expect("at least one unit is tried")
}

/// True where the lengths found are about those that the unit stands for.
fn fits(attempt: &Attempt) -> bool {
    (1.0 / TOLERANCE..=TOLERANCE).contains(&attempt.factor)
}
