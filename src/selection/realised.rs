//! Heritability as the house's own generations show it: response against what was selected.

use crate::stats::Interval;
use crate::stats::symmetric::{dot, solve};

/// One generation.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Step {
    /// Mean of its animals.
    pub mean: f64,
    /// Animals measured.
    pub measured: usize,
    /// Selection differential of those kept as parents of the next generation.
    pub differential: f64,
    /// Effective size of those kept.
    pub effective_size: f64,
}

/// Realised heritability.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Realised {
    /// Best estimate; may lie below 0 or above 1 where the data say little.
    pub value: f64,
    /// 95 % interval.
    pub interval: Interval,
    /// Generations of response it rests on.
    pub generations: usize,
}

impl Realised {
    /// True where the data can tell it from zero.
    pub fn is_told_from_zero(&self) -> bool {
        self.interval.low > 0.0 || self.interval.high < 0.0
    }
}

/// Why nothing can be said.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum TooLittle {
    /// Fewer generations of response than [`FEWEST`].
    Generations(usize),
    /// Hardly anything was selected, so nothing could respond.
    Selection,
    /// A generation without animals or without parents.
    Animals,
}

/// Fewest generations of response.
pub const FEWEST: usize = 3;
/// Standard normal quantile of a two-sided 95 % interval.
const Z: f64 = 1.959_964;
/// Steps in which the limits of the interval are sought, how many at most, and how often the last one is halved.
const STEP: f64 = 0.05;
const STEPS: usize = 100;
const HALVINGS: usize = 12;

/// The heritability that the generations show; `sd` is the standard deviation between animals, `day_sd` that of whole
/// days' readings about what they should be (lamp, cup, minutes), 0 where it is not known.
///
/// The means are fitted on the cumulated differential by generalised least squares: errors of the means are partly their own
/// (sampling, the day) and partly inherited from generation to generation (drift, which grows with the heritability and falls
/// with the effective size). The interval holds every value that the data do not reject.
///
/// # Errors
/// Why nothing can be said.
///
/// # Source
/// Drift and its covariance [Hill1972]; realised heritability [FalconerMackay1996] chapter 11.
pub fn realised(steps: &[Step], sd: f64, day_sd: f64) -> Result<Realised, TooLittle> {
    let generations = steps.len().saturating_sub(1);
    if generations < FEWEST {
        return Err(TooLittle::Generations(generations));
    }
    if steps
        .iter()
        .any(|s| s.measured == 0 || s.effective_size <= 0.0)
    {
        return Err(TooLittle::Animals);
    }
    let selected = cumulated(steps);
    let spread = crate::stats::standard_deviation(&selected).unwrap_or(0.0);
    if spread < 0.05 * sd {
        return Err(TooLittle::Selection);
    }
    let means: Vec<f64> = steps.iter().map(|s| s.mean).collect();
    let at = |h2: f64| slope(&selected, &means, &covariance(steps, sd, day_sd, h2));
    let mut value = 0.3;
    for _ in 0..30 {
        value = at(value).ok_or(TooLittle::Animals)?.0;
    }
    let stands = |h2: f64| at(h2).is_some_and(|(b, error)| (b - h2).abs() <= Z * error);
    let interval = Interval {
        low: limit(&stands, value, -STEP),
        high: limit(&stands, value, STEP),
    };
    Ok(Realised {
        value,
        interval,
        generations,
    })
}

/// The last value that stands, going from `value` in that direction.
fn limit(stands: &dyn Fn(f64) -> bool, value: f64, step: f64) -> f64 {
    let mut inside = value;
    for _ in 0..STEPS {
        if !stands(inside + step) {
            break;
        }
        inside += step;
    }
    let mut outside = inside + step;
    for _ in 0..HALVINGS {
        let middle = (inside + outside) / 2.0;
        if stands(middle) {
            inside = middle;
        } else {
            outside = middle;
        }
    }
    inside
}

/// What was selected up to each generation.
fn cumulated(steps: &[Step]) -> Vec<f64> {
    let mut sum = 0.0;
    steps
        .iter()
        .map(|step| {
            let before = sum;
            sum += step.differential;
            before
        })
        .collect()
}

/// Covariances of the generation means about their expectation, were the heritability `h2`.
fn covariance(steps: &[Step], sd: f64, day_sd: f64, h2: f64) -> Vec<Vec<f64>> {
    // Of the parents' inherited worth their own readings tell a share h2, and that is in the differential: what drifts is the
    // rest.
    let h2 = h2.clamp(0.0, 1.0);
    let genetic = h2 * (1.0 - h2) * sd * sd;
    let mut drift = vec![0.0];
    for step in steps {
        let last = drift.last().copied().unwrap_or(0.0);
        drift.push(last + genetic / step.effective_size);
    }
    (0..steps.len())
        .map(|i| {
            (0..steps.len())
                .map(|j| {
                    let own = sd * sd / steps[i].measured as f64 + day_sd * day_sd;
                    drift[i.min(j)] + if i == j { own } else { 0.0 }
                })
                .collect()
        })
        .collect()
}

/// Slope of `y` on `x` with an intercept, errors with covariance `v`, and its standard error.
fn slope(x: &[f64], y: &[f64], v: &[Vec<f64>]) -> Option<(f64, f64)> {
    let ones = vec![1.0; x.len()];
    let (vx, v1) = (solve(v, x)?, solve(v, &ones)?);
    let (x1, xx, oo) = (dot(&v1, x), dot(&vx, x), dot(&v1, &ones));
    let determinant = xx * oo - x1 * x1;
    let b = (oo * dot(&vx, y) - x1 * dot(&v1, y)) / determinant;
    let error = (oo / determinant).sqrt();
    (b.is_finite() && error.is_finite()).then_some((b, error))
}

/// Plain slope through the origin of cumulated response on cumulated differential; `None` without selection.
pub fn through_origin(selected: &[f64], response: &[f64]) -> Option<f64> {
    let squares = dot(selected, selected);
    (squares > 0.0).then(|| dot(selected, response) / squares)
}
