//! Limits for statistics that are looked at again and again: whoever looks often enough sees something by chance.
//!
//! Both limits are exact for normal data with known variances, by carrying the distribution of what has not crossed from look
//! to look through numerical integrals.
//!
//! # Source
//! Recursion [ArmitageMcPhersonRowe1969]; one height for all looks [Pocock1977]; exponentially weighted means as a Markov chain
//! [LucasSaccucci1990].

use crate::stats::quadrature::gauss_legendre;

/// Nodes across the range between the limits.
const NODES: usize = 64;
/// The same for weighted means, whose steps are wide.
const EWMA_NODES: usize = 24;
/// Nodes across the error of a baseline's mean, and how many of its standard deviations they span.
const BASELINE_NODES: usize = 14;
const BASELINE_SPAN: f64 = 4.5;
/// Steps of the search, and how near it comes: below any digit that matters.
const STEPS: usize = 40;
const NEAR: f64 = 2.0e-5;
/// Heights searched between.
const HEIGHTS: (f64, f64) = (0.5, 6.0);
/// Looks whose information grew by less than this share are taken as one: they see nearly the same, and the integrals need steps
/// that are wide against their nodes.
const NEW_INFORMATION: f64 = 0.03;

/// Height c such that |z| goes beyond it at any of the looks with probability `alpha`, where nothing changed. `information`
/// (1 / variance of the estimate) at each look must rise.
pub fn limit_of_looks(information: &[f64], alpha: f64) -> f64 {
    let nodes = gauss_legendre(NODES);
    let mut apart: Vec<f64> = Vec::new();
    for i in information {
        if apart
            .last()
            .is_none_or(|last| *i > last * (1.0 + NEW_INFORMATION))
        {
            apart.push(*i);
        }
    }
    height(alpha, |c| stays_within(&apart, c, &nodes))
}

/// Information of a slope through 1, 2, ... equally good points at equal distances, in units of (distance squared / variance of a
/// point), for `first` to `last` points.
pub fn slope_information(first: usize, last: usize) -> Vec<f64> {
    let information = |n: usize| (n * (n * n - 1)) as f64 / 12.0;
    (first.max(2)..=last).map(information).collect()
}

/// Height h such that an exponentially weighted mean with weight `lambda` strays from the mean of `baseline` points before it by more
/// than h of its own standard deviations at any of `looks` points after them with probability `alpha`, where nothing changed.
pub fn limit_of_ewma(lambda: f64, baseline: usize, looks: usize, alpha: f64) -> f64 {
    let nodes = gauss_legendre(EWMA_NODES);
    let across = gauss_legendre(BASELINE_NODES);
    height(alpha, |h| {
        across
            .iter()
            .map(|(x, w)| {
                let error = BASELINE_SPAN * x;
                let b = error / (baseline as f64).sqrt();
                BASELINE_SPAN
                    * w
                    * density(error)
                    * ewma_stays(lambda, baseline, looks, h, b, &nodes)
            })
            .sum()
    })
}

/// Variance of the weighted mean's distance from the baseline's mean after `look` points, in units of the variance of a point.
pub fn ewma_variance(lambda: f64, baseline: usize, look: usize) -> f64 {
    let fade = (1.0 - lambda).powi(look as i32);
    lambda / (2.0 - lambda) * (1.0 - fade * fade) + (1.0 - fade).powi(2) / baseline as f64
}

/// The height at which the probability of going beyond is `alpha`: its logarithm is nearly straight, so a false position that keeps the
/// root between its ends (Illinois) settles within a few steps.
fn height(alpha: f64, stays: impl Fn(f64) -> f64) -> f64 {
    let miss = |c: f64| (1.0 - stays(c)).max(1.0e-12).ln() - alpha.ln();
    let (mut low, mut high) = HEIGHTS;
    let (mut at_low, mut at_high) = (miss(low), miss(high));
    for _ in 0..STEPS {
        let middle = (low * at_high - high * at_low) / (at_high - at_low);
        let at_middle = miss(middle);
        if at_middle.abs() < NEAR || high - low < NEAR {
            return middle;
        }
        if at_middle > 0.0 {
            (low, at_low, at_high) = (middle, at_middle, 0.5 * at_high);
        } else {
            (high, at_high, at_low) = (middle, at_middle, 0.5 * at_low);
        }
    }
    high
}

