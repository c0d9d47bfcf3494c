//! Whole tanks, trials, mixed tanks and months as JSON, one object a line.

use serde::Serialize;

use super::book::json;
use super::round;
use super::trends::{DIGITS, RangeObject, ShareObject, ranged};
use crate::ladder::Rung;
use crate::stats::Interval;
use crate::trends::mixed::Mixed;
use crate::trends::month::LineMonth;
use crate::trends::trial::{Outcome, SideMean, Trial};
use crate::trends::whole_tank::WholeTank;

#[derive(Serialize)]
struct LimitsObject {
    low: f64,
    high: f64,
}

fn limits(range: &Interval) -> LimitsObject {
    LimitsObject {
        low: round(range.low, DIGITS),
        high: round(range.high, DIGITS),
    }
}

#[derive(Serialize)]
struct WholeObject<'a> {
    schema: &'static str,
    tank: &'a str,
    sale_rung: String,
    level: f64,
    icc: f64,
    scoops: usize,
    animals: u64,
    off_type: u64,
    off_type_range: LimitsObject,
    rungs: Vec<RungObject>,
    within: f64,
    more_scoops: Option<u64>,
    scoop_size: u64,
}

#[derive(Serialize)]
struct RungObject {
    rung: String,
    on: u64,
    on_range: LimitsObject,
    above: u64,
    sure: u64,
    undecided: u64,
    at_or_above: LimitsObject,
    of_tank: Option<(u64, u64)>,
}

/// A whole tank; `more` as for the text.
pub fn whole(
    found: &WholeTank,
    tank: &str,
    sale_rung: Rung,
    more: (Option<u64>, f64, u64),
) -> String {
    json(&WholeObject {
        schema: "catchcup.share/1",
        tank,
        sale_rung: sale_rung.to_string(),
        level: crate::trends::whole_tank::LEVEL,
        icc: round(found.icc, 4),
        scoops: found.scoops,
        animals: found.animals,
        off_type: found.off_type,
        off_type_range: limits(&found.off_type_range),
        rungs: found
            .rungs
            .iter()
            .map(|r| RungObject {
                rung: r.rung.to_string(),
                on: r.on,
                on_range: limits(&r.on_range),
                above: r.above.count,
                sure: r.above.sure,
                undecided: r.above.undecided,
                at_or_above: limits(&r.above.range),
                of_tank: r.of_tank,
            })
            .collect(),
        within: round(more.1, 4),
        more_scoops: more.0,
        scoop_size: more.2,
    })
}

#[derive(Serialize)]
struct TrialObject<'a> {
    schema: &'static str,
    sides: [&'a str; 2],
    measure: &'static str,
    outcome: &'static str,
    difference: Option<RangeObject>,
    first: Option<SideObject>,
    second: Option<SideObject>,
    weeks: Option<f64>,
    weeks_asked: Option<f64>,
    more_scoops: Option<usize>,
    unlike: Vec<UnlikeObject<'a>>,
}

#[derive(Serialize)]
struct SideObject {
    value: f64,
    error: f64,
    scoops: usize,
    animals: usize,
}

#[derive(Serialize)]
struct UnlikeObject<'a> {
    what: &'static str,
    first: &'a str,
    second: &'a str,
}

/// A trial of one measure.
pub fn trial(found: &Trial, sides: [&str; 2]) -> String {
    let side = |s: &SideMean| SideObject {
        value: round(s.value, DIGITS),
        error: round(s.error, DIGITS),
        scoops: s.scoops,
        animals: s.animals,
    };
    let (outcome, weeks, asked, more) = match found.outcome {
        Outcome::TooEarly { weeks, asked } => {
            ("too_early", Some(round(weeks, 1)), Some(asked), None)
        }
        Outcome::Nothing => ("nothing", None, None, None),
        Outcome::Differs => ("differs", None, None, None),
        Outcome::NoDifference { more_scoops } => ("no_difference", None, None, Some(more_scoops)),
    };
    json(&TrialObject {
        schema: "catchcup.trial/1",
        sides,
        measure: found.measure.word(),
        outcome,
        difference: found.difference.as_ref().map(ranged),
        first: found.first.as_ref().map(side),
        second: found.second.as_ref().map(side),
        weeks,
        weeks_asked: asked,
        more_scoops: more,
        unlike: found
            .unlike
            .iter()
            .map(|(what, first, second)| UnlikeObject {
                what,
                first,
                second,
            })
            .collect(),
    })
}

#[derive(Serialize)]
struct MixedObject<'a> {
    schema: &'static str,
    tank: &'a str,
    scoops: usize,
    animals: u64,
    families: Vec<FamilyObject>,
    diversity: Option<f64>,
    families_in_effect: Option<f64>,
    brown: Option<ShareObject>,
    brown_by_generation: Vec<BrownObject>,
}

#[derive(Serialize)]
struct FamilyObject {
    family: &'static str,
    count: u64,
    range: LimitsObject,
}

#[derive(Serialize)]
struct BrownObject {
    generation: f64,
    brown: u64,
    animals: u64,
}

/// A mixed tank.
pub fn mixed(found: &Mixed, tank: &str) -> String {
    json(&MixedObject {
        schema: "catchcup.mixed/1",
        tank,
        scoops: found.scoops,
        animals: found.animals,
        families: found
            .shares
            .iter()
            .map(|s| FamilyObject {
                family: s.family.word(),
                count: s.count,
                range: limits(&s.range),
            })
            .collect(),
        diversity: found.diversity.map(|d| round(d, 4)),
        families_in_effect: found.families_in_effect.map(|d| round(d, 2)),
        brown: found.brown.map(|b| ShareObject {
            z: round(b.z, 3),
            p_rise: round(b.p_rise, 6),
            p_fall: round(b.p_fall, 6),
        }),
        brown_by_generation: found
            .brown_by_generation
            .iter()
            .map(|(generation, brown, animals)| BrownObject {
                generation: *generation,
                brown: *brown,
                animals: *animals,
            })
            .collect(),
    })
}

#[derive(Serialize)]
struct MonthObject<'a> {
    schema: &'static str,
    month: &'a str,
    line: &'a str,
    sale_rung: String,
    scoops: usize,
    animals: u64,
    at_or_above: u64,
    sure: u64,
    undecided: u64,
    range: LimitsObject,
    share_before: Option<f64>,
    off_type: u64,
    moved_out: u64,
    lost: u64,
}

/// A line's month.
pub fn month(found: &LineMonth, month: &str, sale_rung: Rung) -> String {
    json(&MonthObject {
        schema: "catchcup.month/1",
        month,
        line: &found.line,
        sale_rung: sale_rung.to_string(),
        scoops: found.scoops,
        animals: found.animals,
        at_or_above: found.above.count,
        sure: found.above.sure,
        undecided: found.above.undecided,
        range: limits(&found.above.range),
        share_before: found.share_before.map(|s| round(s, 4)),
        off_type: found.off_type,
        moved_out: found.moved_out,
        lost: found.lost,
    })
}
