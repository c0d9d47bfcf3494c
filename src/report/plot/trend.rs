//! One measure over time: points with their ranges, the slope of each state, marks where something changed.

use jiff::civil::Date;

use super::axis::{Scale, stretch};
use super::svg::{Anchor, Svg, broken};
use crate::ladder::Rung;
use crate::report::trend::{amount, capital, change_words, name, plural, point_range, sentence};
use crate::trends::Watched;
use crate::trends::series::{Axis, Point};
use crate::trends::tank_trend::{MeasureTrend, TankTrend};
use crate::trends::verdict::Verdict;

const WIDTH: f64 = 760.0;
const PLOT_HEIGHT: f64 = 250.0;
const LEFT: f64 = 74.0;
const RIGHT: f64 = 24.0;
/// Characters of a line of text across the picture.
const ACROSS: usize = 92;
const LINE: f64 = 19.0;

/// The picture of `trend`, one of the measures of `found`; `title` names the tank or the line.
pub fn trend_svg(found: &TankTrend, trend: &MeasureTrend, title: &str, sale_rung: Rung) -> Svg {
    let text = format!("{}: {}.", capital(title), sentence(trend, sale_rung));
    let head = broken(&text, ACROSS - 8);
    let marks = marks(found, trend);
    let top = 20.0 + LINE * head.len() as f64 + 10.0;
    let notes = notes(found, trend, &marks);
    let height = top + PLOT_HEIGHT + 56.0 + 17.0 * notes.len() as f64 + 8.0;
    let mut svg = Svg::new(WIDTH, height, &text);
    for (i, line) in head.iter().enumerate() {
        svg.text(16.0, 26.0 + LINE * i as f64, Anchor::Start, "title", line);
    }
    let paper = Paper::new(trend, &marks, top);
    paper.grid(&mut svg, trend, sale_rung);
    paper.marks(&mut svg, &marks);
    paper.slopes(&mut svg, trend);
    paper.points(&mut svg, trend);
    for (i, note) in notes.iter().enumerate() {
        let y = top + PLOT_HEIGHT + 60.0 + 17.0 * i as f64;
        svg.text(16.0, y, Anchor::Start, "small", note);
    }
    svg
}

/// Places of the changes on the axis, those at one place together.
fn marks(found: &TankTrend, trend: &MeasureTrend) -> Vec<(f64, Vec<String>)> {
    let mut marks: Vec<(f64, Vec<String>)> = Vec::new();
    for change in &found.changes {
        let x = place_of_day(&trend.series.points, change.at.date());
        let text = change_words(change);
        match marks.iter_mut().find(|(at, _)| (at - x).abs() < 1e-6) {
            Some((_, texts)) => texts.push(text),
            None => marks.push((x, vec![text])),
        }
    }
    marks.sort_by(|a, b| a.0.total_cmp(&b.0));
    marks
}

/// Where a day lies among points that each stand for some days: just before the point that begins on it or contains it.
fn place_of_day(points: &[Point], day: Date) -> f64 {
    let after = points.iter().find(|p| p.days.0 >= day);
    let before = points.iter().rev().find(|p| p.days.0 < day);
    match (before, after) {
        (Some(b), Some(a)) => 0.5 * (b.x + a.x),
        (None, Some(a)) => a.x,
        (Some(b), None) => b.x,
        (None, None) => 0.0,
    }
}

/// Lines below the picture.
fn notes(found: &TankTrend, trend: &MeasureTrend, marks: &[(f64, Vec<String>)]) -> Vec<String> {
    let mut notes = Vec::new();
    for (number, (_, texts)) in marks.iter().enumerate() {
        for line in broken(
            &format!("{}  {}", number + 1, texts.join("; ")),
            ACROSS + 14,
        ) {
            notes.push(line);
        }
    }
    let alone = hollow(trend).count();
    if alone > 0 {
        notes.push(format!(
            "Grey rings: {alone} {} that nothing can be compared with in the same state, left out.",
            plural(alone, "point")
        ));
    }
    let animals: usize = trend.series.points.iter().map(|p| p.animals).sum();
    notes.push(format!(
        "{} scoops, {animals} animals. Bars: 95 % range of a point. A colour grade is no health certificate.",
        found.scoops
    ));
    notes
}

/// Points whose state has no other.
fn hollow(trend: &MeasureTrend) -> impl Iterator<Item = &Point> {
    let points = &trend.series.points;
    let alone = |p: &&Point| points.iter().filter(|q| q.group == p.group).count() < 2;
    points.iter().filter(alone)
}

struct Paper {
    x: Scale,
    y: Scale,
    bottom: f64,
    top: f64,
    /// First day, for an axis of dates.
    start: Option<Date>,
}

impl Paper {
    fn new(trend: &MeasureTrend, marks: &[(f64, Vec<String>)], top: f64) -> Self {
        let points = &trend.series.points;
        let bottom = top + PLOT_HEIGHT;
        let ends = points.iter().flat_map(|p| {
            let range = point_range(trend.series.measure, p);
            [range.low, range.high]
        });
        let places = points.iter().map(|p| p.x).chain(marks.iter().map(|m| m.0));
        let mut room = stretch(places, 0.04);
        if room.1 - room.0 < 1.0 {
            room = (room.0 - 0.5, room.1 + 0.5);
        }
        Self {
            x: Scale {
                values: room,
                paper: (LEFT, WIDTH - RIGHT),
            },
            y: Scale {
                values: stretch(ends, 0.06),
                paper: (bottom, top),
            },
            bottom,
            top,
            start: points
                .iter()
                .find(|p| trend.series.axis == Axis::Date && p.x < 31.0)
                .map(|p| p.days.0),
        }
    }

