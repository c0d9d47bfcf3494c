//! How far the chosen ones stand above all, in standard deviations of a normal measure.

use statrs::distribution::{Continuous, ContinuousCDF, Normal};
use statrs::function::beta::beta_reg;
use statrs::function::gamma::ln_gamma;

/// Ends and steps of the integrals over the standard normal distribution: the trapezoid rule is exact to more than ten
/// digits here, since the integrands fall off as fast as the distribution itself.
const REACH: f64 = 10.0;
const STEPS: usize = 1280;

/// Mean of the best share of a very large group, 0 for a share of 1; `None` outside 0..=1 and for 0.
///
/// # Source
/// i = z / p, [FalconerMackay1996] chapter 11 and appendix table A.
pub fn intensity(share: f64) -> Option<f64> {
    let normal = standard();
    if share == 1.0 {
        return Some(0.0);
    }
    (share > 0.0 && share < 1.0).then(|| normal.pdf(normal.inverse_cdf(1.0 - share)) / share)
}

/// Expected mean of the best `chosen` of a group of `of`, exact for any size of the group; 0 where all are chosen, `None`
/// where none is or more than there are.
///
/// # Source
/// Mean of expected order statistics; [Burrows1972] gives the usual approximation.
pub fn intensity_of_group(chosen: usize, of: usize) -> Option<f64> {
    if chosen == 0 || chosen > of {
        return None;
    }
    if chosen == of {
        return Some(0.0);
    }
    let (k, n) = (chosen as f64, of as f64);
    // One animal at x is among the best k where fewer than k of the others stand above it.
    Some(n / k * integral(|x, density, below| x * density * beta_reg(n - k, k, below)))
}

/// Expected value of the animal that stands `rank`-th from the top (1 = best) in a group of `of`; `None` where there is no
/// such rank.
///
/// # Source
/// [Harter1961].
pub fn expected_order_statistic(of: usize, rank: usize) -> Option<f64> {
    if rank == 0 || rank > of {
        return None;
    }
    let (n, r) = (of as f64, rank as f64);
    let ways = ln_gamma(n + 1.0) - ln_gamma(r) - ln_gamma(n - r + 1.0);
    let power = |base: f64, exponent: f64| {
        if exponent == 0.0 {
            0.0
        } else {
            exponent * base.ln()
        }
    };
    Some(integral(|x, density, below| {
        x * density * (ways + power(1.0 - below, r - 1.0) + power(below, n - r)).exp()
    }))
}

fn standard() -> Normal {
    Normal::standard()
}

/// Integral of a function of x, its normal density and the share below it. Shares of 0 and 1 are kept a hair away from the
/// ends, where powers of them would have no logarithm.
fn integral(of: impl Fn(f64, f64, f64) -> f64) -> f64 {
    let normal = standard();
    let step = 2.0 * REACH / STEPS as f64;
    (1..STEPS)
        .map(|i| {
            let x = -REACH + step * i as f64;
            let below = normal.cdf(x).clamp(1e-300, 1.0 - 1e-16);
            step * of(x, normal.pdf(x), below)
        })
        .sum()
}
