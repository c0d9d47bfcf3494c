//! Shares of several categories at once.

use super::Interval;

/// Sison and Glaz's simultaneous intervals for the shares of all categories, with exact probabilities; each 0..=1 when nothing
/// was counted.
///
/// # Source
/// [SisonGlaz1995]; probabilities by convolving truncated Poisson counts [Levin1981].
pub fn sison_glaz(counts: &[u64], level: f64) -> Vec<Interval> {
    let n: u64 = counts.iter().sum();
    if n == 0 {
        return vec![
            Interval {
                low: 0.0,
                high: 1.0
            };
            counts.len()
        ];
    }
    let (mut c, mut held) = (0, within(counts, n, 0));
    let mut next = within(counts, n, 1);
    while next < level && c < n {
        c += 1;
        (held, next) = (next, within(counts, n, c + 1));
    }
    let delta = if next > held {
        ((level - held) / (next - held)).clamp(0.0, 1.0)
    } else {
        0.0
    };
    counts
        .iter()
        .map(|&x| Interval {
            low: ((x as f64 - c as f64) / n as f64).clamp(0.0, 1.0),
            high: ((x as f64 + c as f64 + 2.0 * delta) / n as f64).clamp(0.0, 1.0),
        })
        .collect()
}

/// Probability that every count of a sample like this one lies within `c` of its expected number.
fn within(counts: &[u64], n: u64, c: u64) -> f64 {
    let mut sums = vec![1.0];
    let mut least = 0;
    for &x in counts {
        let (low, high) = (x.saturating_sub(c), (x + c).min(n));
        let part: Vec<f64> = (low..=high).map(|k| poisson(k, x as f64)).collect();
        let mut next = vec![0.0; sums.len() + part.len() - 1];
        for (i, a) in sums.iter().enumerate() {
            for (j, b) in part.iter().enumerate() {
                next[i + j] += a * b;
            }
        }
        sums = next;
        least += low;
    }
    let at = (n - least) as usize;
    sums.get(at).map_or(0.0, |p| p / poisson(n, n as f64))
}

fn poisson(k: u64, mean: f64) -> f64 {
    if mean == 0.0 {
        return if k == 0 { 1.0 } else { 0.0 };
    }
    let k_f = k as f64;
    (k_f * mean.ln() - mean - statrs::function::factorial::ln_factorial(k)).exp()
}
