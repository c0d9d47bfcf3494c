//! Every body of a photo: bodies of the right size, doubles dropped, the rest turned away.

use super::attempt::{ACCEPT, OWN_SHARE, Rated};
use super::body::Body;
use super::field::Field;
use super::models::Models;
use super::raster::{Pixels, rasterise};
use super::reject;
use super::settle::settle;
use crate::photo::Photo;
use crate::scene::Scene;

/// A found animal.
#[derive(Debug, Clone)]
pub struct Animal {
    /// Its shape, head first.
    pub body: Body,
    /// Its pixels in the fine picture, none shared with another animal.
    pub pixels: Pixels,
    /// Lies against another animal.
    pub touching: bool,
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
    /// Why: one of `plant dropping snail unknown`.
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
        .filter_map(|b| refuse(&field, full_box(&field, *b)))
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
    mark_touching(&field, &mut animals);
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

fn keep(
    photo: &Photo,
    field: &Field,
    rated: Vec<Rated>,
    accept: f32,
    refused: &mut Vec<Refused>,
) -> Vec<Animal> {
    let (w, h) = (field.fine.a.width, field.fine.a.height);
    let mut taken = vec![false; w * h];
    let mut out = Vec::new();
    for Rated { worth, body, .. } in rated {
        let mut pixels = rasterise(&body, &|p| p, w, h);
        let whole = pixels.area();
        pixels.without(&|x, y| taken[y as usize * w + x as usize]);
        let own = pixels.area() as f32 / whole.max(1) as f32;
        if own < OWN_SHARE {
            continue;
        }
        if worth < accept {
            if body.mean_evidence() > WORTH_NAMING {
                refused.extend(refuse(field, pixel_box(field, &pixels)));
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
            touching: false,
            cut,
            worth,
        });
    }
    out
}

/// Bodies nearer than this lie against each other, body units: outlines run about that wide of the body.
const AGAINST: f32 = 0.1;

/// Flags the animals whose bodies lie against another's. Feelers and legs that meet don't count.
fn mark_touching(field: &Field, animals: &mut [Animal]) {
    let (w, h) = (field.fine.a.width as i32, field.fine.a.height as i32);
    let mut owner = vec![usize::MAX; (w * h) as usize];
    for (k, animal) in animals.iter().enumerate() {
        for (x, y, _) in animal.pixels.iter() {
            owner[(y * w + x) as usize] = k;
        }
    }
    let reach = ((AGAINST * field.unit).round() as i32).max(1);
    let around = [-reach, 0, reach].map(|dx| [-reach, 0, reach].map(|dy| (dx, dy)));
    let beside = |k: usize, x: i32, y: i32| {
        around.iter().flatten().any(|(dx, dy)| {
            let (u, v) = (x + dx, y + dy);
            let inside = u >= 0 && v >= 0 && u < w && v < h;
            inside && !matches!(owner[(v * w + u) as usize], o if o == k || o == usize::MAX)
        })
    };
    for (k, animal) in animals.iter_mut().enumerate() {
        animal.touching = animal.pixels.iter().any(|(x, y, _)| beside(k, x, y));
    }
}

fn refuse(field: &Field, bbox: [i32; 4]) -> Option<Refused> {
    reject::reason(field, bbox).map(|reason| Refused { bbox, reason })
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
