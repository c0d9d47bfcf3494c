//! A fit told as plain limits.
//!
//! With one measure a border is its limit. With several, the limits are where the house's own animals of that border stand
//! on each measure; as a rung asks all of its limits together, the limits of the lesser measures are then lowered by the
//! one amount under which the ladder errs least.

use crate::eye::cumulative::{Case, Fit};
use crate::eye::scale::Scale;
use crate::eye::subject::{Subject, limit};
use crate::ladder::{Bounds, Condition, Ladder, Measure, Rung};

/// Amounts by which lesser limits are lowered, in steps of the ladder.
const LESSER_LOWERED: [f64; 6] = [0.0, 0.3, 0.6, 1.0, 1.5, 2.5];
/// Amounts by which the leading limits are lowered beside them.
const LEADING_LOWERED: [f64; 3] = [0.0, 0.15, 0.3];
/// Limits of shares are told in hundredths.
const HUNDREDTHS: f64 = 100.0;

/// A ladder made of what was learned.
#[derive(Debug, Clone, PartialEq)]
pub struct Translation {
    /// The ladder; its digest is that of the old one until it is written and read again.
    pub ladder: Ladder,
    /// Limits, rung by rung from the lowest.
    pub limits: Vec<(Rung, Measure, f64)>,
    /// Limits of the old ladder that are left out.
    pub dropped: Vec<(Rung, Measure)>,
    /// Heights of the borders of the taught rungs on the leading measure, before rounding.
    pub heights: Vec<f64>,
}

/// The ladder that says `fit` best. `all` are the measures that could have been followed, `chosen` those that are.
pub fn translate(
    subjects: &[&Subject],
    ladder: &Ladder,
    all: &[Scale],
    chosen: &[Scale],
    taught: &[Rung],
    fit: &Fit,
    cases: &[Case],
) -> Translation {
    let path = path(fit, cases);
    let mut best: Option<(f64, Translation)> = None;
    let lesser: &[f64] = if chosen.len() > 1 {
        &LESSER_LOWERED
    } else {
        &[0.0]
    };
    let leading: &[f64] = if chosen.len() > 1 {
        &LEADING_LOWERED
    } else {
        &[0.0]
    };
    for drops in [false, true] {
        for low in lesser {
            for lead in leading {
                let at =
                    |border: usize, j: usize| path[border][j] - if j == 0 { *lead } else { *low };
                let told = tell(ladder, all, chosen, taught, &at, drops);
                let errs = errors(subjects, &told.ladder);
                if best.as_ref().is_none_or(|(least, _)| errs < *least) {
                    best = Some((errs, told));
                }
            }
        }
    }
    let mut told = best.map_or_else(
        || tell(ladder, all, chosen, taught, &|b, j| path[b][j], false),
        |b| b.1,
    );
    told.heights = path.iter().map(|at| at[0]).collect();
    told
}

/// For each border, where animals stand on each measure there: each measure's line over the weighted sum.
pub fn path(fit: &Fit, cases: &[Case]) -> Vec<Vec<f64>> {
    let scores: Vec<f64> = cases.iter().map(|case| fit.score(&case.x)).collect();
    let n = cases.len().max(1) as f64;
    let centre = scores.iter().sum::<f64>() / n;
    let spread: f64 = scores.iter().map(|s| (s - centre).powi(2)).sum();
    let lines: Vec<(f64, f64)> = (0..fit.weights.len())
        .map(|j| {
            let mean = cases.iter().map(|case| case.x[j]).sum::<f64>() / n;
            let shared: f64 = cases
                .iter()
                .zip(&scores)
                .map(|(case, s)| (case.x[j] - mean) * (s - centre))
                .sum();
            (mean, if spread > 0.0 { shared / spread } else { 0.0 })
        })
        .collect();
    fit.borders
        .iter()
        .map(|border| {
            lines
                .iter()
                .map(|(mean, slope)| mean + slope * (border - centre))
                .collect()
        })
        .collect()
}

