//! Values and price lists, for a terminal.

use crate::book::TankState;
use crate::ladder::Rung;
use crate::proof::price::{TankValue, Value};
use crate::proof::similar::Near;
use crate::report::book::hold as hold_text;
use crate::report::text::{Page, TextLine, Tone};
use crate::report::words::per_cent;
use crate::scoop::PastScoop;

/// A row of the price list.
#[derive(Debug, Clone, PartialEq)]
pub struct Row {
    /// Code of the tank.
    pub tank: String,
    /// Code of its line.
    pub line: String,
    /// Animals of the last scoop by rung, best first, off-type last.
    pub counts: [u32; 7],
    /// Value of those netted, with the range of the undecided ones.
    pub value: Value,
    /// Why nothing may be sold, where so.
    pub held: Option<String>,
    /// Day of the scoop.
    pub day: Option<String>,
}

impl Row {
    /// The row of a tank with the scoops of its last day, which are worth `value`.
    pub fn of(state: &TankState, scoops: &[PastScoop], value: Value) -> Self {
        let animals = || scoops.iter().flat_map(|scoop| &scoop.animals);
        let mut counts = [0; 7];
        for (slot, rung) in counts.iter_mut().zip(Rung::all().rev()) {
            *slot = animals().filter(|a| a.rung == Some(rung)).count() as u32;
        }
        counts[6] = animals().filter(|a| a.is_off_type()).count() as u32;
        let hold = state.holds.0.iter().find(|hold| hold.stops_selling());
        Self {
            tank: state.tank.code.clone(),
            line: state.tank.line.clone().unwrap_or_default(),
            counts,
            value: if hold.is_some() {
                Value::default()
            } else {
                value
            },
            held: hold.map(hold_text),
            day: scoops.last().map(|scoop| scoop.at.date().to_string()),
        }
    }

    /// What an animal of the last scoop is worth on average, in words.
    pub fn price(&self, currency: &str) -> String {
        match (&self.held, mean(&self.value)) {
            (Some(_), _) => "held".to_string(),
            (None, Some((low, at, high))) if low != high => {
                format!("{at} ({low} to {high}) {currency}")
            }
            (None, Some((_, at, _))) => format!("{at} {currency}"),
            (None, None) => "no price".into(),
        }
    }
}

/// Prices of all tanks.
pub fn list(rows: &[Row], currency: &str) -> Vec<TextLine> {
    let mut out = Page::default();
    out.line(
        Tone::Heading,
        "tank   line      scoop       G5 G4 G3 G2 G1 G0 off  each, on average",
    );
    for row in rows {
        let counts: Vec<String> = row.counts.iter().map(|n| format!("{n:>2}")).collect();
        let price = row.price(currency);
        let day = row.day.as_deref().unwrap_or("none yet");
        out.line(
            Tone::Plain,
            format!(
                "{:<6} {:<9} {day:<11} {}  {price}",
                row.tank,
                row.line,
                counts.join(" ")
            ),
        );
    }
    for row in rows {
        if let Some(why) = &row.held {
            out.wrapped(
                Tone::Alarm,
                "  ",
                &format!("{}: not for sale: {why}", row.tank),
            );
        }
    }
    out.wrapped(Tone::Faint, "  ", "Average of the last scoop's animals that have a price; the range is that of animals too close to call.");
    out.lines
}

fn mean(value: &Value) -> Option<(String, String, String)> {
    let n = u64::from(value.priced.max(1));
    let of = |m: Option<crate::proof::Money>| Some(m?.part(1, n).to_string());
    Some((of(value.low)?, of(value.at_rung)?, of(value.high)?))
}

/// Value of a lot photographed whole.
pub fn lot(name: &str, value: &Value, currency: &str) -> Vec<TextLine> {
    let mut out = Page::default();
    match (value.at_rung, value.low, value.high) {
        (Some(at), Some(low), Some(high)) => {
            out.wrapped(
                Tone::Heading,
                "  ",
                &format!("{name}: {at} {currency} for {} animals", value.priced),
            );
            if low != high {
                out.wrapped(
                    Tone::Plain,
                    "  ",
                    &format!("{low} to {high} {currency}, as the animals too close to call fall"),
                );
            }
        }
        _ => out.wrapped(
            Tone::Heading,
            "  ",
            &format!("{name}: no animal has a price"),
        ),
    }
    if value.unpriced > 0 {
        out.wrapped(
            Tone::Plain,
            "  ",
            &format!(
                "{} animals have none: no rung, or not sold at their rung and size",
                value.unpriced
            ),
        );
    }
    out.lines
}

/// Value of a tank.
pub fn tank(code: &str, value: &TankValue, currency: &str) -> Vec<TextLine> {
    let mut out = Page::default();
    let (low, high) = value.range;
    out.wrapped(
        Tone::Heading,
        "  ",
        &format!(
            "Tank {code}: {} {currency} for {} animals, {low} to {high} (95 %)",
            value.value, value.animals
        ),
    );
    out.wrapped(
        Tone::Faint,
        "  ",
        "From the animals netted: a scoop is no random draw, bold and feeding animals come first.",
    );
    out.lines
}

/// What another ladder would make of a lot's value.
pub fn moved(before: &Value, after: &Value, currency: &str) -> Vec<TextLine> {
    let mut out = Page::default();
    let zero = crate::proof::Money::ZERO;
    let (a, b) = (
        before.at_rung.unwrap_or(zero),
        after.at_rung.unwrap_or(zero),
    );
    out.wrapped(
        Tone::Heading,
        "  ",
        &format!(
            "{a} {currency} by the present ladder, {b} by the changed one: {} {currency}",
            b - a
        ),
    );
    out.wrapped(
        Tone::Plain,
        "  ",
        &format!(
            "animals with a price: {} now, {} then",
            before.priced, after.priced
        ),
    );
    out.lines
}

/// Lots most like an earlier one.
pub fn like(wanted: i64, found: &[Near]) -> Vec<TextLine> {
    let mut out = Page::default();
    if found.is_empty() {
        out.wrapped(
            Tone::Heading,
            "  ",
            &format!("No other scoop of that ladder is in the book beside scoop {wanted}"),
        );
        return out.lines;
    }
    out.line(Tone::Heading, format!("Most like scoop {wanted}"));
    out.line(
        Tone::Plain,
        "  tank          scoop  rungs apart  colour apart",
    );
    for near in found {
        let colour = match (near.de00, near.absolute) {
            (Some(d), true) => format!("{d:>5.1} by the chart"),
            (Some(d), false) => format!("{d:>5.1} relative to the cup"),
            (None, _) => "unknown".into(),
        };
        let row = format!(
            "  {:<12}  {:>5}  {:>11}  {colour}",
            near.tank,
            near.scoop,
            per_cent(near.rungs)
        );
        out.line(Tone::Plain, row);
        if !near.unlike.is_empty() {
            let text = format!("      unlike: {}", near.unlike.join(", "));
            out.wrapped(Tone::Plain, "        ", &text);
        }
    }
    out.wrapped(
        Tone::Faint,
        "  ",
        "Closest now is not the same: a distance below about 1 is hardly seen, above 5 plainly.",
    );
    out.lines
}
