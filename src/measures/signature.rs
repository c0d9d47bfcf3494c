//! The colour an animal shows by itself, before any line is thought of.

use super::{hue, spots};
use crate::animals::field::Field;
use crate::animals::find::Animal;
use crate::colour;

/// Where an unpigmented body stands, linear light relative to the floor (as in the rules files).
const CLEAR: [f64; 3] = [0.72, 0.69, 0.66];
/// A pixel whose most absorbed channel lost this share of a clear body's light carries pigment.
const PIGMENTED: f64 = 0.45;
/// The most absorbed part of the pigmented pixels, as shares of their ranking; the very last are eyes and gut.
const RANKS: (usize, usize) = (60, 95);
/// Pixels looked at.
const SAMPLED: usize = 800;
/// Fewer pigmented pixels than this show no colour.
const LEAST: usize = 12;
/// A saddle or eggs say nothing of the line where this share of the pigmented pixels at least has another colour.
const BESIDE_ROE: f64 = 0.3;

/// Colour and pattern of an animal's pigment.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Signature {
    /// CIELAB relative to the floor of the most absorbed pixels.
    pub lab: [f64; 3],
    /// Share of the body with pigment, 0..=1.
    pub share: f64,
    /// Head and tail coloured, the middle clear.
    pub banded: bool,
}

/// The animal's own colour; `None` where it shows hardly any.
pub fn signature(animal: &Animal, field: &Field) -> Option<Signature> {
    let sample = spots::sample(animal, field, SAMPLED);
    let pigmented = pigmented(&sample);
    if pigmented.len() < LEAST {
        return None;
    }
    let (from, to) = (
        pigmented.len() * RANKS.0 / 100,
        (pigmented.len() * RANKS.1 / 100).max(1),
    );
    let most: Vec<[f64; 3]> = pigmented[from..to.max(from + 1)]
        .iter()
        .map(|p| p.2)
        .collect();
    Some(Signature {
        lab: colour::lab(super::pigment::mean(&most)),
        share: pigmented.len() as f64 / sample.len() as f64,
        banded: is_banded(&sample, &pigmented),
    })
}

/// The pixels with pigment as (share of light lost, third, colour), least absorbed first, those of saddle and eggs left out.
fn pigmented(sample: &[(u8, [f64; 3])]) -> Vec<(f64, u8, [f64; 3])> {
    let lost = |c: &[f64; 3]| {
        (0..3)
            .map(|k| 1.0 - c[k] / CLEAR[k])
            .fold(f64::NEG_INFINITY, f64::max)
    };
    let mut all: Vec<(f64, u8, [f64; 3])> = sample
        .iter()
        .map(|(third, c)| (lost(c), *third, *c))
        .filter(|p| p.0 > PIGMENTED)
        .collect();
    let is_roe = |c: [f64; 3]| hue::is_roe(colour::lab_of_ratio_fast(c.map(|v| v as f32)));
    let others = all.iter().filter(|p| !is_roe(p.2)).count();
    if others as f64 >= (BESIDE_ROE * all.len() as f64).max(LEAST as f64) {
        all.retain(|p| !is_roe(p.2));
    }
    all.sort_by(|p, q| p.0.total_cmp(&q.0));
    all
}

/// Both ends coloured and the middle third less than half as much.
fn is_banded(sample: &[(u8, [f64; 3])], pigmented: &[(f64, u8, [f64; 3])]) -> bool {
    let share = |k: u8| {
        let all = sample.iter().filter(|s| s.0 == k).count().max(1);
        pigmented.iter().filter(|p| p.1 == k).count() as f64 / all as f64
    };
    let ends = share(0).min(share(2));
    ends > 0.35 && share(1) < 0.5 * ends
}
