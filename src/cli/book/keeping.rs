//! `catchcup note`.

use anyhow::Result;
use catchcup::book::{NewNote, NoteKind};
use catchcup::report::book as text;
use catchcup::report::book::tanks::holds;
use catchcup::report::text::Page;
use catchcup::report::wire::book as wire;

use super::Desk;
use crate::cli::book_args::{NoteArgs, NoteCommand, NoteCount, NoteText};
use crate::cli::output::Out;

/// Runs the part of `note` that was asked for; a tank that is held back is told with its note.
///
/// # Errors
/// Where the book can't be opened, or the note can't be made.
pub fn run(args: &NoteArgs, out: &mut Out) -> Result<bool> {
    let desk = Desk::new(&args.desk)?;
    let mut book = desk.open()?;
    let new = match &args.command {
        NoteCommand::List { tank } => {
            let notes = book.notes(tank.as_deref())?;
            desk.answer(out, notes.iter().map(wire::note), || text::notes(&notes))?;
            return Ok(true);
        }
        NoteCommand::Quarantine { note, until } => NewNote {
            until: Some(*until),
            ..of_text(NoteKind::Quarantine, note)
        },
        NoteCommand::Release(note) => of_text(NoteKind::Release, note),
        NoteCommand::Treatment(note) => of_text(NoteKind::Treatment, note),
        NoteCommand::Remark(note) => of_text(NoteKind::Remark, note),
        NoteCommand::Loss(note) => of_count(NoteKind::Loss, note, ""),
        NoteCommand::MovedIn { note, from } => of_count(NoteKind::MovedIn, note, from),
        NoteCommand::MovedOut { note, to } => of_count(NoteKind::MovedOut, note, to),
    };
    let note = book.add_note(&new, &desk.stamp)?;
    let state = book.tank_state(&note.tank, desk.stamp.at.date(), &desk.house.holds)?;
    desk.answer(out, [wire::note(&note)], || {
        let mut page = Page::default();
        page.lines.extend(text::notes(std::slice::from_ref(&note)));
        holds(&state, &mut page);
        page.lines
    })?;
    Ok(true)
}

fn of_text(kind: NoteKind, note: &NoteText) -> NewNote {
    NewNote {
        tank: note.tank.clone(),
        kind,
        day: note.on,
        count: None,
        until: None,
        other: String::new(),
        text: note.text.join(" "),
        sure: false,
    }
}

fn of_count(kind: NoteKind, note: &NoteCount, other: &str) -> NewNote {
    NewNote {
        tank: note.tank.clone(),
        kind,
        day: note.on,
        count: Some(note.count),
        until: None,
        other: other.to_string(),
        text: note.text.join(" "),
        sure: note.sure,
    }
}
