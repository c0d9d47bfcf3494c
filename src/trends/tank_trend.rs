//! Everything that is told of a tank or a line over time.

use std::collections::BTreeSet;

use jiff::civil::Date;
use rayon::prelude::*;

use super::change_point::{Parting, best_parting, pettitt};
use super::cusum::{Cusum, cusum};
use super::drift::{ChanceDrift, Founders, USUAL_HERITABILITY, chance_drift, effective_size};
use super::likeness::{Change, changes};
use super::rank_trend::{MannKendall, TheilSen, mann_kendall, theil_sen};
use super::scatter::HouseScatter;
use super::series::{Axis, Past, Point, Reading, Series, series_of};
use super::verdict::{FIRST_LOOK, Judged, LEVEL, Ranged, Verdict, judge};
use super::watched::Watched;
use crate::ladder::{Bounds, Ladder, Measure, Rung};
use crate::measures::Sex;
use crate::scoop::PastScoop;

/// Length of a generation where the book knows of none (common practice: three to five months).
pub const USUAL_GENERATION_DAYS: f64 = 120.0;

/// What is asked.
#[derive(Debug, Clone)]
pub struct Question<'a> {
    /// How the past is read; the axis is only a wish where [`Question::axis`] is none.
    pub reading: Reading,
    /// The axis; `None` = generations where enough are known, else dates.
    pub axis: Option<Axis>,
    /// Measures.
    pub measures: Vec<Watched>,
    /// The house's scatter.
    pub scatter: HouseScatter,
    /// Length of a generation in days, where the book knows.
    pub generation_days: Option<f64>,
    /// Founders of the generations.
    pub founders: Vec<Founders>,
    /// Share of the variance that is inherited, 0..=1; `None` = not measured.
    pub heritability: Option<f64>,
    /// The line's ladder.
    pub ladder: Option<&'a Ladder>,
}

/// The level moved when something was changed: no fading.
#[derive(Debug, Clone, PartialEq)]
pub struct Shift {
    /// First day of the first point under the new state.
    pub since: Date,
    /// Level after less before, with the slope taken out where one is known.
    pub by: Ranged,
}

/// Descriptions of the points that decide nothing.
#[derive(Debug, Clone, PartialEq)]
pub struct Described {
    /// Best parting into before and after.
    pub parting: Option<Parting>,
    /// Pettitt's largest rank sum, after how many points, and its probability by chance.
    pub pettitt: Option<(u64, usize, f64)>,
    /// Mann and Kendall's test.
    pub mann_kendall: Option<MannKendall>,
    /// Theil and Sen's slope for 1 of x.
    pub theil_sen: Option<TheilSen>,
    /// Cumulative sums about the mean of the first points, in standard errors of a point.
    pub cusum: Option<Cusum>,
}

/// One measure over time.
#[derive(Debug, Clone, PartialEq)]
pub struct MeasureTrend {
    /// Its points.
    pub series: Series,
    /// What was decided, from what.
    pub judged: Judged,
    /// Shifts at changes of conditions.
    pub shifts: Vec<Shift>,
    /// What chance makes in a line of this size; `None` where founders or generations are not known.
    pub chance: Option<ChanceDrift>,
    /// Generations until the mean falls to what the sale rung asks, at the present pace; 0 where it is below already.
    pub generations_left: Option<f64>,
    /// Descriptions.
    pub described: Described,
}

/// A tank or a line over time.
#[derive(Debug, Clone, PartialEq)]
pub struct TankTrend {
    /// The axis.
    pub axis: Axis,
    /// Days in a generation.
    pub generation_days: f64,
    /// True where that is the line's own.
    pub generation_is_own: bool,
    /// Scoops that were read.
    pub scoops: usize,
    /// First and last day.
    pub days: Option<(Date, Date)>,
    /// The measures asked for.
    pub measures: Vec<MeasureTrend>,
    /// Changes of conditions.
    pub changes: Vec<Change>,
}

/// Reads and judges `scoops` (earliest first).
pub fn tank_trend(scoops: &[PastScoop], question: &Question<'_>) -> TankTrend {
    let used: Vec<&PastScoop> = scoops.iter().filter(|s| s.second_of.is_none()).collect();
    let axis = question.axis.unwrap_or_else(|| usual_axis(&used));
    let reading = Reading {
        axis,
        ..question.reading.clone()
    };
    let generation_days = question.generation_days.unwrap_or(USUAL_GENERATION_DAYS);
    let past = Past::of(scoops, &reading.minutes);
    let trend =
        |measure: &Watched| measure_trend(*measure, &past, &reading, generation_days, question);
    TankTrend {
        axis,
        generation_days,
        generation_is_own: question.generation_days.is_some(),
        scoops: used.len(),
        days: used
            .first()
            .zip(used.last())
            .map(|(a, b)| (a.at.date(), b.at.date())),
        measures: question.measures.par_iter().map(trend).collect(),
        changes: changes(&used),
    }
}

/// Generations where enough of them were netted, else dates.
fn usual_axis(scoops: &[&PastScoop]) -> Axis {
    let generations: BTreeSet<u32> = scoops.iter().filter_map(|s| s.generation).collect();
    if generations.len() >= FIRST_LOOK {
        Axis::Generation
    } else {
        Axis::Date
    }
}

fn measure_trend(
    measure: Watched,
    past: &Past<'_>,
    reading: &Reading,
    generation_days: f64,
    question: &Question<'_>,
) -> MeasureTrend {
    let series = series_of(measure, past, reading, &question.scatter);
    let mut judged = judge(&series, generation_days, question.scatter.icc);
    let matters = what_matters(measure, question.ladder, reading.sale_rung);
    judged.verdict = judged.verdict.held_against(matters);
    MeasureTrend {
        shifts: shifts(&series, &judged),
        chance: chance(&series, &judged, question),
        generations_left: generations_left(&series, &judged, question, reading.sale_rung),
        described: described(&series),
        series,
        judged,
    }
}