    fn grid(&self, svg: &mut Svg, trend: &MeasureTrend, sale_rung: Rung) {
        let measure = trend.series.measure;
        let per_cent = measure.is_counted();
        for tick in self.y.ticks(5) {
            let y = self.y.at(tick);
            svg.line((LEFT, y), (WIDTH - RIGHT, y), "grid");
            let text = if per_cent {
                format!("{:.0} %", 100.0 * tick)
            } else {
                format!("{tick:.*}", self.y.digits(5))
            };
            svg.text(LEFT - 8.0, y + 4.5, Anchor::End, "small", &text);
        }
        svg.line((LEFT, self.bottom), (WIDTH - RIGHT, self.bottom), "axis");
        let unit = match measure {
            Watched::Hue => ", degrees toward wild type",
            Watched::Size => ", mm",
            _ => "",
        };
        let label = format!("{}{unit}", name(measure, sale_rung));
        svg.upright(20.0, 0.5 * (self.top + self.bottom), "", &label);
        self.places(svg, trend);
    }

    fn places(&self, svg: &mut Svg, trend: &MeasureTrend) {
        let y = self.bottom + 18.0;
        match trend.series.axis {
            Axis::Generation => {
                let mut ticks = self.x.ticks(12);
                ticks.retain(|t| (t - t.round()).abs() < 1e-6 && *t >= 0.0);
                for tick in ticks {
                    let word = crate::book::lines::generation_name(tick as u32);
                    let short = if tick < 0.5 { "F0".into() } else { word };
                    svg.text(self.x.at(tick), y, Anchor::Middle, "small", &short);
                }
                svg.text(
                    0.5 * (LEFT + WIDTH - RIGHT),
                    y + 18.0,
                    Anchor::Middle,
                    "",
                    "generation",
                );
            }
            Axis::Date => {
                let start = self.start.or(trend.series.points.first().map(|p| p.days.0));
                for tick in self.x.ticks(7) {
                    let day =
                        start.and_then(|s| s.checked_add(jiff::Span::new().days(tick as i64)).ok());
                    let text = day.map_or(String::new(), |d| d.to_string());
                    svg.line(
                        (self.x.at(tick), self.bottom),
                        (self.x.at(tick), self.bottom + 4.0),
                        "axis",
                    );
                    svg.text(self.x.at(tick), y, Anchor::Middle, "small", &text);
                }
            }
        }
    }

    fn marks(&self, svg: &mut Svg, marks: &[(f64, Vec<String>)]) {
        for (number, (x, _)) in marks.iter().enumerate() {
            let x = self.x.at(*x);
            svg.line((x, self.top), (x, self.bottom), "mark");
            svg.text(
                x + 4.0,
                self.top + 11.0,
                Anchor::Start,
                "small bold",
                &(number + 1).to_string(),
            );
        }
    }

    /// The slope of each state that took part, where a change is told; a level line where none is.
    fn slopes(&self, svg: &mut Svg, trend: &MeasureTrend) {
        let told = match trend.judged.verdict {
            Verdict::Moves {
                since_change: true, ..
            } => trend.judged.recent.as_ref(),
            _ => trend.judged.slope.as_ref(),
        };
        let Some(slope) = told else { return };
        let changing = trend.judged.verdict.change().is_some();
        let tilt = if changing { slope.slope } else { 0.0 };
        for (group, level) in slope.levels.iter().enumerate() {
            let own = || trend.series.points.iter().filter(move |p| p.group == group);
            let (Some(level), Some(first), Some(last)) = (level, own().next(), own().next_back())
            else {
                continue;
            };
            if own().count() < 2 {
                continue;
            }
            let weight: f64 = own().map(|p| 1.0 / p.variance).sum();
            let middle = own().map(|p| p.x / p.variance).sum::<f64>() / weight;
            // Level lines pass through the mean, slopes through their own level at 0.
            let at = |x: f64| level + slope.slope * middle + tilt * (x - middle);
            let ends = [(first.x, at(first.x)), (last.x, at(last.x))];
            svg.path(
                &ends.map(|(x, v)| (self.x.at(x), self.y.at(v))),
                false,
                "line",
            );
        }
    }

    fn points(&self, svg: &mut Svg, trend: &MeasureTrend) {
        let measure = trend.series.measure;
        let alone: Vec<&Point> = hollow(trend).collect();
        for (i, point) in trend.series.points.iter().enumerate() {
            let same = trend.series.points[..i]
                .iter()
                .filter(|p| (p.x - point.x).abs() < 1e-9);
            let x = self.x.at(point.x) + 7.0 * same.count() as f64;
            let range = point_range(measure, point);
            let faint = alone.iter().any(|a| std::ptr::eq(*a, point));
            let (bar, dot) = if faint {
                ("faintbar", "fainthole")
            } else {
                ("bar", "dot")
            };
            svg.line((x, self.y.at(range.low)), (x, self.y.at(range.high)), bar);
            let told = format!(
                "{} to {}: {} ({} to {}), {} {}",
                point.days.0,
                point.days.1,
                amount(measure, point.value),
                amount(measure, range.low),
                amount(measure, range.high),
                point.animals,
                plural(point.animals, "animal")
            );
            svg.circle((x, self.y.at(point.value)), 4.5, dot, &told);
        }
    }
}
