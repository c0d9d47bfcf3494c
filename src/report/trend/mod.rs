//! Whether a tank or a line holds, in words: one sentence for what matters, the rest on request.

mod detail;
pub mod tank;

use jiff::civil::Date;

use super::text::{Page, TextLine, Tone};
use crate::ladder::Rung;
use crate::trends::Watched;
use crate::trends::likeness::{Change, LeftOut};
use crate::trends::series::{Axis, Point};
use crate::trends::tank_trend::{MeasureTrend, TankTrend};
use crate::trends::verdict::{FIRST_LOOK, Ranged, Verdict};

/// What is told.
#[derive(Debug, Clone, PartialEq)]
pub struct TrendTold<'a> {
    /// `tank A1, line R1` or `line R1`.
    pub title: &'a str,
    /// Rung from which the house sells.
    pub sale_rung: Rung,
    /// Methods and numbers of all measures.
    pub detail: bool,
}

/// Rows of the small plot at most: the latest points are kept.
const ROWS: usize = 16;
/// Characters across the small plot.
const ACROSS: usize = 44;

/// The answer for a terminal.
pub fn trend_lines(found: &TankTrend, told: &TrendTold<'_>) -> Vec<TextLine> {
    let mut out = Page::default();
    let span = found
        .days
        .map_or(String::new(), |(a, b)| format!(", {a} to {b}"));
    let title = format!("{}: {}{span}", told.title, scoops(found.scoops));
    out.wrapped(Tone::Heading, "  ", &title);
    let (loud, quiet): (Vec<&MeasureTrend>, Vec<&MeasureTrend>) = found
        .measures
        .iter()
        .partition(|m| m.judged.verdict.change().is_some());
    for trend in &loud {
        let alarm = trend.judged.verdict.is_alarm(trend.series.measure);
        let tone = if alarm { Tone::Alarm } else { Tone::Plain };
        out.wrapped(
            tone,
            "  ",
            &format!("{}.", capital(&sentence(trend, told.sale_rung))),
        );
        if let Some(text) = by_chance(trend) {
            out.wrapped(Tone::Plain, "  ", &text);
        }
    }
    quiet_ones(&quiet, loud.is_empty(), told, &mut out);
    if let Some(first) = loud.first().or(quiet.first()) {
        small_plot(first, told, &mut out);
    }
    changes(found, &mut out);
    left_out(found, &mut out);
    if told.detail {
        detail::lines(found, told, &mut out);
    }
    out.lines
}

/// A sentence on a measure without its full stop, as it heads the plot.
pub fn sentence(trend: &MeasureTrend, sale_rung: Rung) -> String {
    let measure = trend.series.measure;
    let name = name(measure, sale_rung);
    match &trend.judged.verdict {
        Verdict::TooEarly(points) => format!(
            "too early to say whether {name} changes: {points} comparable {}, at least {FIRST_LOOK} are needed",
            plural(*points, "point")
        ),
        Verdict::Holds { would_have_shown } => format!(
            "{name}: no change larger than this method's own repeatability; {} a generation would have shown",
            a_change(measure, *would_have_shown)
        ),
        Verdict::CantTell {
            would_have_shown,
            matters,
        } => format!(
            "can't tell yet whether {name} holds: only {} a generation would have shown, and {} costs a rung within five \
             generations; net more animals, always with the same light and cup",
            a_change(measure, *would_have_shown),
            a_change(measure, *matters)
        ),
        Verdict::Moves {
            per_generation,
            since_change,
        } => {
            let since = if *since_change {
                "since the last change noted, "
            } else {
                ""
            };
            let pace = pace(trend, sale_rung);
            format!(
                "{since}{name} {} a generation{pace}",
                moved(measure, per_generation)
            )
        }
        Verdict::Stepped { since, by } => format!(
            "{name} {} at once about {since}, with nothing noted to have changed: was it the sand, the lamp or the cup?",
            moved(measure, by)
        ),
        Verdict::Strays { by } => format!(
            "{name} of the latest scoops {} against the first ones in the same state; not yet steady enough for a pace",
            moved(measure, by)
        ),
    }
}

fn pace(trend: &MeasureTrend, sale_rung: Rung) -> String {
    match trend.generations_left {
        Some(left) if left <= 0.0 => {
            format!("; the mean stands below what {sale_rung} asks already")
        }
        Some(left) if left < 1.5 => {
            format!(
                "; at this pace the mean falls below {sale_rung} within the next generation or two"
            )
        }
        Some(left) if left < 30.0 => {
            format!(
                "; at this pace the mean falls below {sale_rung} in about {left:.0} generations"
            )
        }
        _ => String::new(),
    }
}

