//! Blind tests and quizzes drawn from the book, and the texts of ladders that were in force.

use jiff::civil::DateTime;
use rusqlite::types::Value;

use super::rows::{joined, moment, parsed, unreadable};
use super::{Book, Stamp, failed, names};
use crate::error::Error;

/// Animals drawn for somebody to grade.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Sitting {
    /// Its number.
    pub number: i64,
    /// True for a quiz, whose answers are told.
    pub is_quiz: bool,
    /// Id of the ladder.
    pub ladder: String,
    /// Who is asked.
    pub who: String,
    /// When it was drawn.
    pub at: DateTime,
    /// Scoop and number of the animals, in the order shown.
    pub animals: Vec<(i64, u32)>,
}

/// A text of a ladder.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct LadderText {
    /// Id of the ladder.
    pub ladder: String,
    /// SHA-256 of the text.
    pub sha256: String,
    /// When it was kept.
    pub at: DateTime,
    /// Why it was kept, in words.
    pub why: String,
    /// The rules file.
    pub text: String,
}

impl Book {
    /// Notes a sitting; its number is set by the book.
    ///
    /// # Errors
    /// Where the book can't be written.
    pub fn begin_sitting(&mut self, new: &Sitting, stamp: &Stamp) -> Result<Sitting, Error> {
        let kind = if new.is_quiz { "quiz" } else { "test" };
        let who = names::text(&new.who)?;
        let cells = [
            ("kind", Value::Text(kind.into())),
            ("ladder", Value::Text(new.ladder.clone())),
            ("who", Value::Text(who.clone())),
            ("at", Value::Text(moment(new.at))),
            (
                "animals",
                Value::Text(joined(new.animals.iter().map(|(s, n)| format!("{s}/{n}")))),
            ),
        ];
        let what = format!(
            "drew a {kind} of {} animals of {} for {who}",
            new.animals.len(),
            new.ladder
        );
        let number = self.change(stamp, &what, |change| change.insert("sitting", &cells))?;
        Ok(Sitting {
            number,
            who,
            ..new.clone()
        })
    }

    /// The sitting of that number.
    ///
    /// # Errors
    /// Where there is none.
    pub fn sitting(&self, number: i64) -> Result<Sitting, Error> {
        let all = self.sittings()?;
        let known: Vec<String> = all.iter().map(|s| s.number.to_string()).collect();
        all.into_iter()
            .find(|sitting| sitting.number == number)
            .ok_or_else(|| {
                let hint = if known.is_empty() {
                    "draw one: catchcup rung test LINE DIR".to_string()
                } else {
                    format!("take one of {}", known.join(", "))
                };
                Error::book(
                    "unknown_sitting",
                    format!("there is no test or quiz {number}"),
                    hint,
                )
            })
    }

    /// All sittings in the order drawn.
    ///
    /// # Errors
    /// Where the book can't be read.
    pub fn sittings(&self) -> Result<Vec<Sitting>, Error> {
        let doing = "reading the tests";
        let mut query = self
            .db
            .prepare_cached(
                "SELECT id, kind, ladder, who, at, animals FROM sitting WHERE void = 0 ORDER BY id",
            )
            .map_err(failed(doing))?;
        let rows = query
            .query_map([], |row| {
                let (kind, animals): (String, String) = (row.get(1)?, row.get(5)?);
                let animal = |word: &str| {
                    let (scoop, no) = word.split_once('/')?;
                    Some((scoop.parse().ok()?, no.parse().ok()?))
                };
                let animals: Option<Vec<(i64, u32)>> =
                    animals.split_whitespace().map(animal).collect();
                Ok(Sitting {
                    number: row.get(0)?,
                    is_quiz: kind == "quiz",
                    ladder: row.get(2)?,
                    who: row.get(3)?,
                    at: parsed(row, 4)?,
                    animals: animals.ok_or_else(|| unreadable("animals"))?,
                })
            })
            .map_err(failed(doing))?;
        rows.collect::<Result<_, _>>().map_err(failed(doing))
    }

    /// Keeps texts of a ladder, those that are not kept yet, as one change.
    ///
    /// # Errors
    /// Where the book can't be written.
    pub fn keep_ladders(&mut self, all: &[LadderText], stamp: &Stamp) -> Result<(), Error> {
        let mut known: Vec<(String, String)> = self
            .ladder_texts()?
            .into_iter()
            .map(|t| (t.ladder, t.sha256))
            .collect();
        let mut new = Vec::new();
        for text in all {
            let key = (text.ladder.clone(), text.sha256.clone());
            if !known.contains(&key) {
                known.push(key);
                new.push(text);
            }
        }
        let Some(last) = new.last() else {
            return Ok(());
        };
        let what = format!("ladder {}: {}", last.ladder, last.why);
        self.change(stamp, &what, |change| {
            for text in &new {
                let cells = [
                    ("ladder", Value::Text(text.ladder.clone())),
                    ("sha256", Value::Text(text.sha256.clone())),
                    ("at", Value::Text(moment(text.at))),
                    ("why", Value::Text(text.why.clone())),
                    ("text", Value::Text(text.text.clone())),
                ];
                change.insert("ladder_text", &cells)?;
            }
            Ok(())
        })
    }

    /// All texts of ladders kept, earliest first.
    ///
    /// # Errors
    /// Where the book can't be read.
    pub fn ladder_texts(&self) -> Result<Vec<LadderText>, Error> {
        let doing = "reading the ladders kept";
        let mut query = self
            .db
            .prepare_cached(
                "SELECT ladder, sha256, at, why, text FROM ladder_text WHERE void = 0 ORDER BY id",
            )
            .map_err(failed(doing))?;
        let rows = query
            .query_map([], |row| {
                Ok(LadderText {
                    ladder: row.get(0)?,
                    sha256: row.get(1)?,
                    at: parsed(row, 2)?,
                    why: row.get(3)?,
                    text: row.get(4)?,
                })
            })
            .map_err(failed(doing))?;
        rows.collect::<Result<_, _>>().map_err(failed(doing))
    }
}
