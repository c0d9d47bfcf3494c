//! Where a series parts best into before and after.

/// A parting of a series.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Parting {
    /// Values before it.
    pub before: usize,
    /// Weighted mean before.
    pub mean_before: f64,
    /// Weighted mean after.
    pub mean_after: f64,
    /// Weighted sum of squares that is left.
    pub squares: f64,
    /// Weighted sum of squares about one mean.
    pub all_squares: f64,
}

/// The parting with the least weighted sum of squares about the two means; `None` below two values. Weights are 1 / variance.
///
/// # Source
/// Least squares of one step, checked on the flow of the Nile [Cobb1978].
pub fn best_parting(values: &[f64], weights: &[f64]) -> Option<Parting> {
    if values.len() < 2 || values.len() != weights.len() {
        return None;
    }
    let mean = |part: std::ops::Range<usize>| {
        let w: f64 = weights[part.clone()].iter().sum();
        part.map(|i| weights[i] * values[i]).sum::<f64>() / w
    };
    let squares = |part: std::ops::Range<usize>| {
        let middle = mean(part.clone());
        part.map(|i| weights[i] * (values[i] - middle).powi(2))
            .sum::<f64>()
    };
    let n = values.len();
    let all_squares = squares(0..n);
    let parting = |before: usize| Parting {
        before,
        mean_before: mean(0..before),
        mean_after: mean(before..n),
        squares: squares(0..before) + squares(before..n),
        all_squares,
    };
    (1..n)
        .map(parting)
        .min_by(|a, b| a.squares.total_cmp(&b.squares))
}

/// Pettitt's rank statistic: its largest size, after how many values, and an approximate probability of one as large where
/// nothing changed (0..=1). `None` below two values.
///
/// # Source
/// [Pettitt1979].
pub fn pettitt(values: &[f64]) -> Option<(u64, usize, f64)> {
    let n = values.len();
    let sign = |a: f64, b: f64| i64::from(a > b) - i64::from(a < b);
    let at = |t: usize| -> i64 {
        let (before, after) = values.split_at(t);
        before
            .iter()
            .flat_map(|a| after.iter().map(move |b| sign(*a, *b)))
            .sum()
    };
    // The first of equals.
    let (t, k) = (1..n)
        .map(|t| (t, at(t).unsigned_abs()))
        .rev()
        .max_by_key(|(_, k)| *k)?;
    let (size, n) = (k as f64, n as f64);
    let p = 2.0 * (-6.0 * size * size / (n.powi(3) + n * n)).exp();
    Some((k, t, p.min(1.0)))
}
