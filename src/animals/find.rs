//! Every body of a photo: the field at the right size, bodies shaped, doubles dropped, the rest turned away.

use super::body::{self, Body};
use super::candidates::{CLEAR, FAINT, candidates};
use super::field::Field;
use super::models::Models;
use super::raster::{Pixels, rasterise};
use super::reject;
use super::worth;
use crate::photo::Photo;
use crate::plane::Plane;
use crate::scene::{Ground, Scene};
use rayon::prelude::*;

/// A found animal.
#[derive(Debug, Clone)]
pub struct Animal {
    /// Its shape, head first.
    pub body: Body,
    /// Its pixels in the fine picture, none shared with another animal.
    pub pixels: Pixels,
    /// Touches the frame or the end of the searched ground.
    pub cut: bool,
    /// Log-odds that it is an animal.
    pub worth: f32,
}

/// A body that is no gradable animal.
#[derive(Debug, Clone, Copy)]
pub struct Refused {
    /// Box x, y, width, height in full-size pixels.
    pub bbox: [i32; 4],
    /// Why: one of `plant moult dropping snail bubble too_small unknown`.
    pub reason: &'static str,
}

/// All that was found.
#[derive(Debug)]
pub struct Found {
    /// The pictures searched.
    pub field: Field,
    /// Animals in reading order.
    pub animals: Vec<Animal>,
    /// Turned away.
    pub refused: Vec<Refused>,
}

/// Body length of an adult in millimetres for a first guess of the unit (adults are 20 to 32 mm; common practice).
const ADULT_MM: f64 = 24.0;
/// Without a scale, adult lengths tried first, as shares of the photo's longer side.
const ADULT_SHARES: [f32; 5] = [0.26, 0.15, 0.45, 0.09, 0.75];
/// An attempt with this score needs no other (the rendered scenes reach 0.4 to 0.5 at the right unit).
const GOOD_SCORE: f32 = 0.38;
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
/// An attempt that makes animals of this share of the evidence needs no other.
const GOOD_SHARE: f32 = 0.6;
/// A body of which less than this share is its own is a double of another.
const OWN_SHARE: f32 = 0.55;

/// Log-odds from which a body is taken for an animal.
const ACCEPT: f32 = -1.0;
/// Where the likely animals make up less than this share of the evidence, most of it is clutter...
const POOR_SHARE: f32 = 0.2;
/// ...and only bodies that are surely animals are taken.
const ACCEPT_AMID_CLUTTER: f32 = 2.5;

/// Mean evidence from which a body that is no animal is named among the things turned away.
const WORTH_NAMING: f32 = 0.3;

/// Every animal of the photo.
pub fn find(photo: &Photo, scene: &Scene, models: &Models) -> Found {
    let attempt = settle(photo, scene, models);
    let field = attempt.field;
    let mut refused: Vec<Refused> = attempt
        .shapeless
        .iter()
        .map(|b| refuse(&field, full_box(&field, *b), None))
        .collect();
    let accept = if attempt.share < POOR_SHARE {
        ACCEPT_AMID_CLUTTER
    } else {
        ACCEPT
    };
    let mut animals = keep(photo, &field, attempt.rated, accept, &mut refused);
    refused.retain(|r| {
        r.reason == "plant"
            || !animals
                .iter()
                .any(|a| meets(r.bbox, pixel_box(&field, &a.pixels)))
    });
    animals.sort_by_key(|a| {
        (
            a.pixels.origin[1] / (4.0 * field.unit) as i32,
            a.pixels.origin[0],
        )
    });
    Found {
        field,
        animals,
        refused,
    }
}

/// All bodies found with one body unit.
struct Attempt {
    field: Field,
    /// Bodies with their log-odds of being an animal, best first.
    rated: Vec<(f32, Body)>,
    shapeless: Vec<[f32; 4]>,
    /// Area that is likely animals as a share of the area with evidence.
    share: f32,
    /// Usual length of the likely animals over the length that the unit stands for.
    factor: f32,
    /// Mean width of the blobs in body units.
    mean_width: f32,
}

