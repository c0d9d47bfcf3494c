//! How far two raters of the same animals agree on the rung, and whether one of them grades softer.

use statrs::distribution::{ContinuousCDF, StudentsT};

use super::kappa::{Kappa, Weights, kappa};
use super::rank::spearman;
use crate::ladder::Rung;
use crate::stats::{Interval, wilson};

/// Level of every interval here.
pub const LEVEL: f64 = 0.95;
/// Two-sided standard normal quantile of [`LEVEL`].
const LEVEL_ERRORS: f64 = 1.959_963_984_540_054;
/// Photos from which a verdict on a bias is given; below, photos may share an error of their own (house rule).
pub const FEWEST_PHOTOS: usize = 10;
/// Animals at a rung from which a verdict on that rung is given (house rule).
pub const FEWEST_AT_RUNG: f64 = 30.0;
const RUNGS: usize = 6;

/// The rungs that two raters gave the same animal.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Pair {
    /// By the first rater.
    pub first: Rung,
    /// By the second rater.
    pub second: Rung,
    /// Photo the animal is in: animals of one photo may share an error.
    pub photo: i64,
}

impl Pair {
    fn difference(&self) -> f64 {
        self.second.index() as f64 - self.first.index() as f64
    }
}

/// Mean difference, second rater minus first, in rungs.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Bias {
    /// Animals; a half counts for each of two rungs where the raters' mean lies between them.
    pub animals: f64,
    /// Photos they are in.
    pub photos: usize,
    /// Mean of second minus first, in rungs; above 0 the second rater is softer.
    pub shift: f64,
    /// Interval; `None` below two photos.
    pub interval: Option<Interval>,
    /// True where animals and photos are enough for a verdict and the interval leaves out 0.
    pub is_called: bool,
    /// True where animals and photos are enough for a verdict.
    pub is_judged: bool,
}

/// Agreement of two raters.
#[derive(Debug, Clone, PartialEq)]
pub struct Agreement {
    /// Animals rated by both.
    pub animals: usize,
    /// Photos they are in.
    pub photos: usize,
    /// Counts, first rater down, second across, G0 first.
    pub table: [[u32; RUNGS]; RUNGS],
    /// Kappa with quadratic weights over the six rungs; `None` where one rung is all that was given.
    pub kappa: Option<Kappa>,
    /// Its interval, over photos where a photo has several animals.
    pub kappa_interval: Option<Interval>,
    /// Share of the same rung, with its interval.
    pub exact: (f64, Interval),
    /// Share at most one rung apart, with its interval.
    pub within_one: (f64, Interval),
    /// Rank correlation; `None` where one rater gave one rung only.
    pub rank: Option<f64>,
    /// Mean difference over all animals.
    pub bias: Bias,
    /// The same by rung of the mean of both raters; `None` where nothing stands there.
    pub by_rung: [Option<Bias>; RUNGS],
}

/// Agreement of all pairs; `None` where there are none.
pub fn agreement(pairs: &[Pair]) -> Option<Agreement> {
    if pairs.is_empty() {
        return None;
    }
    let mut table = [[0u32; RUNGS]; RUNGS];
    for pair in pairs {
        table[pair.first.index()][pair.second.index()] += 1;
    }
    let n = pairs.len();
    let share = |most: usize| {
        let close = pairs
            .iter()
            .filter(|p| p.first.index().abs_diff(p.second.index()) <= most);
        let count = close.count();
        (
            count as f64 / n as f64,
            wilson(count as u64, n as u64, LEVEL),
        )
    };
    let numbers: Vec<(f64, f64)> = pairs
        .iter()
        .map(|p| (p.first.index() as f64, p.second.index() as f64))
        .collect();
    let kappa = kappa_of(pairs);
    let all: Vec<(f64, &Pair)> = pairs.iter().map(|pair| (1.0, pair)).collect();
    Some(Agreement {
        animals: n,
        photos: photos(pairs.iter()),
        table,
        kappa,
        kappa_interval: kappa.map(|kappa| kappa_interval(pairs, &kappa)),
        exact: share(0),
        within_one: share(1),
        rank: spearman(&numbers),
        bias: bias(&all, 1, 0.0),
        by_rung: std::array::from_fn(|rung| bias_at(pairs, rung)),
    })
}

fn photos<'a>(pairs: impl Iterator<Item = &'a Pair>) -> usize {
    let all: std::collections::BTreeSet<i64> = pairs.map(|pair| pair.photo).collect();
    all.len()
}

/// Kappa with quadratic weights over the six rungs of the pairs.
pub fn kappa_of(pairs: &[Pair]) -> Option<Kappa> {
    let mut table = vec![vec![0.0; RUNGS]; RUNGS];
    for pair in pairs {
        table[pair.first.index()][pair.second.index()] += 1.0;
    }
    kappa(&table, Weights::Quadratic)
}

