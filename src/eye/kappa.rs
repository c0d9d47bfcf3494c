//! Agreement of two raters on ordered classes, corrected for chance.

use crate::stats::Interval;

/// How a disagreement counts by its distance.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Weights {
    /// Any disagreement counts the same.
    Exact,
    /// By the steps between the classes.
    Linear,
    /// By the square of the steps.
    Quadratic,
}

impl Weights {
    /// Weight of agreement, 1 on the diagonal down to 0 in the far corner, of `k` classes.
    fn of(self, i: usize, j: usize, k: usize) -> f64 {
        let apart = i.abs_diff(j) as f64 / (k.max(2) - 1) as f64;
        match self {
            Weights::Exact => f64::from(u8::from(i == j)),
            Weights::Linear => 1.0 - apart,
            Weights::Quadratic => 1.0 - apart * apart,
        }
    }
}

/// Agreement corrected for chance.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Kappa {
    /// Things rated by both.
    pub n: f64,
    /// Weighted share of agreement seen, 0..=1.
    pub observed: f64,
    /// Weighted share of agreement that chance would give, 0..=1.
    pub expected: f64,
    /// 1 = full agreement, 0 = as by chance.
    pub value: f64,
    /// Its standard error.
    pub error: f64,
    /// Its standard error where there is no agreement beyond chance.
    pub error_of_chance: f64,
}

impl Kappa {
    /// Interval of that many standard errors, kept within -1..=1.
    pub fn interval(&self, errors: f64) -> Interval {
        Interval {
            low: (self.value - errors * self.error).max(-1.0),
            high: (self.value + errors * self.error).min(1.0),
        }
    }
}

/// Kappa of a square table of counts, first rater down, second across; `None` for an empty table, one that is not square,
/// or where chance alone gives full agreement (both raters always say the same one class).
///
/// # Source
/// [Cohen1968]; standard errors [FleissCohenEveritt1969].
pub fn kappa(table: &[Vec<f64>], weights: Weights) -> Option<Kappa> {
    let k = table.len();
    let n: f64 = table.iter().flatten().sum();
    if k < 2 || table.iter().any(|row| row.len() != k) || n <= 0.0 {
        return None;
    }
    let w = |i: usize, j: usize| weights.of(i, j, k);
    let rows: Vec<f64> = table
        .iter()
        .map(|row| row.iter().sum::<f64>() / n)
        .collect();
    let columns: Vec<f64> = (0..k)
        .map(|j| table.iter().map(|row| row[j]).sum::<f64>() / n)
        .collect();
    let cells = || (0..k).flat_map(move |i| (0..k).map(move |j| (i, j)));
    let observed: f64 = cells().map(|(i, j)| w(i, j) * table[i][j] / n).sum();
    let expected: f64 = cells().map(|(i, j)| w(i, j) * rows[i] * columns[j]).sum();
    let rest = 1.0 - expected;
    if rest <= 1.0e-12 {
        return None;
    }
    // Mean weights of each class of the one rater over what the other says.
    let of_row: Vec<f64> = (0..k)
        .map(|i| (0..k).map(|j| w(i, j) * columns[j]).sum())
        .collect();
    let of_column: Vec<f64> = (0..k)
        .map(|j| (0..k).map(|i| w(i, j) * rows[i]).sum())
        .collect();
    let value = (observed - expected) / rest;
    let seen: f64 = cells()
        .map(|(i, j)| {
            let inner = w(i, j) - (of_row[i] + of_column[j]) * (1.0 - value);
            table[i][j] / n * inner * inner
        })
        .sum();
    let chance: f64 = cells()
        .map(|(i, j)| {
            let inner = w(i, j) - (of_row[i] + of_column[j]);
            rows[i] * columns[j] * inner * inner
        })
        .sum();
    let error = |sum: f64, centre: f64| (sum - centre * centre).max(0.0).sqrt() / (rest * n.sqrt());
    Some(Kappa {
        n,
        observed,
        expected,
        value,
        error: error(seen, value - expected * (1.0 - value)),
        error_of_chance: error(chance, expected),
    })
}
