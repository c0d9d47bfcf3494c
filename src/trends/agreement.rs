//! How far repeated measurements of the same things agree: intraclass correlations, within-thing spread, limits of agreement.
//!
//! A table has a row for each thing and a column for each occasion; rows are complete unless said otherwise.

use statrs::distribution::{ContinuousCDF, FisherSnedecor};

use crate::stats::{Interval, mean, standard_deviation};

/// Mean squares of a table of n things on k occasions.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MeanSquares {
    /// Things.
    pub n: usize,
    /// Occasions.
    pub k: usize,
    /// Between things.
    pub between: f64,
    /// Within things, all occasions.
    pub within: f64,
    /// Between occasions.
    pub occasions: f64,
    /// What is left after things and occasions.
    pub residual: f64,
}

/// Mean squares of a complete table; `None` below two things or two occasions, or where rows differ in length.
///
/// # Source
/// [ShroutFleiss1979] table 3.
pub fn mean_squares(table: &[Vec<f64>]) -> Option<MeanSquares> {
    let (n, k) = (table.len(), table.first()?.len());
    if n < 2 || k < 2 || table.iter().any(|row| row.len() != k) {
        return None;
    }
    let grand = table.iter().flatten().sum::<f64>() / (n * k) as f64;
    let rows: Vec<f64> = table
        .iter()
        .map(|row| row.iter().sum::<f64>() / k as f64)
        .collect();
    let columns = (0..k).map(|j| table.iter().map(|row| row[j]).sum::<f64>() / n as f64);
    let between = k as f64 * rows.iter().map(|m| (m - grand).powi(2)).sum::<f64>();
    let occasions = n as f64 * columns.map(|m| (m - grand).powi(2)).sum::<f64>();
    let within: f64 = table
        .iter()
        .zip(&rows)
        .flat_map(|(row, m)| row.iter().map(move |v| (v - m).powi(2)))
        .sum();
    let (n1, k1) = ((n - 1) as f64, (k - 1) as f64);
    Some(MeanSquares {
        n,
        k,
        between: between / n1,
        within: within / (n as f64 * k1),
        occasions: occasions / k1,
        residual: (within - occasions).max(0.0) / (n1 * k1),
    })
}

/// An intraclass correlation of single measurements with its interval.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Icc {
    /// Best estimate, at most 1; below 0 where things differ less than chance would have it.
    pub value: f64,
    /// Interval at the level asked for.
    pub interval: Interval,
}

/// ICC(1,1): occasions are drawn anew for each thing. `None` where nothing varies.
///
/// # Source
/// [ShroutFleiss1979] equations 1 and 8.
pub fn icc_one_way(m: &MeanSquares, level: f64) -> Option<Icc> {
    let k = m.k as f64;
    let (n1, inner) = ((m.n - 1) as f64, (m.n * (m.k - 1)) as f64);
    let value = ratio(m.between - m.within, m.between + (k - 1.0) * m.within)?;
    let f = m.between / m.within;
    let low = f / quantile(n1, inner, level)?;
    let high = f * quantile(inner, n1, level)?;
    Some(Icc {
        value,
        interval: limits(low, high, k),
    })
}

/// ICC(2,1): agreement of single measurements, occasions a sample of all occasions; a shift between occasions counts
/// against it. `None` where nothing varies.
///
/// # Source
/// [ShroutFleiss1979] equations 2 and 9 to 11.
pub fn icc_agreement(m: &MeanSquares, level: f64) -> Option<Icc> {
    let (n, k) = (m.n as f64, m.k as f64);
    let spread = m.between + (k - 1.0) * m.residual + k * (m.occasions - m.residual) / n;
    let value = ratio(m.between - m.residual, spread)?;
    // Degrees of freedom after Satterthwaite, as the authors give them.
    let f = m.occasions / m.residual;
    let a = k * value * f;
    let b = n * (1.0 + (k - 1.0) * value) - k * value;
    let freedom = (k - 1.0) * (n - 1.0) * (a + b).powi(2) / ((n - 1.0) * a * a + b * b);
    let (upper, lower) = (
        quantile(n - 1.0, freedom, level)?,
        quantile(freedom, n - 1.0, level)?,
    );
    let rest = k * m.occasions + (k * n - k - n) * m.residual;
    let low = n * (m.between - upper * m.residual) / (upper * rest + n * m.between);
    let high = n * (lower * m.between - m.residual) / (rest + n * lower * m.between);
    (low.is_finite() && high.is_finite()).then_some(Icc {
        value,
        interval: Interval { low, high },
    })
}

