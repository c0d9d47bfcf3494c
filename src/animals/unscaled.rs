//! Where nothing tells how large animals are: bodies are shaped at several body units and compete.

use super::agreed::overlap;
use super::attempt::{
    ACCEPT, Attempt, Grid, OWN_SHARE_AMONG_UNITS, Rated, UNITS, agreement, attempt, distinct,
    field_of, usual_length,
};
use super::candidates::mean_width;
use super::field::{self, Field};
use super::models::Models;
use super::raster::Pixels;
use crate::photo::Photo;
use crate::scene::Scene;
use rayon::prelude::*;

/// Adult lengths from the first share of the photo's longer side to the second are looked at...
const ADULT_SHARES: [f32; 2] = [0.08, 0.8];
/// ...each this much longer than the one before...
const SHARE_STEP: f32 = 1.19;
/// ...and bodies are shaped for so many of them, those at which the evidence is about a body unit wide.
const MOST_ATTEMPTS: usize = 6;
/// ...and bodies of the units up to so many steps away compete with those of the best one.
const UNITS_BESIDE: usize = 2;
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
/// Longest side in pixels of the grid in which proposals of different units are compared.
const GRID: usize = 640;
/// Units so many steps away tell whether a body is found with them too.
const SUPPORT_REACH: usize = 3;
/// Log-odds won by a body that is found with all the units near, over one that is found with none: the outline of an animal
/// stays the same whatever the unit, one that runs on along feelers into another animal does not, as with regions that are
/// stable over thresholds [Matas2004]. (8 to 24 find the same animals.)
const SUPPORT: f32 = 16.0;
/// Support of a body where no other unit was tried.
const NO_SUPPORT: f32 = 0.3;
/// Spread of the natural logarithm of sizes (root of the area) in a scoop, as far as it decides between bodies that lie on
/// each other...
const SIZE_SPREAD: f32 = 0.12;
/// ...and the most log-odds that a body of another size than the scoop's usual one loses: there are young ones among adults.
const MOST_FOR_SIZE: f32 = 8.0;
/// Rounds in which the usual size is taken from the bodies chosen.
const ROUNDS: usize = 3;

/// What is kept of an attempt: its pictures are large.
struct Tried {
    /// Number of its unit.
    unit: usize,
    /// Full-size pixels to a fine pixel.
    step: usize,
    rated: Vec<Rated>,
    proposals: Vec<Pixels>,
}

impl Tried {
    /// Takes the bodies out of an attempt.
    fn of(unit: usize, attempt: &mut Attempt) -> Self {
        Self {
            unit,
            step: attempt.field.step,
            rated: std::mem::take(&mut attempt.rated),
            proposals: std::mem::take(&mut attempt.proposals),
        }
    }
}

/// The share explained, less where the lengths and widths found belie the unit they were found with.
fn score(attempt: &Attempt) -> f32 {
    let (factor, spread) = FACTOR;
    attempt.share.powf(SHARE_POWER)
        * agreement(attempt.factor / factor, spread)
        * agreement(mean_width(&attempt.field) / USUAL_WIDTH, WIDTH_SPREAD)
}

