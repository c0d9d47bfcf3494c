//! The table of animals: columns nobody has a value for are left out, unknown cells stay empty.

use super::page::{Page, Tone, WIDTH, glued};
use super::words;
use crate::ladder::OffLadder;
use crate::measures::{Flag, Sex};
use crate::scoop::{GradedAnimal, Scoop};
use crate::units::Reading;

/// A column: heading and cell.
type Column = (&'static str, fn(&GradedAnimal) -> String);

const COLUMNS: [Column; 9] = [
    ("no", |a| a.measures.no.to_string()),
    ("rung", rung),
    ("cover %", |a| share(a.measures.coverage)),
    ("opaque %", |a| share(a.measures.opacity)),
    ("even %", |a| share_alone(a.measures.evenness)),
    ("legs %", |a| share_alone(a.measures.legs)),
    ("mid %", |a| share_alone(a.measures.clear_middle)),
    ("mm", |a| {
        a.measures
            .length_mm
            .map_or(String::new(), |l| format!("{:.0}", l.value))
    }),
    ("sex", sex),
];

/// Lines of the table; every line fits the width, the last column is broken below itself.
pub fn animals(scoop: &Scoop, out: &mut Page) {
    let banded = scoop
        .ladder
        .as_ref()
        .is_some_and(|ladder| ladder.line.starts_with("rili"));
    let columns: Vec<&Column> = COLUMNS
        .iter()
        .filter(|(heading, _)| banded || *heading != "mid %")
        .filter(|(_, cell)| scoop.animals.iter().any(|animal| !cell(animal).is_empty()))
        .collect();
    let widths: Vec<usize> = columns.iter().map(|column| width(column, scoop)).collect();
    let start = widths.iter().sum::<usize>() + 2 * widths.len();
    let remarks = scoop
        .animals
        .iter()
        .any(|animal| !remark(animal).is_empty());
    let heading = columns.iter().map(|column| column.0.to_string());
    out.line(
        Tone::Heading,
        row(
            heading,
            &widths,
            if remarks {
                "next rung asks for; remarks"
            } else {
                ""
            },
        ),
    );
    for animal in &scoop.animals {
        let cells = columns.iter().map(|column| column.1(animal));
        let mut lines = broken(&remark(animal), WIDTH.saturating_sub(start)).into_iter();
        out.line(
            Tone::Plain,
            row(cells, &widths, &lines.next().unwrap_or_default()),
        );
        lines.for_each(|line| out.line(Tone::Plain, format!("{}{line}", " ".repeat(start))));
    }
}

fn width(column: &Column, scoop: &Scoop) -> usize {
    let cells = scoop
        .animals
        .iter()
        .map(|animal| column.1(animal).chars().count());
    cells.max().unwrap_or(0).max(column.0.len())
}

/// Cells right-aligned but for the rung, two spaces apart.
fn row(cells: impl Iterator<Item = String>, widths: &[usize], last: &str) -> String {
    let mut line = String::new();
    for (index, (cell, width)) in cells.zip(widths).enumerate() {
        line += &if index == 1 {
            format!("{cell:<width$}  ")
        } else {
            format!("{cell:>width$}  ")
        };
    }
    line + last
}

/// `text` in pieces of at most `width` characters, broken after commas or at spaces.
fn broken(text: &str, width: usize) -> Vec<String> {
    let mut lines = vec![String::new()];
    for word in glued(text) {
        let last = lines.last_mut().expect("the list starts with one line");
        if last.is_empty() {
            *last = word;
        } else if last.chars().count() + 1 + word.chars().count() <= width {
            last.push(' ');
            last.push_str(&word);
        } else {
            lines.push(word);
        }
    }
    lines
}

fn rung(animal: &GradedAnimal) -> String {
    let placing = &animal.placing;
    match (placing.between, placing.rung) {
        (Some((low, high)), _) => format!("{low}/{high}"),
        (None, Some(rung)) => rung.to_string(),
        (None, None) => "-".to_string(),
    }
}

fn share(reading: Reading) -> String {
    let with = |m: crate::units::Measured| {
        format!(
            "{:.0} +-{:.0}",
            100.0 * m.value,
            (100.0 * m.uncertainty).ceil()
        )
    };
    reading.measured().map_or(String::new(), with)
}

fn share_alone(reading: Reading) -> String {
    reading
        .value()
        .map_or(String::new(), |v| format!("{:.0}", 100.0 * v))
}

fn sex(animal: &GradedAnimal) -> String {
    match animal.measures.sex {
        Sex::Female => "f".to_string(),
        Sex::Male => "m".to_string(),
        Sex::Unsure => String::new(),
    }
}

fn remark(animal: &GradedAnimal) -> String {
    let mut parts: Vec<String> = Vec::new();
    match &animal.placing.off {
        Some(OffLadder::Withheld { measure, code }) => {
            parts.push(format!(
                "{}: {}",
                words::short_noun(*measure),
                words::reason(code)
            ));
        }
        Some(OffLadder::OffType(reasons)) => {
            let why = reasons.iter().map(|r| {
                format!(
                    "off-type: {} {}",
                    words::short_noun(r.measure),
                    words::per_cent(r.value)
                )
            });
            parts.extend(why);
        }
        _ => parts.extend(animal.placing.next.as_ref().map(words::next_short)),
    }
    let told = animal
        .measures
        .flags
        .iter()
        .filter(|flag| **flag != Flag::OffType);
    parts.extend(told.map(|flag| words::flag(*flag).to_string()));
    parts.join("; ")
}
