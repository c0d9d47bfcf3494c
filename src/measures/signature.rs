//! The colour an animal shows by itself, before any line is thought of.

use super::spots;
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
    let mut ranked: Vec<(f64, u8, [f64; 3])> = sample
        .iter()
        .map(|(third, c)| {
            let lost = (0..3).map(|k| 1.0 - c[k] / CLEAR[k]);
            (lost.fold(f64::NEG_INFINITY, f64::max), *third, *c)
        })
        .collect();
    ranked.sort_by(|p, q| p.0.total_cmp(&q.0));
    let pigmented = &ranked[ranked.partition_point(|p| p.0 <= PIGMENTED)..];
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
        share: pigmented.len() as f64 / ranked.len() as f64,
        banded: is_banded(&sample, pigmented),
    })
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
