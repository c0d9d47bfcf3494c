//! A trend in proportions: does a share rise or fall with time or generation.

use crate::stats::normal_cdf;

/// Counted at a place: `count` of `n` at `x`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Counted {
    /// Where: generations or days.
    pub x: f64,
    /// How many had it.
    pub count: u64,
    /// Of how many.
    pub n: u64,
    /// Its group: counts are compared within groups only.
    pub group: usize,
}

/// Up to so many animals of the rarer kind the probability is counted out: above, the normal distribution serves (any handbook asks
/// for five expected in each of the groups).
const COUNTED_UP_TO: u64 = 40;
/// Places that are told apart when counting out.
const PLACES: usize = 24;

/// A trend in a share.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ShareTrend {
    /// Change of the share for 1 of x.
    pub slope: f64,
    /// The slope in standard errors where there is no trend; positive where the share rises.
    pub z: f64,
    /// Probability of a rise as steep or steeper by chance, one-sided.
    pub p_rise: f64,
    /// The same for a fall.
    pub p_fall: f64,
}

/// Cochran and Armitage's trend of the share over x, summed over groups that have a share of their own each; `icc` is the
/// correlation of animals within a scoop (0 for none). With few animals of the rarer kind the probabilities are those of all
/// ways in which these could be spread over all that were seen, if that says less than the normal distribution. `None` without
/// two places in a group, or where all or none had it.
///
/// # Source
/// [Armitage1955]; correlation by the design effect 1 + (n - 1) icc.
pub fn share_trend(all: &[Counted], icc: f64) -> Option<ShareTrend> {
    let (mut upward, mut squares, mut variance) = (0.0, 0.0, 0.0);
    for own in by_group(all) {
        let part = trend_in_group(&own, icc);
        upward += part.0;
        squares += part.1;
        variance += part.2;
    }
    if squares <= 1e-9 || variance <= 0.0 {
        return None;
    }
    let z = upward / variance.sqrt();
    let mut trend = ShareTrend {
        slope: upward / squares,
        z,
        p_rise: normal_cdf(-z),
        p_fall: normal_cdf(z),
    };
    if let Some((rise, fall)) = counted_out(all) {
        trend.p_rise = trend.p_rise.max(rise);
        trend.p_fall = trend.p_fall.max(fall);
    }
    Some(trend)
}

fn by_group(all: &[Counted]) -> Vec<Vec<Counted>> {
    let groups = all.iter().map(|g| g.group + 1).max().unwrap_or(0);
    let own = |group| all.iter().filter(move |g| g.group == group && g.n > 0);
    (0..groups)
        .map(|group| own(group).copied().collect())
        .collect()
}

/// What a group adds: covariance of count and place, squares of the places, variance of the covariance where there is no trend.
fn trend_in_group(own: &[Counted], icc: f64) -> (f64, f64, f64) {
    let weight = |g: &Counted| g.n as f64 / (1.0 + (g.n as f64 - 1.0).max(0.0) * icc);
    let n: f64 = own.iter().map(|g| g.n as f64).sum();
    let count: f64 = own.iter().map(|g| g.count as f64).sum();
    let all: f64 = own.iter().map(weight).sum();
    if n == 0.0 || count == 0.0 || count >= n {
        return (0.0, 0.0, 0.0);
    }
    let middle: f64 = own.iter().map(|g| weight(g) * g.x).sum::<f64>() / all;
    let squares: f64 = own.iter().map(|g| weight(g) * (g.x - middle).powi(2)).sum();
    let upward: f64 = own
        .iter()
        .map(|g| weight(g) * (g.count as f64 / g.n as f64) * (g.x - middle))
        .sum();
    let share = count / n;
    (upward, squares, share * (1.0 - share) * squares)
}

/// Probabilities of a rise and of a fall as steep as seen, over all ways to spread the rarer kind of each group over its animals;
/// `None` where there are too many of them.
///
/// # Source
/// The exact conditional test of a trend, any handbook of categorical data: multivariate hypergeometric counts.
fn counted_out(all: &[Counted]) -> Option<(f64, f64)> {
    let n: u64 = all.iter().map(|g| g.n).sum();
    let had: u64 = all.iter().map(|g| g.count).sum();
    let turned = had > n - had;
    if had.min(n - had) > COUNTED_UP_TO {
        return None;
    }
    let low = all.iter().map(|g| g.x).fold(f64::INFINITY, f64::min);
    let high = all.iter().map(|g| g.x).fold(f64::NEG_INFINITY, f64::max);
    let (mut seen, mut ways) = (0, vec![1.0]);
    for own in by_group(all) {
        let places = in_places(&own, turned, (low, high));
        let rare: u64 = places.iter().map(|(x, _)| x).sum();
        seen += places
            .iter()
            .enumerate()
            .map(|(at, (x, _))| at * *x as usize)
            .sum::<usize>();
        ways = together(&ways, &spread(&places, rare as usize));
    }
    let up_to: f64 = ways.iter().take(seen + 1).sum();
    let from: f64 = ways.iter().skip(seen).sum();
    let (rise, fall) = (from.min(1.0), up_to.min(1.0));
    Some(if turned { (fall, rise) } else { (rise, fall) })
}