/// Of the units at which the evidence is about a unit wide, the one whose bodies explain it best, with the bodies of
/// the units beside it: which of them cuts a heap rightly differs from animal to animal.
pub(super) fn settle_unscaled(photo: &Photo, scene: &Scene, models: &Models) -> Attempt {
    let longest = photo.width().max(photo.height()) as f32 / UNITS;
    let units: Vec<f32> = std::iter::successors(Some(ADULT_SHARES[0]), |s| Some(s * SHARE_STEP))
        .take_while(|s| *s <= ADULT_SHARES[1])
        .map(|s| (s * longest).max(5.0))
        .filter(|unit| probed_pixels(photo, *unit) <= MOST_PROBED_PIXELS)
        .collect();
    let grid = Grid::new(photo, GRID);
    let shape = |k: usize| {
        attempt(
            photo,
            scene,
            units[k],
            OWN_SHARE_AMONG_UNITS,
            Some(&grid),
            models,
        )
    };
    let mut best: Option<(f32, Attempt)> = None;
    let mut chosen = 0;
    let mut tried: Vec<Tried> = Vec::new();
    for k in likely_units(photo, scene, &units, models) {
        let mut this = shape(k);
        let score = score(&this);
        tried.push(Tried::of(k, &mut this));
        if best.as_ref().is_none_or(|b| score > b.0) {
            best = Some((score, this));
            chosen = k;
        }
    }
    let (_, mut best) = best.expect("at least one unit is tried");
    let last = (chosen + UNITS_BESIDE).min(units.len() - 1);
    for k in chosen.saturating_sub(UNITS_BESIDE)..=last {
        if tried.iter().all(|t| t.unit != k) {
            tried.push(Tried::of(k, &mut shape(k)));
        }
    }
    best.rated = best_of_doubles(&best.field, &grid, chosen, tried);
    best
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

/// A likely animal that competes with others.
struct Contender {
    rated: Rated,
    /// Log-odds that it is an animal in its true outline, with its support.
    claim: f32,
    /// Root of the area, fine pixels.
    size: f32,
}

/// The likely animals found with `chosen` and the units beside it, and the bodies of the chosen unit that are no animals.
/// Bodies of other steps are left out: their places are not those of `field`.
fn contenders(
    field: &Field,
    grid: &Grid,
    chosen: usize,
    mut tried: Vec<Tried>,
) -> (Vec<Contender>, Vec<Rated>) {
    let (mut likely, mut unlikely) = (Vec::new(), Vec::new());
    for t in &mut tried {
        let near = t.unit.abs_diff(chosen) <= UNITS_BESIDE && t.step == field.step;
        for rated in std::mem::take(&mut t.rated) {
            if near && rated.worth >= ACCEPT {
                likely.push((t.unit, rated));
            } else if t.unit == chosen {
                unlikely.push(rated);
            }
        }
    }
    let contender = |(unit, rated): (usize, Rated)| {
        let pixels = grid.pixels(&rated.body, field.step);
        Contender {
            claim: rated.rank + SUPPORT * support(&pixels, unit, &tried),
            size: (rated.body.length() * rated.body.mean_width()).sqrt(),
            rated,
        }
    };
    (likely.into_par_iter().map(contender).collect(), unlikely)
}

/// How well a body is found again with other units near `unit`: mean over them of the best intersection over union, 0..=1.
fn support(pixels: &Pixels, unit: usize, tried: &[Tried]) -> f32 {
    let near = |t: &&Tried| t.unit != unit && t.unit.abs_diff(unit) <= SUPPORT_REACH;
    let found: Vec<f32> = tried
        .iter()
        .filter(near)
        .map(|t| {
            t.proposals
                .iter()
                .map(|p| overlap(pixels, p))
                .fold(0.0, f32::max)
        })
        .collect();
    if found.is_empty() {
        return NO_SUPPORT;
    }
    found.iter().sum::<f32>() / found.len() as f32
}

/// Places of the contenders that remain where they lie on each other.
fn winners(field: &Field, all: &[Contender]) -> Vec<usize> {
    let mut order: Vec<usize> = (0..all.len()).collect();
    let mut kept = Vec::new();
    for _ in 0..ROUNDS {
        let usual = usual_length(kept.iter().map(|k: &usize| all[*k].size));
        let off = |c: &Contender| usual.map_or(0.0, |u| (c.size / u).ln() / SIZE_SPREAD);
        let claim = |k: usize| all[k].claim - (0.5 * off(&all[k]).powi(2)).min(MOST_FOR_SIZE);
        order.sort_by(|p, q| claim(*q).total_cmp(&claim(*p)));
        let bodies = order.iter().map(|k| &all[*k].rated.body);
        let places = distinct(field, bodies, OWN_SHARE_AMONG_UNITS);
        kept = places.into_iter().map(|place| order[place]).collect();
    }
    kept
}

/// Of likely animals that lie on each other the one with the best outline, and the bodies of the chosen unit that are no
/// animals; likeliest animals first.
fn best_of_doubles(field: &Field, grid: &Grid, chosen: usize, tried: Vec<Tried>) -> Vec<Rated> {
    let (all, mut out) = contenders(field, grid, chosen, tried);
    let won = winners(field, &all);
    let kept = all.into_iter().enumerate().filter(|(k, _)| won.contains(k));
    out.extend(kept.map(|(_, contender)| contender.rated));
    out.sort_by(|p, q| q.worth.total_cmp(&p.worth));
    out
}