/// Sum of squared rungs between the house's and the ladder's; an animal without a rung counts as one rung off.
fn errors(subjects: &[&Subject], ladder: &Ladder) -> f64 {
    let off = |subject: &&Subject| {
        let apart = subject
            .rung_on(ladder)
            .map_or(1, |rung| rung.index().abs_diff(subject.own.index()));
        (apart * apart) as f64
    };
    subjects.iter().map(off).sum()
}

fn tell(
    ladder: &Ladder,
    all: &[Scale],
    chosen: &[Scale],
    taught: &[Rung],
    at: &dyn Fn(usize, usize) -> f64,
    drops: bool,
) -> Translation {
    let mut told = Translation {
        ladder: ladder.clone(),
        limits: Vec::new(),
        dropped: Vec::new(),
        heights: Vec::new(),
    };
    let is_chosen = |measure: Measure| chosen.iter().any(|scale| scale.measure == measure);
    if drops {
        for scale in all.iter().filter(|scale| !is_chosen(scale.measure)) {
            drop_limits(ladder, scale.measure, taught, &mut told);
        }
    }
    for (j, scale) in chosen.iter().enumerate() {
        let mut so_far: Option<f64> = None;
        for rung in Rung::all().skip(1) {
            let k = rung.index() - 1;
            let old = ladder.conditions[k]
                .iter()
                .find(|c| c.measure == scale.measure)
                .and_then(limit);
            let wanted = match taught.iter().position(|t| *t == rung) {
                Some(border) => Some(rounded(scale.value(at(border, j)))),
                None => old,
            };
            // No rung may ask less than the one below.
            let stricter = |a: f64, b: f64| {
                if scale.is_less_better {
                    a.min(b)
                } else {
                    a.max(b)
                }
            };
            let value = match (wanted, so_far) {
                (Some(wanted), Some(below)) => Some(stricter(wanted, below)),
                (wanted, below) => wanted.or(below),
            };
            if let Some(value) = value {
                set_limit(&mut told.ladder, k, scale, value, old);
                told.limits.push((rung, scale.measure, value));
            }
            so_far = value;
        }
    }
    told
}

/// Takes out the limits of a measure that the eye does not follow, rung by rung, as far as no untaught rung below asks it.
fn drop_limits(ladder: &Ladder, measure: Measure, taught: &[Rung], told: &mut Translation) {
    let mut below_asks = false;
    for rung in Rung::all().skip(1) {
        let k = rung.index() - 1;
        let asks = ladder.conditions[k].iter().any(|c| c.measure == measure);
        if asks && taught.contains(&rung) && !below_asks {
            told.ladder.conditions[k].retain(|c| c.measure != measure);
            told.ladder.male_conditions[k].retain(|c| c.measure != measure);
            told.dropped.push((rung, measure));
        } else {
            below_asks |= asks;
        }
    }
}

/// Sets the limit of rung `k` + 1; males keep a limit of their own.
fn set_limit(ladder: &mut Ladder, k: usize, scale: &Scale, value: f64, old: Option<f64>) {
    let bounds = if scale.is_less_better {
        Bounds::Range {
            at_least: None,
            at_most: Some(value),
        }
    } else {
        Bounds::Range {
            at_least: Some(value),
            at_most: None,
        }
    };
    for (conditions, males) in [
        (&mut ladder.conditions[k], false),
        (&mut ladder.male_conditions[k], true),
    ] {
        match conditions.iter_mut().find(|c| c.measure == scale.measure) {
            Some(known) => {
                if !males || limit(known) == old {
                    known.bounds = bounds;
                }
            }
            None => conditions.push(Condition {
                measure: scale.measure,
                bounds,
                uncertainty: 0.0,
                unseen_passes: scale.measure.often_unseen(),
            }),
        }
    }
}

fn rounded(value: f64) -> f64 {
    (value * HUNDREDTHS).round() / HUNDREDTHS
}
