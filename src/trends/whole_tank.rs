//! What scoops say of the whole tank: shares with ranges that allow for scoops differing, and how many more to net.

use crate::ladder::Rung;
use crate::scoop::{KeptAnimal, PastScoop};
use crate::stats::Interval;
use crate::stats::beta_binomial::{limits, lower_limit, upper_limit};
use crate::stats::finite::count_limits;

/// Confidence level of every range.
pub const LEVEL: f64 = 0.95;
/// Most animals that are proposed to be netted: beyond that the wish is no sensible one.
const MOST_MORE: u64 = 600;

/// A share of the tank.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TankShare {
    /// The rung.
    pub rung: Rung,
    /// Animals that stand on it.
    pub on: u64,
    /// Range of the share on it: the lower end from those that stand there for sure, the upper as if all that may stand
    /// there did. Of the best rung the same as at or above it.
    pub on_range: Interval,
    /// Animals at or above it, and the range of their share.
    pub above: AtOrAbove,
    /// Least and most animals of the tank at or above, where its size was said and the formulas hold.
    pub of_tank: Option<(u64, u64)>,
}

/// Animals of some scoops that stand at or above a rung.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct AtOrAbove {
    /// By their point values.
    pub count: u64,
    /// For sure.
    pub sure: u64,
    /// Too close to call between below and at or above.
    pub undecided: u64,
    /// Range of the share at [`LEVEL`]: the lower end from the sure ones, the upper as if all undecided ones stood there.
    pub range: Interval,
}

/// The judged animals of `scoops` at or above `rung`; `icc` is the correlation within scoops.
pub fn at_or_above(rung: Rung, scoops: &[&PastScoop], icc: f64) -> AtOrAbove {
    let open = |a: &KeptAnimal| {
        a.between
            .is_some_and(|(low, high)| low < rung && rung <= high)
    };
    let up = |a: &KeptAnimal| a.rung.is_some_and(|r| r >= rung);
    let sure = count(scoops, |a| up(a) && !open(a));
    let undecided = count(scoops, open);
    AtOrAbove {
        count: count(scoops, up),
        sure,
        undecided,
        range: between(sure, sure + undecided, &sizes(scoops), icc),
    }
}

/// Range of a share where `sure` animals have it and `may` have it at most.
fn between(sure: u64, may: u64, sizes: &[u64], icc: f64) -> Interval {
    let confidence = 0.5 * (1.0 + LEVEL);
    Interval {
        low: lower_limit(sure, sizes, icc, confidence),
        high: upper_limit(may, sizes, icc, confidence),
    }
}

fn sizes(scoops: &[&PastScoop]) -> Vec<u64> {
    scoops.iter().map(|s| s.judged().count() as u64).collect()
}

/// What is known of a tank.
#[derive(Debug, Clone, PartialEq)]
pub struct WholeTank {
    /// Scoops that were taken together.
    pub scoops: usize,
    /// Judged animals in them.
    pub animals: u64,
    /// Off-type animals among them.
    pub off_type: u64,
    /// Range of their share.
    pub off_type_range: Interval,
    /// Rungs, best first.
    pub rungs: Vec<TankShare>,
    /// Correlation within scoops that was allowed for.
    pub icc: f64,
    /// Why the tank's size could not be used; `None` where it was not said or was used.
    pub size_unused: Option<SizeUnused>,
}

/// Why the size of a tank makes no range narrower.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum SizeUnused {
    /// The animals of earlier scoops were put back and may have been met again.
    PutBack,
    /// More animals were netted than the tank is said to hold.
    TooSmall,
}

