//! What people say the program got wrong, beside the measurement and never over it.

use rusqlite::types::Value;

use super::journal::Change;
use super::rows::{moment, parsed, unreadable};
use super::{Book, Stamp, failed, names};
use crate::error::Error;
use crate::eye::errors::{Correction, Errors, Right, errors};

/// The kind of the mark that a whole scoop was looked through.
const LOOKED_THROUGH: &str = "looked_through";

impl Book {
    /// Keeps what is right of an animal; where that is what the program says, an earlier correction is taken back.
    ///
    /// # Errors
    /// Where the scoop or the animal is unknown, or the book can't be written.
    pub fn correct(
        &mut self,
        scoop: i64,
        no: u32,
        right: Right,
        stamp: &Stamp,
    ) -> Result<Vec<Correction>, Error> {
        let past = self.scoop(scoop)?;
        let animal = past.animals.iter().find(|animal| animal.no == no);
        let program = right.of_program(animal.ok_or_else(|| unknown_animal(scoop, no))?);
        let (kind, value) = (right.kind(), right.value());
        let earlier = self.rows_of(scoop, no, kind)?;
        let what = format!("animal {no} of scoop {scoop}: {}", words(right));
        let row = (program != value).then(|| cells(scoop, no, [kind, value, program], stamp));
        self.put(&what, stamp, &earlier, row)?;
        self.corrections_of(scoop)
    }

    /// Notes that somebody looked at every animal of a scoop and corrected what was wrong, or takes that back.
    ///
    /// # Errors
    /// Where the scoop is unknown or the book can't be written.
    pub fn look_through(&mut self, scoop: i64, is_done: bool, stamp: &Stamp) -> Result<(), Error> {
        self.scoop(scoop)?;
        let earlier = self.rows_of(scoop, 0, LOOKED_THROUGH)?;
        let what = if is_done {
            format!("looked through scoop {scoop}")
        } else {
            format!("scoop {scoop} is not looked through")
        };
        let row = is_done.then(|| cells(scoop, 0, [LOOKED_THROUGH, "yes", "no"], stamp));
        self.put(&what, stamp, &earlier, row)
    }

