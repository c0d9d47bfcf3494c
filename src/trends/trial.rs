//! Two tanks side by side, or one before and after a dated change: the difference with its range.

use jiff::civil::DateTime;

use super::scatter::HouseScatter;
use super::series::{Axis, Reading, Series, series};
use super::verdict::Ranged;
use super::watched::Watched;
use crate::scoop::PastScoop;
use crate::stats::normal_quantile;

/// Weeks that a trial must run unless the house says otherwise (house rule; pigment moves for weeks after a change of floor or
/// feed).
pub const USUAL_WEEKS: f64 = 6.0;
/// Scoops that each side must have.
pub const FEWEST_SCOOPS: usize = 2;
/// Confidence level of ranges.
const LEVEL: f64 = super::verdict::LEVEL;

/// One side of a trial: its scoops, earliest first.
pub type Side<'a> = &'a [PastScoop];

/// What a side shows of a measure.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SideMean {
    /// Mean, or share.
    pub value: f64,
    /// Its standard error.
    pub error: f64,
    /// Scoops.
    pub scoops: usize,
    /// Animals.
    pub animals: usize,
}

/// What is said of a trial.
#[derive(Debug, Clone, PartialEq)]
pub enum Outcome {
    /// It has not run long enough, or a side has too few scoops; weeks so far.
    TooEarly {
        /// Weeks from the change, or from the first scoop of the younger side, to the last scoop.
        weeks: f64,
        /// Weeks that the house asks for.
        asked: f64,
    },
    /// One side has nothing to compare.
    Nothing,
    /// The range of the difference leaves out 0.
    Differs,
    /// It holds 0.
    NoDifference {
        /// More scoops of the usual size on each side until a difference as large as the one asked about would show; 0 where it
        /// would have already.
        more_scoops: usize,
    },
}

/// A trial of one measure.
#[derive(Debug, Clone, PartialEq)]
pub struct Trial {
    /// The measure.
    pub measure: Watched,
    /// First tank, or before.
    pub first: Option<SideMean>,
    /// Second tank, or after.
    pub second: Option<SideMean>,
    /// Second less first.
    pub difference: Option<Ranged>,
    /// What is said.
    pub outcome: Outcome,
    /// What was not alike on the two sides besides the tank: word, first side, second side.
    pub unlike: Vec<(&'static str, String, String)>,
}

/// How a trial is judged.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TrialRule {
    /// Weeks that it must have run.
    pub weeks: f64,
    /// Difference that would be worth knowing, in the measure's unit.
    pub worth: f64,
    /// The moment of the change, for one tank before and after; `None` for two tanks.
    pub changed: Option<DateTime>,
}

/// The difference in `measure` between two sides.
pub fn trial(
    measure: Watched,
    sides: [Side<'_>; 2],
    reading: &Reading,
    scatter: &HouseScatter,
    rule: &TrialRule,
) -> Trial {
    let reading = Reading {
        axis: Axis::Date,
        ..reading.clone()
    };
    let both = together(measure, sides, &reading, scatter);
    let [first, second] = both;
    let difference = first
        .zip(second)
        .map(|(a, b)| Ranged::of(b.value - a.value, a.error.hypot(b.error)));
    let weeks = weeks(sides, rule);
    let enough = [first, second]
        .iter()
        .flatten()
        .all(|s| s.scoops >= FEWEST_SCOOPS);
    let outcome = match (first.zip(second), difference) {
        _ if weeks < rule.weeks => Outcome::TooEarly {
            weeks,
            asked: rule.weeks,
        },
        (Some(_), Some(_)) if !enough => Outcome::TooEarly {
            weeks,
            asked: rule.weeks,
        },
        (Some(_), Some(d)) if d.low > 0.0 || d.high < 0.0 => Outcome::Differs,
        (Some((a, b)), Some(_)) => Outcome::NoDifference {
            more_scoops: more_scoops(&a, &b, rule.worth),
        },
        _ => Outcome::Nothing,
    };
    Trial {
        measure,
        first,
        second,
        difference,
        outcome,
        unlike: unlike(sides),
    }
}

/// Means of both sides on one footing: the hues of both are counted from the same zero.
fn together(
    measure: Watched,
    sides: [Side<'_>; 2],
    reading: &Reading,
    scatter: &HouseScatter,
) -> [Option<SideMean>; 2] {
    // Sides are told apart by the tank's name, so that they never share a point.
    let mark = |side: Side<'_>, name: &str| -> Vec<PastScoop> {
        let mark = |s: &PastScoop| PastScoop {
            tank: name.into(),
            ..s.clone()
        };
        side.iter().map(mark).collect()
    };
    let mut all = mark(sides[0], "first");
    all.extend(mark(sides[1], "second"));
    all.sort_by_key(|s| (s.at, s.number));
    let series = series(measure, &all, reading, scatter);
    ["first", "second"].map(|name| mean_of(&series, name))
}

/// Mean over the points of a side, each weighed by its variance's inverse; counted measures by all their animals.
fn mean_of(series: &Series, side: &str) -> Option<SideMean> {
    let own = || {
        series
            .points
            .iter()
            .filter(|p| series.groups[p.group].tank == side)
    };
    let weight: f64 = own().map(|p| 1.0 / p.variance).sum();
    (weight > 0.0).then(|| SideMean {
        value: own().map(|p| p.value / p.variance).sum::<f64>() / weight,
        error: (1.0 / weight).sqrt(),
        scoops: own().map(|p| p.scoops).sum(),
        animals: own().map(|p| p.animals).sum(),
    })
}

/// Weeks that the trial has run.
fn weeks(sides: [Side<'_>; 2], rule: &TrialRule) -> f64 {
    let ends = |side: Side<'_>| Some((side.first()?.at, side.last()?.at));
    let (Some(a), Some(b)) = (ends(sides[0]), ends(sides[1])) else {
        return 0.0;
    };
    let begun = rule.changed.unwrap_or(a.0.max(b.0));
    let last = if rule.changed.is_some() {
        b.1
    } else {
        a.1.min(b.1)
    };
    (f64::from((last.date() - begun.date()).get_days()) / 7.0).max(0.0)
}

/// More scoops on each side until a difference of `worth` would show with the usual chance.
fn more_scoops(a: &SideMean, b: &SideMean, worth: f64) -> usize {
    let needed =
        worth / (normal_quantile(0.5 * (1.0 + LEVEL)) + normal_quantile(super::verdict::POWER));
    let one_scoop = a.error.powi(2) * a.scoops as f64 + b.error.powi(2) * b.scoops as f64;
    let each = (one_scoop / needed.powi(2)).ceil() as usize;
    each.saturating_sub(a.scoops.min(b.scoops))
}

/// Conditions of the last scoops that differ between the sides.
fn unlike(sides: [Side<'_>; 2]) -> Vec<(&'static str, String, String)> {
    let (Some(a), Some(b)) = (sides[0].last(), sides[1].last()) else {
        return Vec::new();
    };
    a.conditions
        .iter()
        .filter_map(|(kind, value)| {
            let other = b.conditions.get(kind).filter(|other| *other != value)?;
            Some((kind.word(), value.clone(), other.clone()))
        })
        .collect()
}
