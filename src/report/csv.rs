//! The table for spreadsheets: one row an animal, the same numbers and rounding as in the record.

use super::wire::{round, sex_word, view_word};
use super::words;
use crate::ladder::{OffLadder, Placing};
use crate::measures::BodyColour;
use crate::scoop::{GradedAnimal, Scoop};
use crate::units::Reading;

/// Heading and cell of every column, in order.
type Column = (&'static str, fn(&Scoop, &GradedAnimal) -> String);

const COLUMNS: [Column; 29] = [
    ("photo", |s, _| text(&s.photo.file)),
    ("date", |s, _| {
        text(s.photo.capture.taken_at.as_deref().unwrap_or(""))
    }),
    ("line", |s, _| {
        text(s.ladder.as_ref().map_or("", |l| l.line.as_str()))
    }),
    ("netted_seconds", |s, _| {
        s.in_cup.seconds.map_or(String::new(), |n| n.to_string())
    }),
    ("no", |_, a| a.measures.no.to_string()),
    ("sex", |_, a| sex_word(a.measures.sex).to_string()),
    ("view", |_, a| view_word(a.measures.view).to_string()),
    ("length_mm", |_, a| {
        number(a.measures.length_mm.map(|l| l.value), 2)
    }),
    ("length_mm_uncertainty", |_, a| {
        number(a.measures.length_mm.map(|l| l.uncertainty), 2)
    }),
    ("coverage", |_, a| value(a.measures.coverage)),
    ("coverage_uncertainty", |_, a| {
        uncertainty(a.measures.coverage)
    }),
    ("coverage_head", |_, a| {
        number(a.measures.coverage_thirds[0], 4)
    }),
    ("coverage_middle", |_, a| {
        number(a.measures.coverage_thirds[1], 4)
    }),
    ("coverage_tail", |_, a| {
        number(a.measures.coverage_thirds[2], 4)
    }),
    ("opacity", |_, a| value(a.measures.opacity)),
    ("opacity_uncertainty", |_, a| {
        uncertainty(a.measures.opacity)
    }),
    ("evenness", |_, a| value(a.measures.evenness)),
    ("evenness_uncertainty", |_, a| {
        uncertainty(a.measures.evenness)
    }),
    ("hue_deg", |_, a| number(colour(a).map(|c| c.hue_deg), 1)),
    ("chroma", |_, a| number(colour(a).map(|c| c.chroma), 2)),
    ("lightness", |_, a| number(colour(a).map(|c| c.lab[0]), 2)),
    ("clear_window", |_, a| value(a.measures.clear_window)),
    ("clear_middle", |_, a| value(a.measures.clear_middle)),
    ("stripe", |_, a| value(a.measures.stripe)),
    ("legs", |_, a| value(a.measures.legs)),
    ("rung", |_, a| {
        a.placing.rung.map_or(String::new(), |r| r.to_string())
    }),
    ("between", |_, a| between(&a.placing)),
    ("off_ladder", |_, a| {
        a.placing
            .off
            .as_ref()
            .map_or("", OffLadder::word)
            .to_string()
    }),
    ("flags", |_, a| flags(a)),
];

/// The headings as one line of CSV, with its line end.
pub fn heading() -> String {
    line(COLUMNS.iter().map(|(name, _)| (*name).to_string()))
}

/// The animals of one scoop as lines of CSV; empty for a photo without any. Text that a spreadsheet would take for a
/// formula has an apostrophe before it.
pub fn rows(scoop: &Scoop) -> String {
    let row = |animal| line(COLUMNS.iter().map(|(_, cell)| cell(scoop, animal)));
    scoop.animals.iter().map(row).collect()
}

/// Cells as one line of CSV, with its line end.
pub(super) fn line(cells: impl Iterator<Item = String>) -> String {
    let mut writer = csv::Writer::from_writer(Vec::new());
    writer
        .write_record(cells)
        .expect("a row is written to memory");
    let bytes = writer.into_inner().expect("a row is written to memory");
    String::from_utf8(bytes).expect("cells are text")
}

/// Text as a cell that no spreadsheet runs as a formula.
///
/// ```
/// use catchcup::report::csv::text;
/// assert_eq!(text("=1+1"), "'=1+1");
/// assert_eq!(text("scoop 3.jpg"), "scoop 3.jpg");
/// ```
pub fn text(text: &str) -> String {
    let behind = text.strip_prefix('\'');
    let again = behind.is_some_and(|rest| rest.starts_with('\''));
    // An apostrophe before such a sign is guarded too, so that reading it back is exact.
    if again
        || behind
            .unwrap_or(text)
            .starts_with(['=', '+', '-', '@', '\t', '\r', '\n'])
    {
        format!("'{text}")
    } else {
        text.to_string()
    }
}

fn number(value: Option<f64>, digits: i32) -> String {
    value.map_or(String::new(), |v| round(v, digits).to_string())
}

fn value(reading: Reading) -> String {
    number(reading.value(), 4)
}

fn uncertainty(reading: Reading) -> String {
    number(reading.measured().map(|m| m.uncertainty), 4)
}

fn colour(animal: &GradedAnimal) -> Option<&BodyColour> {
    animal.measures.colour.as_ref()
}

fn between(placing: &Placing) -> String {
    placing
        .between
        .map_or(String::new(), |(low, high)| format!("{low}/{high}"))
}

fn flags(animal: &GradedAnimal) -> String {
    let words: Vec<&str> = animal
        .measures
        .flags
        .iter()
        .map(|flag| words::flag_code(*flag))
        .collect();
    words.join(" ")
}
