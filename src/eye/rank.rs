//! Rank correlation with ties.

/// Ranks from 1, ties sharing the mean of theirs.
fn ranks(values: &[f64]) -> Vec<f64> {
    let mut order: Vec<usize> = (0..values.len()).collect();
    order.sort_by(|a, b| values[*a].total_cmp(&values[*b]));
    let mut ranks = vec![0.0; values.len()];
    let mut start = 0;
    while start < order.len() {
        let same = |i: &&usize| values[**i].total_cmp(&values[order[start]]).is_eq();
        let count = order[start..].iter().take_while(same).count();
        let shared = start as f64 + (count as f64 + 1.0) / 2.0;
        order[start..start + count]
            .iter()
            .for_each(|i| ranks[*i] = shared);
        start += count;
    }
    ranks
}

/// Spearman's rho, -1..=1: the correlation of the ranks, ties sharing the mean of theirs. `None` below two pairs or where
/// one side is all the same.
///
/// # Source
/// [Siegel1956].
pub fn spearman(pairs: &[(f64, f64)]) -> Option<f64> {
    let (a, b): (Vec<f64>, Vec<f64>) = pairs.iter().copied().unzip();
    correlation(&ranks(&a), &ranks(&b))
}

/// Pearson's correlation of equally long lists; `None` below two or where one of them does not vary.
pub(super) fn correlation(a: &[f64], b: &[f64]) -> Option<f64> {
    let n = a.len() as f64;
    if a.len() < 2 {
        return None;
    }
    let (ma, mb) = (a.iter().sum::<f64>() / n, b.iter().sum::<f64>() / n);
    let (mut aa, mut bb, mut ab) = (0.0, 0.0, 0.0);
    for (x, y) in a.iter().zip(b) {
        aa += (x - ma) * (x - ma);
        bb += (y - mb) * (y - mb);
        ab += (x - ma) * (y - mb);
    }
    (aa > 0.0 && bb > 0.0).then(|| ab / (aa * bb).sqrt())
}

/// Kendall's tau-b, -1..=1, which allows for ties. `None` below two pairs or where one side is all the same.
///
/// # Source
/// [Siegel1956] for untied ranks; the correction for ties from memory.
pub fn kendall(pairs: &[(f64, f64)]) -> Option<f64> {
    let (mut score, mut left, mut right) = (0.0, 0.0, 0.0);
    for (i, a) in pairs.iter().enumerate() {
        for b in &pairs[i + 1..] {
            let side = |x: f64, y: f64| f64::from(x.total_cmp(&y) as i8);
            let (x, y) = (side(a.0, b.0), side(a.1, b.1));
            score += x * y;
            left += x * x;
            right += y * y;
        }
    }
    (left > 0.0 && right > 0.0).then(|| score / (left * right).sqrt())
}
