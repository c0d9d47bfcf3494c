//! A common slope through points of several groups, each with its own level: what a change of lamp or sand does to the level says
//! nothing about the line, what happens between two changes does.

use crate::stats::chi_squared_quantile;

/// A value at a place, with the variance that is known beforehand.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Sample {
    /// Where: generations or days.
    pub x: f64,
    /// The value.
    pub y: f64,
    /// Its variance, above 0.
    pub variance: f64,
    /// Its group: points of one group are alike in all that moves the level.
    pub group: usize,
}

/// Scatter about the line beyond what the variances say is believed from this confidence on.
const TOO_MUCH_SCATTER: f64 = 0.95;

/// A weighted slope.
#[derive(Debug, Clone, PartialEq)]
pub struct CommonSlope {
    /// Change of y for 1 of x.
    pub slope: f64,
    /// Its standard error, by the known variances; larger where the points scatter plainly more than those say.
    pub error: f64,
    /// Level of each group at x = 0; `None` for groups without points.
    pub levels: Vec<Option<f64>>,
    /// Points in groups that have more than one place.
    pub used: usize,
    /// Sum of squared residuals over their variances.
    pub chi_squared: f64,
    /// Its degrees of freedom.
    pub freedom: usize,
    /// How much of the answer hangs on each point: the slope is the sum of these times y.
    pub weights: Vec<f64>,
}

impl CommonSlope {
    /// The slope in standard errors.
    pub fn z(&self) -> f64 {
        self.slope / self.error
    }
}

/// The slope common to all groups by weighted least squares; `None` where no group has two places.
///
/// # Source
/// Weighted least squares with a level for each group: analysis of covariance, any handbook. Checked against [NIST-StRD] Norris and
/// [Weisberg1985] chapter 4.
pub fn common_slope(samples: &[Sample]) -> Option<CommonSlope> {
    let groups = samples.iter().map(|s| s.group + 1).max()?;
    let means = means(samples, groups);
    let away = |s: &Sample| s.x - means[s.group].map_or(s.x, |m| m.0);
    let squares: f64 = samples.iter().map(|s| away(s).powi(2) / s.variance).sum();
    if !squares.is_finite()
        || squares <= 1e-12 * samples.iter().map(|s| 1.0 / s.variance).sum::<f64>()
    {
        return None;
    }
    let weights: Vec<f64> = samples
        .iter()
        .map(|s| away(s) / s.variance / squares)
        .collect();
    let slope: f64 = samples.iter().zip(&weights).map(|(s, w)| w * s.y).sum();
    let levels: Vec<Option<f64>> = means
        .iter()
        .map(|m| m.map(|(x, y)| y - slope * x))
        .collect();
    let residual = |s: &Sample| s.y - slope * s.x - levels[s.group].unwrap_or(s.y);
    let chi_squared: f64 = samples
        .iter()
        .map(|s| residual(s).powi(2) / s.variance)
        .sum();
    let (used, used_groups) = used(samples, groups);
    let freedom = used.saturating_sub(used_groups + 1);
    Some(CommonSlope {
        slope,
        error: (inflation(chi_squared, freedom) / squares).sqrt(),
        levels,
        used,
        chi_squared,
        freedom,
        weights,
    })
}

/// Chi-squared over its degrees of freedom where that is plainly more than chance makes, else 1.
fn inflation(chi_squared: f64, freedom: usize) -> f64 {
    if freedom == 0 || chi_squared <= chi_squared_quantile(TOO_MUCH_SCATTER, freedom as f64) {
        return 1.0;
    }
    chi_squared / freedom as f64
}

/// Weighted means of x and y by group.
fn means(samples: &[Sample], groups: usize) -> Vec<Option<(f64, f64)>> {
    let mut sums = vec![(0.0, 0.0, 0.0); groups];
    for s in samples {
        let sum = &mut sums[s.group];
        sum.0 += 1.0 / s.variance;
        sum.1 += s.x / s.variance;
        sum.2 += s.y / s.variance;
    }
    sums.iter()
        .map(|(w, x, y)| (*w > 0.0).then(|| (x / w, y / w)))
        .collect()
}

/// Points in groups with at least two places, and the number of such groups.
fn used(samples: &[Sample], groups: usize) -> (usize, usize) {
    let mut found = (0, 0);
    for group in 0..groups {
        let own = || samples.iter().filter(move |s| s.group == group);
        let Some(first) = own().next() else { continue };
        if own().any(|s| (s.x - first.x).abs() > 1e-9) {
            found.0 += own().count();
            found.1 += 1;
        }
    }
    found
}

#[cfg(test)]
mod tests {
    use super::*;

    fn sample(x: f64, y: f64, group: usize) -> Sample {
        Sample {
            x,
            y,
            variance: 0.01,
            group,
        }
    }

    #[test]
    fn a_level_shift_between_groups_is_no_slope() {
        let points: Vec<Sample> = (0..10)
            .map(|i| {
                sample(
                    f64::from(i),
                    if i < 5 { 0.9 } else { 0.6 },
                    usize::from(i >= 5),
                )
            })
            .collect();
        let found = common_slope(&points).expect("a slope");
        assert!(found.slope.abs() < 1e-12);
        assert_eq!((found.used, found.freedom), (10, 7));
        assert!((found.levels[1].expect("a level") - 0.6).abs() < 1e-12);
    }

    #[test]
    fn single_points_of_a_group_say_nothing() {
        assert_eq!(
            common_slope(&[sample(0.0, 1.0, 0), sample(1.0, 0.5, 1)]),
            None
        );
        assert_eq!(common_slope(&[]), None);
        let mut points = vec![
            sample(0.0, 1.0, 0),
            sample(1.0, 1.1, 0),
            sample(2.0, 1.2, 0),
        ];
        let alone = common_slope(&points).expect("a slope");
        points.push(sample(9.0, -5.0, 1));
        let with = common_slope(&points).expect("a slope");
        assert_eq!((alone.slope, alone.used), (with.slope, with.used));
    }
}
