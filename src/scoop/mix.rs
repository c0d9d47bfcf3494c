//! The grade mix: how many animals stand on each rung, and the range of the shares for the whole tank.

use std::collections::BTreeMap;

use crate::ladder::{OffLadder, Placing, Rung};
use crate::stats::clopper_pearson;

/// Words for the record on how the intervals are made.
pub const METHOD: &str = "Clopper-Pearson exact interval, two-sided, each share on its own; the scoop taken as a random draw; \
                          at_or_above: low from the sure count, high from sure and undecided";

/// Confidence level of every interval.
pub const LEVEL: f64 = 0.95;

/// A count of animals at or above a rung.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct AtOrAbove {
    /// Animals that stand there for sure.
    pub sure: u32,
    /// Animals too close to call between a rung below and one at or above.
    pub undecided: u32,
    /// Lower end of the tank's share: from `sure` alone.
    pub low: f64,
    /// Upper end of the tank's share: as if all undecided ones stood there.
    pub high: f64,
}

/// One rung of the mix.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RungShare {
    /// The rung.
    pub rung: Rung,
    /// Animals whose point values stand on it.
    pub count: u32,
    /// Those among them that are too close to call.
    pub between: u32,
    /// `count` of the judged animals, 0..=1; `None` where none was judged.
    pub share: Option<f64>,
    /// Interval of the share for the tank.
    pub low: f64,
    /// Its upper end.
    pub high: f64,
    /// Animals at or above this rung.
    pub at_or_above: AtOrAbove,
}

/// Shares of the rungs among the judged animals: those on the ladder and the off-type ones, which a buyer of the tank
/// would receive as well. Cut, juvenile and unreadable animals are left out and counted.
#[derive(Debug, Clone, PartialEq)]
pub struct GradeMix {
    /// Animals on the ladder.
    pub n: u32,
    /// Off-type animals.
    pub off_type: u32,
    /// Animals left out, by reason.
    pub left_out: BTreeMap<&'static str, u32>,
    /// Rungs, best first.
    pub rungs: Vec<RungShare>,
}

impl GradeMix {
    /// Animals that the shares refer to.
    pub fn judged(&self) -> u32 {
        self.n + self.off_type
    }

    /// Animals at or above `rung`.
    pub fn at_or_above(&self, rung: Rung) -> AtOrAbove {
        let row = self.rungs.iter().find(|row| row.rung == rung);
        row.map(|row| row.at_or_above)
            .expect("the mix has a row for every rung")
    }
}

/// The mix of the placed animals.
pub fn mix<'a>(placings: impl Iterator<Item = &'a Placing>) -> GradeMix {
    let placings: Vec<&Placing> = placings.collect();
    let on: Vec<(Rung, Option<(Rung, Rung)>)> = placings
        .iter()
        .filter_map(|p| p.rung.map(|rung| (rung, p.between)))
        .collect();
    let off_type = count(placings.iter().filter(|p| p.is_off_type()));
    let judged = count(on.iter()) + off_type;
    let rungs = Rung::all()
        .rev()
        .map(|rung| share_of(rung, &on, judged))
        .collect();
    GradeMix {
        n: count(on.iter()),
        off_type,
        left_out: left_out(&placings),
        rungs,
    }
}

fn share_of(rung: Rung, on: &[(Rung, Option<(Rung, Rung)>)], judged: u32) -> RungShare {
    let here = || on.iter().filter(|(stands, _)| *stands == rung);
    let count_here = count(here());
    let (low, high) = interval(count_here, judged);
    RungShare {
        rung,
        count: count_here,
        between: count(here().filter(|(_, between)| between.is_some())),
        share: (judged > 0).then(|| f64::from(count_here) / f64::from(judged)),
        low,
        high,
        at_or_above: at_or_above(rung, on, judged),
    }
}

fn at_or_above(rung: Rung, on: &[(Rung, Option<(Rung, Rung)>)], judged: u32) -> AtOrAbove {
    let open = |between: &Option<(Rung, Rung)>| {
        between.is_some_and(|(low, high)| low < rung && rung <= high)
    };
    let undecided = count(on.iter().filter(|(_, between)| open(between)));
    let sure = count(
        on.iter()
            .filter(|(stands, between)| *stands >= rung && !open(between)),
    );
    let (low, high) = (
        interval(sure, judged).0,
        interval(sure + undecided, judged).1,
    );
    AtOrAbove {
        sure,
        undecided,
        low,
        high,
    }
}

fn left_out(placings: &[&Placing]) -> BTreeMap<&'static str, u32> {
    let mut out = BTreeMap::new();
    for off in placings.iter().filter_map(|p| p.off.as_ref()) {
        if !matches!(off, OffLadder::OffType(_)) {
            *out.entry(off.word()).or_insert(0) += 1;
        }
    }
    out
}

fn count<T>(items: impl Iterator<Item = T>) -> u32 {
    u32::try_from(items.count()).unwrap_or(u32::MAX)
}

/// Exact interval of `x` in `n` at the record's level; 0 and 1 where `n` is 0. With the few animals of a scoop the usual
/// shorter ones hold in as little as 83 % where nearly none or nearly all stand there [BrownCaiDasGupta2001].
fn interval(x: u32, n: u32) -> (f64, f64) {
    let interval = clopper_pearson(u64::from(x), u64::from(n), LEVEL);
    (interval.low, interval.high)
}
