//! Bodies found with one body unit.

use super::agreed::agreed;
use super::body::{self, Body};
use super::candidates::{CLEAR, blobs, candidates, levels, mean_width};
use super::field::Field;
use super::lamp::Lamp;
use super::models::Models;
use super::parts::parts;
use super::raster::{Pixels, rasterise};
use super::worth;
use crate::photo::Photo;
use crate::plane::Plane;
use crate::scene::{Ground, Scene};
use rayon::prelude::*;

/// Units a body is long, by definition.
pub(super) const UNITS: f32 = 8.0;
/// Spread of the natural logarithm of lengths found over lengths assumed when the unit is right.
const FACTOR_SPREAD: f32 = 0.35;
/// Mean width of the blobs in body units when the unit is right, and the spread of its natural logarithm
/// (rendered dwarf shrimp 0.6 to 0.9, real prawns 0.9 to 1.05).
const USUAL_WIDTH: f32 = 0.88;
/// See [`USUAL_WIDTH`].
const WIDTH_SPREAD: f32 = 0.3;
/// A body of which less than this share is its own is a double of another.
pub(super) const OWN_SHARE: f32 = 0.55;
/// The same where bodies found with several units compete.
pub(super) const OWN_SHARE_AMONG_UNITS: f32 = 0.65;
/// Log-odds from which a body is taken for an animal.
pub(super) const ACCEPT: f32 = -1.0;

/// A shaped body among others that may be of the same animal.
pub(super) struct Proposal {
    /// Log-odds that it is an animal in its true outline.
    pub rank: f32,
    pub body: Body,
    /// Its pixels in the coarse picture.
    coarse: Pixels,
}

/// A shaped body and what the models say of it.
pub(super) struct Rated {
    /// Log-odds that it is an animal.
    pub worth: f32,
    /// Log-odds that it is an animal in its true outline.
    pub rank: f32,
    pub body: Body,
}

/// How bodies are sought with a unit.
#[derive(Clone, Copy)]
pub(super) struct Search<'a> {
    /// Bodies of which less is their own are doubles and dropped.
    pub own_share: f32,
    /// Blobs are taken apart at their bridges too (`parts`): where the unit is only guessed, more pieces compete than help. On
    /// dark ground they never are: feelers shine there as bodies do.
    pub parted: bool,
    /// Where the proposals are laid for a contest, if there is one.
    pub grid: Option<&'a Grid>,
}

impl Rated {
    /// The body shaped anew in the light of `lamp`, which makes no animal into none; `usual` is the usual length of the scoop in fine pixels.
    pub fn relit(self, field: &Field, lamp: &Lamp, usual: f32, models: &Models) -> Self {
        let body = body::relit(field, &self.body, lamp, models);
        let signs = worth::features(field, &body, usual);
        let penalty = worth::build_penalty(&body);
        let lit = Self::new(body, &signs, penalty, field, models);
        if self.worth >= ACCEPT && lit.worth < ACCEPT {
            self
        } else {
            lit
        }
    }

    /// The body in a picture of which `ratio` pixels are as long as one here.
    pub(super) fn moved(mut self, ratio: f32) -> Self {
        self.body.ribbon = self.body.ribbon.moved(ratio);
        self
    }

    /// A body with these [`worth::features`] and this [`worth::build_penalty`].
    fn new(body: Body, signs: &[f32; 16], penalty: f32, field: &Field, models: &Models) -> Self {
        let hollow = worth::hollow_penalty(signs, field.is_dark());
        Self {
            worth: models.worth.log_odds(signs) - penalty - hollow,
            rank: models.rank.log_odds(signs) - penalty,
            body,
        }
    }
}

/// A picture of the whole photo in which bodies of different units can be compared.
pub(super) struct Grid {
    /// Full-size pixels to a pixel of the grid.
    step: usize,
    width: usize,
    height: usize,
}

impl Grid {
    /// The grid of a photo, at most `longest` pixels long.
    pub fn new(photo: &Photo, longest: usize) -> Self {
        let step = photo.width().max(photo.height()).div_ceil(longest).max(1);
        Self {
            step,
            width: photo.width().div_ceil(step),
            height: photo.height().div_ceil(step),
        }
    }