/// Count of the rarer kind and of all, at each of [`PLACES`] even steps of x between `ends`.
fn in_places(own: &[Counted], turned: bool, ends: (f64, f64)) -> Vec<(u64, u64)> {
    let mut places = vec![(0, 0); PLACES];
    for g in own {
        let at = (g.x - ends.0) / (ends.1 - ends.0).max(1e-12) * (PLACES - 1) as f64;
        let place = &mut places[(at.round() as usize).min(PLACES - 1)];
        place.0 += if turned { g.n - g.count } else { g.count };
        place.1 += g.n;
    }
    places
}

/// Probabilities of sums of two independent numbers.
fn together(a: &[f64], b: &[f64]) -> Vec<f64> {
    let mut both = vec![0.0; a.len() + b.len() - 1];
    for (i, x) in a.iter().enumerate() {
        for (j, y) in b.iter().enumerate() {
            both[i + j] += x * y;
        }
    }
    both
}

/// Probability of each sum of places, where `rare` animals are drawn from all that were seen.
fn spread(places: &[(u64, u64)], rare: usize) -> Vec<f64> {
    let sums = rare * (PLACES - 1) + 1;
    let mut ways = vec![vec![0.0; sums]; rare + 1];
    ways[0][0] = 1.0;
    for (at, (_, n)) in places.iter().enumerate().filter(|(_, (_, n))| *n > 0) {
        let most = rare.min(*n as usize);
        let mut choose = vec![1.0f64; most + 1];
        for k in 1..=most {
            choose[k] = choose[k - 1] * (*n as f64 - k as f64 + 1.0) / k as f64;
        }
        for taken in (0..=rare).rev() {
            let mut row = vec![0.0; sums];
            for (k, c) in choose.iter().enumerate().take(taken.min(most) + 1) {
                for (to, from) in row[k * at..].iter_mut().zip(&ways[taken - k]) {
                    *to += c * from;
                }
            }
            ways[taken] = row;
        }
    }
    let last = ways.swap_remove(rare);
    let whole: f64 = last.iter().sum();
    last.iter().map(|w| w / whole).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Malformations by the mother's drinks a day, the example of a linear trend in Agresti's handbooks of categorical data: squared z
    /// 6.57 (from memory; printed with n - 1 in place of n, which changes nothing here).
    #[test]
    fn the_example_of_the_handbooks() {
        let rows = [
            (0.0, 48, 17114),
            (0.5, 38, 14502),
            (1.5, 5, 793),
            (4.0, 1, 127),
            (7.0, 1, 38),
        ];
        let groups: Vec<Counted> = rows
            .into_iter()
            .map(|(x, count, n)| Counted {
                x,
                count,
                n,
                group: 0,
            })
            .collect();
        let found = share_trend(&groups, 0.0).expect("a trend");
        assert!((found.z * found.z - 6.57).abs() < 0.01, "{found:?}");
        assert!(found.slope > 0.0);
    }

    /// Two groups are Fisher's exact test: the tea tasting, 3 of 4 against 1 of 4, one-sided 17/70 (Fisher's own example).
    #[test]
    fn two_groups_are_fishers_test() {
        let groups = [
            Counted {
                x: 0.0,
                count: 1,
                n: 4,
                group: 0,
            },
            Counted {
                x: 1.0,
                count: 3,
                n: 4,
                group: 0,
            },
        ];
        let (rise, _) = counted_out(&groups).expect("few");
        assert!((rise - 17.0 / 70.0).abs() < 1e-12, "{rise}");
        let found = share_trend(&groups, 0.0).expect("a trend");
        assert!(found.p_rise >= rise);
    }

    #[test]
    fn nothing_is_told_without_both_kinds_and_two_places() {
        let at = |x, count, n| Counted {
            x,
            count,
            n,
            group: 0,
        };
        assert_eq!(share_trend(&[at(0.0, 0, 9), at(1.0, 0, 9)], 0.0), None);
        assert_eq!(share_trend(&[at(0.0, 9, 9), at(1.0, 9, 9)], 0.0), None);
        assert_eq!(share_trend(&[at(1.0, 2, 9), at(1.0, 3, 9)], 0.0), None);
        assert_eq!(share_trend(&[], 0.1), None);
    }

    /// A lamp that makes animals look off-type moves the share of a group, not the trend within.
    #[test]
    fn a_shift_between_groups_is_no_trend() {
        let at = |x, count, group| Counted {
            x,
            count,
            n: 30,
            group,
        };
        let all = [at(0.0, 1, 0), at(1.0, 1, 0), at(2.0, 6, 1), at(3.0, 6, 1)];
        let found = share_trend(&all, 0.0).expect("a trend");
        assert!(found.z.abs() < 1e-9 && found.p_rise > 0.3, "{found:?}");
        let one = all.map(|c| Counted { group: 0, ..c });
        assert!(share_trend(&one, 0.0).expect("a trend").p_rise < 0.01);
    }
}
