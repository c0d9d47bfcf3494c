//! Cups that are not round: ovals and rounded rectangles, tried on a very coarse grid.

use rayon::prelude::*;

use super::rings::{EdgeField, Ring, best_of_form, strength_of};
use super::shape::Outline;

/// Bend of a rounded rectangle's outline (2 = ellipse).
const RECTANGLE: f32 = 6.0;
/// Longer over shorter side of the ovals and rectangles tried; the fit goes on from there.
const OVALS: [f32; 2] = [1.25, 1.55];
const RECTANGLES: [f32; 2] = [1.0, 1.35];
/// A form must be stronger than the circle by this much, and this strong (many forms are tried, so chance helps them).
const MARGIN: f32 = 0.06;
const LEAST: f32 = 0.8;
/// So many of the strongest forms are fitted closely.
const FITTED: usize = 4;
/// Least share of such a form in the frame: of a round cup seen in part, anything can be made.
const LEAST_IN_FRAME: f32 = 0.85;

/// The strongest ring that is not round, when it is plainly stronger than the strongest `round` one.
///
/// `tiny` is the field of the grid half as fine as that of `coarse`; the ring is on the grid of `coarse`.
pub(super) fn other_form(tiny: &EdgeField, coarse: &EdgeField, round: f32) -> Option<Ring> {
    let mut tried: Vec<Ring> = forms()
        .into_par_iter()
        .map(|f| best_of_form(tiny, f))
        .collect();
    tried.sort_by(|a, b| b.strength.total_cmp(&a.strength));
    let best = tried
        .into_iter()
        .take(FITTED)
        .map(|r| {
            fitted(
                coarse,
                Ring {
                    outline: r.outline.on_finer_grid(2.0),
                    ..r
                },
            )
        })
        .max_by(|a, b| a.strength.total_cmp(&b.strength))?;
    let plain = best.strength > (round + MARGIN).max(LEAST) && best.in_frame > LEAST_IN_FRAME;
    (plain && !nearly_round(&best.outline)).then_some(best)
}

/// Whether an outline is an ellipse that tilt alone can make of a circle.
pub(super) fn nearly_round(o: &Outline) -> bool {
    o.n == 2.0 && (o.a / o.b).max(o.b / o.a) < 1.1
}

/// All forms tried, of size 1 at the origin.
fn forms() -> Vec<Outline> {
    let form = |aspect: f32, turn: f32, n: f32| {
        let k = aspect.sqrt();
        Outline {
            cx: 0.0,
            cy: 0.0,
            a: k,
            b: 1.0 / k,
            turn: turn.to_radians(),
            n,
        }
    };
    let ovals = OVALS
        .iter()
        .flat_map(|&a| (0..9).map(move |k| form(a, 20.0 * k as f32, 2.0)));
    let rectangles = RECTANGLES.iter().flat_map(|&a| {
        let turns = if a == 1.0 { 12 } else { 24 };
        (0..turns).map(move |k| form(a, 7.5 * k as f32, RECTANGLE))
    });
    ovals.chain(rectangles).collect()
}

/// Climbs in place, both half-axes and turn.
fn fitted(field: &EdgeField, start: Ring) -> Ring {
    let mut best = Ring {
        strength: -1.0,
        ..start
    };
    keep(field, &mut best, start.outline);
    for pace in [2.0f32, 1.0, 0.5] {
        for _ in 0..8 {
            let o = best.outline;
            let turn = pace / o.size();
            let tries = [
                Outline {
                    cx: o.cx + pace,
                    ..o
                },
                Outline {
                    cx: o.cx - pace,
                    ..o
                },
                Outline {
                    cy: o.cy + pace,
                    ..o
                },
                Outline {
                    cy: o.cy - pace,
                    ..o
                },
                Outline { a: o.a + pace, ..o },
                Outline { a: o.a - pace, ..o },
                Outline { b: o.b + pace, ..o },
                Outline { b: o.b - pace, ..o },
                Outline {
                    a: o.a + pace,
                    b: o.b + pace,
                    ..o
                },
                Outline {
                    a: o.a - pace,
                    b: o.b - pace,
                    ..o
                },
                Outline {
                    turn: o.turn + turn,
                    ..o
                },
                Outline {
                    turn: o.turn - turn,
                    ..o
                },
            ];
            let before = best.strength;
            tries.into_iter().for_each(|t| keep(field, &mut best, t));
            if best.strength <= before {
                break;
            }
        }
    }
    best
}

/// Replaces `best` when the outline is stronger.
fn keep(field: &EdgeField, best: &mut Ring, outline: Outline) {
    let sensible = outline.a.min(outline.b) > 4.0;
    if let Some(ring) = sensible
        .then(|| strength_of(field, outline))
        .flatten()
        .filter(|r| r.strength > best.strength)
    {
        *best = ring;
    }
}
