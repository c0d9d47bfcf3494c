//! Labelled rows for each model, taken from photos with truth.

use crate::logistic::Rows;
use crate::shade::Shaded;
use crate::truth::Truth;
use catchcup::animals::attempt;
use catchcup::animals::body::{self, Body, sign_scale};
use catchcup::animals::candidates::{CLEAR, FAINT, candidates};
use catchcup::animals::edge;
use catchcup::animals::ends;
use catchcup::animals::features;
use catchcup::animals::field::Field;
use catchcup::animals::lamp::{self, FACING};
use catchcup::animals::models::Models;
use catchcup::animals::orient::{self, Shaped};
use catchcup::animals::profile::Contrast;
use catchcup::animals::raster::rasterise;
use catchcup::animals::ribbon::{self, ACROSS, Ribbon};
use catchcup::animals::worth;
use rayon::prelude::*;

/// Body units are tried this much off, so that the models bear a scoop of mixed sizes.
const UNIT_FACTORS: [f32; 3] = [0.8, 1.0, 1.25];
/// Body unit in full-size pixels for photos without animals.
const USUAL_UNIT: f32 = 28.0;

/// A small repeatable generator (64-bit linear congruential, high bits used).
pub struct Dice(u64);

impl Dice {
    pub fn new(seed: u64) -> Self {
        Self(seed)
    }
    pub fn below(&mut self, n: usize) -> usize {
        self.0 = self
            .0
            .wrapping_mul(6364136223846793005)
            .wrapping_add(1442695040888963407);
        ((self.0 >> 33) as usize) % n.max(1)
    }
}

fn unit(truth: &Truth) -> f32 {
    truth.length.map_or(USUAL_UNIT, |l| l / 8.0)
}

fn field(truth: &Truth, factor: f32, models: &Models) -> Field {
    let dark = truth.scene.ground == catchcup::scene::Ground::Dark;
    Field::new(
        &truth.photo,
        unit(truth) * factor,
        &|x, y| truth.scene.is_searched(x, y),
        dark,
        models,
    )
}

/// Rows of the pixel evidence: bodies, their surroundings, and the rest of the searched ground.
pub fn evidence(truths: &[Truth], models: &Models) -> Rows {
    let mut rows = Rows::default();
    for (k, truth) in truths.iter().enumerate() {
        for (j, factor) in UNIT_FACTORS.iter().enumerate() {
            let f = field(truth, *factor, models);
            evidence_rows(truth, &f, &mut Dice::new((k * 3 + j) as u64), &mut rows);
        }
    }
    rows
}

fn evidence_rows(truth: &Truth, f: &Field, dice: &mut Dice, rows: &mut Rows) {
    let planes = features::first_stage(f.coarse.clone(), f.coarse_unit(), f.noise);
    let (w, n) = (f.coarse.a.width, f.searched.len());
    let at = |i: usize| f.full_of_fine(f.fine_of_coarse([(i % w) as f32, (i / w) as f32]));
    let body: Vec<f32> = (0..n)
        .map(|i| f32::from(u8::from(truth.id_at(at(i)) > 0)))
        .collect();
    let body = catchcup::plane::Plane {
        width: w,
        height: n / w,
        values: body,
    };
    let near = body.box_max((1.2 * f.coarse_unit()) as usize);
    let mut push = |wanted: usize, keep: &dyn Fn(usize) -> bool| {
        let all: Vec<usize> = (0..n).filter(|&i| f.searched[i] > 0 && keep(i)).collect();
        for _ in 0..wanted.min(all.len()) {
            let i = all[dice.below(all.len())];
            let row: Vec<f32> = planes.iter().map(|p| p.values[i]).collect();
            rows.push(&row, body.values[i] > 0.5);
        }
    };
    push(450, &|i| body.values[i] > 0.5);
    push(600, &|i| body.values[i] < 0.5 && near.values[i] > 0.5);
    push(350, &|i| near.values[i] < 0.5);
}

/// Rows of the shape models.
#[derive(Default)]
pub struct ShapeRows {
    pub edge: Rows,
    pub ends: Rows,
    pub orient: Rows,
}

/// Rows from ribbons along rough axes, and along refined ones too when the models are fitted (`refined`).
pub fn shapes(truths: &[Truth], models: &Models, refined: bool) -> ShapeRows {
    let mut rows = ShapeRows::default();
    let mut dice = Dice::new(77);
    for truth in truths.iter().filter(|t| t.length.is_some()) {
        for factor in UNIT_FACTORS {
            let f = field(truth, factor, models);
            for path in candidates(&f, CLEAR, &[]).rough {
                let Some(id) = owner(truth, &f, &path) else {
                    continue;
                };
                let scale = sign_scale(&f);
                let ribbon = ribbon::unwrap(&f, &path, 0.6);
                let (first, last) = body::rough_ends(&ribbon);
                shape_rows(
                    truth, &f, &ribbon, first, last, id, scale, &mut dice, &mut rows,
                );
                if refined {
                    let body = body::shape(&f, &path, models);
                    let again = ribbon::unwrap(&f, &body::midline(&body), 0.45);
                    let (first, last) = body::rough_ends(&again);
                    shape_rows(
                        truth, &f, &again, first, last, id, scale, &mut dice, &mut rows,
                    );
                    orient_rows(truth, &f, &body, id, scale, &mut rows);
                }
            }
        }
    }
    rows
}

