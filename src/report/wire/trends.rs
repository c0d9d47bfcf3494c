//! A tank or a line over time as JSON, one object a line.

use serde::Serialize;

use super::book::json;
use super::round;
use crate::ladder::Rung;
use crate::trends::likeness::LeftOut;
use crate::trends::series::Axis;
use crate::trends::tank_trend::{MeasureTrend, TankTrend};
use crate::trends::verdict::{Ranged, Verdict};

/// Digits behind the point of values and of slopes.
pub(super) const DIGITS: i32 = 5;

#[derive(Serialize)]
pub(super) struct RangeObject {
    value: f64,
    low: f64,
    high: f64,
}

pub(super) fn ranged(range: &Ranged) -> RangeObject {
    RangeObject {
        value: round(range.value, DIGITS),
        low: round(range.low, DIGITS),
        high: round(range.high, DIGITS),
    }
}

#[derive(Serialize)]
struct TrendObject<'a> {
    schema: &'static str,
    tank: Option<&'a str>,
    line: Option<&'a str>,
    axis: &'static str,
    generation_days: f64,
    generation_days_own: bool,
    sale_rung: String,
    scoops: usize,
    since: Option<String>,
    until: Option<String>,
    measures: Vec<MeasureObject>,
    changes: Vec<ChangeObject<'a>>,
}

#[derive(Serialize)]
struct ChangeObject<'a> {
    tank: &'a str,
    day: String,
    what: &'static str,
    before: &'a str,
    after: &'a str,
}

#[derive(Serialize)]
struct MeasureObject {
    measure: &'static str,
    verdict: &'static str,
    worse: bool,
    change: Option<RangeObject>,
    since: Option<String>,
    since_change: bool,
    would_have_shown: Option<f64>,
    generations_left: Option<f64>,
    slope: Option<SlopeObject>,
    slope_since_change: Option<SlopeObject>,
    limit: f64,
    share_trend: Option<ShareObject>,
    weighted_mean: Option<MeanObject>,
    chance_drift: Option<ChanceObject>,
    ranks: Option<RankObject>,
    shifts: Vec<ShiftObject>,
    points: Vec<PointObject>,
    left_out: Vec<LeftOutObject>,
}

#[derive(Serialize)]
struct SlopeObject {
    per_generation: f64,
    error: f64,
    z: f64,
    points: usize,
    chi_squared: f64,
    freedom: usize,
}

#[derive(Serialize)]
pub(super) struct ShareObject {
    pub(super) z: f64,
    pub(super) p_rise: f64,
    pub(super) p_fall: f64,
}

#[derive(Serialize)]
struct MeanObject {
    distance: f64,
    sd: f64,
    limit: f64,
}

#[derive(Serialize)]
struct ChanceObject {
    effective_size: f64,
    heritability: f64,
    slope_sd: f64,
}

#[derive(Serialize)]
struct RankObject {
    mann_kendall_s: i64,
    p: f64,
    theil_sen_per_generation: Option<f64>,
}

#[derive(Serialize)]
struct ShiftObject {
    since: String,
    by: RangeObject,
}

#[derive(Serialize)]
struct PointObject {
    x: f64,
    since: String,
    until: String,
    value: f64,
    error: f64,
    state: usize,
    scoops: usize,
    animals: usize,
    count: Option<u64>,
}

#[derive(Serialize)]
struct LeftOutObject {
    day: String,
    why: &'static str,
}

/// A trend: `tank` or `line` names what it is of.
pub fn trend(found: &TankTrend, tank: Option<&str>, line: Option<&str>, sale_rung: Rung) -> String {
    let object = TrendObject {
        schema: "catchcup.trend/1",
        tank,
        line,
        axis: match found.axis {
            Axis::Generation => "generation",
            Axis::Date => "date",
        },
        generation_days: round(found.generation_days, 1),
        generation_days_own: found.generation_is_own,
        sale_rung: sale_rung.to_string(),
        scoops: found.scoops,
        since: found.days.map(|d| d.0.to_string()),
        until: found.days.map(|d| d.1.to_string()),
        measures: found.measures.iter().map(measure).collect(),
        changes: found
            .changes
            .iter()
            .map(|c| ChangeObject {
                tank: &c.tank,
                day: c.at.date().to_string(),
                what: c.what,
                before: &c.before,
                after: &c.after,
            })
            .collect(),
    };
    json(&object)
}

