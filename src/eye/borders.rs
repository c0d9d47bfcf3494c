//! Where a border between two rungs lies on one measure, and within which limits.

use statrs::distribution::{ContinuousCDF, StudentsT};

use super::cumulative::{Case, Fit, Hold, fit};
use crate::stats::Interval;

/// Keeps the search finite where rungs are told apart without a slip; far below what any house's data say.
const WHISPER: f64 = 1.0e-6;
/// Tries once a limit is bracketed, and the log-likelihood within which it is met.
const MOST_TRIES: usize = 12;
const NEAR_ENOUGH: f64 = 0.003;
/// Doublings of the first step before a side counts as open.
const DOUBLINGS: usize = 12;

/// A border with its interval.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Border {
    /// Half of the animals with this measure are given the upper rung.
    pub at: f64,
    /// Interval of the profile likelihood of the unpenalised fit; open sides are infinite.
    pub interval: Interval,
}

/// The borders of cases with one measure each; `None` where they can't be fitted or the measure says nothing.
///
/// # Source
/// Profile likelihood [VenzonMoolgavkar1988], its limit widened from the normal to Student's t for small samples.
pub fn borders(cases: &[Case], classes: usize, level: f64) -> Option<Vec<Border>> {
    let hold = Hold {
        penalty: WHISPER,
        at_zero: None,
    };
    let whole = fit(cases, classes, hold, None)?;
    let weight = whole.weights.first().copied().filter(|w| *w > 1.0e-3)?;
    let freedom = cases.len().saturating_sub(classes).max(1) as f64;
    let quantile = StudentsT::new(0.0, 1.0, freedom)
        .ok()?
        .inverse_cdf(0.5 + 0.5 * level);
    let drop = 0.5 * quantile * quantile;
    let all = (0..classes - 1).map(|border| {
        let at = whole.borders[border] / weight;
        let profile = Profile {
            cases,
            classes,
            border,
            drop,
            whole: &whole,
            at,
        };
        Border {
            at,
            interval: Interval {
                low: profile.limit(-1.0),
                high: profile.limit(1.0),
            },
        }
    });
    Some(all.collect())
}

struct Profile<'a> {
    cases: &'a [Case],
    classes: usize,
    border: usize,
    drop: f64,
    whole: &'a Fit,
    at: f64,
}

impl Profile<'_> {
    /// By how much the log-likelihood falls, past what is allowed, when the border lies at `at`.
    fn excess(&self, at: f64) -> f64 {
        let moved: Vec<Case> = self
            .cases
            .iter()
            .map(|case| Case {
                class: case.class,
                x: vec![case.x[0] - at],
            })
            .collect();
        let hold = Hold {
            penalty: WHISPER,
            at_zero: Some(self.border),
        };
        let weight = self.whole.weights[0];
        let start = Fit {
            weights: vec![weight],
            borders: self
                .whole
                .borders
                .iter()
                .map(|b| b - weight * self.at)
                .collect(),
            log_likelihood: 0.0,
        };
        fit(&moved, self.classes, hold, Some(&start)).map_or(f64::INFINITY, |there| {
            self.whole.log_likelihood - there.log_likelihood - self.drop
        })
    }

    /// The limit on one side: stepped out until outside, then by false position, the end that stays halved each time
    /// (the Illinois rule), so that five or six fits are enough.
    fn limit(&self, side: f64) -> f64 {
        let (mut inside, mut step) = ((self.at, -self.drop), 0.5 * side);
        let mut outside = None;
        for _ in 0..DOUBLINGS {
            let next = inside.0 + step;
            let excess = self.excess(next);
            if excess > 0.0 {
                outside = Some((next, excess));
                break;
            }
            inside = (next, excess);
            step *= 2.0;
        }
        let Some(mut outside) = outside else {
            return side * f64::INFINITY;
        };
        let mut middle = inside.0;
        for _ in 0..MOST_TRIES {
            middle = if outside.1.is_finite() {
                inside.0 + (outside.0 - inside.0) * inside.1 / (inside.1 - outside.1)
            } else {
                0.5 * (inside.0 + outside.0)
            };
            let excess = self.excess(middle);
            if excess.abs() < NEAR_ENOUGH {
                break;
            }
            if excess > 0.0 {
                outside = (middle, excess);
                inside.1 *= 0.5;
            } else {
                inside = (middle, excess);
                outside.1 *= 0.5;
            }
        }
        middle
    }
}
