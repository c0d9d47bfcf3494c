//! At which size animals are looked for: bodies are shaped at one body unit or several, and the unit kept whose bodies fit.

use super::agreed::agreed;
use super::body::{self, Body};
use super::candidates::{CLEAR, candidates, levels, mean_width};
use super::field::Field;
use super::models::Models;
use super::raster::rasterise;
use super::worth;
use crate::photo::Photo;
use crate::plane::Plane;
use crate::scene::{Ground, Scene};
use rayon::prelude::*;

/// Body length of an adult in millimetres for a first guess of the unit (adults are 20 to 32 mm; common practice,
/// no source).
const ADULT_MM: f64 = 24.0;
/// Floor diameter in millimetres of a cup that nobody measured: catch cups are mostly 70 to 110 wide (common practice, no
/// source). It decides only the size at which animals are looked for first, never a length that is told.
const USUAL_CUP_MM: f64 = 88.0;
/// Without a scale and a cup, adult lengths from the first share of the photo's longer side to the second are looked at...
const ADULT_SHARES: [f32; 2] = [0.08, 0.8];
/// ...each this much longer than the one before...
const SHARE_STEP: f32 = 1.19;
/// ...and bodies are shaped for so many of them, those at which the evidence is about a body unit wide.
const MOST_ATTEMPTS: usize = 6;
/// ...and bodies of the units so many steps away compete with those of the best one.
const UNITS_BESIDE: [isize; 3] = [-2, -1, 1];
/// Worth of a unit twice as large among units at which the evidence is equally wide, natural logarithm a natural logarithm:
/// small units find thin things everywhere.
const LARGER_FIRST: f32 = 0.6;
/// Units at which the picture of the evidence has more pixels than this are not looked at: animals that small fill no
/// photo of a scoop, and the time would be out of proportion.
const MOST_PROBED_PIXELS: f32 = 0.8e6;
/// Units a body is long, by definition.
const UNITS: f32 = 8.0;
/// A usual length this much off the assumed one has the field built anew.
const TOLERANCE: f32 = 1.3;
/// Spread of the natural logarithm of lengths found over lengths assumed when the unit is right.
const FACTOR_SPREAD: f32 = 0.35;
/// Mean width of the blobs in body units when the unit is right, and the spread of its natural logarithm
/// (rendered dwarf shrimp 0.6 to 0.9, real prawns 0.9 to 1.05).
const USUAL_WIDTH: f32 = 0.88;
/// See [`USUAL_WIDTH`].
const WIDTH_SPREAD: f32 = 0.3;
/// The same where no scale is known: two animals that touch end to end look like one at twice the unit, so narrow
/// evidence is trusted less, lengths count little, and the share explained more (rendered scenes without their scale,
/// and photos of real prawns).
const WIDTH_UNSCALED: f32 = 1.1;
/// See [`WIDTH_UNSCALED`].
const WIDTH_SPREAD_UNSCALED: f32 = 0.25;
/// See [`WIDTH_UNSCALED`]: factor of lengths, its spread, and the power of the share.
const FACTOR_UNSCALED: (f32, f32) = (1.3, 0.6);
/// See [`WIDTH_UNSCALED`].
const SHARE_POWER: f32 = 1.5;
/// An attempt that makes animals of this share of the evidence needs no other.
const GOOD_SHARE: f32 = 0.6;
/// A body of which less than this share is its own is a double of another.
pub(super) const OWN_SHARE: f32 = 0.55;
/// The same where no scale is known and bodies of several units compete.
const OWN_SHARE_UNSCALED: f32 = 0.65;

/// Log-odds from which a body is taken for an animal.
pub(super) const ACCEPT: f32 = -1.0;

/// A shaped body and what the models say of it.
pub(super) struct Rated {
    /// Log-odds that it is an animal.
    pub worth: f32,
    /// Log-odds that it is an animal in its true outline.
    pub rank: f32,
    pub body: Body,
}

/// All bodies found with one body unit.
pub(super) struct Attempt {
    /// The pictures searched.
    pub field: Field,
    /// Bodies, likeliest animals first.
    pub rated: Vec<Rated>,
    /// Boxes of blobs that have no axis, fine pixels.
    pub shapeless: Vec<[f32; 4]>,
    /// Area that is likely animals as a share of the area with evidence.
    pub share: f32,
    /// Usual length of the likely animals over the length that the unit stands for.
    factor: f32,
}

