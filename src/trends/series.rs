//! A tank's or a line's past as points of one measure: scoops that are alike and close in time stand together in one point.

use std::collections::BTreeMap;

use jiff::civil::{Date, DateTime};

use super::likeness::{Known, LeftOut, Likeness, given_sex};
use super::scatter::{FewScoops, HouseScatter};
use super::slope::Sample;
use super::watched::Watched;
use crate::ladder::Rung;
use crate::scoop::{KeptAnimal, MinutesRule, PastScoop};

/// What lies along the axis of a trend.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Axis {
    /// Generations of the line.
    Generation,
    /// Days since the first scoop, in periods of [`PERIOD_DAYS`].
    Date,
}

/// Scoops within so many days stand in one point of a trend by date: a fourth of a generation, so that looking every week is not
/// looking at something new every week.
pub const PERIOD_DAYS: f64 = 30.0;

/// Hue of wild type, degrees: green-brown (common practice, no source; CIELAB hue of a muddy brown).
const WILD_HUE: f64 = 75.0;

/// How a past is read.
#[derive(Debug, Clone, PartialEq)]
pub struct Reading {
    /// The axis.
    pub axis: Axis,
    /// Rung from which the house sells.
    pub sale_rung: Rung,
    /// Minutes in the cup that the house allows.
    pub minutes: MinutesRule,
}

/// One point of a trend.
#[derive(Debug, Clone, PartialEq)]
pub struct Point {
    /// Generations, or days since the first scoop.
    pub x: f64,
    /// The value.
    pub value: f64,
    /// Its variance: within scoops by the number of animals, and from scoop to scoop.
    pub variance: f64,
    /// Index of its likeness.
    pub group: usize,
    /// First and last day of its scoops.
    pub days: (Date, Date),
    /// Scoops in it.
    pub scoops: usize,
    /// Animals in it.
    pub animals: usize,
    /// For counted measures: how many had it.
    pub count: Option<u64>,
}

/// All points of a measure, earliest first.
#[derive(Debug, Clone, PartialEq)]
pub struct Series {
    /// The measure.
    pub measure: Watched,
    /// The axis.
    pub axis: Axis,
    /// The points.
    pub points: Vec<Point>,
    /// What each group of points is like.
    pub groups: Vec<Likeness>,
    /// Scoops that can't be compared.
    pub left_out: Vec<(DateTime, LeftOut)>,
    /// Standard deviation within scoops; `None` for counted measures.
    pub within_sd: Option<f64>,
    /// Hue in degrees that stands for 0, and +1 or -1 for the direction of wild type; `None` for other measures.
    pub hue_zero: Option<(f64, f64)>,
}

impl Series {
    /// Samples for a slope.
    pub fn samples(&self) -> Vec<Sample> {
        let sample = |p: &Point| Sample {
            x: p.x,
            y: p.value,
            variance: p.variance,
            group: p.group,
        };
        self.points.iter().map(sample).collect()
    }

    /// The first `count` points as a series of their own.
    pub fn up_to(&self, count: usize) -> Series {
        let mut cut = self.clone();
        cut.points.truncate(count);
        cut
    }
}

/// Values, and how many had what is counted of how many.
type Stratum = (Vec<f64>, (u64, u64));

/// What one scoop gives for a measure, animals of one given sex together.
struct Batch<'a> {
    scoop: &'a PastScoop,
    group: usize,
    values: Vec<f64>,
    counted: (u64, u64),
    strata: usize,
}

/// Scoops with what each is like: worked out once for all measures.
#[derive(Debug)]
pub struct Past<'a> {
    scoops: Vec<(&'a PastScoop, Result<usize, LeftOut>)>,
    like: Vec<Likeness>,
}

impl<'a> Past<'a> {
    /// From `scoops`, earliest first; those that are photos of the same animals again are left out. `minutes` in the cup as the house
    /// allows.
    pub fn of(scoops: impl IntoIterator<Item = &'a PastScoop>, minutes: &MinutesRule) -> Self {
        let used = scoops.into_iter().filter(|s| s.second_of.is_none());
        let used: Vec<&PastScoop> = used.collect();
        let known = Known::of(&used);
        let mut like: Vec<Likeness> = Vec::new();
        let mut place = |likeness: Likeness| {
            like.iter().position(|l| *l == likeness).unwrap_or_else(|| {
                like.push(likeness);
                like.len() - 1
            })
        };
        let scoops = used
            .into_iter()
            .map(|scoop| (scoop, known.likeness(scoop, minutes).map(&mut place)))
            .collect();
        Self { scoops, like }
    }
}