/// The body that holds most of the path, at least 70 % of it.
fn owner(truth: &Truth, f: &Field, path: &[[f32; 2]]) -> Option<u8> {
    let mut counts = [0usize; 256];
    for p in path {
        counts[truth.id_at(f.full_of_fine(*p)) as usize] += 1;
    }
    let best = (1..256).max_by_key(|&k| counts[k])?;
    (counts[best] * 10 >= path.len() * 7).then_some(best as u8)
}

#[allow(clippy::too_many_arguments)]
fn shape_rows(
    truth: &Truth,
    f: &Field,
    ribbon: &Ribbon,
    first: usize,
    last: usize,
    id: u8,
    scale: f32,
    dice: &mut Dice,
    rows: &mut ShapeRows,
) {
    let inside = |s: usize, t: f32| truth.id_at(f.full_of_fine(ribbon.position(s, t))) == id;
    let contrast = Contrast::of(ribbon, first, last);
    let strip = (0.2 * ACROSS) as i32;
    let body_at = |s: usize| (-strip..=strip).any(|t| inside(s, t as f32));
    let (mut head, mut tail) = (first, last);
    for (rear, rough) in [(false, first), (true, last)] {
        let (stations, count) = ends::outward(ribbon, first, last, rear);
        let Some(true_count) = (0..stations.len())
            .rev()
            .find(|&k| body_at(stations[k]))
            .map(|k| k + 1)
        else {
            continue;
        };
        *(if rear { &mut tail } else { &mut head }) = stations[true_count - 1];
        let _ = rough;
        for (k, row) in ends::end_features(ribbon, &stations, count, &contrast, scale) {
            if k.abs_diff(true_count) != 1 && (k == true_count || dice.below(4) == 0) {
                rows.ends.push(&row, k == true_count);
            }
        }
    }
    if tail <= head + 8 {
        return;
    }
    let flanks = Flanks {
        ribbon,
        head,
        tail,
        contrast: &contrast,
        scale,
    };
    edge_rows(&flanks, &inside, &|_, _| true, dice, &mut rows.edge);
}

/// A body along its true axis, as far as its flanks need it.
struct Flanks<'a> {
    ribbon: &'a Ribbon,
    head: usize,
    tail: usize,
    contrast: &'a Contrast,
    scale: f32,
}

/// Rows of the edges at every eighth station, on the sides that are `wanted`.
fn edge_rows(
    flanks: &Flanks,
    inside: &dyn Fn(usize, f32) -> bool,
    wanted: &dyn Fn(usize, i32) -> bool,
    dice: &mut Dice,
    rows: &mut Rows,
) {
    let &Flanks {
        ribbon,
        head,
        tail,
        contrast,
        scale,
    } = flanks;
    let width = edge::typical_half_width(ribbon, head, tail);
    for s in (head + dice.below(7)..=tail).step_by(8) {
        let place = (s - head) as f32 / (tail - head) as f32;
        for side in [-1i32, 1] {
            if !wanted(s, side) {
                continue;
            }
            let reach = (0..=ribbon.half)
                .take_while(|&k| inside(s, side as f32 * k as f32))
                .count();
            if reach == 0 || reach > ribbon.half {
                continue;
            }
            let features = edge::station_features(ribbon, s, side, contrast, width, place, scale);
            for (offset, row) in features.iter().enumerate() {
                if offset + 1 == reach || (offset.abs_diff(reach - 1) > 1 && dice.below(5) == 0) {
                    rows.push(row, offset + 1 == reach);
                }
            }
        }
    }
}

/// Rows of what a lone lamp shows.
#[derive(Default)]
pub struct LampRows {
    /// Edges of flanks in the shade.
    pub shaded: Rows,
    /// On which side the shade is.
    pub lamp: Rows,
}

/// A body whose flanks face the shade less squarely than this does not tell on which side it is (cosine).
const LEAST_FACING: f32 = 0.3;

/// Rows from bodies shaped as in light from all sides, in scenes with a lone lamp.
pub fn lamps(scenes: &[Shaded], models: &Models) -> LampRows {
    let mut rows = LampRows::default();
    let mut dice = Dice::new(78);
    for Shaded { truth, toward } in scenes {
        for factor in UNIT_FACTORS {
            let f = field(truth, factor, models);
            let areas = truth.areas(f.step);
            for path in candidates(&f, CLEAR, &[]).rough {
                let Some(id) = owner(truth, &f, &path) else {
                    continue;
                };
                let body = body::shape(&f, &path, models);
                shaded_rows(truth, &f, &body, id, *toward, &mut dice, &mut rows.shaded);
                if overlap(truth, &f, &body, &areas) > 0.5 {
                    lamp_rows(&body, *toward, &mut rows.lamp);
                }
            }
        }
    }
    rows
}