impl Attempt {
    /// The share explained, less where the lengths and widths found belie the unit they were found with.
    fn score(&self) -> f32 {
        let off = |ratio: f32, spread: f32| (-0.5 * (ratio.max(0.05).ln() / spread).powi(2)).exp();
        self.share
            * off(self.factor, FACTOR_SPREAD)
            * off(self.mean_width / USUAL_WIDTH, WIDTH_SPREAD)
    }
}

fn attempt(photo: &Photo, scene: &Scene, unit: f32, models: &Models) -> Attempt {
    let field = Field::new(
        photo,
        unit,
        &|x, y| scene.is_searched(x, y),
        scene.ground == Ground::Dark,
        models,
    );
    let (bodies, shapeless, mean_width) = shaped(&field, models);
    let usual = usual_length(bodies.iter().map(|b| b.1.length())).unwrap_or(UNITS * field.unit);
    let signs: Vec<[f32; 16]> = bodies
        .iter()
        .map(|b| worth::features(&field, &b.1, usual))
        .collect();
    let mut rated: Vec<(f32, Body)> = Vec::new();
    let mut whole: Vec<(f32, f32, f32)> = Vec::new();
    for ((_, body), signs) in bodies.into_iter().zip(&signs) {
        let penalty = worth::build_penalty(&body);
        whole.push((
            models.scale.log_odds(signs) - penalty,
            body.length(),
            body.mean_width(),
        ));
        rated.push((models.worth.log_odds(signs) - penalty, body));
    }
    rated.sort_by(|p, q| q.0.total_cmp(&p.0));
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
        mean_width,
    }
}

/// Bodies shaped from clear evidence, then from faint evidence away from the likely animals; proposals that
/// share most of their area with a likelier one are dropped.
pub fn shaped(field: &Field, models: &Models) -> (Vec<(f32, Body)>, Vec<[f32; 4]>, f32) {
    let mut taken = vec![false; field.evidence.values.len()];
    let mut out: Vec<(f32, Body)> = Vec::new();
    let mut shapeless = Vec::new();
    let mut mean_width = 0.0;
    for limit in [CLEAR, FAINT] {
        let found = candidates(field, limit, &taken);
        let bodies: Vec<Body> = found
            .rough
            .par_iter()
            .map(|r| body::shape(field, &r.path, r.touching, models))
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
        out = distinct(field, out);
        if limit == CLEAR {
            shapeless = found.shapeless;
            mean_width = found.mean_width;
            mark_likely(field, &out, &mut taken);
        }
    }
    (out, shapeless, mean_width)
}

/// The bodies, likeliest first, without those that lie mostly under a likelier one.
fn distinct(field: &Field, mut bodies: Vec<(f32, Body)>) -> Vec<(f32, Body)> {
    let (w, h) = (field.evidence.width, field.evidence.height);
    let coarse = |p: [f32; 2]| p.map(|v| (v + 0.5) / field.coarse_step as f32 - 0.5);
    bodies.sort_by(|p, q| q.0.total_cmp(&p.0));
    let mut taken = vec![false; w * h];
    bodies.retain(|(_, body)| {
        let pixels = rasterise(body, &coarse, w, h);
        let free = pixels
            .iter()
            .filter(|&(x, y, _)| !taken[y as usize * w + x as usize])
            .count();
        let own = free as f32 >= OWN_SHARE * pixels.area().max(1) as f32;
        if own {
            for (x, y, _) in pixels.iter() {
                taken[y as usize * w + x as usize] = true;
            }
        }
        own
    });
    bodies
}

/// Log-odds from which faint evidence is no longer sought on a body.
const LIKELY: f32 = 0.5;

/// Marks the coarse pixels of likely animals and their surroundings.
fn mark_likely(field: &Field, bodies: &[(f32, Body)], taken: &mut [bool]) {
    let (w, h) = (field.evidence.width, field.evidence.height);
    let coarse = |p: [f32; 2]| p.map(|v| (v + 0.5) / field.coarse_step as f32 - 0.5);
    let mut plane = Plane::filled(w, h, 0.0);
    for (_, body) in bodies.iter().filter(|b| b.0 > LIKELY) {
        for (x, y, _) in rasterise(body, &coarse, w, h).iter() {
            plane.values[y as usize * w + x as usize] = 1.0;
        }
    }
    let near = plane.box_max((0.25 * field.coarse_unit()).round() as usize);
    for (t, v) in taken.iter_mut().zip(&near.values) {
        *t = *v > 0.5;
    }
}