/// How well a ratio agrees with 1, 0..=1, `spread` being that of its natural logarithm.
fn agreement(ratio: f32, spread: f32) -> f32 {
    (-0.5 * (ratio.max(0.05).ln() / spread).powi(2)).exp()
}

impl Attempt {
    /// The share explained, less where the lengths and widths found belie the unit they were found with.
    fn score(&self) -> f32 {
        self.share
            * agreement(self.factor, FACTOR_SPREAD)
            * agreement(mean_width(&self.field) / USUAL_WIDTH, WIDTH_SPREAD)
    }

    /// The same where no scale told which unit is likely.
    fn score_unscaled(&self) -> f32 {
        let (factor, spread) = FACTOR_UNSCALED;
        self.share.powf(SHARE_POWER)
            * agreement(self.factor / factor, spread)
            * agreement(
                mean_width(&self.field) / WIDTH_UNSCALED,
                WIDTH_SPREAD_UNSCALED,
            )
    }
}

fn field_of(photo: &Photo, scene: &Scene, unit: f32, models: &Models) -> Field {
    Field::new(
        photo,
        unit,
        &|x, y| scene.is_searched(x, y),
        scene.ground == Ground::Dark,
        models,
    )
}

fn attempt(photo: &Photo, scene: &Scene, unit: f32, own_share: f32, models: &Models) -> Attempt {
    let field = field_of(photo, scene, unit, models);
    let (all, shapeless) = shaped(&field, own_share, models);
    let kept = distinct(&field, all.iter().map(|b| &b.1), own_share);
    let usual = usual_length(kept.iter().map(|k| all[*k].1.length())).unwrap_or(UNITS * field.unit);
    let mut rated: Vec<Rated> = Vec::new();
    let mut whole: Vec<(f32, f32, f32)> = Vec::new();
    for body in agreed(&field, &all, kept) {
        let signs = worth::features(&field, &body, usual);
        let penalty = worth::build_penalty(&body);
        whole.push((
            models.scale.log_odds(&signs) - penalty,
            body.length(),
            body.mean_width(),
        ));
        rated.push(Rated {
            worth: models.worth.log_odds(&signs)
                - penalty
                - worth::hollow_penalty(&signs, field.is_dark()),
            rank: models.rank.log_odds(&signs) - penalty,
            body,
        });
    }
    rated.sort_by(|p, q| q.worth.total_cmp(&p.worth));
    let full = (field.step * field.step) as f32;
    let explained = full
        * whole
            .iter()
            .map(|(z, l, w)| l * w / (1.0 + (-z).exp()))
            .sum::<f32>();
    let coarse = (field.step * field.coarse_step) as f32;
    let evident =
        coarse * coarse * field.evidence.values.iter().filter(|z| **z > 0.0).count() as f32;
    let likely = usual_length(whole.iter().filter(|w| w.0 > 0.0).map(|w| w.1));
    let factor = likely.map_or(1.0, |l| l / (UNITS * field.unit));
    Attempt {
        field,
        rated,
        shapeless,
        share: explained / evident.max(1.0),
        factor,
    }
}

/// All proposals shaped, with the log-odds that they are animals in their true outline, likeliest first: from clear
/// evidence, then from faint evidence away from the likely animals.
fn shaped(field: &Field, own_share: f32, models: &Models) -> (Vec<(f32, Body)>, Vec<[f32; 4]>) {
    let mut taken = vec![false; field.evidence.values.len()];
    let mut out: Vec<(f32, Body)> = Vec::new();
    let mut shapeless = Vec::new();
    for limit in levels(field) {
        let found = candidates(field, limit, &taken);
        let bodies: Vec<Body> = found
            .rough
            .par_iter()
            .map(|r| body::shape(field, r, models))
            .collect();
        let usual = usual_length(
            bodies
                .iter()
                .chain(out.iter().map(|b| &b.1))
                .map(Body::length),
        );
        let usual = usual.unwrap_or(UNITS * field.unit);
        out.extend(bodies.into_iter().map(|b| {
            let rank =
                models.rank.log_odds(&worth::features(field, &b, usual)) - worth::build_penalty(&b);
            (rank, b)
        }));
        out.sort_by(|p, q| q.0.total_cmp(&p.0));
        if limit == CLEAR {
            shapeless = found.shapeless;
            let kept = distinct(field, out.iter().map(|b| &b.1), own_share);
            mark_likely(field, kept.iter().map(|k| &out[*k]), &mut taken);
        }
    }
    (out, shapeless)
}