    /// Writes a row in the place of earlier ones.
    fn put(
        &mut self,
        what: &str,
        stamp: &Stamp,
        earlier: &[i64],
        row: Option<[(&'static str, Value); 7]>,
    ) -> Result<(), Error> {
        names::text(&stamp.who)?;
        self.change(stamp, what, |change| {
            for old in earlier {
                change.void("correction", *old)?;
            }
            if let Some(row) = &row {
                change.insert("correction", row)?;
            }
            Ok(())
        })
    }

    fn rows_of(&self, scoop: i64, no: u32, kind: &str) -> Result<Vec<i64>, Error> {
        self.db
            .prepare_cached(
                "SELECT id FROM correction WHERE void = 0 AND scoop = ?1 AND no = ?2 AND kind = ?3",
            )
            .and_then(|mut query| {
                query
                    .query_map((scoop, no, kind), |row| row.get(0))?
                    .collect()
            })
            .map_err(failed("reading corrections"))
    }

    /// Corrections of a scoop, in the order in which they were made.
    ///
    /// # Errors
    /// Where the book can't be read.
    pub fn corrections_of(&self, scoop: i64) -> Result<Vec<Correction>, Error> {
        self.read_corrections(Some(scoop))
    }

    /// All corrections, in the order in which they were made; those of scoops taken out are left out.
    ///
    /// # Errors
    /// Where the book can't be read.
    pub fn corrections(&self) -> Result<Vec<Correction>, Error> {
        self.read_corrections(None)
    }

    fn read_corrections(&self, scoop: Option<i64>) -> Result<Vec<Correction>, Error> {
        let doing = "reading corrections";
        let mut query = self
            .db
            .prepare_cached(
                "SELECT c.scoop, c.no, c.kind, c.value, c.program, c.who, c.at
                 FROM correction AS c JOIN scoop AS s ON s.id = c.scoop
                 WHERE c.void = 0 AND s.void = 0 AND c.kind <> 'looked_through'
                 AND (?1 IS NULL OR c.scoop = ?1) ORDER BY c.id",
            )
            .map_err(failed(doing))?;
        let rows = query
            .query_map([scoop], |row| {
                let (kind, value): (String, String) = (row.get(2)?, row.get(3)?);
                Ok(Correction {
                    scoop: row.get(0)?,
                    no: row.get(1)?,
                    right: Right::from_words(&kind, &value).ok_or_else(|| unreadable(&value))?,
                    program: row.get(4)?,
                    who: row.get(5)?,
                    at: parsed(row, 6)?,
                })
            })
            .map_err(failed(doing))?;
        rows.collect::<Result<_, _>>().map_err(failed(doing))
    }

    /// Scoops that were looked through, with the number of their animals.
    ///
    /// # Errors
    /// Where the book can't be read.
    pub fn looked_through(&self) -> Result<Vec<(i64, u64)>, Error> {
        self.db
            .prepare_cached(
                "SELECT c.scoop, (SELECT count(*) FROM animal AS a WHERE a.scoop = c.scoop)
                 FROM correction AS c JOIN scoop AS s ON s.id = c.scoop
                 WHERE c.void = 0 AND s.void = 0 AND c.kind = 'looked_through' ORDER BY c.scoop",
            )
            .and_then(|mut query| {
                query
                    .query_map([], |row| Ok((row.get(0)?, row.get::<_, u32>(1)?.into())))?
                    .collect()
            })
            .map_err(failed("reading corrections"))
    }

    /// How often the program errs, as far as people looked.
    ///
    /// # Errors
    /// Where the book can't be read.
    pub fn errors_found(&self) -> Result<Errors, Error> {
        let own = self.own_rungs()?;
        let rungs: Vec<_> = own
            .iter()
            .filter_map(|one| Some((one.rung, one.program?)))
            .collect();
        let looked_through = self.looked_through()?;
        Ok(errors(&self.corrections()?, &looked_through, &rungs))
    }
}

/// The complaint about a number that no animal of the scoop has.
fn unknown_animal(scoop: i64, no: u32) -> Error {
    Error::book(
        "unknown_animal",
        format!("scoop {scoop} has no animal {no}; nothing was kept"),
        format!("see its animals: catchcup scoop show {scoop}"),
    )
}

/// What is right, as the trail tells it.
fn words(right: Right) -> &'static str {
    match right {
        Right::NotAnimal(true) => "not an animal",
        Right::NotAnimal(false) => "an animal after all",
        Right::TwoAnimals(true) => "two animals",
        Right::TwoAnimals(false) => "one animal after all",
        Right::OtherHead(true) => "its head is at the other end",
        Right::OtherHead(false) => "its head end is right after all",
        Right::Sex(crate::measures::Sex::Male) => "a male",
        Right::Sex(_) => "a female",
        Right::Juvenile(true) => "a juvenile",
        Right::Juvenile(false) => "no juvenile",
    }
}

/// Keeps, as part of a change, that a find which had no correction is no animal.
pub(super) fn no_animal(
    change: &mut Change<'_>,
    scoop: i64,
    no: u32,
    stamp: &Stamp,
) -> Result<(), Error> {
    let kind = Right::NotAnimal(true).kind();
    change.insert("correction", &cells(scoop, no, [kind, "yes", "no"], stamp))?;
    Ok(())
}

fn cells(scoop: i64, no: u32, words: [&str; 3], stamp: &Stamp) -> [(&'static str, Value); 7] {
    let [kind, value, program] = words.map(|word| Value::Text(word.to_string()));
    [
        ("scoop", Value::Integer(scoop)),
        ("no", Value::Integer(no.into())),
        ("kind", kind),
        ("value", value),
        ("program", program),
        ("who", Value::Text(stamp.who.clone())),
        ("at", Value::Text(moment(stamp.at))),
    ]
}