fn verdict_word(verdict: &Verdict) -> &'static str {
    match verdict {
        Verdict::TooEarly(_) => "too_early",
        Verdict::Holds { .. } => "holds",
        Verdict::CantTell { .. } => "cant_tell",
        Verdict::Moves { .. } => "moves",
        Verdict::Stepped { .. } => "stepped",
        Verdict::Strays { .. } => "strays",
    }
}

fn measure(trend: &MeasureTrend) -> MeasureObject {
    let (judged, series) = (&trend.judged, &trend.series);
    let (change, since, since_change, would_have_shown) = match &judged.verdict {
        Verdict::TooEarly(_) => (None, None, false, None),
        Verdict::Holds { would_have_shown }
        | Verdict::CantTell {
            would_have_shown, ..
        } => (None, None, false, Some(*would_have_shown)),
        Verdict::Moves {
            per_generation,
            since_change,
        } => (Some(ranged(per_generation)), None, *since_change, None),
        Verdict::Stepped { since, by } => (Some(ranged(by)), Some(since.to_string()), false, None),
        Verdict::Strays { by } => (Some(ranged(by)), None, false, None),
    };
    let slope = |s: &crate::trends::slope::CommonSlope| SlopeObject {
        per_generation: round(s.slope * judged.generation, DIGITS),
        error: round(s.error * judged.generation, DIGITS),
        z: round(s.z(), 3),
        points: s.used,
        chi_squared: round(s.chi_squared, 3),
        freedom: s.freedom,
    };
    MeasureObject {
        measure: series.measure.word(),
        verdict: verdict_word(&judged.verdict),
        worse: judged.verdict.is_alarm(series.measure),
        change,
        since,
        since_change,
        would_have_shown: would_have_shown.map(|v| round(v, DIGITS)),
        generations_left: trend.generations_left.map(|v| round(v, 2)),
        slope: judged.slope.as_ref().map(slope),
        slope_since_change: judged.recent.as_ref().map(slope),
        limit: round(judged.limit, 3),
        share_trend: judged.share.map(|s| ShareObject {
            z: round(s.z, 3),
            p_rise: round(s.p_rise, 6),
            p_fall: round(s.p_fall, 6),
        }),
        weighted_mean: judged.strayed.map(|s| MeanObject {
            distance: round(s.distance, DIGITS),
            sd: round(s.sd, DIGITS),
            limit: round(s.limit, 3),
        }),
        chance_drift: trend.chance.map(|c| ChanceObject {
            effective_size: round(c.effective_size, 1),
            heritability: round(c.heritability, 3),
            slope_sd: round(c.slope_sd, DIGITS),
        }),
        ranks: trend.described.mann_kendall.as_ref().map(|m| RankObject {
            mann_kendall_s: m.s,
            p: round(m.exact_p.unwrap_or(m.p), 6),
            theil_sen_per_generation: trend
                .described
                .theil_sen
                .map(|t| round(t.slope * judged.generation, DIGITS)),
        }),
        shifts: trend
            .shifts
            .iter()
            .map(|s| ShiftObject {
                since: s.since.to_string(),
                by: ranged(&s.by),
            })
            .collect(),
        points: points(trend),
        left_out: series
            .left_out
            .iter()
            .map(|(at, why)| LeftOutObject {
                day: at.date().to_string(),
                why: match why {
                    LeftOut::TooLong(_) => "too_long_in_cup",
                    LeftOut::Alone => "nothing_alike",
                },
            })
            .collect(),
    }
}

fn points(trend: &MeasureTrend) -> Vec<PointObject> {
    let point = |p: &crate::trends::series::Point| PointObject {
        x: round(p.x, 2),
        since: p.days.0.to_string(),
        until: p.days.1.to_string(),
        value: round(p.value, DIGITS),
        error: round(p.variance.sqrt(), DIGITS),
        state: p.group,
        scoops: p.scoops,
        animals: p.animals,
        count: p.count,
    };
    trend.series.points.iter().map(point).collect()
}
