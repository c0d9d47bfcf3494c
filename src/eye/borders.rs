//! Where a border between two rungs lies on one measure, and within which limits.
//!
//! What is sought is the measure at which half of the animals that truly have it are given the upper rung: the eye's own
//! border, whatever animals the house happens to have. Against measured values it would lie a little further from the mean
//! (by a tenth of a rung for the outermost, with errors of 0.3 rung), and differently for every tank.

use statrs::distribution::{ContinuousCDF, StudentsT};

use super::steps::{Model, Top};
use crate::stats::Interval;

/// Fits for one limit, and the standard errors within which it is met.
const MOST_TRIES: usize = 12;
const NEAR_ENOUGH: f64 = 0.02;
/// The next try lies at most so many times as far out.
const FURTHEST: f64 = 2.5;

/// Interval of each border by the profile likelihood, in the measure's (sign-turned) unit; `None` where a side stays open:
/// too few animals beside that border to say how far it may reach.
///
/// # Source
/// Profile likelihood [VenzonMoolgavkar1988]; as in a linear fit, its limit is that of Student's t, and the squared
/// distance is stretched by n / (n - parameters).
pub fn ranges(model: &Model, top: &Top, level: f64) -> Vec<Option<Interval>> {
    let n = model.animals() as f64;
    let freedom = (n - model.unknowns() as f64).max(1.0);
    let Ok(student) = StudentsT::new(0.0, 1.0, freedom) else {
        return vec![None; top.steps.borders.len()];
    };
    let errors = student.inverse_cdf(0.5 + 0.5 * level) * (n / freedom).sqrt();
    (0..top.steps.borders.len())
        .map(|border| {
            let error = top.error(border)?;
            let side = |to: f64| limit(model, top, border, to * error, errors);
            Some(Interval {
                low: side(-1.0)?,
                high: side(1.0)?,
            })
        })
        .collect()
}

/// The place where the border, moved in steps of `error` (signed), is so many errors worse than at the top; `None` where no
/// such place was met.
///
/// By the secant, halved where that leaves the bracket: as the scale bends at each border, the likelihood has small steps.
fn limit(model: &Model, top: &Top, border: usize, error: f64, errors: f64) -> Option<f64> {
    let best = top.steps.borders[border];
    // Distances from the top in standard errors: where, and how many the likelihood says.
    let (mut inside, mut outside) = ((0.0, 0.0), None::<(f64, f64)>);
    let mut here = errors;
    let mut start = top.steps.clone();
    for _ in 0..MOST_TRIES {
        let moved = start.with_border(border, best + here * error);
        let there = model.top(&moved, Some(border))?;
        let told = (2.0 * (top.value - there.value).max(0.0)).sqrt();
        if (told - errors).abs() < NEAR_ENOUGH {
            return Some(best + here * error);
        }
        start = there.steps;
        let before = inside;
        if told < errors {
            inside = (here, told);
        } else {
            outside = Some((here, told));
        }
        here = match outside {
            Some(out) if out.0 - inside.0 < NEAR_ENOUGH * errors => {
                return Some(best + out.0 * error);
            }
            Some(out) => between(inside, out, errors),
            None => {
                let slope = (told - before.1) / (here - before.0);
                let next = if slope > 0.0 {
                    here + 1.1 * (errors - told) / slope
                } else {
                    FURTHEST * here
                };
                next.min(FURTHEST * here)
            }
        };
    }
    outside.map(|out| best + out.0 * error)
}

/// Where the straight line between both ends meets `errors`, kept off the ends.
fn between(inside: (f64, f64), outside: (f64, f64), errors: f64) -> f64 {
    let part = (errors - inside.1) / (outside.1 - inside.1);
    inside.0 + part.clamp(0.1, 0.9) * (outside.0 - inside.0)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::eye::steps::Seen;

    /// One border on one measure of two values: the likelihood is a table's, and its limits can be searched plainly.
    #[test]
    fn the_limits_are_where_the_profile_says() {
        let seen: Vec<Seen> = (0..200u32)
            .map(|i| {
                let value = f64::from(i % 20) / 20.0;
                let slip = 0.4 * (f64::from(i * 7 % 13) / 12.0 - 0.5);
                Seen {
                    value,
                    uncertainty: 0.0,
                    class: usize::from(value + slip > 0.52),
                }
            })
            .collect();
        let (model, top) = Model::fitted(seen.clone(), &[3.0], 0.1).expect("a fit");
        let found = ranges(&model, &top, 0.95)[0].expect("both sides close");
        // The same by brute force: for each border the best weight on a fine grid.
        let worth = |border: f64| {
            (1..800)
                .map(|w| {
                    let slope = f64::from(w) * 0.1;
                    seen.iter()
                        .map(|s| {
                            let up = 1.0 / (1.0 + (-slope * (s.value - border)).exp());
                            if s.class == 1 {
                                up.ln()
                            } else {
                                (1.0 - up).ln()
                            }
                        })
                        .sum::<f64>()
                })
                .fold(f64::NEG_INFINITY, f64::max)
        };
        let best = worth(top.steps.borders[0]);
        for (at, name) in [(found.low, "low"), (found.high, "high")] {
            let errors = (2.0 * (best - worth(at))).sqrt();
            // Student's t with 196 degrees of freedom, 1.972, times the root of 200 / 196.
            assert!((errors - 1.992).abs() < 0.03, "{name}: {errors}");
        }
    }
}
