//! Tables of the whole book for spreadsheets, a file a table.

use crate::book::lines::generation_name;
use crate::book::table::COLUMNS;
use crate::book::{Condition, Generation, Line, Note, Tank, TrailEntry};
use crate::report::csv::{line, text};
use crate::report::wire::{round, sex_word};
use crate::scoop::{KeptAnimal, PastScoop};

/// Everything that the tables are made from.
#[derive(Debug)]
pub struct WholeBook {
    /// Tanks.
    pub tanks: Vec<Tank>,
    /// Lines.
    pub lines: Vec<Line>,
    /// Generations.
    pub generations: Vec<Generation>,
    /// Conditions.
    pub conditions: Vec<Condition>,
    /// Notes.
    pub notes: Vec<Note>,
    /// Scoops.
    pub scoops: Vec<PastScoop>,
    /// The trail.
    pub trail: Vec<TrailEntry>,
}

/// Name and text of every table.
pub fn tables(book: &WholeBook) -> Vec<(&'static str, String)> {
    vec![
        ("animals.csv", animals(&book.scoops)),
        ("scoops.csv", scoops(&book.scoops)),
        ("tanks.csv", tanks(&book.tanks)),
        ("lines.csv", lines(&book.lines)),
        ("generations.csv", generations(&book.generations)),
        ("conditions.csv", conditions(&book.conditions)),
        ("notes.csv", notes(&book.notes)),
        ("trail.csv", trail(&book.trail)),
    ]
}

fn table<T>(headings: &[&str], rows: &[T], cells: impl Fn(&T) -> Vec<String>) -> String {
    let mut out = line(headings.iter().map(|h| (*h).to_string()));
    for row in rows {
        out += &line(cells(row).into_iter());
    }
    out
}

fn shown<T: ToString>(value: Option<T>) -> String {
    value.map_or(String::new(), |value| value.to_string())
}

fn tanks(all: &[Tank]) -> String {
    let headings = [
        "tank", "line", "ladder", "place", "litres", "since", "retired",
    ];
    table(&headings, all, |tank| {
        vec![
            text(&tank.code),
            text(tank.line.as_deref().unwrap_or("")),
            shown(tank.ladder.as_ref()),
            text(&tank.place),
            shown(tank.litres),
            tank.since.to_string(),
            shown(tank.retired),
        ]
    })
}

fn lines(all: &[Line]) -> String {
    table(&["line", "title", "ladder", "since", "ended"], all, |l| {
        vec![
            text(&l.code),
            text(&l.title),
            text(&l.ladder),
            l.since.to_string(),
            shown(l.ended),
        ]
    })
}

fn generations(all: &[Generation]) -> String {
    let headings = [
        "tank",
        "line",
        "generation",
        "since",
        "females",
        "males",
        "origin",
        "parents",
    ];
    table(&headings, all, |g| {
        vec![
            text(&g.tank),
            text(&g.line),
            generation_name(g.number),
            g.since.to_string(),
            shown(g.females),
            shown(g.males),
            text(&g.origin),
            text(&g.parents.join(" ")),
        ]
    })
}

fn conditions(all: &[Condition]) -> String {
    table(&["tank", "condition", "value", "since"], all, |c| {
        vec![
            text(c.tank.as_deref().unwrap_or("")),
            c.kind.word().into(),
            text(&c.value),
            c.since.to_string(),
        ]
    })
}

fn notes(all: &[Note]) -> String {
    let headings = ["tank", "note", "date", "count", "until", "other", "text"];
    table(&headings, all, |n| {
        vec![
            text(&n.tank),
            n.kind.word().into(),
            n.day.to_string(),
            shown(n.count),
            shown(n.until),
            text(&n.other),
            text(&n.text),
        ]
    })
}

fn trail(all: &[TrailEntry]) -> String {
    table(&["entry", "at", "who", "what", "taken_back"], all, |e| {
        vec![
            e.number.to_string(),
            e.at.to_string(),
            text(&e.who),
            text(&e.what),
            e.taken_back.to_string(),
        ]
    })
}