/// Edges of flanks in the shade, seen along the axis of the body and along one midway between its true flanks.
fn shaded_rows(
    truth: &Truth,
    f: &Field,
    body: &Body,
    id: u8,
    toward: [f32; 2],
    dice: &mut Dice,
    rows: &mut Rows,
) {
    let ribbon = ribbon::unwrap(f, &body::midline(body), 0.45);
    let (first, last) = body::rough_ends(&ribbon);
    let inside = |s: usize, t: f32| truth.id_at(f.full_of_fine(ribbon.position(s, t))) == id;
    let faces = |s: usize, side: i32| {
        let n = ribbon.normals[s];
        side as f32 * (n[0] * toward[0] + n[1] * toward[1]) > FACING[1]
    };
    let contrast = Contrast::of(&ribbon, first, last);
    let flanks = Flanks {
        ribbon: &ribbon,
        head: first,
        tail: last,
        contrast: &contrast,
        scale: sign_scale(f),
    };
    if last > first + 8 {
        edge_rows(&flanks, &inside, &faces, dice, rows);
    }
}

fn lamp_rows(body: &Body, toward: [f32; 2], rows: &mut Rows) {
    let Some((signs, n)) = lamp::signs(body) else {
        return;
    };
    let facing = n[0] * toward[0] + n[1] * toward[1];
    if facing.abs() > LEAST_FACING {
        rows.push(&signs, facing > 0.0);
        rows.push(&signs.map(|v| -v), facing < 0.0);
    }
}

fn orient_rows(truth: &Truth, f: &Field, body: &Body, id: u8, scale: f32, rows: &mut ShapeRows) {
    let [head, tail] = truth.ends[id as usize - 1];
    let first = f.full_of_fine(body.ribbon.axis[body.first]);
    let first_is_head = ribbon::distance(first, head) < ribbon::distance(first, tail);
    let shaped = Shaped {
        ribbon: &body.ribbon,
        first: body.first,
        last: body.last,
        left: &body.left,
        right: &body.right,
    };
    let row = orient::features(&shaped, &body.contrast, scale);
    rows.orient.push(&row, first_is_head);
    rows.orient.push(&row.map(|v| -v), !first_is_head);
}

/// Body units this much off, so that the model learns what pieces and heaps look like when the unit is wrong.
pub const SCALE_FACTORS: [f32; 5] = [0.45, 0.7, 1.0, 1.4, 2.0];
/// Body units for photos without animals.
const EMPTY_FACTORS: [f32; 7] = [0.3, 0.45, 0.7, 1.0, 1.4, 2.0, 2.8];
/// Body units as far off as they are after settling.
pub const SETTLED_FACTORS: [f32; 4] = [0.8, 0.93, 1.08, 1.25];

/// Features of every proposed body over units this much off, with its overlap (intersection over union) with the truth.
pub fn bodies(truths: &[Truth], models: &Models, factors: &[f32]) -> Vec<([f32; 16], f32)> {
    let mut rows = Vec::new();
    for truth in truths {
        // Without animals every unit is a wrong one.
        let own: &[f32] = if truth.length.is_none() {
            &EMPTY_FACTORS
        } else {
            factors
        };
        for factor in own {
            let f = field(truth, *factor, models);
            let areas = truth.areas(f.step);
            let rough = [CLEAR, FAINT]
                .into_par_iter()
                .flat_map(|limit| candidates(&f, limit, &[]).rough);
            let bodies: Vec<Body> = rough.map(|r| body::shape(&f, &r, models)).collect();
            let Some(usual) = attempt::usual_length(bodies.iter().map(Body::length)) else {
                continue;
            };
            for b in &bodies {
                rows.push((worth::features(&f, b, usual), overlap(truth, &f, b, &areas)));
            }
        }
    }
    rows
}

/// Rows in which a body that shares `same` with an animal is that animal.
pub fn labelled(bodies: &[([f32; 16], f32)], same: f32) -> Rows {
    let mut rows = Rows::default();
    for (features, overlap) in bodies {
        rows.push(features, *overlap >= same);
    }
    println!(
        "{} bodies, {} animals at {same}",
        rows.labels.len(),
        rows.labels.iter().filter(|l| **l).count()
    );
    rows
}

/// Largest intersection over union of the body with a true one, counted in fine pixels.
fn overlap(truth: &Truth, f: &Field, body: &Body, areas: &[usize]) -> f32 {
    let pixels = rasterise(body, &|p| p, f.fine.a.width, f.fine.a.height);
    let mut shared = vec![0usize; 256];
    for (x, y, _) in pixels.iter() {
        shared[truth.id_at(f.full_of_fine([x as f32, y as f32])) as usize] += 1;
    }
    let area = pixels.area();
    (1..256)
        .map(|k| shared[k] as f32 / (area + areas[k] - shared[k]).max(1) as f32)
        .fold(0.0, f32::max)
}
