//! Shares in a tank of known size: those in the cup are no longer in doubt, so the range is narrower.

use super::tail;

/// Least and most animals of `population` that may have what `count` of `n` netted ones have, two-sided at `level`, by exact
/// tail areas. The netted ones are taken without putting back. 0..=`population` where nothing was netted.
///
/// # Source
/// Hypergeometric tails; [Cochran1977] 3.6 for the case.
pub fn count_limits(count: u64, n: u64, population: u64, level: f64) -> (u64, u64) {
    let n = n.min(population);
    let count = count.min(n);
    // What was seen is there; what was not netted may be either.
    let (least, most) = (count, population - (n - count));
    let tail = tail(level);
    let low = (least..=most).find(|m| at_least(count, n, *m, population) > tail);
    let high = (least..=most)
        .rev()
        .find(|m| at_most(count, n, *m, population) > tail);
    (low.unwrap_or(least), high.unwrap_or(most))
}

/// Animals to net for a share known to within `half` either way where it is about `share`, from a tank of `population` (`None` =
/// so many that it does not matter), with `t` standard errors either way; rounded up.
///
/// # Source
/// [Cochran1977] 4.1 and 4.2.
pub fn sample_size(share: f64, half: f64, t: f64, population: Option<u64>) -> u64 {
    let plain = t * t * share * (1.0 - share) / (half * half);
    let n = match population {
        Some(size) if size > 0 => plain / (1.0 + (plain - 1.0) / size as f64),
        _ => plain,
    };
    // A whole number that came out a rounding error too high is still that number.
    (n - 1e-9).ceil().max(1.0) as u64
}

/// Probabilities of 0..=`n` good ones among `n` taken without putting back from `population` of which `good` are good; numbers
/// above the population are taken as the population.
pub fn hypergeometric(population: u64, good: u64, n: u64) -> Vec<f64> {
    let (good, n) = (good.min(population), n.min(population));
    (0..=n)
        .map(|k| probability(k, n, good, population))
        .collect()
}

fn at_least(count: u64, n: u64, marked: u64, population: u64) -> f64 {
    (count..=n.min(marked))
        .map(|k| probability(k, n, marked, population))
        .sum()
}

/// Chance of `count` marked ones or fewer among `n` taken without putting back from `population` of which `marked` are;
/// `n` and `marked` must not be above `population`, nor `count` above `n`.
///
/// # Source
/// Hypergeometric distribution.
pub fn at_most(count: u64, n: u64, marked: u64, population: u64) -> f64 {
    (0..=count.min(marked))
        .map(|k| probability(k, n, marked, population))
        .sum()
}

/// Probability of `k` marked among `n` taken from `population` of which `marked` are.
fn probability(k: u64, n: u64, marked: u64, population: u64) -> f64 {
    if k > marked || n - k > population - marked {
        return 0.0;
    }
    (choose(marked, k) + choose(population - marked, n - k) - choose(population, n)).exp()
}

/// Natural logarithm of the number of ways to choose `k` of `n`.
fn choose(n: u64, k: u64) -> f64 {
    statrs::function::factorial::ln_binomial(n, k)
}
