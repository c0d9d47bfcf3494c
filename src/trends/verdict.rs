//! Whether a measure of a tank or a line changes: decided so that a line that holds is seldom called fading, however often and in
//! however many measures one looks.
//!
//! Three views share the chance of a false alarm: the slope over all that is comparable, the slope since the last change of
//! conditions, and a weighted mean of the latest points against the first ones since that change. Each has a limit for looking again
//! with every new point over twenty generations.

use std::collections::BTreeMap;
use std::sync::Mutex;

use jiff::civil::Date;

use super::change_point::best_parting;
use super::ewma::from_baseline;
use super::looks::{limit_of_ewma, limit_of_looks, slope_information};
use super::proportions::{Counted, ShareTrend, share_trend};
use super::series::{Axis, PERIOD_DAYS, Point, Series};
use super::slope::{CommonSlope, Sample, common_slope};
use crate::stats::{normal_cdf, normal_quantile};

/// Chance of any false alarm for a tank over [`HORIZON`] generations, all measures taken together (house rule).
pub const FALSE_ALARM: f64 = 0.05;
/// Generations over which the chance of a false alarm is shared out, and the longest past that a slope looks back on.
pub const HORIZON: f64 = 20.0;
/// Measures that share it.
const MEASURES: f64 = Watched::ALL.len() as f64;
/// Views of each measure that share it.
const VIEWS: f64 = 3.0;
/// Points from which on a slope is judged.
pub const FIRST_LOOK: usize = 4;
/// Points that a weighted mean is held against.
pub const BASELINE: usize = 5;
/// Weight of the newest point (any handbook: 0.2 to 0.3 for shifts of about one standard deviation).
const LAMBDA: f64 = 0.3;
/// Confidence level of ranges.
pub const LEVEL: f64 = 0.95;
/// Chance with which a change that "would have shown" would have.
pub const POWER: f64 = 0.8;
/// A step explains a past better than a slope where it leaves so much less of the sum of squares; chi-squared with one degree of
/// freedom exceeds it in one of 70 cases.
const PLAINLY_BETTER: f64 = 6.0;

use super::watched::Watched;

/// A value with its range at [`LEVEL`].
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Ranged {
    /// Best estimate.
    pub value: f64,
    /// Lower end.
    pub low: f64,
    /// Upper end.
    pub high: f64,
}

impl Ranged {
    /// From an estimate and its standard error.
    pub fn of(value: f64, error: f64) -> Self {
        let half = normal_quantile(0.5 * (1.0 + LEVEL)) * error;
        Self {
            value,
            low: value - half,
            high: value + half,
        }
    }
}

/// What is said of a measure.
#[derive(Debug, Clone, PartialEq)]
pub enum Verdict {
    /// Too few comparable points; how many there are.
    TooEarly(usize),
    /// Nothing beyond the limits; the smallest change a generation that would have shown.
    Holds {
        /// In the measure's unit, above 0.
        would_have_shown: f64,
    },
    /// Nothing beyond the limits, but only a change so large would have shown that a smaller one matters too.
    CantTell {
        /// The smallest change a generation that would have shown, in the measure's unit, above 0.
        would_have_shown: f64,
        /// The change a generation that matters, smaller than it.
        matters: f64,
    },
    /// It changes steadily, so much a generation.
    Moves {
        /// Change a generation.
        per_generation: Ranged,
        /// True where only what came after the last change of conditions shows it.
        since_change: bool,
    },
    /// It changed at once, though nothing was noted to have changed.
    Stepped {
        /// First day of the first point behind the step.
        since: Date,
        /// After less before.
        by: Ranged,
    },
    /// The latest points lie off the first ones since the last change, without a steady slope.
    Strays {
        /// Weighted mean of the latest less the mean of the first.
        by: Ranged,
    },
}

impl Verdict {
    /// The same where a change of `matters` a generation should have shown: "holds" is said of a measure only where it would.
    pub fn held_against(self, matters: Option<f64>) -> Self {
        match (self, matters) {
            (Verdict::Holds { would_have_shown }, Some(matters)) if would_have_shown > matters => {
                Verdict::CantTell {
                    would_have_shown,
                    matters,
                }
            }
            (other, _) => other,
        }
    }

    /// The change it speaks of, with its sign; `None` where there is none.
    pub fn change(&self) -> Option<f64> {
        match self {
            Verdict::TooEarly(_) | Verdict::Holds { .. } | Verdict::CantTell { .. } => None,
            Verdict::Moves { per_generation, .. } => Some(per_generation.value),
            Verdict::Stepped { by, .. } | Verdict::Strays { by } => Some(by.value),
        }
    }