fn scoops(all: &[PastScoop]) -> String {
    let headings = [
        "scoop",
        "tank",
        "line",
        "generation",
        "date",
        "who",
        "kept_apart",
        "second_of",
        "ladder",
        "netted_seconds",
        "camera",
        "photo",
        "photo_sha256",
        "doubts",
        "remark",
    ];
    table(&headings, all, |s| {
        let o = &s.origin;
        vec![
            s.number.to_string(),
            text(&s.tank),
            text(s.line.as_deref().unwrap_or("")),
            s.generation.map_or(String::new(), generation_name),
            s.at.to_string(),
            text(&s.who),
            s.kept_apart.to_string(),
            shown(s.second_of),
            text(o.ladder.as_deref().unwrap_or("")),
            shown(o.netted_seconds),
            text(o.camera.as_deref().unwrap_or("")),
            text(o.photo_file.as_deref().unwrap_or("")),
            shown(o.photo_sha256.as_ref()),
            o.doubts.join(" "),
            text(&s.remark),
        ]
    })
}

/// One row an animal; the first columns are those that the import understands.
fn animals(all: &[PastScoop]) -> String {
    let more = [
        "length_mm_uncertainty",
        "coverage_uncertainty",
        "opacity_uncertainty",
        "evenness_uncertainty",
        "between",
        "off_ladder",
        "coverage_head",
        "coverage_middle",
        "coverage_tail",
        "line_de00",
        "wrong_hue_share",
        "brown_share",
        "flags",
        "withheld",
    ];
    let mut out = line(COLUMNS.iter().chain(&more).map(|h| (*h).to_string()));
    for scoop in all {
        for animal in &scoop.animals {
            out += &line(animal_cells(scoop, animal).into_iter());
        }
    }
    out
}

fn animal_cells(scoop: &PastScoop, animal: &KeptAnimal) -> Vec<String> {
    let number =
        |value: Option<f64>, digits| value.map_or(String::new(), |v| round(v, digits).to_string());
    let value = |m: Option<crate::units::Measured>, digits| number(m.map(|m| m.value), digits);
    let doubt =
        |m: Option<crate::units::Measured>, digits| number(m.map(|m| m.uncertainty), digits);
    let sex = sex_word(animal.sex);
    let rung = match animal.rung {
        Some(rung) => rung.to_string(),
        None if animal.is_off_type() => "off-type".into(),
        None => String::new(),
    };
    let withheld: Vec<String> = animal
        .withheld
        .iter()
        .map(|(m, code)| format!("{m}={code}"))
        .collect();
    vec![
        text(&scoop.tank),
        text(scoop.line.as_deref().unwrap_or("")),
        scoop.generation.map_or(String::new(), generation_name),
        scoop.at.to_string(),
        scoop.number.to_string(),
        animal.no.to_string(),
        sex.into(),
        value(animal.length_mm, 2),
        value(animal.coverage, 4),
        value(animal.opacity, 4),
        value(animal.evenness, 4),
        number(animal.colour.and_then(|c| c.hue_deg), 1),
        number(animal.colour.and_then(|c| c.chroma), 2),
        rung,
        doubt(animal.length_mm, 2),
        doubt(animal.coverage, 4),
        doubt(animal.opacity, 4),
        doubt(animal.evenness, 4),
        animal
            .between
            .map_or(String::new(), |(low, high)| format!("{low}/{high}")),
        animal.off_ladder.clone().unwrap_or_default(),
        number(animal.coverage_thirds[0], 4),
        number(animal.coverage_thirds[1], 4),
        number(animal.coverage_thirds[2], 4),
        value(animal.line_de00, 2),
        value(animal.wrong_hue_share, 4),
        value(animal.brown_share, 4),
        animal.flags.join(" "),
        withheld.join(" "),
    ]
}
