//! Counts that vary more than coin tosses: animals of one scoop resemble each other, so scoops differ more than chance alone
//! makes them. A scoop's share is beta distributed about the tank's, its count binomial about that.
//!
//! Written with the mean share and the intraclass correlation `icc` = 1 / (alpha + beta + 1), 0..1: the correlation between two
//! animals of one scoop. At 0 everything here is the plain binomial, exactly.
//!
//! # Source
//! [Skellam1948] for the distribution; limits by tail areas as [Newcombe1998] method 5.

use super::Interval;

/// Most steps of the search for a limit, and how near it comes: more digits than anybody reads.
const STEPS: usize = 120;
const NEAR: f64 = 1.0e-12;

/// Largest correlation that is taken: at 1 a scoop would be one animal.
pub const ICC_MOST: f64 = 0.999;

/// Probabilities of 0..=`n` counted in one scoop of `n`, from a tank with share `share` (0..=1) and correlation `icc`
/// (0..=[`ICC_MOST`], taken to its nearer end outside).
pub fn pmf_all(n: u64, share: f64, icc: f64) -> Vec<f64> {
    let n = n as usize;
    let p = share.clamp(0.0, 1.0);
    let q = 1.0 - p;
    let mut all = vec![0.0; n + 1];
    if p == 0.0 || q == 0.0 {
        all[if p == 0.0 { 0 } else { n }] = 1.0;
        return all;
    }
    let icc = if icc.is_nan() { 0.0 } else { icc };
    // An urn that gets `r` of a ball added for each ball drawn: the same distribution, without gamma functions, and it turns
    // into the binomial at r = 0 without loss of digits.
    let r = icc.clamp(0.0, ICC_MOST) / (1.0 - icc.clamp(0.0, ICC_MOST));
    let mut log: f64 = (0..n)
        .map(|i| ((q + i as f64 * r) / (1.0 + i as f64 * r)).ln())
        .sum();
    all[0] = log.exp();
    for k in 0..n {
        let (drawn, left) = (k as f64, (n - k) as f64);
        log += (left * (p + drawn * r)).ln() - ((drawn + 1.0) * (q + (left - 1.0) * r)).ln();
        all[k + 1] = log.exp();
    }
    all
}

/// Probability of exactly `count` in one scoop of `n`; 0 above `n`.
pub fn pmf(count: u64, n: u64, share: f64, icc: f64) -> f64 {
    let all = pmf_all(n, share, icc);
    all.get(count as usize).copied().unwrap_or(0.0)
}

/// Probability of at most `count` in one scoop of `n`, 0..=1.
pub fn cdf(count: u64, n: u64, share: f64, icc: f64) -> f64 {
    up_to(&pmf_all(n, share, icc), count)
}

/// Probabilities of 0..=sum of `sizes` counted in several scoops together, each with a share of its own about `share`.
pub fn pmf_of_total(sizes: &[u64], share: f64, icc: f64) -> Vec<f64> {
    let mut total = vec![1.0];
    let mut known: Option<(u64, Vec<f64>)> = None;
    for &n in sizes {
        // Scoops are often of one size.
        let one = match known.take().filter(|(size, _)| *size == n) {
            Some((_, one)) => one,
            None => pmf_all(n, share, icc),
        };
        let mut both = vec![0.0; total.len() + one.len() - 1];
        for (i, a) in total.iter().enumerate() {
            for (j, b) in one.iter().enumerate() {
                both[i + j] += a * b;
            }
        }
        total = both;
        known = Some((n, one));
    }
    total
}

/// Lower limit for the tank's share where `count` were counted in scoops of `sizes` together: the share at which `count` or
/// more would have come with probability 1 - `confidence`. 0 where none were counted.
pub fn lower_limit(count: u64, sizes: &[u64], icc: f64, confidence: f64) -> f64 {
    let count = count.min(sizes.iter().sum());
    if count == 0 {
        return 0.0;
    }
    let tail = (1.0 - confidence).clamp(1.0e-9, 1.0);
    share_where(|share| {
        let reached = 1.0 - up_to(&pmf_of_total(sizes, share, icc), count - 1);
        reached - tail
    })
}