/// Places of the bodies, given likeliest first, of which at least `own_share` lies beside all likelier ones.
fn distinct<'a>(
    field: &Field,
    bodies: impl Iterator<Item = &'a Body>,
    own_share: f32,
) -> Vec<usize> {
    let (w, h) = (field.evidence.width, field.evidence.height);
    let coarse = |p: [f32; 2]| p.map(|v| (v + 0.5) / field.coarse_step as f32 - 0.5);
    let mut taken = vec![false; w * h];
    let own = |(place, body): (usize, &Body)| {
        let pixels = rasterise(body, &coarse, w, h);
        let at = |x: i32, y: i32| y as usize * w + x as usize;
        let free = pixels.iter().filter(|&(x, y, _)| !taken[at(x, y)]).count();
        if (free as f32) < own_share * pixels.area().max(1) as f32 {
            return None;
        }
        for (x, y, _) in pixels.iter() {
            taken[at(x, y)] = true;
        }
        Some(place)
    };
    bodies.enumerate().filter_map(own).collect()
}

/// Log-odds from which faint evidence is no longer sought on a body.
const LIKELY: f32 = 0.5;

/// Marks the coarse pixels of likely animals and their surroundings.
fn mark_likely<'a>(
    field: &Field,
    bodies: impl Iterator<Item = &'a (f32, Body)>,
    taken: &mut [bool],
) {
    let (w, h) = (field.evidence.width, field.evidence.height);
    let coarse = |p: [f32; 2]| p.map(|v| (v + 0.5) / field.coarse_step as f32 - 0.5);
    let mut plane = Plane::filled(w, h, 0.0);
    for (_, body) in bodies.filter(|b| b.0 > LIKELY) {
        for (x, y, _) in rasterise(body, &coarse, w, h).iter() {
            plane.values[y as usize * w + x as usize] = 1.0;
        }
    }
    let near = plane.box_max((0.25 * field.coarse_unit()).round() as usize);
    for (t, v) in taken.iter_mut().zip(&near.values) {
        *t = *v > 0.5;
    }
}

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
    match adult_length_px(scene) {
        Some(length) => settle_scaled(photo, scene, length as f32 / UNITS, models),
        None => settle_unscaled(photo, scene, models),
    }
}

/// The unit of an adult is tried first, and half of it (a scoop of young) where that explains little;
/// the better is refined once.
fn settle_scaled(photo: &Photo, scene: &Scene, adult: f32, models: &Models) -> Attempt {
    let longest = photo.width().max(photo.height()) as f32 / UNITS;
    let mut best = attempt(photo, scene, adult.clamp(5.0, longest), OWN_SHARE, models);
    if best.share <= GOOD_SHARE {
        let young = attempt(
            photo,
            scene,
            (adult / 2.0).clamp(5.0, longest),
            OWN_SHARE,
            models,
        );
        if young.score() > best.score() {
            best = young;
        }
    }
    if (1.0 / TOLERANCE..=TOLERANCE).contains(&best.factor) {
        return best;
    }
    let unit = best.field.unit * best.field.step as f32 * best.factor;
    let refined = attempt(photo, scene, unit.clamp(5.0, longest), OWN_SHARE, models);
    if refined.score() > best.score() {
        refined
    } else {
        best
    }
}