/// By the usual standard error where each animal has a photo of its own; else by leaving out photo after photo [Miller1974].
fn kappa_interval(pairs: &[Pair], whole: &Kappa) -> Interval {
    let count = photos(pairs.iter());
    if count == pairs.len() || count < 2 {
        return whole.interval(LEVEL_ERRORS);
    }
    let mut numbers: Vec<i64> = pairs.iter().map(|pair| pair.photo).collect();
    numbers.sort_unstable();
    numbers.dedup();
    let without: Vec<f64> = numbers
        .iter()
        .map(|photo| {
            let rest: Vec<Pair> = pairs
                .iter()
                .filter(|p| p.photo != *photo)
                .copied()
                .collect();
            kappa_of(&rest).map_or(whole.value, |kappa| kappa.value)
        })
        .collect();
    let mean = without.iter().sum::<f64>() / without.len() as f64;
    let squares: f64 = without.iter().map(|v| (v - mean) * (v - mean)).sum();
    let g = count as f64;
    let error = ((g - 1.0) / g * squares).sqrt().max(whole.error);
    Kappa { error, ..*whole }.interval(quantile(1.0 - LEVEL, g - 1.0))
}

/// Pairs whose mean stands at `rung`: those between two rungs count half at each. A mean of both is taken because the rung
/// of one alone would draw its own chance errors towards itself.
fn bias_at(pairs: &[Pair], rung: usize) -> Option<Bias> {
    let here: Vec<(f64, &Pair)> = pairs
        .iter()
        .filter_map(|pair| {
            let twice = pair.first.index() + pair.second.index();
            match twice.abs_diff(2 * rung) {
                0 => Some((1.0, pair)),
                1 => Some((0.5, pair)),
                _ => None,
            }
        })
        .collect();
    // Six rungs are looked at: each is judged so that all six together keep the level.
    (!here.is_empty()).then(|| bias(&here, RUNGS, FEWEST_AT_RUNG))
}

/// Weighted mean difference with an interval over photos, at the level kept by `looks` of them together.
fn bias(pairs: &[(f64, &Pair)], looks: usize, fewest: f64) -> Bias {
    let weight: f64 = pairs.iter().map(|(w, _)| w).sum();
    let shift = pairs.iter().map(|(w, p)| w * p.difference()).sum::<f64>() / weight;
    let mut by_photo = std::collections::BTreeMap::new();
    for (w, pair) in pairs {
        *by_photo.entry(pair.photo).or_insert(0.0) += w * (pair.difference() - shift);
    }
    let photos = by_photo.len();
    let g = photos as f64;
    let squares: f64 = by_photo.values().map(|v: &f64| v * v).sum();
    let interval = (photos > 1).then(|| {
        let error = (g / (g - 1.0) * squares).sqrt() / weight;
        let half = quantile((1.0 - LEVEL) / looks as f64, g - 1.0) * error;
        Interval {
            low: shift - half,
            high: shift + half,
        }
    });
    let is_judged = photos >= FEWEST_PHOTOS && weight >= fewest;
    let outside = interval.is_some_and(|i| i.low > 0.0 || i.high < 0.0);
    Bias {
        animals: weight,
        photos,
        shift,
        interval,
        is_called: is_judged && outside,
        is_judged,
    }
}

/// Upper quantile of Student's t so that `outside` lies beyond it on both sides together.
fn quantile(outside: f64, freedom: f64) -> f64 {
    StudentsT::new(0.0, 1.0, freedom.max(1.0))
        .map_or(LEVEL_ERRORS, |t| t.inverse_cdf(1.0 - outside / 2.0))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn pair(first: usize, second: usize, photo: i64) -> Pair {
        let rung = |i| Rung::from_index(i).expect("a rung");
        Pair {
            first: rung(first),
            second: rung(second),
            photo,
        }
    }

    #[test]
    fn counts_and_conditioning_on_the_mean() {
        let pairs = [pair(3, 3, 1), pair(3, 4, 2), pair(4, 3, 3), pair(2, 4, 4)];
        let found = agreement(&pairs).expect("pairs");
        assert_eq!((found.animals, found.photos), (4, 4));
        assert_eq!((found.exact.0, found.within_one.0), (0.25, 0.75));
        assert_eq!(
            (found.table[3][4], found.table[4][3], found.table[2][4]),
            (1, 1, 1)
        );
        let at_three = found.by_rung[3].expect("some stand there");
        // 3/3 and 2/4 whole, the two between 3 and 4 half: (0 + 2 + 0.5 - 0.5) / 3.
        assert!(
            (at_three.animals - 3.0).abs() < 1e-12 && (at_three.shift - 2.0 / 3.0).abs() < 1e-12
        );
        assert!(!at_three.is_judged && found.by_rung[0].is_none());
    }

    #[test]
    fn animals_of_one_photo_do_not_count_as_many() {
        let apart: Vec<Pair> = (0..40)
            .map(|i| pair(2, 2 + usize::from(i % 2 == 0), i))
            .collect();
        let together: Vec<Pair> = (0..40)
            .map(|i| pair(2, 2 + usize::from(i % 2 == 0), i % 2))
            .collect();
        let of = |pairs: &[Pair]| agreement(pairs).expect("pairs").bias;
        assert!(of(&apart).is_called);
        assert!(!of(&together).is_judged && !of(&together).is_called);
        let width = |b: Bias| b.interval.map_or(0.0, |i| i.high - i.low);
        assert!(width(of(&together)) > 5.0 * width(of(&apart)));
    }

    #[test]
    fn nothing_to_compare() {
        assert_eq!(agreement(&[]), None);
        assert_eq!(agreement(&[pair(3, 3, 1)]).expect("one").kappa, None);
    }
}
