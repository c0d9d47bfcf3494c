//! Every body of a photo: the field at the right size, bodies shaped, doubles dropped, the rest turned away.

use super::body::{self, Body};
use super::candidates::{Candidates, candidates};
use super::field::Field;
use super::models::Models;
use super::raster::{Pixels, rasterise};
use super::thinning::path_length;
use super::worth;
use crate::photo::Photo;
use crate::scene::Scene;
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
#[derive(Debug, Clone)]
pub struct Refused {
    /// Box x, y, width, height in full-size pixels.
    pub bbox: [i32; 4],
    /// Shape and tone signs of the body, where it had a shape.
    pub body: Option<Body>,
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
/// Without a scale an adult is first taken for this share of the photo's longer side.
const ADULT_SHARE: f32 = 0.16;
/// Units a body is long, by definition.
const UNITS: f32 = 8.0;
/// A usual length this much off the assumed one has the field built anew.
const TOLERANCE: f32 = 1.3;
/// How often the unit may be revised.
const REVISIONS: usize = 3;
/// A body of which less than this share is its own is a double of another.
const OWN_SHARE: f32 = 0.55;

/// Every animal of the photo.
pub fn find(photo: &Photo, scene: &Scene, models: &Models) -> Found {
    let (field, rough) = settle(photo, scene, models);
    let bodies: Vec<Body> =
        rough.rough.par_iter().map(|r| body::shape(&field, &r.path, r.touching, models)).collect();
    let usual = usual_length(bodies.iter().map(Body::length)).unwrap_or(UNITS * field.unit);
    let mut rated: Vec<(f32, Body)> = bodies
        .into_iter()
        .map(|b| (models.worth.log_odds(&worth::features(&field, &b, usual)), b))
        .collect();
    rated.sort_by(|p, q| q.0.total_cmp(&p.0));
    let mut refused: Vec<Refused> =
        rough.shapeless.iter().map(|b| Refused { bbox: full_box(&field, *b), body: None }).collect();
    let mut animals = keep(photo, &field, rated, &mut refused);
    animals.sort_by_key(|a| (a.pixels.origin[1] / (4.0 * field.unit) as i32, a.pixels.origin[0]));
    Found { field, animals, refused }
}

/// The field at a body unit that fits the lengths found in it.
fn settle(photo: &Photo, scene: &Scene, models: &Models) -> (Field, Candidates) {
    let searched = |x: f32, y: f32| scene.is_searched(x, y);
    let longer = photo.width().max(photo.height()) as f32;
    let mut unit = match scene.px_per_mm {
        Some(scale) => (scale.value * ADULT_MM) as f32 / UNITS,
        None => longer * ADULT_SHARE / UNITS,
    };
    let mut revision = 0;
    loop {
        let field = Field::new(photo, unit, &searched, models);
        let rough = candidates(&field);
        let usual = usual_length(rough.rough.iter().map(|r| path_length(&r.path)));
        let factor = usual.map_or(1.0, |l| l / (UNITS * field.unit));
        let fits = (1.0 / TOLERANCE..=TOLERANCE).contains(&factor);
        if fits || revision == REVISIONS {
            return (field, rough);
        }
        revision += 1;
        unit = (unit * factor).clamp(6.0, longer / 10.0);
    }
}

/// Median of the lengths, each counted by its length, so that crumbs don't count as animals do.
fn usual_length(lengths: impl Iterator<Item = f32>) -> Option<f32> {
    let mut all: Vec<f32> = lengths.collect();
    all.sort_by(f32::total_cmp);
    let total: f32 = all.iter().sum();
    let mut sum = 0.0;
    all.into_iter().find(|l| {
        sum += l;
        sum >= total / 2.0
    })
}

fn keep(photo: &Photo, field: &Field, rated: Vec<(f32, Body)>, refused: &mut Vec<Refused>) -> Vec<Animal> {
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
        if worth < 0.0 {
            refused.push(Refused { bbox: pixel_box(field, &pixels), body: Some(body) });
            continue;
        }
        for (x, y, _) in pixels.iter() {
            taken[y as usize * w + x as usize] = true;
        }
        let cut = touches_frame(photo, field, &body);
        out.push(Animal { body, pixels, cut, worth });
    }
    out
}

fn touches_frame(photo: &Photo, field: &Field, body: &Body) -> bool {
    let (w, h) = (photo.width() as f32, photo.height() as f32);
    let margin = 1.5 * field.step as f32;
    (0..body.left.len()).flat_map(|k| body.edges(k)).any(|p| {
        let [x, y] = field.full_of_fine(p);
        x < margin || y < margin || x > w - 1.0 - margin || y > h - 1.0 - margin
    })
}

fn pixel_box(field: &Field, p: &Pixels) -> [i32; 4] {
    full_box(field, [p.origin[0] as f32, p.origin[1] as f32, p.width as f32, p.height as f32])
}

fn full_box(field: &Field, b: [f32; 4]) -> [i32; 4] {
    b.map(|v| (v * field.step as f32) as i32)
}