fn density(z: f64) -> f64 {
    (-0.5 * z * z).exp() / std::f64::consts::TAU.sqrt()
}

/// Probability that |z| stays within `c` at all looks: z at two looks correlates by the root of the ratio of their informations.
fn stays_within(information: &[f64], c: f64, nodes: &[(f64, f64)]) -> f64 {
    let mut here: Vec<f64> = nodes.iter().map(|(x, _)| density(c * x)).collect();
    for pair in information.windows(2) {
        let correlation = (pair[0] / pair[1]).sqrt();
        let spread = (1.0 - correlation * correlation).max(1e-12).sqrt();
        let next = |z: f64| -> f64 {
            let parts = nodes.iter().zip(&here);
            parts
                .map(|((x, w), f)| c * w * f * density((z - correlation * c * x) / spread) / spread)
                .sum()
        };
        here = nodes.iter().map(|(x, _)| next(c * x)).collect();
    }
    nodes.iter().zip(&here).map(|((_, w), f)| c * w * f).sum()
}

/// Probability that the weighted mean stays within its limits at all looks, where the baseline's mean is wrong by `b` standard
/// deviations of a point.
fn ewma_stays(
    lambda: f64,
    baseline: usize,
    looks: usize,
    h: f64,
    b: f64,
    nodes: &[(f64, f64)],
) -> f64 {
    let limit = |look: usize| h * ewma_variance(lambda, baseline, look).sqrt();
    // Distance from the baseline's mean: d' = (1 - lambda) d + lambda (e - b).
    let step =
        |to: f64, from: f64| density((to - (1.0 - lambda) * from + lambda * b) / lambda) / lambda;
    let mut half = limit(1);
    let mut here: Vec<f64> = nodes.iter().map(|(x, _)| step(half * x, 0.0)).collect();
    for look in 2..=looks {
        let wider = limit(look);
        let next = |to: f64| -> f64 {
            let parts = nodes.iter().zip(&here);
            parts
                .map(|((x, w), f)| half * w * f * step(to, half * x))
                .sum()
        };
        here = nodes.iter().map(|(x, _)| next(wider * x)).collect();
        half = wider;
    }
    nodes
        .iter()
        .zip(&here)
        .map(|((_, w), f)| half * w * f)
        .sum()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Pocock's constants for equally spaced looks, two-sided 5 %, as printed in handbooks of group sequential trials (from memory).
    #[test]
    fn pococks_constants() {
        let printed = [
            (1, 1.960),
            (2, 2.178),
            (3, 2.289),
            (4, 2.361),
            (5, 2.413),
            (10, 2.555),
            (20, 2.672),
        ];
        for (looks, want) in printed {
            let information: Vec<f64> = (1..=looks).map(f64::from).collect();
            let have = limit_of_looks(&information, 0.05);
            assert!((have - want).abs() < 0.0011, "{looks} looks: {have} {want}");
        }
    }

    #[test]
    fn information_of_a_slope() {
        // 1, 2, 3: squares about the mean 2; 1 to 20: 665.
        assert_eq!(slope_information(3, 3), [2.0]);
        assert_eq!(slope_information(20, 20), [665.0]);
    }

    #[test]
    fn a_single_look_at_a_weighted_mean_is_a_plain_test() {
        let have = limit_of_ewma(0.3, 5, 1, 0.05);
        assert!((have - 1.95996).abs() < 1e-3, "{have}");
    }
}