    /// The pixels of a body found in a picture of every `step`th full-size pixel.
    pub fn pixels(&self, body: &Body, step: usize) -> Pixels {
        let ratio = step as f32 / self.step as f32;
        let map = |p: [f32; 2]| p.map(|v| (v + 0.5) * ratio - 0.5);
        rasterise(body, &map, self.width, self.height)
    }
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
    pub factor: f32,
    /// The proposals that are not quite unlikely, where a grid is given to lay them in.
    pub proposals: Vec<Pixels>,
    /// The lone lamp in whose light the bodies were shaped, where one shows.
    pub lamp: Option<Lamp>,
}

/// How well a ratio agrees with 1, 0..=1, `spread` being that of its natural logarithm.
pub(super) fn agreement(ratio: f32, spread: f32) -> f32 {
    (-0.5 * (ratio.max(0.05).ln() / spread).powi(2)).exp()
}

impl Attempt {
    /// The lone lamp that the likely animals show, and their usual length in fine pixels; none on dark ground, where shade
    /// does not show.
    fn lamp(&self, models: &Models) -> Option<(Lamp, f32)> {
        if self.field.is_dark() {
            return None;
        }
        let likely = self.rated.iter().filter(|r| r.worth >= ACCEPT);
        let bodies = likely.map(|r| &r.body);
        let lamp = Lamp::of(bodies.clone(), &models.lamp)?;
        Some((lamp, usual_length(bodies.map(Body::length))?))
    }

    /// The attempt with its bodies shaped anew in the light of a lone lamp, where they show one.
    pub(super) fn relit(mut self, models: &Models) -> Self {
        if let Some((told, usual)) = self.lamp(models) {
            let lamp = self.crisper(told, models);
            let bodies = self.rated.into_par_iter();
            self.rated = bodies
                .map(|r| r.relit(&self.field, &lamp, usual, models))
                .collect();
            self.rated.sort_by(|p, q| q.worth.total_cmp(&p.worth));
            self.lamp = Some(lamp);
        }
        self
    }

    /// `told` or the lamp opposite, whichever makes the likely animals' edges crisper. Outlines that took in the shade turn
    /// the signs at their edges round, so that a lamp may be told on the wrong side; shaped in its light, they then cut the
    /// lit flank off and keep the shade.
    fn crisper(&self, told: Lamp, models: &Models) -> Lamp {
        let edges = |lamp: &Lamp| -> f32 {
            let likely = self.rated.par_iter().filter(|r| r.worth >= ACCEPT);
            let lit = likely.map(|r| body::relit(&self.field, &r.body, lamp, models).edge_score);
            lit.collect::<Vec<f32>>().iter().sum()
        };
        let opposite = told.opposite();
        if edges(&opposite) > edges(&told) {
            opposite
        } else {
            told
        }
    }

    /// The share explained, less where the lengths and widths found belie the unit they were found with.
    pub(super) fn score(&self) -> f32 {
        self.share
            * agreement(self.factor, FACTOR_SPREAD)
            * agreement(mean_width(&self.field) / USUAL_WIDTH, WIDTH_SPREAD)
    }
}

/// The pictures in which bodies of a unit of `unit` full-size pixels are sought.
pub(super) fn field_of(photo: &Photo, scene: &Scene, unit: f32, models: &Models) -> Field {
    Field::new(
        photo,
        unit,
        &|x, y| scene.is_searched(x, y),
        scene.ground == Ground::Dark,
        models,
    )
}

/// Bodies of a unit of `unit` full-size pixels, doubles dropped.
pub(super) fn attempt(
    photo: &Photo,
    scene: &Scene,
    unit: f32,
    how: Search,
    models: &Models,
) -> Attempt {
    let field = field_of(photo, scene, unit, models);
    let (all, shapeless) = shaped(&field, how, models);
    let kept = apart(&field, all.iter().map(|p| &p.coarse), how.own_share);
    let proposals = how
        .grid
        .map_or_else(Vec::new, |grid| proposals(&field, &all, grid));
    let lengths = kept.iter().map(|k| all[*k].body.length());
    let usual = usual_length(lengths).unwrap_or(UNITS * field.unit);
    let rating = |body: Body| {
        let signs = worth::features(&field, &body, usual);
        let penalty = worth::build_penalty(&body);
        let whole = (
            models.scale.log_odds(&signs) - penalty,
            body.length(),
            body.mean_width(),
        );
        (Rated::new(body, &signs, penalty, &field, models), whole)
    };
    let (mut rated, whole): (Vec<Rated>, Vec<(f32, f32, f32)>) = agreed(&field, &all, kept)
        .into_par_iter()
        .map(rating)
        .unzip();
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
        proposals,
        lamp: None,
    }
}