/// The groups that a measure parts its scoops into, by likeness, given sex and ladder.
#[derive(Default)]
struct Groups<'a> {
    keys: Vec<(usize, Option<&'static str>, Option<&'a str>)>,
}

impl<'a> Groups<'a> {
    fn place(&mut self, key: (usize, Option<&'static str>, Option<&'a str>)) -> usize {
        let known = self.keys.iter().position(|k| *k == key);
        known.unwrap_or_else(|| {
            self.keys.push(key);
            self.keys.len() - 1
        })
    }

    fn told(self, like: &[Likeness]) -> Vec<Likeness> {
        let told = |(at, sex, ladder): (usize, Option<&'static str>, Option<&str>)| Likeness {
            sex,
            ladder: ladder.map(str::to_string),
            ..like[at].clone()
        };
        self.keys.into_iter().map(told).collect()
    }
}

/// The series of `measure` from `scoops`, as [`Past::of`] takes them.
pub fn series(
    measure: Watched,
    scoops: &[PastScoop],
    reading: &Reading,
    scatter: &HouseScatter,
) -> Series {
    series_of(
        measure,
        &Past::of(scoops, &reading.minutes),
        reading,
        scatter,
    )
}

/// The series of `measure` from a past.
pub fn series_of(
    measure: Watched,
    past: &Past<'_>,
    reading: &Reading,
    scatter: &HouseScatter,
) -> Series {
    let mut groups = Groups::default();
    let (mut batches, mut left_out) = (Vec::new(), Vec::new());
    for (scoop, like) in &past.scoops {
        match like {
            Ok(like) => batches.extend(of_scoop(measure, scoop, *like, reading, &mut groups)),
            Err(why) => left_out.push((scoop.at, why.clone())),
        }
    }
    let hue_zero = (measure == Watched::Hue)
        .then(|| straighten(&mut batches))
        .flatten();
    let within = within_sd(&batches);
    let points = points(measure, &batches, reading.axis, within.as_ref(), scatter);
    let mut series = Series {
        measure,
        axis: reading.axis,
        points,
        groups: groups.told(&past.like),
        left_out,
        within_sd: within.map(|w| w.sd),
        hue_zero,
    };
    tell_alone(&mut series);
    series
}

/// Batches of a scoop by given sex; a group that is new is added to `groups`.
fn of_scoop<'a>(
    measure: Watched,
    scoop: &'a PastScoop,
    like: usize,
    reading: &Reading,
    groups: &mut Groups<'a>,
) -> Vec<Batch<'a>> {
    let mut by_sex: BTreeMap<Option<&'static str>, Stratum> = BTreeMap::new();
    for animal in &scoop.animals {
        // Shares are of all that a buyer would receive, whatever their sex.
        let sex = given_sex(animal).filter(|_| !measure.is_counted());
        let own = by_sex.entry(sex).or_default();
        own.0.extend(measure.of(animal));
        if let Some(has) = has(measure, animal, reading.sale_rung) {
            own.1.0 += u64::from(has);
            own.1.1 += 1;
        }
    }
    by_sex.retain(|_, (values, counted)| match measure {
        Watched::Spread => values.len() > 1,
        _ if measure.is_counted() => counted.1 > 0,
        _ => !values.is_empty(),
    });
    let strata = by_sex.len();
    let ladder = scoop.origin.ladder_sha256.as_deref();
    let ladder = ladder.filter(|_| measure == Watched::SaleShare);
    let mut batch = |(sex, (values, counted))| {
        let group = groups.place((like, sex, ladder));
        Batch {
            scoop,
            group,
            values,
            counted,
            strata,
        }
    };
    by_sex.into_iter().map(&mut batch).collect()
}

/// Whether a judged animal has what is counted; `None` where it is not judged, or nothing is counted.
fn has(measure: Watched, animal: &KeptAnimal, sale: Rung) -> Option<bool> {
    if !animal.is_judged() {
        return None;
    }
    match measure {
        Watched::SaleShare => Some(animal.rung.is_some_and(|rung| rung >= sale)),
        Watched::OffType => Some(animal.is_off_type()),
        _ => None,
    }
}