/// Of the units at which the evidence is about a unit wide, the one whose bodies explain it best, with the bodies of
/// the units beside it: which of them cuts a heap rightly differs from animal to animal.
fn settle_unscaled(photo: &Photo, scene: &Scene, models: &Models) -> Attempt {
    let longest = photo.width().max(photo.height()) as f32 / UNITS;
    let units: Vec<f32> = std::iter::successors(Some(ADULT_SHARES[0]), |s| Some(s * SHARE_STEP))
        .take_while(|s| *s <= ADULT_SHARES[1])
        .map(|s| (s * longest).max(5.0))
        .filter(|unit| probed_pixels(photo, *unit) <= MOST_PROBED_PIXELS)
        .collect();
    let mut best: Option<(f32, usize, Attempt)> = None;
    // Only the bodies are kept of an attempt that is not the best: its pictures are large.
    let mut others: Vec<(usize, usize, Vec<Rated>)> = Vec::new();
    for k in likely_units(photo, scene, &units, models) {
        let this = attempt(photo, scene, units[k], OWN_SHARE_UNSCALED, models);
        let score = this.score_unscaled();
        let loser = if best.as_ref().is_none_or(|b| score > b.0) {
            best.replace((score, k, this)).map(|b| (b.1, b.2))
        } else {
            Some((k, this))
        };
        others.extend(loser.map(|(k, a)| (k, a.field.step, a.rated)));
    }
    let (_, chosen, mut best) = best.expect("at least one unit is tried");
    for offset in UNITS_BESIDE {
        let Some(k) = chosen
            .checked_add_signed(offset)
            .filter(|k| *k < units.len())
        else {
            continue;
        };
        let (step, bodies) = match others.iter().position(|o| o.0 == k) {
            Some(i) => {
                let (_, step, rated) = others.swap_remove(i);
                (step, rated)
            }
            None => {
                let a = attempt(photo, scene, units[k], OWN_SHARE_UNSCALED, models);
                (a.field.step, a.rated)
            }
        };
        if step == best.field.step {
            best.rated
                .extend(bodies.into_iter().filter(|r| r.worth >= ACCEPT));
        }
    }
    best.rated = best_of_doubles(&best.field, best.rated);
    best
}

/// Pixels of the picture of the evidence at `unit`.
fn probed_pixels(photo: &Photo, unit: f32) -> f32 {
    let pixels = photo.width() * photo.height();
    let (step, coarse) = super::field::steps(unit, pixels, photo.finest_step());
    pixels as f32 / (step * coarse).pow(2) as f32
}

/// Indices of the units for which bodies are shaped, likeliest first.
fn likely_units(photo: &Photo, scene: &Scene, units: &[f32], models: &Models) -> Vec<usize> {
    let mut order: Vec<(f32, usize)> = units
        .iter()
        .enumerate()
        .map(|(k, &unit)| {
            let width = mean_width(&field_of(photo, scene, unit, models)).max(0.05);
            let off = width.ln() / WIDTH_SPREAD_UNSCALED;
            (LARGER_FIRST * unit.ln() - 0.5 * off * off, k)
        })
        .collect();
    order.sort_by(|p, q| q.0.total_cmp(&p.0));
    order.iter().take(MOST_ATTEMPTS).map(|o| o.1).collect()
}

/// Of bodies that lie on each other the one with the best outline, and the bodies that are no animals; likeliest
/// animals first.
fn best_of_doubles(field: &Field, rated: Vec<Rated>) -> Vec<Rated> {
    let (mut animals, rest): (Vec<Rated>, Vec<Rated>) =
        rated.into_iter().partition(|r| r.worth >= ACCEPT);
    animals.sort_by(|p, q| q.rank.total_cmp(&p.rank));
    let kept = distinct(field, animals.iter().map(|r| &r.body), OWN_SHARE_UNSCALED);
    let mut place = 0..;
    animals.retain(|_| place.next().is_some_and(|k| kept.binary_search(&k).is_ok()));
    let mut out = animals;
    out.extend(rest);
    out.sort_by(|p, q| q.worth.total_cmp(&p.worth));
    out
}

/// Median of the lengths (pixels), each counted by its length, so that crumbs don't count as animals do.
pub fn usual_length(lengths: impl Iterator<Item = f32>) -> Option<f32> {
    let mut all: Vec<f32> = lengths.collect();
    all.sort_by(f32::total_cmp);
    let total: f32 = all.iter().sum();
    let mut sum = 0.0;
    all.into_iter().find(|l| {
        sum += l;
        sum >= total / 2.0
    })
}