    /// True where the measure changes for the worse.
    pub fn is_alarm(&self, measure: Watched) -> bool {
        self.change()
            .is_some_and(|change| change * measure.worse() > 0.0)
    }
}

/// The weighted mean of the latest points against the baseline.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Strayed {
    /// Distance, in the measure's unit.
    pub distance: f64,
    /// Its standard deviation where nothing changed.
    pub sd: f64,
    /// Distance in standard deviations that is believed.
    pub limit: f64,
}

/// All that was looked at for a verdict.
#[derive(Debug, Clone, PartialEq)]
pub struct Judged {
    /// The verdict.
    pub verdict: Verdict,
    /// Slope over all that is comparable, for 1 of x; `None` with too few points.
    pub slope: Option<CommonSlope>,
    /// Slope since the last change of conditions, where there was one.
    pub recent: Option<CommonSlope>,
    /// Trend in proportions, for counted measures.
    pub share: Option<ShareTrend>,
    /// Weighted mean, for others of a single tank.
    pub strayed: Option<Strayed>,
    /// Slopes in standard errors that are believed from here on.
    pub limit: f64,
    /// Units of x in a generation.
    pub generation: f64,
}

/// Judges `series`; `generation_days` is the length of a generation, used where x is in days. `icc` is the correlation of animals within
/// a scoop, for counted measures.
pub fn judge(series: &Series, generation_days: f64, icc: f64) -> Judged {
    let generation = match series.axis {
        Axis::Generation => 1.0,
        Axis::Date => generation_days,
    };
    let view = View::new(series, generation);
    let slope = common_slope(&view.samples).filter(|s| s.used >= FIRST_LOOK);
    let recent = view.recent_samples();
    let recent = common_slope(&recent).filter(|s| s.used >= FIRST_LOOK && view.groups() > 1);
    let share = series
        .measure
        .is_counted()
        .then(|| share_trend(&view.counted(None), icc))
        .flatten();
    let strayed = view.strayed();
    let limit = view.limit();
    let mut judged = Judged {
        verdict: Verdict::TooEarly(view.samples.len()),
        slope,
        recent,
        share,
        strayed,
        limit,
        generation,
    };
    judged.verdict = verdict(&judged, &view, icc);
    judged
}

/// The points within the horizon.
struct View<'a> {
    series: &'a Series,
    points: Vec<&'a Point>,
    samples: Vec<Sample>,
    latest: Vec<usize>,
    horizon: usize,
}

impl<'a> View<'a> {
    fn new(series: &'a Series, generation: f64) -> Self {
        let last = series
            .points
            .iter()
            .map(|p| p.x)
            .fold(f64::NEG_INFINITY, f64::max);
        let points: Vec<&Point> = series
            .points
            .iter()
            .filter(|p| p.x > last - HORIZON * generation)
            .collect();
        let samples = points
            .iter()
            .map(|p| Sample {
                x: p.x,
                y: p.value,
                variance: p.variance,
                group: p.group,
            })
            .collect();
        let planned = match series.axis {
            Axis::Generation => HORIZON,
            Axis::Date => HORIZON * generation / PERIOD_DAYS,
        };
        Self {
            series,
            samples,
            latest: latest_groups(series, &points),
            horizon: (planned.round() as usize)
                .max(points.len())
                .max(FIRST_LOOK + 1),
            points,
        }
    }

    /// Groups with points.
    fn groups(&self) -> usize {
        let mut groups: Vec<usize> = self.points.iter().map(|p| p.group).collect();
        groups.sort_unstable();
        groups.dedup();
        groups.len()
    }

    fn recent_samples(&self) -> Vec<Sample> {
        let own = self
            .samples
            .iter()
            .filter(|s| self.latest.contains(&s.group));
        own.copied().collect()
    }

    /// Counts, of all groups or of the latest.
    fn counted(&self, only: Option<&[usize]>) -> Vec<Counted> {
        self.points
            .iter()
            .filter(|p| only.is_none_or(|groups| groups.contains(&p.group)))
            .filter_map(|p| {
                Some(Counted {
                    x: p.x,
                    count: p.count?,
                    n: p.animals as u64,
                    group: p.group,
                })
            })
            .collect()
    }

    /// Limit of a slope in standard errors.
    fn limit(&self) -> f64 {
        limit(Limit::Slope, self.horizon)
    }