/// Upper limit for the tank's share where `count` were counted in scoops of `sizes` together: the share at which `count` or
/// fewer would have come with probability 1 - `confidence`. 1 where all were counted.
pub fn upper_limit(count: u64, sizes: &[u64], icc: f64, confidence: f64) -> f64 {
    let n: u64 = sizes.iter().sum();
    if count >= n {
        return 1.0;
    }
    let tail = (1.0 - confidence).clamp(1.0e-9, 1.0);
    share_where(|share| tail - up_to(&pmf_of_total(sizes, share, icc), count))
}

/// Both limits, each with half of 1 - `level` outside; 0..=1 where nothing was counted. Where the correlation is the true one
/// the interval holds the tank's share in at least `level` of all cases, whatever the share.
pub fn limits(count: u64, sizes: &[u64], icc: f64, level: f64) -> Interval {
    let confidence = 0.5 * (1.0 + level);
    Interval {
        low: lower_limit(count, sizes, icc, confidence),
        high: upper_limit(count, sizes, icc, confidence),
    }
}

/// Correlation within scoops from their counts: (count, n) of each, by analysis of variance, 0..=[`ICC_MOST`]. `None` below two
/// scoops, without a pair of animals in any, or where all animals are alike, which says nothing about it.
///
/// # Source
/// [RidoutDemetrioFirth1999], the estimator by analysis of variance.
pub fn icc_of(scoops: &[(u64, u64)]) -> Option<f64> {
    icc_within(&[scoops.to_vec()])
}

/// The same from scoops of several tanks, each compared with its own tank's share: tanks that differ are no correlation within
/// scoops.
///
/// # Source
/// [RidoutDemetrioFirth1999], the estimator by analysis of variance, sums of squares pooled over tanks.
pub fn icc_within(tanks: &[Vec<(u64, u64)>]) -> Option<f64> {
    let (mut within, mut between, mut size) = (0.0, 0.0, 0.0);
    let (mut within_freedom, mut between_freedom) = (0.0, 0.0);
    for tank in tanks {
        let used: Vec<(f64, f64)> = tank
            .iter()
            .filter(|(_, n)| *n > 0)
            .map(|&(x, n)| (x.min(n) as f64, n as f64))
            .collect();
        let all: f64 = used.iter().map(|(_, n)| n).sum();
        if used.len() < 2 {
            continue;
        }
        let share = used.iter().map(|(x, _)| x).sum::<f64>() / all;
        within += used.iter().map(|(x, n)| x * (n - x) / n).sum::<f64>();
        between += used
            .iter()
            .map(|(x, n)| n * (x / n - share).powi(2))
            .sum::<f64>();
        size += all - used.iter().map(|(_, n)| n * n).sum::<f64>() / all;
        within_freedom += all - used.len() as f64;
        between_freedom += used.len() as f64 - 1.0;
    }
    if between_freedom == 0.0 || within_freedom <= 0.0 || within + between == 0.0 {
        return None;
    }
    let (within, between) = (within / within_freedom, between / between_freedom);
    let size = size / between_freedom;
    let icc = (between - within) / (between + (size - 1.0) * within);
    Some(icc.clamp(0.0, ICC_MOST))
}

/// Sum of the first probabilities, up to and with `count`.
fn up_to(probabilities: &[f64], count: u64) -> f64 {
    let sum: f64 = probabilities.iter().take(count as usize + 1).sum();
    sum.clamp(0.0, 1.0)
}

