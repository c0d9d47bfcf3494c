//! The exponentially weighted moving average: the latest points count most, older ones less and less.

/// A chart about a known target.
#[derive(Debug, Clone, PartialEq)]
pub struct Chart {
    /// The weighted mean after each value, the start not among them.
    pub means: Vec<f64>,
    /// Lower and upper limit that the means come to in the long run.
    pub limits: (f64, f64),
}

/// The chart of `values` about `target` with weight `lambda` (0..=1) of the newest, for values of standard deviation `sd`, with limits `k`
/// standard deviations of the mean away.
///
/// # Source
/// [NIST-Handbook] 6.3.2.4.
pub fn chart(values: &[f64], target: f64, lambda: f64, sd: f64, k: f64) -> Chart {
    let mut mean = target;
    let means = values
        .iter()
        .map(|v| {
            mean = lambda * v + (1.0 - lambda) * mean;
            mean
        })
        .collect();
    let half = k * sd * (lambda / (2.0 - lambda)).sqrt();
    Chart {
        means,
        limits: (target - half, target + half),
    }
}

/// How far the weighted mean lies from the mean of the first `baseline` values, after each value behind them, with the standard
/// deviation of that distance from the known `variances` of the values: (distance, standard deviation). Empty where there is
/// nothing behind the baseline.
pub fn from_baseline(
    values: &[f64],
    variances: &[f64],
    baseline: usize,
    lambda: f64,
) -> Vec<(f64, f64)> {
    if baseline == 0 || values.len() <= baseline || values.len() != variances.len() {
        return Vec::new();
    }
    let weight: f64 = variances[..baseline].iter().map(|v| 1.0 / v).sum();
    let start: f64 = (0..baseline).map(|i| values[i] / variances[i]).sum::<f64>() / weight;
    let (mut distance, mut own, mut share) = (0.0, 0.0, 1.0);
    (baseline..values.len())
        .map(|i| {
            distance = (1.0 - lambda) * distance + lambda * (values[i] - start);
            own = (1.0 - lambda) * (1.0 - lambda) * own + lambda * lambda * variances[i];
            share *= 1.0 - lambda;
            let sd = (own + (1.0 - share).powi(2) / weight).sqrt();
            (distance, sd)
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::trends::looks::ewma_variance;

    #[test]
    fn the_variance_is_that_of_the_limits() {
        let found = from_baseline(&[0.0; 12], &[4.0; 12], 5, 0.3);
        for (look, (distance, sd)) in found.iter().enumerate() {
            assert_eq!(*distance, 0.0);
            let want = 2.0 * ewma_variance(0.3, 5, look + 1).sqrt();
            assert!((sd - want).abs() < 1e-12);
        }
        assert_eq!(found.len(), 7);
        assert!(from_baseline(&[1.0; 5], &[1.0; 5], 5, 0.3).is_empty());
    }
}
