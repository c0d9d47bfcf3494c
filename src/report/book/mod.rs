//! The book's answers in words: tanks with what holds them back, lines as family trees, scoops filed, the trail.

pub mod filing;
pub mod lines;
pub mod tables;
pub mod tanks;

use jiff::civil::{Date, DateTime};

use super::text::{Page, TextLine, Tone};
use crate::book::care::Checked;
use crate::book::import::Imported;
use crate::book::lines::generation_name;
use crate::book::{Condition, Generation, Hold, Note, NoteKind, TrailEntry};

/// A moment as people read it: to the minute.
pub fn moment(at: DateTime) -> String {
    at.strftime("%Y-%m-%d %H:%M").to_string()
}

/// A hold in words.
pub fn hold(hold: &Hold) -> String {
    match hold {
        Hold::Quarantine { until } => format!("in quarantine until {until}: do not sell"),
        Hold::Losses { count, days } => {
            format!("{count} lost within {days} days: do not sell, look for the cause")
        }
        Hold::Watch { count, days } => format!("{count} lost within {days} days: watch this tank"),
    }
}

/// A hold's word in JSON.
pub fn hold_word(hold: &Hold) -> &'static str {
    match hold {
        Hold::Quarantine { .. } => "quarantine",
        Hold::Losses { .. } => "losses",
        Hold::Watch { .. } => "watch",
    }
}

/// A generation in words: `F2 of R3 in tank A1 since 2026-05-01, 12 females and 6 males from A4`.
pub fn generation(generation: &Generation) -> String {
    let mut line = format!(
        "{} of {} in tank {} since {}",
        generation_name(generation.number),
        generation.line,
        generation.tank,
        generation.since
    );
    line += &match (generation.females, generation.males) {
        (Some(f), Some(m)) => format!(", {f} females and {m} males"),
        (Some(f), None) => format!(", {f} females"),
        (None, Some(m)) => format!(", {m} males"),
        (None, None) => String::new(),
    };
    if !generation.parents.is_empty() {
        line += &format!(" from {}", generation.parents.join(" and "));
    }
    if !generation.origin.is_empty() {
        line += &format!(" from {}", generation.origin);
    }
    line
}

/// A condition in words.
pub fn condition(condition: &Condition) -> String {
    let place = condition
        .tank
        .as_deref()
        .map_or("the room".into(), |tank| format!("tank {tank}"));
    format!(
        "{}: {} {} since {}",
        place,
        condition.kind.word(),
        condition.value,
        condition.since
    )
}

/// A note in words, its tank and day left out.
pub fn note(note: &Note) -> String {
    let count = |what: &str| {
        note.count
            .map_or(what.to_string(), |n| format!("{n} {what}"))
    };
    let mut line = match note.kind {
        NoteKind::Quarantine => note.until.map_or("quarantine".into(), |until| {
            format!("quarantine until {until}")
        }),
        NoteKind::Release => "released from quarantine".into(),
        NoteKind::Loss => count("lost"),
        NoteKind::Treatment => "treatment".into(),
        NoteKind::MovedIn => count("moved in") + &from(" from ", &note.other),
        NoteKind::MovedOut => count("moved out") + &from(" to ", &note.other),
        NoteKind::Remark => String::new(),
    };
    if !note.text.is_empty() {
        if !line.is_empty() {
            line += ": ";
        }
        line += &note.text;
    }
    line
}

/// Adds a row of a table: `fixed` as it is, then `rest`, broken below itself where the line is full.
fn row(out: &mut Page, tone: Tone, fixed: &str, rest: &str) {
    out.row(tone, &format!("{fixed} "), rest);
}

fn from(word: &str, other: &str) -> String {
    if other.is_empty() {
        String::new()
    } else {
        format!("{word}{other}")
    }
}

/// A doubt about an entry, with what to do.
pub fn doubt(doubt: &crate::doubt::Note) -> Vec<TextLine> {
    let mut out = Page::default();
    out.wrapped(Tone::Alarm, "  ", &format!("Doubt: {}", doubt.message));
    out.wrapped(Tone::Plain, "  ", &format!("  {}", doubt.hint));
    out.lines
}

/// Notes, a line each.
pub fn notes(notes: &[Note]) -> Vec<TextLine> {
    let mut out = Page::default();
    for entry in notes {
        let fixed = format!("{:<6} {}", entry.tank, entry.day);
        row(&mut out, Tone::Plain, &fixed, &note(entry));
    }
    if notes.is_empty() {
        out.line(Tone::Faint, "no notes");
    }
    out.lines
}

/// Sentences, a line each; `none` where there are none.
pub fn sentences(sentences: &[String], none: &str) -> Vec<TextLine> {
    let mut out = Page::default();
    for sentence in sentences {
        out.wrapped(Tone::Plain, "  ", sentence);
    }
    if sentences.is_empty() {
        out.line(Tone::Faint, none);
    }
    out.lines
}

/// The trail, latest first.
pub fn trail(entries: &[TrailEntry]) -> Vec<TextLine> {
    let mut out = Page::default();
    for entry in entries {
        let gone = if entry.taken_back {
            "  [taken back]"
        } else {
            ""
        };
        let tone = if entry.taken_back {
            Tone::Faint
        } else {
            Tone::Plain
        };
        let line = format!("{}: {}{gone}", entry.who, entry.what);
        row(&mut out, tone, &moment(entry.at), &line);
    }
    if entries.is_empty() {
        out.line(Tone::Faint, "the book is empty");
    }
    out.lines
}

/// What a check found.
pub fn checked(found: &Checked) -> Vec<TextLine> {
    let mut out = Page::default();
    out.line(
        Tone::Plain,
        format!(
            "{} tanks, {} lines, {} scoops with {} animals, {} photos; {}",
            found.tanks,
            found.lines,
            found.scoops,
            found.animals,
            found.photos,
            size(found.bytes)
        ),
    );
    for fault in &found.faults {
        out.wrapped(Tone::Alarm, "  ", &format!("fault: {fault}"));
    }
    if found.faults.is_empty() {
        out.line(Tone::Plain, "the book is in order");
    }
    out.lines
}

/// Bytes as `12 kB` or `3.4 MB`.
pub fn size(bytes: u64) -> String {
    if bytes < 1_000_000 {
        format!("{} kB", bytes.div_ceil(1000))
    } else {
        format!("{:.1} MB", bytes as f64 / 1e6)
    }
}

/// What an import did.
pub fn imported(name: &str, done: &Imported) -> Vec<TextLine> {
    let mut out = Page::default();
    out.line(
        Tone::Plain,
        format!(
            "{name}: {} animals in {} scoops filed",
            done.animals, done.scoops
        ),
    );
    let mut said = |what: &str, codes: &[String]| {
        if !codes.is_empty() {
            out.wrapped(
                Tone::Plain,
                "  ",
                &format!("new {what}: {}", codes.join(", ")),
            );
        }
    };
    said("lines", &done.new_lines);
    said("tanks", &done.new_tanks);
    out.line(Tone::Faint, "wrong file? take it back: catchcup book undo");
    out.lines
}

/// How many days ago, in words.
pub fn ago(then: Date, today: Date) -> String {
    let days = i64::from((today - then).get_days());
    match days {
        0 => "today".into(),
        1 => "yesterday".into(),
        2..=20 => format!("{days} days ago"),
        21..=90 => format!("{} weeks ago", days / 7),
        91.. => format!("{} months ago", days / 30),
        _ => format!("on {then}"),
    }
}