/// Turns hues into degrees from the mean of the first scoop that has any, positive toward wild type.
fn straighten(batches: &mut [Batch<'_>]) -> Option<(f64, f64)> {
    let first = batches.iter().find(|b| !b.values.is_empty())?;
    let (sine, cosine) = first.values.iter().fold((0.0, 0.0), |(s, c), hue| {
        (s + hue.to_radians().sin(), c + hue.to_radians().cos())
    });
    let zero = f64::atan2(sine, cosine).to_degrees().rem_euclid(360.0);
    let away = |hue: f64, from: f64| (hue - from + 180.0).rem_euclid(360.0) - 180.0;
    let sign = if away(WILD_HUE, zero) < 0.0 {
        -1.0
    } else {
        1.0
    };
    for value in batches.iter_mut().flat_map(|b| &mut b.values) {
        *value = sign * away(*value, zero);
    }
    Some((zero, sign))
}

/// Scatter of animals within scoops, over all batches.
struct Within {
    sd: f64,
    /// Fourth moment over the squared variance; 3 for a normal distribution.
    kurtosis: f64,
}

fn within_sd(batches: &[Batch<'_>]) -> Option<Within> {
    let (mut squares, mut fourths, mut freedom, mut n) = (0.0, 0.0, 0.0, 0.0);
    for batch in batches.iter().filter(|b| b.values.len() > 1) {
        let mean = batch.values.iter().sum::<f64>() / batch.values.len() as f64;
        for value in &batch.values {
            squares += (value - mean).powi(2);
            fourths += (value - mean).powi(4);
        }
        freedom += batch.values.len() as f64 - 1.0;
        n += batch.values.len() as f64;
    }
    (freedom > 0.0 && squares > 0.0).then(|| Within {
        sd: (squares / freedom).sqrt(),
        // Kept between a two-point and a very long-tailed distribution: it is a rough estimate.
        kurtosis: (fourths / n / (squares / n).powi(2)).clamp(1.5, 9.0),
    })
}

/// Batches that stand in one point: alike, and of one generation or period.
fn points(
    measure: Watched,
    batches: &[Batch<'_>],
    axis: Axis,
    within: Option<&Within>,
    scatter: &HouseScatter,
) -> Vec<Point> {
    let start = batches.first().map(|b| b.scoop.at.date());
    let days = |b: &Batch<'_>| start.map_or(0.0, |s| f64::from((b.scoop.at.date() - s).get_days()));
    let mut cells: BTreeMap<(i64, usize), Vec<&Batch<'_>>> = BTreeMap::new();
    for batch in batches {
        let cell = match axis {
            Axis::Generation => batch.scoop.generation.map(i64::from),
            Axis::Date => Some((days(batch) / PERIOD_DAYS).floor() as i64),
        };
        if let Some(cell) = cell {
            cells.entry((cell, batch.group)).or_default().push(batch);
        }
    }
    let share = pooled_share(batches);
    let mut points: Vec<Point> = cells
        .iter()
        .filter_map(|((cell, group), own)| {
            let (value, variance) = if measure.is_counted() {
                counted_value(own, share, scatter)
            } else {
                let within = within?;
                let house = scatter.between(measure, within.sd);
                match measure {
                    Watched::Spread => spread_value(own, within),
                    _ => mean_value(own, within.sd, house),
                }
            };
            let x = match axis {
                Axis::Generation => *cell as f64,
                Axis::Date => own.iter().map(|b| days(b)).sum::<f64>() / own.len() as f64,
            };
            let dates = || own.iter().map(|b| b.scoop.at.date());
            Some(Point {
                x,
                value,
                variance,
                group: *group,
                days: (dates().min()?, dates().max()?),
                scoops: own.len(),
                animals: own.iter().map(|b| size(measure, b)).sum(),
                count: measure
                    .is_counted()
                    .then(|| own.iter().map(|b| b.counted.0).sum()),
            })
        })
        .collect();
    points.sort_by(|a, b| a.days.cmp(&b.days).then(a.group.cmp(&b.group)));
    points
}

fn size(measure: Watched, batch: &Batch<'_>) -> usize {
    if measure.is_counted() {
        batch.counted.1 as usize
    } else {
        batch.values.len()
    }
}

/// Mean over all animals of the cell; each scoop brings a shift of its own, shared by the sexes in it.
fn mean_value(own: &[&Batch<'_>], within: f64, house: f64) -> (f64, f64) {
    let n: f64 = own.iter().map(|b| b.values.len() as f64).sum();
    let sum: f64 = own.iter().flat_map(|b| &b.values).sum();
    let shifts: f64 = own
        .iter()
        .map(|b| (b.values.len() as f64 / n).powi(2) * b.strata as f64)
        .sum();
    (sum / n, within * within / n + house * house * shifts)
}

/// Standard deviation within the scoops of the cell, by its usual variance with the fourth moment of this tank's animals.
fn spread_value(own: &[&Batch<'_>], within: &Within) -> (f64, f64) {
    let mut sum = (0.0, 0.0);
    for batch in own {
        let mean = batch.values.iter().sum::<f64>() / batch.values.len() as f64;
        sum.0 += batch.values.iter().map(|v| (v - mean).powi(2)).sum::<f64>();
        sum.1 += batch.values.len() as f64 - 1.0;
    }
    let of_variance = (within.kurtosis - 1.0).max(0.5) / sum.1;
    (
        (sum.0 / sum.1).sqrt(),
        within.sd * within.sd * of_variance / 4.0,
    )
}

/// Share over all batches, kept off 0 and 1.
fn pooled_share(batches: &[Batch<'_>]) -> f64 {
    let (count, n) = batches
        .iter()
        .fold((0, 0), |(c, n), b| (c + b.counted.0, n + b.counted.1));
    (count as f64 + 1.0) / (n as f64 + 2.0)
}

fn counted_value(own: &[&Batch<'_>], share: f64, scatter: &HouseScatter) -> (f64, f64) {
    let (count, n) = own
        .iter()
        .fold((0, 0), |(c, n), b| (c + b.counted.0, n + b.counted.1));
    let n = n as f64;
    // Design effect: the correlation counts among animals of the same scoop only.
    let pairs: f64 = own
        .iter()
        .map(|b| b.counted.1 as f64 * (b.counted.1 as f64 - 1.0))
        .sum();
    let variance = share * (1.0 - share) / n * (1.0 + scatter.icc * pairs / n);
    (count as f64 / n, variance)
}

/// Notes the scoops of groups with a single point: no other is like them.
fn tell_alone(series: &mut Series) {
    for group in 0..series.groups.len() {
        let mut own = series.points.iter().filter(|p| p.group == group);
        if let (Some(only), None) = (own.next(), own.next()) {
            let at = only.days.0.at(0, 0, 0, 0);
            series.left_out.push((at, LeftOut::Alone));
        }
    }
    series.left_out.sort_by_key(|(at, _)| *at);
}

/// Scatter from scoop to scoop of one measure, from scoops of the same tank close after one another, where there are enough.
pub(super) fn neighbours(
    measure: Watched,
    past: &Past<'_>,
    reading: &Reading,
) -> Result<f64, FewScoops> {
    let (mut groups, mut batches) = (Groups::default(), Vec::new());
    for (scoop, like) in &past.scoops {
        if let Ok(like) = like {
            batches.extend(of_scoop(measure, scoop, *like, reading, &mut groups));
        }
    }
    if measure == Watched::Hue {
        // Each tank has a hue of its own; differences within a tank are all that counts, and they are small.
        straighten(&mut batches);
    }
    let within = within_sd(&batches).ok_or(FewScoops(0))?.sd;
    let mut latest: BTreeMap<usize, &Batch<'_>> = BTreeMap::new();
    let (mut sum, mut pairs) = (0.0, 0usize);
    for batch in batches.iter().filter(|b| b.values.len() > 1) {
        if let Some(before) = latest.insert(batch.group, batch)
            && batch.scoop.generation == before.scoop.generation
            && f64::from((batch.scoop.at.date() - before.scoop.at.date()).get_days())
                <= super::scatter::NEAR_DAYS
        {
            let mean = |b: &Batch<'_>| b.values.iter().sum::<f64>() / b.values.len() as f64;
            let sampling = |b: &Batch<'_>| within * within / b.values.len() as f64;
            sum += (mean(batch) - mean(before)).powi(2) - sampling(batch) - sampling(before);
            pairs += 1;
        }
    }
    if pairs < super::scatter::FEWEST_PAIRS {
        return Err(FewScoops(pairs));
    }
    Ok((0.5 * sum / pairs as f64).max(0.0).sqrt())
}