/// The share, 0..=1, at which `excess` is 0: larger shares make larger counts likelier, so it rises throughout. False position that
/// keeps the root between its ends (Illinois), every third step a halving.
fn share_where(excess: impl Fn(f64) -> f64) -> f64 {
    let (mut low, mut high) = (0.0, 1.0);
    let (mut at_low, mut at_high) = (excess(low), excess(high));
    for step in 0..STEPS {
        let straight = (low * at_high - high * at_low) / (at_high - at_low);
        let middle = if step % 3 == 2 || !straight.is_finite() {
            0.5 * (low + high)
        } else {
            straight
        };
        let at_middle = excess(middle);
        if high - low < NEAR || at_middle.abs() < NEAR {
            return middle;
        }
        if at_middle < 0.0 {
            (low, at_low, at_high) = (middle, at_middle, 0.5 * at_high);
        } else {
            (high, at_high, at_low) = (middle, at_middle, 0.5 * at_low);
        }
    }
    0.5 * (low + high)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stats::clopper_pearson;

    #[test]
    fn the_boys_of_saxony() {
        // Boys among the first 12 children of 6115 families, fitted with alpha 34.09558 and beta 31.5715: the expected counts
        // printed in many handbooks after Geissler's census data (figures from memory).
        let (alpha, beta) = (34.09558, 31.5715);
        let printed = [
            2.3, 22.6, 104.8, 310.9, 655.7, 1036.2, 1257.9, 1182.1, 853.6, 461.9, 177.9, 43.8, 5.2,
        ];
        let all = pmf_all(12, alpha / (alpha + beta), 1.0 / (alpha + beta + 1.0));
        for (have, want) in all.iter().zip(printed) {
            assert!((6115.0 * have - want).abs() < 0.06, "{have} {want}");
        }
    }

    #[test]
    fn a_flat_prior_gives_every_count_alike() {
        // alpha = beta = 1: the rule of succession's uniform distribution of counts.
        for p in pmf_all(20, 0.5, 1.0 / 3.0) {
            assert!((p - 1.0 / 21.0).abs() < 1e-13);
        }
    }

    #[test]
    fn without_correlation_it_is_the_binomial() {
        for (count, sizes) in [
            (3, vec![20]),
            (0, vec![8, 7]),
            (15, vec![9, 6]),
            (5, vec![40]),
        ] {
            let n: u64 = sizes.iter().sum();
            let (here, there) = (
                limits(count, &sizes, 0.0, 0.95),
                clopper_pearson(count, n, 0.95),
            );
            assert!((here.low - there.low).abs() < 1e-9, "{here:?} {there:?}");
            assert!((here.high - there.high).abs() < 1e-9, "{here:?} {there:?}");
        }
    }

    #[test]
    fn probabilities_add_up_and_have_their_moments() {
        for (n, share, icc) in [
            (20, 0.8, 0.05),
            (600, 0.01, 0.3),
            (1, 0.4, 0.9),
            (50, 1.0, 0.1),
        ] {
            let all = pmf_all(n, share, icc);
            let sum: f64 = all.iter().sum();
            let mean: f64 = all.iter().enumerate().map(|(k, p)| k as f64 * p).sum();
            let square: f64 = all
                .iter()
                .enumerate()
                .map(|(k, p)| (k as f64 - mean).powi(2) * p)
                .sum();
            let n = n as f64;
            // The variance is the binomial's times 1 + (n - 1) icc: any handbook's design effect.
            let variance = n * share * (1.0 - share) * (1.0 + (n - 1.0) * icc);
            assert!((sum - 1.0).abs() < 1e-10, "{sum}");
            assert!((mean - n * share).abs() < 1e-8 * n, "{mean}");
            assert!(
                (square - variance).abs() < 1e-7 * variance.max(1.0),
                "{square} {variance}"
            );
        }
    }

    #[test]
    fn several_scoops_tell_more_than_one_large_one() {
        let one = limits(32, &[40], 0.05, 0.95);
        let four = limits(32, &[10; 4], 0.05, 0.95);
        let tosses = limits(32, &[40], 0.0, 0.95);
        assert!(one.low < four.low && four.low < tosses.low);
        assert!(one.high > four.high && four.high > tosses.high);
        assert_eq!(
            limits(0, &[], 0.05, 0.95),
            Interval {
                low: 0.0,
                high: 1.0
            }
        );
        assert_eq!(limits(0, &[5], 0.05, 0.95).low, 0.0);
        assert_eq!(limits(5, &[5], 0.05, 0.95).high, 1.0);
        assert_eq!(limits(9, &[5], 0.05, 0.95).high, 1.0);
    }

    #[test]
    fn the_correlation_by_hand() {
        // Two scoops of two: one all, one none. Within nothing differs, so everything lies between.
        assert_eq!(icc_of(&[(2, 2), (0, 2)]), Some(ICC_MOST));
        // Each half and half: less between than chance makes, taken as none.
        assert_eq!(icc_of(&[(5, 10), (5, 10)]), Some(0.0));
        // 8, 5 and 2 of 10: within 57/10 / 27 = .21111 (1.6 + 2.5 + 1.6), between 10 (.09 + 0 + .09) / 2 = .9, size 10.
        let want = (0.9 - 5.7 / 27.0) / (0.9 + 9.0 * 5.7 / 27.0);
        assert!((icc_of(&[(8, 10), (5, 10), (2, 10)]).expect("it is told") - want).abs() < 1e-12);
        assert_eq!(icc_of(&[(10, 10), (10, 10)]), None);
        assert_eq!(icc_of(&[(3, 10)]), None);
    }
}
