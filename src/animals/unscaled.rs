//! Where nothing tells how large animals are: bodies are shaped at several body units and compete.

use super::attempt::{Attempt, UNITS, agreement, attempt, field_of};
use super::candidates::mean_width;
use super::contest::{self, Contest};
use super::field;
use super::models::Models;
use crate::photo::Photo;
use crate::scene::Scene;

/// Adult lengths from the first share of the photo's longer side to the second are looked at...
const ADULT_SHARES: [f32; 2] = [0.08, 0.8];
/// ...each this much longer than the one before...
const SHARE_STEP: f32 = contest::STEP;
/// ...and bodies are shaped for so many of them, those at which the evidence is about a body unit wide.
const MOST_ATTEMPTS: usize = 6;
/// Worth of a unit twice as large among units at which the evidence is equally wide, natural logarithm a natural logarithm:
/// small units find thin things everywhere.
const LARGER_FIRST: f32 = 0.6;
/// Units at which the picture of the evidence has more pixels than this are not looked at: animals that small fill no
/// photo of a scoop, and the time would be out of proportion.
const MOST_PROBED_PIXELS: f32 = 0.8e6;
/// Mean width of the blobs in body units when the unit is right. Two animals that touch end to end look like one at twice
/// the unit, so narrow evidence is trusted less than where a scale is known, lengths count little, and the share explained
/// more (rendered scenes without their scale, and photos of real prawns).
const USUAL_WIDTH: f32 = 1.1;
/// See [`USUAL_WIDTH`].
const WIDTH_SPREAD: f32 = 0.25;
/// See [`USUAL_WIDTH`]: factor of lengths, its spread, and the power of the share.
const FACTOR: (f32, f32) = (1.3, 0.6);
/// See [`USUAL_WIDTH`].
const SHARE_POWER: f32 = 1.5;

/// The share explained, less where the lengths and widths found belie the unit they were found with.
fn score(attempt: &Attempt) -> f32 {
    let (factor, spread) = FACTOR;
    attempt.share.powf(SHARE_POWER)
        * agreement(attempt.factor / factor, spread)
        * agreement(mean_width(&attempt.field) / USUAL_WIDTH, WIDTH_SPREAD)
}

/// Of the units at which the evidence is about a unit wide, the one whose bodies explain it best, with the bodies of
/// the units beside it.
pub(super) fn settle_unscaled(photo: &Photo, scene: &Scene, models: &Models) -> Attempt {
    let longest = photo.width().max(photo.height()) as f32 / UNITS;
    let units: Vec<f32> = std::iter::successors(Some(ADULT_SHARES[0]), |s| Some(s * SHARE_STEP))
        .take_while(|s| *s <= ADULT_SHARES[1])
        .map(|s| (s * longest).max(5.0))
        .filter(|unit| probed_pixels(photo, *unit) <= MOST_PROBED_PIXELS)
        .collect();
    let mut contest = Contest::new(photo);
    let shape = |contest: &Contest, k: usize| {
        attempt(photo, scene, units[k], contest.search(false), models)
    };
    for k in likely_units(photo, scene, &units, models) {
        let this = shape(&contest, k);
        let score = score(&this);
        contest.enter(k as i32, this, score);
    }
    for k in contest.missing() {
        if (0..units.len() as i32).contains(&k) {
            // Beside the best one it has a say, but its evidence is not as wide as a unit.
            let this = shape(&contest, k as usize);
            contest.enter(k, this, f32::NEG_INFINITY);
        }
    }
    contest.decided(false).expect("at least one unit is tried")
}

/// Pixels of the picture of the evidence at `unit`.
fn probed_pixels(photo: &Photo, unit: f32) -> f32 {
    let pixels = photo.width() * photo.height();
    let (step, coarse) = field::steps(unit, pixels, photo.finest_step());
    pixels as f32 / (step * coarse).pow(2) as f32
}

/// Indices of the units for which bodies are shaped, likeliest first.
fn likely_units(photo: &Photo, scene: &Scene, units: &[f32], models: &Models) -> Vec<usize> {
    let mut order: Vec<(f32, usize)> = units
        .iter()
        .enumerate()
        .map(|(k, &unit)| {
            let width = mean_width(&field_of(photo, scene, unit, models)).max(0.05);
            let off = width.ln() / WIDTH_SPREAD;
            (LARGER_FIRST * unit.ln() - 0.5 * off * off, k)
        })
        .collect();
    order.sort_by(|p, q| q.0.total_cmp(&p.0));
    order.iter().take(MOST_ATTEMPTS).map(|o| o.1).collect()
}