/// ICC(3,1): consistency of single measurements; a shift between occasions does not count. `None` where nothing varies.
///
/// # Source
/// [ShroutFleiss1979] equations 3 and 12.
pub fn icc_consistency(m: &MeanSquares, level: f64) -> Option<Icc> {
    let k = m.k as f64;
    let (n1, inner) = ((m.n - 1) as f64, ((m.n - 1) * (m.k - 1)) as f64);
    let value = ratio(m.between - m.residual, m.between + (k - 1.0) * m.residual)?;
    let f = m.between / m.residual;
    let low = f / quantile(n1, inner, level)?;
    let high = f * quantile(inner, n1, level)?;
    Some(Icc {
        value,
        interval: limits(low, high, k),
    })
}

fn ratio(above: f64, below: f64) -> Option<f64> {
    (below > 0.0).then_some(above / below)
}

/// Interval of a correlation from that of its variance ratio.
fn limits(low: f64, high: f64, k: f64) -> Interval {
    let of = |f: f64| {
        if f.is_finite() {
            (f - 1.0) / (f + k - 1.0)
        } else {
            1.0
        }
    };
    Interval {
        low: of(low),
        high: of(high),
    }
}

/// Upper quantile of the F distribution at the two-sided `level`.
fn quantile(above: f64, below: f64, level: f64) -> Option<f64> {
    let f = FisherSnedecor::new(above, below).ok()?;
    Some(f.inverse_cdf(0.5 + 0.5 * level.clamp(0.0, 0.999_999)))
}

/// Standard deviation within things, from all things with two or more measurements; `None` where there is none.
///
/// Rows may differ in length. A shift between occasions counts as spread.
pub fn within_sd(rows: &[Vec<f64>]) -> Option<f64> {
    let (mut squares, mut freedom) = (0.0, 0);
    for row in rows.iter().filter(|row| row.len() > 1) {
        let centre = mean(row)?;
        squares += row.iter().map(|v| (v - centre).powi(2)).sum::<f64>();
        freedom += row.len() - 1;
    }
    (freedom > 0).then(|| (squares / freedom as f64).sqrt())
}

/// Standard normal quantile for 95 % of differences.
pub const LIMIT_SDS: f64 = 1.959_963_984_540_054;

/// The smallest difference between two single measurements that is worth believing: exceeded by one in twenty differences
/// of things that did not change.
///
/// # Source
/// [BlandAltman1986], repeatability coefficient.
pub fn smallest_believable(within_sd: f64) -> f64 {
    LIMIT_SDS * std::f64::consts::SQRT_2 * within_sd
}

/// Limits of agreement of two occasions: mean difference (second minus first), its standard deviation, and the limits within
/// which 95 % of differences lie.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LimitsOfAgreement {
    /// Things measured on both occasions.
    pub n: usize,
    /// Mean of second minus first.
    pub shift: f64,
    /// Standard deviation of the differences.
    pub sd: f64,
    /// Lower limit.
    pub low: f64,
    /// Upper limit.
    pub high: f64,
}

/// Limits of agreement of pairs (first, second); `None` below two pairs.
///
/// # Source
/// [BlandAltman1986].
pub fn limits_of_agreement(pairs: &[(f64, f64)]) -> Option<LimitsOfAgreement> {
    let differences: Vec<f64> = pairs.iter().map(|(a, b)| b - a).collect();
    let (shift, sd) = (mean(&differences)?, standard_deviation(&differences)?);
    Some(LimitsOfAgreement {
        n: pairs.len(),
        shift,
        sd,
        low: shift - LIMIT_SDS * sd,
        high: shift + LIMIT_SDS * sd,
    })
}