    /// Points of the group in which the tank is now; `None` for several tanks or sexes.
    fn now(&self) -> Option<Vec<&Point>> {
        let [group] = self.latest[..] else {
            return None;
        };
        Some(
            self.points
                .iter()
                .filter(|p| p.group == group)
                .copied()
                .collect(),
        )
    }

    fn strayed(&self) -> Option<Strayed> {
        if self.series.measure.is_counted() {
            return None;
        }
        let points = self.now()?;
        let values: Vec<f64> = points.iter().map(|p| p.value).collect();
        let variances: Vec<f64> = points.iter().map(|p| p.variance).collect();
        let (distance, sd) = *from_baseline(&values, &variances, BASELINE, LAMBDA).last()?;
        Some(Strayed {
            distance,
            sd,
            limit: limit(Limit::Mean, self.horizon - BASELINE.min(self.horizon - 1)),
        })
    }
}

/// The group of the latest point of each tank and sex.
fn latest_groups(series: &Series, points: &[&Point]) -> Vec<usize> {
    let mut latest = BTreeMap::new();
    for point in points {
        let own = &series.groups[point.group];
        latest.insert((&own.tank, own.sex), point.group);
    }
    latest.into_values().collect()
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Limit {
    Slope,
    Mean,
}

/// Limits that were worked out already: the same few are asked for again and again.
static LIMITS: Mutex<BTreeMap<(Limit, usize), f64>> = Mutex::new(BTreeMap::new());

/// Limit in standard errors for up to `horizon` looks.
fn limit(of: Limit, horizon: usize) -> f64 {
    let known = LIMITS
        .lock()
        .ok()
        .and_then(|l| l.get(&(of, horizon)).copied());
    known.unwrap_or_else(|| {
        let alpha = FALSE_ALARM / MEASURES / VIEWS;
        let found = match of {
            Limit::Slope => limit_of_looks(&slope_information(FIRST_LOOK, horizon), alpha),
            Limit::Mean => limit_of_ewma(LAMBDA, BASELINE, horizon, alpha),
        };
        if let Ok(mut limits) = LIMITS.lock() {
            limits.insert((of, horizon), found);
        }
        found
    })
}

fn verdict(judged: &Judged, view: &View<'_>, icc: f64) -> Verdict {
    let Some(slope) = &judged.slope else {
        return Verdict::TooEarly(view.samples.len());
    };
    let moves = |slope: &CommonSlope, since_change| Verdict::Moves {
        per_generation: Ranged::of(
            slope.slope * judged.generation,
            slope.error * judged.generation,
        ),
        since_change,
    };
    let believed = |slope: &CommonSlope, share: Option<&ShareTrend>| match share {
        Some(share) => share.p_rise.min(share.p_fall) < normal_cdf(-judged.limit),
        None => !view.series.measure.is_counted() && slope.z().abs() > judged.limit,
    };
    let recent_share = || share_trend(&view.counted(Some(&view.latest)), icc);
    let found = if believed(slope, judged.share.as_ref()) {
        moves(slope, false)
    } else if let Some(recent) = &judged.recent
        && believed(recent, recent_share().as_ref())
    {
        moves(recent, true)
    } else if let Some(strayed) = judged.strayed
        && strayed.distance.abs() > strayed.limit * strayed.sd
    {
        Verdict::Strays {
            by: Ranged::of(strayed.distance, strayed.sd),
        }
    } else {
        return Verdict::Holds {
            would_have_shown: (judged.limit + normal_quantile(POWER))
                * slope.error
                * judged.generation,
        };
    };
    stepped(view).unwrap_or(found)
}

/// A step within the present group that explains it plainly better than a slope.
fn stepped(view: &View<'_>) -> Option<Verdict> {
    let points = view.now().filter(|p| p.len() >= FIRST_LOOK)?;
    let values: Vec<f64> = points.iter().map(|p| p.value).collect();
    let weights: Vec<f64> = points.iter().map(|p| 1.0 / p.variance).collect();
    let parting = best_parting(&values, &weights)?;
    let line = common_slope(&view.recent_samples())?;
    // Two points on either side at least: a single odd one is no step.
    let inner = parting.before >= 2 && points.len() - parting.before >= 2;
    if !inner || line.chi_squared - parting.squares < PLAINLY_BETTER {
        return None;
    }
    let variance = |part: &[f64]| 1.0 / part.iter().sum::<f64>();
    let (before, after) = weights.split_at(parting.before);
    let error = (variance(before) + variance(after)).sqrt();
    Some(Verdict::Stepped {
        since: points[parting.before].days.0,
        by: Ranged::of(parting.mean_after - parting.mean_before, error),
    })
}