/// Pools `scoops` of one tank in one state; photos of the same animals again are left out. `icc` is the correlation within scoops,
/// `population` the number of animals in the tank where it is known: it is used only within one scoop, or where all scoops but
/// the last were kept apart until the next. `None` without a judged animal.
pub fn whole_tank(scoops: &[&PastScoop], icc: f64, population: Option<u64>) -> Option<WholeTank> {
    let used: Vec<&PastScoop> = scoops
        .iter()
        .filter(|s| s.second_of.is_none() && s.judged().next().is_some())
        .copied()
        .collect();
    let sizes = sizes(&used);
    let animals: u64 = sizes.iter().sum();
    if animals == 0 {
        return None;
    }
    let (population, size_unused) = usable(&used, animals, population);
    let off_type = count(&used, |a| a.is_off_type());
    let rungs = Rung::all()
        .rev()
        .map(|r| share(r, &used, &sizes, icc, population))
        .collect();
    Some(WholeTank {
        scoops: used.len(),
        animals,
        off_type,
        off_type_range: limits(off_type, &sizes, icc, LEVEL),
        rungs,
        icc,
        size_unused,
    })
}

fn usable(
    used: &[&PastScoop],
    animals: u64,
    population: Option<u64>,
) -> (Option<u64>, Option<SizeUnused>) {
    let Some(size) = population else {
        return (None, None);
    };
    let apart = used.iter().rev().skip(1).all(|s| s.kept_apart);
    if !apart {
        return (None, Some(SizeUnused::PutBack));
    }
    if size < animals {
        return (None, Some(SizeUnused::TooSmall));
    }
    (Some(size), None)
}

fn count(scoops: &[&PastScoop], is: impl Fn(&KeptAnimal) -> bool) -> u64 {
    let judged = scoops.iter().flat_map(|s| s.judged());
    judged.filter(|a| is(a)).count() as u64
}

fn share(
    rung: Rung,
    used: &[&PastScoop],
    sizes: &[u64],
    icc: f64,
    population: Option<u64>,
) -> TankShare {
    let animals: u64 = sizes.iter().sum();
    let may = |a: &KeptAnimal| {
        a.rung == Some(rung)
            || a.between
                .is_some_and(|(low, high)| low <= rung && rung <= high)
    };
    let sure = count(used, |a| a.rung == Some(rung) && a.between.is_none());
    let above = at_or_above(rung, used, icc);
    TankShare {
        rung,
        on: count(used, |a| a.rung == Some(rung)),
        on_range: between(sure, count(used, may), sizes, icc),
        above,
        of_tank: population.map(|size| {
            let most = above.sure + above.undecided;
            let low = count_limits(above.sure, animals, size, LEVEL).0;
            (low, count_limits(most, animals, size, LEVEL).1)
        }),
    }
}

/// How many more scoops of `scoop_size` animals each are likely to bring the range of the share at or above a rung down to `half` either
/// way, where so far `sure` animals in scoops of `sizes` stand there and `undecided` may; `None` where not even 600 animals would.
pub fn scoops_needed(
    (sure, undecided): (u64, u64),
    sizes: &[u64],
    scoop_size: u64,
    icc: f64,
    half: f64,
) -> Option<u64> {
    let n = sizes.iter().sum::<u64>() as f64;
    let confidence = 0.5 * (1.0 + LEVEL);
    let width = |more: u64| {
        let mut all = sizes.to_vec();
        all.extend(std::iter::repeat_n(scoop_size, more as usize));
        let grown = all.iter().sum::<u64>() as f64 / n.max(1.0);
        let low = (sure as f64 * grown).round() as u64;
        let high = ((sure + undecided) as f64 * grown).round() as u64;
        upper_limit(high, &all, icc, confidence) - lower_limit(low, &all, icc, confidence)
    };
    let most = MOST_MORE / scoop_size.max(1);
    if width(0) <= 2.0 * half {
        return Some(0);
    }
    if width(most) > 2.0 * half {
        return None;
    }
    // The width falls with every scoop, up to the rounding of the expected count.
    let (mut low, mut high) = (0, most);
    while high - low > 1 {
        let middle = (low + high) / 2;
        if width(middle) <= 2.0 * half {
            high = middle;
        } else {
            low = middle;
        }
    }
    Some(high)
}
