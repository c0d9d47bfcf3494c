//! Notes: quarantine, losses, treatments, animals moved in and out, remarks.

use jiff::civil::Date;
use rusqlite::types::Value;

use super::rows::{day, maybe_parsed, parsed, unreadable};
use super::{Book, Stamp, failed, names, sense};
use crate::error::Error;

/// What a note is about.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum NoteKind {
    /// In quarantine until a day.
    Quarantine,
    /// Released from quarantine.
    Release,
    /// Animals lost.
    Loss,
    /// A treatment.
    Treatment,
    /// Animals moved in.
    MovedIn,
    /// Animals moved out.
    MovedOut,
    /// Anything else.
    Remark,
}

impl NoteKind {
    /// All kinds.
    pub const ALL: [NoteKind; 7] = [
        NoteKind::Quarantine,
        NoteKind::Release,
        NoteKind::Loss,
        NoteKind::Treatment,
        NoteKind::MovedIn,
        NoteKind::MovedOut,
        NoteKind::Remark,
    ];

    /// Its word in files and on the command line.
    pub fn word(self) -> &'static str {
        match self {
            NoteKind::Quarantine => "quarantine",
            NoteKind::Release => "release",
            NoteKind::Loss => "loss",
            NoteKind::Treatment => "treatment",
            NoteKind::MovedIn => "moved-in",
            NoteKind::MovedOut => "moved-out",
            NoteKind::Remark => "remark",
        }
    }

    /// The kind of that word.
    pub fn from_word(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|kind| kind.word() == word)
    }
}

/// A note.
#[derive(Debug, Clone, PartialEq)]
pub struct Note {
    /// Code of its tank.
    pub tank: String,
    /// What it is about.
    pub kind: NoteKind,
    /// The day it is about.
    pub day: Date,
    /// Animals, for losses and animals moved.
    pub count: Option<u32>,
    /// Last day, for a quarantine: the tank is free from that day on.
    pub until: Option<Date>,
    /// Where animals came from or went to.
    pub other: String,
    /// In words.
    pub text: String,
}

/// A note to be made.
#[derive(Debug, Clone, PartialEq)]
pub struct NewNote {
    /// Code of its tank.
    pub tank: String,
    /// What it is about.
    pub kind: NoteKind,
    /// The day it is about; today where not said.
    pub day: Option<Date>,
    /// Animals.
    pub count: Option<u32>,
    /// Last day of a quarantine.
    pub until: Option<Date>,
    /// Where animals came from or went to.
    pub other: String,
    /// In words.
    pub text: String,
    /// True where the keeper says that an unlikely number is meant.
    pub sure: bool,
}

impl Book {
    /// Makes a note.
    ///
    /// # Errors
    /// Where the tank is unknown, a quarantine has no last day or one before its first, or there are more animals than a tank
    /// holds.
    pub fn add_note(&mut self, new: &NewNote, stamp: &Stamp) -> Result<Note, Error> {
        let tank = self.tank(&new.tank)?;
        sense::animals_of_note(new)?;
        let on = new.day.unwrap_or(stamp.at.date());
        if new.kind == NoteKind::Quarantine && new.until.is_none_or(|until| until <= on) {
            return Err(Error::book(
                "quarantine_without_end",
                format!("a quarantine from {on} needs a later day on which it ends"),
                "say it: --until YYYY-MM-DD (two to four weeks are usual)",
            ));
        }
        let note = Note {
            tank: tank.code.clone(),
            kind: new.kind,
            day: on,
            count: new.count,
            until: new.until,
            other: names::text(&new.other)?,
            text: names::text(&new.text)?,
        };
        let cells = [
            ("tank", Value::Integer(tank.id)),
            ("kind", Value::Text(new.kind.word().into())),
            ("day", Value::Text(day(on))),
            ("count", new.count.into()),
            ("until", new.until.map(day).into()),
            ("other", Value::Text(note.other.clone())),
            ("text", Value::Text(note.text.clone())),
        ];
        let what = format!("noted for tank {}: {} on {on}", tank.code, in_short(&note));
        self.change(stamp, &what, |change| change.insert("note", &cells))?;
        Ok(note)
    }

    /// All notes of one tank, or of all, latest first.
    ///
    /// # Errors
    /// Where the tank is unknown or the book can't be read.
    pub fn notes(&self, tank: Option<&str>) -> Result<Vec<Note>, Error> {
        let doing = "reading the notes";
        let tank = tank.map(|code| self.tank(code)).transpose()?;
        let mut query = self
            .db
            .prepare_cached(
                "SELECT tank.code, n.kind, n.day, n.count, n.until, n.other, n.text
                 FROM note AS n JOIN tank ON tank.id = n.tank
                 WHERE n.void = 0 AND (?1 IS NULL OR n.tank = ?1) ORDER BY n.day DESC, n.id DESC",
            )
            .map_err(failed(doing))?;
        let rows = query
            .query_map([tank.map(|tank| tank.id)], |row| {
                let kind: String = row.get(1)?;
                Ok(Note {
                    tank: row.get(0)?,
                    kind: NoteKind::from_word(&kind).ok_or_else(|| unreadable(&kind))?,
                    day: parsed(row, 2)?,
                    count: row.get(3)?,
                    until: maybe_parsed(row, 4)?,
                    other: row.get(5)?,
                    text: row.get(6)?,
                })
            })
            .map_err(failed(doing))?;
        rows.collect::<Result<_, _>>().map_err(failed(doing))
    }
}

/// A note in a few words, for the trail.
fn in_short(note: &Note) -> String {
    let mut words = vec![note.kind.word().replace('-', " ")];
    words.extend(note.count.map(|count| count.to_string()));
    words.extend(note.until.map(|until| format!("until {until}")));
    words.extend(
        [note.other.clone(), note.text.clone()]
            .into_iter()
            .filter(|w| !w.is_empty()),
    );
    words.join(" ")
}
