//! Every body of a photo: bodies of the right size, doubles dropped, the rest turned away.

use super::attempt::{ACCEPT, OWN_SHARE, Rated};
use super::body::Body;
use super::field::Field;
use super::lamp::Lamp;
use super::models::Models;
use super::raster::{Pixels, rasterise};
use super::reject;
use super::settle::settle;
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
    /// The lone lamp that the animals show by their shade.
    pub lamp: Option<Lamp>,
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
    let mut named: Vec<Refused> = Vec::new();
    for thing in refused {
        if !named.iter().any(|known| same_place(known.bbox, thing.bbox)) {
            named.push(thing);
        }
    }
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
        refused: named,
        lamp: attempt.lamp,
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
    let all: Vec<Pixels> = rated
        .par_iter()
        .map(|rated| rasterise(&rated.body, &|p| p, w, h))
        .collect();
    for (Rated { worth, body, .. }, mut pixels) in rated.into_iter().zip(all) {
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
    let reach = ((AGAINST * field.unit).round() as i32).max(1);
    let all: Vec<&Pixels> = animals.iter().map(|a| &a.pixels).collect();
    let touching = |k: usize| {
        let mut others = all[..k].iter().chain(&all[k + 1..]);
        others.any(|other| meet(all[k], other, reach))
    };
    let touching: Vec<bool> = (0..all.len()).into_par_iter().map(touching).collect();
    for (animal, touching) in animals.iter_mut().zip(touching) {
        animal.touching = touching;
    }
}

/// True where a pixel of one body lies `reach` pixels from one of the other, straight, aslant or on it.
fn meet(one: &Pixels, other: &Pixels, reach: i32) -> bool {
    let wider = |p: &Pixels| {
        let [x, y] = p.origin.map(|v| v - reach);
        [
            x,
            y,
            p.width as i32 + 2 * reach,
            p.height as i32 + 2 * reach,
        ]
    };
    let own = [
        one.origin[0],
        one.origin[1],
        one.width as i32,
        one.height as i32,
    ];
    if !meets(own, wider(other)) {
        return false;
    }
    let around = [-reach, 0, reach].map(|dx| [-reach, 0, reach].map(|dy| (dx, dy)));
    one.iter().any(|(x, y, _)| {
        let mut beside = around.as_flattened().iter();
        beside.any(|(dx, dy)| other.at(x + dx, y + dy) > 0)
    })
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

/// True for boxes that are of one thing: they share more than half of what either covers.
fn same_place(a: [i32; 4], b: [i32; 4]) -> bool {
    let area = |[_, _, w, h]: [i32; 4]| i64::from(w) * i64::from(h);
    let side = |c: usize| {
        let shared = (a[c] + a[c + 2]).min(b[c] + b[c + 2]) - a[c].max(b[c]);
        i64::from(shared.max(0))
    };
    let both = side(0) * side(1);
    2 * both > area(a) + area(b) - both
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