/// What chance makes of the slope; for means by generation.
fn chance(series: &Series, judged: &Judged, question: &Question<'_>) -> Option<ChanceDrift> {
    if series.axis != Axis::Generation {
        return None;
    }
    let slope = judged.slope.as_ref()?;
    let size = effective_size(&question.founders)?;
    let heritability = question.heritability.unwrap_or(USUAL_HERITABILITY);
    // The slope was fitted to the latest points; older ones took no part.
    let all: Vec<f64> = series.points.iter().map(|p| p.x).collect();
    let places = &all[all.len() - slope.weights.len()..];
    (series.measure != Watched::Spread).then_some(())?;
    Some(chance_drift(
        places,
        &slope.weights,
        series.within_sd?,
        size,
        heritability,
    ))
}

/// A fall of one rung within so many generations, about two years, is what a keeper must hear of (house rule).
const PLANNED: f64 = 5.0;

/// The fall a generation that takes the mean from the sale rung's limit to that of the rung below within [`PLANNED`]
/// generations; `None` for measures for which the ladder has no two limits.
fn what_matters(measure: Watched, ladder: Option<&Ladder>, sale: Rung) -> Option<f64> {
    let below = Rung::from_index(sale.index().checked_sub(1)?)?;
    let least = |rung| asked_of(measure, ladder?, rung);
    let step = least(sale)? - least(below)?;
    (step > 0.0).then_some(step / PLANNED)
}

/// The least coverage or opacity that a rung asks of a female; `None` for other measures and where it asks none.
fn asked_of(measure: Watched, ladder: &Ladder, rung: Rung) -> Option<f64> {
    let wanted = match measure {
        Watched::Coverage => Measure::Coverage,
        Watched::Opacity => Measure::Opacity,
        _ => return None,
    };
    let asks = ladder.asks(rung, Sex::Female);
    match asks.iter().find(|c| c.measure == wanted)?.bounds {
        Bounds::Range { at_least, .. } => at_least,
        _ => None,
    }
}

/// Generations until coverage falls to what the sale rung asks of a female.
fn generations_left(
    series: &Series,
    judged: &Judged,
    question: &Question<'_>,
    sale: Rung,
) -> Option<f64> {
    let Verdict::Moves { per_generation, .. } = &judged.verdict else {
        return None;
    };
    let least = asked_of(series.measure, question.ladder?, sale)?;
    let last = series.points.last()?;
    let level = level_at(judged, last).unwrap_or(last.value);
    (per_generation.value < 0.0).then(|| ((level - least) / -per_generation.value).max(0.0))
}

/// The fitted level at a point.
fn level_at(judged: &Judged, point: &Point) -> Option<f64> {
    let slope = judged.slope.as_ref()?;
    Some(slope.levels.get(point.group).copied().flatten()? + slope.slope * point.x)
}

/// Levels of one state after another within a tank and sex.
fn shifts(series: &Series, judged: &Judged) -> Vec<Shift> {
    let mut found = Vec::new();
    let slope = judged.slope.as_ref().map_or(0.0, |s| s.slope);
    let keys: BTreeSet<(&String, Option<&'static str>)> =
        series.groups.iter().map(|g| (&g.tank, g.sex)).collect();
    for key in keys {
        let own: Vec<&Point> = series
            .points
            .iter()
            .filter(|p| (&series.groups[p.group].tank, series.groups[p.group].sex) == key)
            .collect();
        let runs: Vec<&[&Point]> = own.chunk_by(|a, b| a.group == b.group).collect();
        for pair in runs.windows(2) {
            let (before, after) = (level(pair[0], slope), level(pair[1], slope));
            found.push(Shift {
                since: pair[1][0].days.0,
                by: Ranged::of(after.0 - before.0, (before.1 + after.1).sqrt()),
            });
        }
    }
    found.sort_by_key(|s| s.since);
    found
}

/// Weighted mean of a run with the slope taken out, and its variance.
fn level(run: &[&Point], slope: f64) -> (f64, f64) {
    let weight: f64 = run.iter().map(|p| 1.0 / p.variance).sum();
    let sum: f64 = run
        .iter()
        .map(|p| (p.value - slope * p.x) / p.variance)
        .sum();
    (sum / weight, 1.0 / weight)
}

fn described(series: &Series) -> Described {
    // Ranks and partings know no groups: they describe the points of the latest state alone.
    let latest = series.points.last().map(|p| p.group);
    let own: Vec<&Point> = series
        .points
        .iter()
        .filter(|p| Some(p.group) == latest)
        .collect();
    let values: Vec<f64> = own.iter().map(|p| p.value).collect();
    let weights: Vec<f64> = own.iter().map(|p| 1.0 / p.variance).collect();
    let places: Vec<(f64, f64)> = own.iter().map(|p| (p.x, p.value)).collect();
    let first = own.len().min(super::verdict::BASELINE);
    let start = values.iter().take(first).sum::<f64>() / first.max(1) as f64;
    let standard: Vec<f64> = own
        .iter()
        .map(|p| (p.value - start) / p.variance.sqrt())
        .collect();
    Described {
        parting: best_parting(&values, &weights),
        pettitt: pettitt(&values),
        mann_kendall: mann_kendall(&values),
        theil_sen: theil_sen(&places, LEVEL),
        // Half a standard error of slack, the usual choice for shifts of one.
        cusum: (standard.len() > first).then(|| cusum(&standard, 0.0, 0.5)),
    }
}