/// The attempt whose unit fits the lengths found with it.
///
/// With a scale the adult length is tried first, and half of it (a scoop of young) where that explains little;
/// without one several lengths are tried. The best is refined once.
fn settle(photo: &Photo, scene: &Scene, models: &Models) -> Attempt {
    let longer = photo.width().max(photo.height()) as f32;
    let units: Vec<f32> = match scene.px_per_mm {
        Some(scale) => [1.0, 0.5]
            .iter()
            .map(|f| f * (scale.value * ADULT_MM) as f32 / UNITS)
            .collect(),
        None => ADULT_SHARES.iter().map(|f| f * longer / UNITS).collect(),
    };
    let known = scene.px_per_mm.is_some();
    let mut best: Option<Attempt> = None;
    for unit in units {
        let this = attempt(photo, scene, unit.clamp(5.0, longer / 8.0), models);
        if best.as_ref().is_none_or(|b| this.score() > b.score()) {
            best = Some(this);
        }
        let enough = |b: &Attempt| {
            if known {
                b.share > GOOD_SHARE
            } else {
                b.score() > GOOD_SCORE
            }
        };
        if best.as_ref().is_some_and(enough) {
            break;
        }
    }
    let best = best.expect("at least one unit is tried");
    if (1.0 / TOLERANCE..=TOLERANCE).contains(&best.factor) {
        return best;
    }
    let unit = (best.field.unit * best.field.step as f32 * best.factor).clamp(5.0, longer / 8.0);
    let refined = attempt(photo, scene, unit, models);
    if refined.score() > best.score() {
        refined
    } else {
        best
    }
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

fn keep(
    photo: &Photo,
    field: &Field,
    rated: Vec<(f32, Body)>,
    accept: f32,
    refused: &mut Vec<Refused>,
) -> Vec<Animal> {
    let (w, h) = (field.fine.a.width, field.fine.a.height);
    let mut taken = vec![false; w * h];
    let mut out = Vec::new();
    for (worth, body) in rated {
        let mut pixels = rasterise(&body, &|p| p, w, h);
        let whole = pixels.area();
        pixels.without(&|x, y| taken[y as usize * w + x as usize]);
        let own = pixels.area() as f32 / whole.max(1) as f32;
        if own < OWN_SHARE {
            continue;
        }
        if worth < accept {
            if body.mean_evidence() > WORTH_NAMING {
                refused.push(refuse(field, pixel_box(field, &pixels), Some(&body)));
            }
            continue;
        }
        for (x, y, _) in pixels.iter() {
            taken[y as usize * w + x as usize] = true;
        }
        let cut = touches_frame(photo, field, &body);
        out.push(Animal {
            body,
            pixels,
            cut,
            worth,
        });
    }
    out
}

fn refuse(field: &Field, bbox: [i32; 4], body: Option<&Body>) -> Refused {
    Refused {
        bbox,
        reason: reject::reason(field, bbox, body),
    }
}

fn touches_frame(photo: &Photo, field: &Field, body: &Body) -> bool {
    let (w, h) = (photo.width() as f32, photo.height() as f32);
    let margin = 1.5 * field.step as f32;
    (0..body.left.len()).flat_map(|k| body.edges(k)).any(|p| {
        let [x, y] = field.full_of_fine(p);
        x < margin || y < margin || x > w - 1.0 - margin || y > h - 1.0 - margin
    })
}

/// True when two boxes (x, y, width, height) share a pixel: feelers and legs beside an animal are its own.
fn meets(a: [i32; 4], b: [i32; 4]) -> bool {
    (0..2).all(|c| a[c] < b[c] + b[c + 2] && b[c] < a[c] + a[c + 2])
}

fn pixel_box(field: &Field, p: &Pixels) -> [i32; 4] {
    full_box(
        field,
        [
            p.origin[0] as f32,
            p.origin[1] as f32,
            p.width as f32,
            p.height as f32,
        ],
    )
}

fn full_box(field: &Field, b: [f32; 4]) -> [i32; 4] {
    b.map(|v| (v * field.step as f32) as i32)
}