/// Whether chance alone could make the slope.
fn by_chance(trend: &MeasureTrend) -> Option<String> {
    let Verdict::Moves { per_generation, .. } = &trend.judged.verdict else {
        return None;
    };
    let chance = trend.chance?;
    let reach = 1.96 * chance.slope_sd;
    let size = chance.effective_size;
    let measure = trend.series.measure;
    Some(if per_generation.value.abs() <= reach {
        format!(
            "Chance alone can move so small a line (as {size:.0} animals) by up to {} a generation: it need not be your selection or the sand.",
            difference(measure, reach, chance.slope_sd)
        )
    } else {
        format!(
            "That is more than chance makes in a line as small as this (as {size:.0} animals: up to {} a generation).",
            difference(measure, reach, chance.slope_sd)
        )
    })
}

/// Why nothing is told of a measure.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Quiet {
    NoChange,
    CantTell,
    TooEarly,
}

/// Measures without a change: one line for all, or a sentence each where nothing else is to be said.
fn quiet_ones(quiet: &[&MeasureTrend], alone: bool, told: &TrendTold<'_>, out: &mut Page) {
    let mut rest = quiet;
    if alone && let Some((first, others)) = quiet.split_first() {
        let text = capital(&sentence(first, told.sale_rung));
        out.wrapped(Tone::Plain, "  ", &format!("{text}."));
        rest = others;
    }
    let kind = |verdict: &Verdict| match verdict {
        Verdict::TooEarly(_) => Quiet::TooEarly,
        Verdict::CantTell { .. } => Quiet::CantTell,
        _ => Quiet::NoChange,
    };
    let of = |which: Quiet| -> Vec<String> {
        rest.iter()
            .filter(|m| kind(&m.judged.verdict) == which)
            .map(|m| name(m.series.measure, told.sale_rung))
            .collect()
    };
    for (which, what) in [
        (Quiet::NoChange, "No change in"),
        (Quiet::CantTell, "Can't tell yet of"),
        (Quiet::TooEarly, "Too early to say of"),
    ] {
        let names = of(which);
        if !names.is_empty() {
            out.wrapped(Tone::Faint, "  ", &format!("{what}: {}.", names.join(", ")));
        }
    }
}

/// One row a point: where, value with its range, and a mark across.
fn small_plot(trend: &MeasureTrend, told: &TrendTold<'_>, out: &mut Page) {
    let points = &trend.series.points;
    let points = &points[points.len().saturating_sub(ROWS)..];
    if points.len() < 2 {
        return;
    }
    let measure = trend.series.measure;
    let ranged: Vec<Ranged> = points.iter().map(|p| point_range(measure, p)).collect();
    let low = ranged.iter().map(|r| r.low).fold(f64::INFINITY, f64::min);
    let high = ranged
        .iter()
        .map(|r| r.high)
        .fold(f64::NEG_INFINITY, f64::max);
    let at = |v: f64| ((v - low) / (high - low).max(1e-9) * (ACROSS - 1) as f64).round() as usize;
    out.blank();
    out.line(
        Tone::Faint,
        format!(
            "  {}, range 95 %",
            name(trend.series.measure, told.sale_rung)
        ),
    );
    let mut before: Option<usize> = None;
    for (point, range) in points.iter().zip(&ranged) {
        let mut row = vec![' '; ACROSS];
        row[at(range.low)..=at(range.high).min(ACROSS - 1)].fill('-');
        row[at(range.value).min(ACROSS - 1)] = 'o';
        let mark = before.is_some_and(|b| b != point.group);
        let sign = if mark { '*' } else { ' ' };
        let row: String = row.into_iter().collect();
        let place = place(trend.series.axis, point);
        let value = amount(trend.series.measure, point.value);
        out.line(Tone::Plain, format!("{sign} {place:<11}{value:>7} |{row}|"));
        before = Some(point.group);
    }
}

/// The range of a point at 95 %; shares stay within 0 and 1.
pub fn point_range(measure: Watched, point: &Point) -> Ranged {
    let range = Ranged::of(point.value, point.variance.sqrt());
    if measure.is_counted() {
        return Ranged {
            low: range.low.max(0.0),
            high: range.high.min(1.0),
            ..range
        };
    }
    range
}

fn place(axis: Axis, point: &Point) -> String {
    match axis {
        Axis::Generation => crate::book::lines::generation_name(point.x as u32),
        Axis::Date => point.days.0.to_string(),
    }
}

/// What was changed, and how far the level moved with it.
fn changes(found: &TankTrend, out: &mut Page) {
    if found.changes.is_empty() {
        return;
    }
    out.blank();
    out.line(
        Tone::Plain,
        "Changed meanwhile (compared only within the same state, * above):",
    );
    for change in &found.changes {
        out.wrapped(Tone::Plain, "    ", &format!("  {}", change_words(change)));
    }
    let Some(trend) = found.measures.first() else {
        return;
    };
    let name = name(trend.series.measure, Rung::BEST);
    for shift in &trend.shifts {
        if shift.by.low > 0.0 || shift.by.high < 0.0 {
            let text = format!(
                "  {name} reads {} {} since {}: that is the change, no fading of the line",
                unsigned(trend.series.measure, &shift.by),
                if shift.by.value < 0.0 {
                    "lower"
                } else {
                    "higher"
                },
                shift.since
            );
            out.wrapped(Tone::Plain, "    ", &text);
        }
    }
}