/// Proposals less likely than this say nothing of others, log-odds.
const LEAST_RANK: f32 = -6.0;

/// The proposals that are not quite unlikely, in the grid.
fn proposals(field: &Field, all: &[Proposal], grid: &Grid) -> Vec<Pixels> {
    let likely = all.par_iter().filter(|p| p.rank > LEAST_RANK);
    likely.map(|p| grid.pixels(&p.body, field.step)).collect()
}

/// All proposals shaped, likeliest first: from clear evidence, then from faint evidence away from the likely animals.
/// With them the boxes of blobs that have no axis, fine pixels.
fn shaped(field: &Field, how: Search, models: &Models) -> (Vec<Proposal>, Vec<[f32; 4]>) {
    let mut taken = vec![false; field.evidence.values.len()];
    let mut out: Vec<Proposal> = Vec::new();
    let mut shapeless = Vec::new();
    for limit in levels(field) {
        let mut found = candidates(field, limit, &taken);
        if limit == CLEAR && how.parted && !field.is_dark() {
            found.rough.extend(parts(field, &blobs(field, CLEAR, &[])));
        }
        let bodies: Vec<Body> = found
            .rough
            .par_iter()
            .map(|r| body::shape(field, r, models))
            .collect();
        let known = out.iter().map(|p| &p.body);
        let usual = usual_length(bodies.iter().chain(known).map(Body::length));
        let usual = usual.unwrap_or(UNITS * field.unit);
        out.par_extend(bodies.into_par_iter().map(|body| {
            let signs = worth::features(field, &body, usual);
            Proposal {
                rank: models.rank.log_odds(&signs) - worth::build_penalty(&body),
                coarse: coarse_pixels(field, &body),
                body,
            }
        }));
        out.sort_by(|p, q| q.rank.total_cmp(&p.rank));
        if limit == CLEAR {
            shapeless = found.shapeless;
            let kept = apart(field, out.iter().map(|p| &p.coarse), how.own_share);
            let likely = kept.iter().map(|k| &out[*k]).filter(|p| p.rank > LIKELY);
            taken = around(field, likely.map(|p| &p.coarse));
        }
    }
    (out, shapeless)
}

/// Places of the bodies, given likeliest first, of which at least `own_share` lies beside all likelier ones.
pub(super) fn distinct<'a>(
    field: &Field,
    bodies: impl Iterator<Item = &'a Body>,
    own_share: f32,
) -> Vec<usize> {
    let bodies: Vec<&Body> = bodies.collect();
    let coarse = bodies.par_iter().map(|body| coarse_pixels(field, body));
    let coarse: Vec<Pixels> = coarse.collect();
    apart(field, coarse.iter(), own_share)
}

/// [`distinct`] of bodies given by their coarse pixels.
fn apart<'a>(
    field: &Field,
    bodies: impl Iterator<Item = &'a Pixels>,
    own_share: f32,
) -> Vec<usize> {
    let (w, h) = (field.evidence.width, field.evidence.height);
    let mut taken = vec![false; w * h];
    let own = |(place, pixels): (usize, &Pixels)| {
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

/// The body's pixels in the coarse picture.
pub(super) fn coarse_pixels(field: &Field, body: &Body) -> Pixels {
    let coarse = |p: [f32; 2]| p.map(|v| (v + 0.5) / field.coarse_step as f32 - 0.5);
    rasterise(body, &coarse, field.evidence.width, field.evidence.height)
}

/// What lies on the bodies or within a quarter of a unit of them, coarse pixels.
pub(super) fn surroundings<'a>(field: &Field, bodies: impl Iterator<Item = &'a Body>) -> Vec<bool> {
    let coarse: Vec<Pixels> = bodies.map(|body| coarse_pixels(field, body)).collect();
    around(field, coarse.iter())
}

/// [`surroundings`] of bodies given by their coarse pixels.
fn around<'a>(field: &Field, bodies: impl Iterator<Item = &'a Pixels>) -> Vec<bool> {
    let (w, h) = (field.evidence.width, field.evidence.height);
    let mut plane = Plane::filled(w, h, 0.0);
    for (x, y, _) in bodies.flat_map(Pixels::iter) {
        plane.values[y as usize * w + x as usize] = 1.0;
    }
    let near = plane.box_max((0.25 * field.coarse_unit()).round() as usize);
    near.values.iter().map(|v| *v > 0.5).collect()
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
