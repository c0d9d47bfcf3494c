//! Trends by ranks: nothing is supposed about the shape of the values. Descriptive here; decisions are made elsewhere.

use crate::stats::{median, normal_cdf, normal_quantile};

/// Most values for which the probability is counted out exactly.
const EXACT_UP_TO: usize = 40;

/// Kendall's count of rises and falls over time.
#[derive(Debug, Clone, PartialEq)]
pub struct MannKendall {
    /// Rises minus falls among all pairs.
    pub s: i64,
    /// Variance of that count where there is no trend, ties counted.
    pub variance: f64,
    /// The count less one towards 0, in standard deviations; 0 where the variance is.
    pub z: f64,
    /// Two-sided probability of a count as large, by z.
    pub p: f64,
    /// The same counted out exactly, for up to 40 values without ties.
    pub exact_p: Option<f64>,
    /// S over the number of pairs, -1..=1.
    pub tau: f64,
}

/// Mann and Kendall's test of `values` in their order; `None` below two.
///
/// # Source
/// [Kendall1975]; variance with ties as in [Gilbert1987] 16.4.
pub fn mann_kendall(values: &[f64]) -> Option<MannKendall> {
    let n = values.len();
    if n < 2 {
        return None;
    }
    let mut s = 0i64;
    for (i, a) in values.iter().enumerate() {
        s += values[i + 1..]
            .iter()
            .map(|b| i64::from(b > a) - i64::from(b < a))
            .sum::<i64>();
    }
    let ties = ties(values);
    let term = |t: f64| t * (t - 1.0) * (2.0 * t + 5.0);
    let variance = (term(n as f64) - ties.iter().map(|t| term(*t as f64)).sum::<f64>()) / 18.0;
    let towards_zero = (s.abs() - 1).max(0) * s.signum();
    let z = if variance > 0.0 {
        towards_zero as f64 / variance.sqrt()
    } else {
        0.0
    };
    let untied = ties.iter().all(|t| *t == 1);
    Some(MannKendall {
        s,
        variance,
        z,
        p: 2.0 * normal_cdf(-z.abs()),
        exact_p: (untied && n <= EXACT_UP_TO).then(|| exact(s, n)),
        tau: s as f64 / (n * (n - 1) / 2) as f64,
    })
}

/// Sizes of the groups of equal values.
fn ties(values: &[f64]) -> Vec<usize> {
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    sorted.chunk_by(|a, b| a == b).map(<[f64]>::len).collect()
}

/// Two-sided probability of |S| or more among all orders of `n` different values: the number of orders with a given count of falls grows
/// value by value.
fn exact(s: i64, n: usize) -> f64 {
    let mut shares = vec![1.0];
    for placed in 2..=n {
        let mut next = vec![0.0; shares.len() + placed - 1];
        for (falls, share) in shares.iter().enumerate() {
            for more in 0..placed {
                next[falls + more] += share / placed as f64;
            }
        }
        shares = next;
    }
    let pairs = (n * (n - 1) / 2) as i64;
    let reaches = |falls: usize| (pairs - 2 * falls as i64).abs() >= s.abs();
    let sum: f64 = (0..shares.len())
        .filter(|f| reaches(*f))
        .map(|f| shares[f])
        .sum();
    sum.min(1.0)
}

/// Slope and level by medians.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TheilSen {
    /// Median of the slopes of all pairs.
    pub slope: f64,
    /// Median of y less the slope times the median of x.
    pub intercept: f64,
    /// Range of the slope by ranks of the pairs' slopes.
    pub low: f64,
    /// Its upper end.
    pub high: f64,
}

/// The median slope of `points` (x, y) with its range at `level`; `None` without two different x.
///
/// # Source
/// [Sen1968]; intercept as in [HelselHirsch2002] chapter 10.
pub fn theil_sen(points: &[(f64, f64)], level: f64) -> Option<TheilSen> {
    let mut slopes = Vec::new();
    for (i, a) in points.iter().enumerate() {
        for b in &points[i + 1..] {
            if (b.0 - a.0).abs() > 1e-12 {
                slopes.push((b.1 - a.1) / (b.0 - a.0));
            }
        }
    }
    slopes.sort_by(f64::total_cmp);
    let slope = median(&slopes)?;
    let (x, y): (Vec<f64>, Vec<f64>) = points.iter().copied().unzip();
    let mut ordered = points.to_vec();
    ordered.sort_by(|a, b| a.0.total_cmp(&b.0));
    let in_time: Vec<f64> = ordered.iter().map(|p| p.1).collect();
    let variance = mann_kendall(&in_time)?.variance;
    let reach = normal_quantile(0.5 * (1.0 + level)) * variance.sqrt();
    let pairs = slopes.len() as f64;
    // Ranks counted from 1, rounded inwards to the nearest, as the usual implementations do.
    let low = ((pairs - reach) / 2.0).round().max(1.0) as usize - 1;
    let high = (((pairs + reach) / 2.0).round() as usize).min(slopes.len() - 1);
    Some(TheilSen {
        slope,
        intercept: median(&y)? - slope * median(&x)?,
        low: slopes[low.min(slopes.len() - 1)],
        high: slopes[high],
    })
}