/// A change in words: `2026-09-09 floor: black sand, now white sand`.
pub fn change_words(change: &Change) -> String {
    format!(
        "{} {}: {}, now {}",
        change.at.date(),
        change.what,
        change.before,
        change.after
    )
}

fn left_out(found: &TankTrend, out: &mut Page) {
    let Some(trend) = found.measures.first() else {
        return;
    };
    let long: Vec<Date> = trend
        .series
        .left_out
        .iter()
        .filter(|(_, why)| matches!(why, LeftOut::TooLong(_)))
        .map(|(at, _)| at.date())
        .collect();
    if !long.is_empty() {
        let days: Vec<String> = long.iter().take(4).map(Date::to_string).collect();
        let more = long.len().saturating_sub(4);
        let more = if more > 0 {
            format!(" and {more} more")
        } else {
            String::new()
        };
        out.wrapped(
            Tone::Faint,
            "  ",
            &format!("Left out, too long in the cup: {}{more}.", days.join(", ")),
        );
    }
}

/// Name of a measure in a sentence.
pub fn name(measure: Watched, sale_rung: Rung) -> String {
    match measure {
        Watched::Coverage => "coverage".into(),
        Watched::Opacity => "opacity".into(),
        Watched::Hue => "hue".into(),
        Watched::SaleShare => format!("the share at or above {sale_rung}"),
        Watched::OffType => "the share of off-types".into(),
        Watched::Size => "length".into(),
        Watched::Spread => "the spread of coverage".into(),
    }
}

/// A value with its unit.
pub fn amount(measure: Watched, value: f64) -> String {
    match measure {
        Watched::Hue => format!("{value:.1} deg"),
        Watched::Size => format!("{value:.1} mm"),
        Watched::SaleShare | Watched::OffType => format!("{:.0} %", 100.0 * value),
        _ => format!("{value:.2}"),
    }
}

/// A difference between values with its unit, with as many digits as `fineness` (its uncertainty, say) is worth.
pub fn difference(measure: Watched, value: f64, fineness: f64) -> String {
    let digits = |unit: f64| usize::from(fineness.abs() < unit);
    match measure {
        Watched::Hue => format!("{value:.*} deg", 1 + digits(0.1)),
        Watched::Size => format!("{value:.*} mm", 1 + digits(0.1)),
        Watched::SaleShare | Watched::OffType => {
            format!("{:.*} points", digits(0.01), 100.0 * value)
        }
        _ => format!("{value:.*}", 2 + digits(0.01)),
    }
}

/// `0.03 (95 % range 0.01 to 0.05)`, all three with the same digits.
pub fn with_range(measure: Watched, value: f64, low: f64, high: f64) -> String {
    let fine = 0.5 * (high - low);
    let plain = |v: f64| {
        let text = difference(measure, v, fine);
        text.split(' ').next().unwrap_or_default().to_string()
    };
    let value = difference(measure, value, fine);
    format!("{value} (95 % range {} to {})", plain(low), plain(high))
}

/// `falls 0.03 (95 % range 0.01 to 0.05)`.
pub fn moved(measure: Watched, by: &Ranged) -> String {
    let down = by.value < 0.0;
    let word = match (measure, down) {
        (Watched::Hue, false) => "turns toward wild type by",
        (Watched::Hue, true) => "turns away from wild type by",
        (_, true) => "falls",
        (_, false) => "rises",
    };
    format!("{word} {}", unsigned(measure, by))
}

/// The size of a change with its range, counted in its own direction.
fn unsigned(measure: Watched, by: &Ranged) -> String {
    let (low, high) = if by.value < 0.0 {
        (-by.high, -by.low)
    } else {
        (by.low, by.high)
    };
    with_range(measure, by.value.abs(), low, high)
}

/// `a fall of 0.04`.
fn a_change(measure: Watched, size: f64) -> String {
    let word = match measure {
        Watched::Hue => "a turn of",
        Watched::OffType | Watched::Spread => "a rise of",
        _ => "a fall of",
    };
    format!("{word} {}", difference(measure, size, 0.5 * size))
}

fn scoops(count: usize) -> String {
    format!("{count} {}", plural(count, "scoop"))
}

/// The word, with an s unless there is one.
pub fn plural(count: usize, word: &str) -> String {
    if count == 1 {
        word.into()
    } else {
        format!("{word}s")
    }
}

/// With a capital first letter.
pub fn capital(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or(String::new(), |first| {
        first.to_uppercase().collect::<String>() + letters.as_str()
    })
}
