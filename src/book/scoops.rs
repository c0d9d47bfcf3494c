//! Scoops: filing, changing, taking out.

use std::collections::BTreeSet;

use jiff::ToSpan;
use jiff::civil::DateTime;
use rusqlite::types::Value;
use rusqlite::{OptionalExtension, params};

use super::journal::Change;
use super::rows::{joined, moment, parsed};
use super::{Book, Stamp, animals, failed, names};
use crate::error::Error;
use crate::scoop::KeptAnimal;
use crate::scoop::kept::Origin;

/// A scoop to be filed.
#[derive(Debug, Clone, PartialEq)]
pub struct NewScoop {
    /// Code of its tank.
    pub tank: String,
    /// Local time of the scoop.
    pub at: DateTime,
    /// Who took it.
    pub who: String,
    /// True where its animals are kept apart from the tank for now.
    pub kept_apart: bool,
    /// The scoop of which this is another photo.
    pub second_of: Option<i64>,
    /// A remark.
    pub remark: String,
    /// Its name in an imported table.
    pub import_label: Option<String>,
    /// How it was photographed and graded.
    pub origin: Origin,
    /// Its animals.
    pub animals: Vec<KeptAnimal>,
}

/// What is to be changed of a scoop; `None` leaves it as it is.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct ScoopChange {
    /// Code of the tank it belongs to.
    pub tank: Option<String>,
    /// Local time.
    pub at: Option<DateTime>,
    /// Who took it.
    pub who: Option<String>,
    /// True where its animals are kept apart, false where they were put back.
    pub kept_apart: Option<bool>,
    /// The scoop of which this is another photo; `Some(None)` = a scoop of its own.
    pub second_of: Option<Option<i64>>,
    /// A remark.
    pub remark: Option<String>,
}

/// A scoop in a list: what it is, without its animals.
#[derive(Debug, Clone, PartialEq)]
pub struct ScoopEntry {
    /// Its number.
    pub number: i64,
    /// Code of its tank.
    pub tank: String,
    /// Local time.
    pub at: DateTime,
    /// Who took it.
    pub who: String,
    /// Animals in it.
    pub animals: u32,
}

const ENTRY: &str = "SELECT s.id, tank.code, s.at, s.who,
       (SELECT count(*) FROM animal WHERE animal.scoop = s.id)
     FROM scoop AS s JOIN tank ON tank.id = s.tank WHERE s.void = 0";

impl Book {
    /// Files a scoop; its number. The scoop and its animals are there together or not at all.
    ///
    /// # Errors
    /// Where the tank is unknown, the photo is filed already, there are no animals, or the book can't be written.
    pub fn file_scoop(&mut self, new: &NewScoop, stamp: &Stamp) -> Result<i64, Error> {
        let numbers = self.file_scoops(std::slice::from_ref(new), stamp)?;
        numbers
            .first()
            .copied()
            .ok_or_else(|| Error::bug("a scoop just filed has no number"))
    }

    /// Files several scoops as one change, all of them or none; their numbers.
    ///
    /// # Errors
    /// As [`Book::file_scoop`].
    pub fn file_scoops(&mut self, all: &[NewScoop], stamp: &Stamp) -> Result<Vec<i64>, Error> {
        let mut ready = Vec::new();
        for new in all {
            if let Some(sha256) = &new.origin.photo_sha256
                && let Some(known) = self.scoop_of_photo(sha256)?
            {
                return Err(photo_known(&known));
            }
            let new = NewScoop {
                remark: names::text(&new.remark)?,
                ..new.clone()
            };
            ready.push((self.tank(&new.tank)?, new));
        }
        let what = match ready.as_slice() {
            [(tank, new)] => format!(
                "filed a scoop of {} under tank {}",
                animal_count(new.animals.len()),
                tank.code
            ),
            several => format!("filed {} scoops", several.len()),
        };
        self.change(stamp, &what, |change| {
            ready
                .iter()
                .map(|(tank, new)| put(change, tank.id, new))
                .collect()
        })
    }

    /// The scoop whose photo has that digest; `None` where none has.
    ///
    /// # Errors
    /// Where the book can't be read.
    pub fn scoop_of_photo(&self, sha256: &str) -> Result<Option<ScoopEntry>, Error> {
        self.one_entry("AND s.photo_sha256 = ?1", params![sha256])
    }

    /// Digests of all photos in the book.
    ///
    /// # Errors
    /// Where the book can't be read.
    pub fn photo_digests(&self) -> Result<BTreeSet<String>, Error> {
        let doing = "reading the scoops";
        let mut query = self
            .db
            .prepare_cached(
                "SELECT photo_sha256 FROM scoop WHERE void = 0 AND photo_sha256 IS NOT NULL",
            )
            .map_err(failed(doing))?;
        let rows = query
            .query_map([], |row| row.get(0))
            .map_err(failed(doing))?;
        rows.collect::<Result<_, _>>().map_err(failed(doing))
    }

    /// The scoop of that number.
    ///
    /// # Errors
    /// Where there is none.
    pub fn scoop_entry(&self, number: i64) -> Result<ScoopEntry, Error> {
        self.one_entry("AND s.id = ?1", params![number])?
            .ok_or_else(|| {
                Error::book(
                    "no_scoop",
                    format!("there is no scoop {number} in the book"),
                    "see the numbers: catchcup scoop list",
                )
            })
    }

    /// The scoop of that tank nearest in time to `at`, at most `minutes` away, another photo of one left out.
    ///
    /// # Errors
    /// Where the book can't be read.
    pub fn scoop_near(
        &self,
        tank: &str,
        at: DateTime,
        minutes: i64,
    ) -> Result<Option<ScoopEntry>, Error> {
        let span = minutes.minutes();
        let (from, to) = (at.saturating_sub(span), at.saturating_add(span));
        self.one_entry(
            "AND tank.code = ?1 COLLATE NOCASE AND tank.void = 0 AND s.second_of IS NULL
             AND s.at BETWEEN ?2 AND ?3
             ORDER BY abs(julianday(s.at) - julianday(?4)), s.id DESC",
            params![tank, moment(from), moment(to), moment(at)],
        )
    }

    /// The last scoop of a tank before `at`.
    ///
    /// # Errors
    /// Where the book can't be read.
    pub fn last_scoop(&self, tank: &str, at: DateTime) -> Result<Option<ScoopEntry>, Error> {
        self.one_entry(
            "AND tank.code = ?1 COLLATE NOCASE AND tank.void = 0 AND s.at < ?2
             ORDER BY s.at DESC, s.id DESC",
            params![tank, moment(at)],
        )
    }

    /// The last scoop of a tank before `at` in which an animal was off-type.
    ///
    /// # Errors
    /// Where the book can't be read.
    pub fn last_off_type(&self, tank: &str, at: DateTime) -> Result<Option<ScoopEntry>, Error> {
        self.one_entry(
            "AND tank.code = ?1 COLLATE NOCASE AND tank.void = 0 AND s.at < ?2
             AND EXISTS (SELECT 1 FROM animal WHERE animal.scoop = s.id AND off_ladder = 'off_type')
             ORDER BY s.at DESC, s.id DESC",
            params![tank, moment(at)],
        )
    }

    /// Changes a scoop.
    ///
    /// # Errors
    /// Where the scoop, the tank or the scoop of which it is another photo is unknown.
    pub fn edit_scoop(
        &mut self,
        number: i64,
        new: &ScoopChange,
        stamp: &Stamp,
    ) -> Result<(), Error> {
        self.scoop_entry(number)?;
        let (mut cells, mut told): (Vec<(&'static str, Value)>, Vec<String>) = Default::default();
        if let Some(code) = &new.tank {
            let tank = self.tank(code)?;
            told.push(format!("tank {}", tank.code));
            cells.push(("tank", Value::Integer(tank.id)));
        }
        if let Some(at) = new.at {
            told.push(format!("taken at {at}"));
            cells.push(("at", Value::Text(moment(at))));
        }
        if let Some(who) = &new.who {
            told.push(format!("by {who}"));
            cells.push(("who", Value::Text(names::text(who)?)));
        }
        if let Some(apart) = new.kept_apart {
            told.push(if apart { "kept apart" } else { "put back" }.into());
            cells.push(("kept_apart", Value::Integer(apart.into())));
        }
        if let Some(second_of) = new.second_of {
            second_of.map(|other| self.scoop_entry(other)).transpose()?;
            told.push(second_of.map_or("a scoop of its own".into(), |other| {
                format!("another photo of scoop {other}")
            }));
            cells.push(("second_of", second_of.into()));
        }
        if let Some(remark) = &new.remark {
            told.push("remark".into());
            cells.push(("remark", Value::Text(names::text(remark)?)));
        }
        let what = format!("changed scoop {number}: {}", told.join(", "));
        self.change(stamp, &what, |change| {
            change.update("scoop", number, &cells)
        })
    }

    /// Takes a scoop out of every list and count; the trail keeps it, and `undo` brings it back.
    ///
    /// # Errors
    /// Where there is no such scoop.
    pub fn remove_scoop(&mut self, number: i64, stamp: &Stamp) -> Result<ScoopEntry, Error> {
        let entry = self.scoop_entry(number)?;
        let what = format!("took out scoop {number} of tank {}", entry.tank);
        self.change(stamp, &what, |change| change.void("scoop", number))?;
        Ok(entry)
    }

    fn one_entry(
        &self,
        condition: &str,
        values: impl rusqlite::Params,
    ) -> Result<Option<ScoopEntry>, Error> {
        let sql = format!("{ENTRY} {condition} LIMIT 1");
        let entry = |row: &rusqlite::Row<'_>| {
            Ok(ScoopEntry {
                number: row.get(0)?,
                tank: row.get(1)?,
                at: parsed(row, 2)?,
                who: row.get(3)?,
                animals: row.get(4)?,
            })
        };
        self.db
            .prepare_cached(&sql)
            .and_then(|mut query| query.query_row(values, entry).optional())
            .map_err(failed("looking for a scoop"))
    }
}

/// Writes a scoop with its animals; its number.
pub(super) fn put(change: &mut Change<'_>, tank: i64, new: &NewScoop) -> Result<i64, Error> {
    if new.animals.is_empty() {
        return Err(Error::book(
            "no_animals",
            "the scoop holds no animals, so there is nothing to file",
            "take the photo again as the answer says, then file that one",
        ));
    }
    let o = &new.origin;
    let row = change.insert(
        "scoop",
        &[
            ("tank", Value::Integer(tank)),
            ("at", Value::Text(moment(new.at))),
            ("who", Value::Text(new.who.clone())),
            ("kept_apart", Value::Integer(new.kept_apart.into())),
            ("second_of", new.second_of.into()),
            ("remark", Value::Text(new.remark.clone())),
            ("import_label", new.import_label.clone().into()),
            ("photo_sha256", o.photo_sha256.clone().into()),
            ("photo_file", o.photo_file.clone().into()),
            ("photo_kept", Value::Integer(o.photo_kept.into())),
            ("taken_at", o.taken_at.clone().into()),
            ("camera", o.camera.clone().into()),
            ("ladder", o.ladder.clone().into()),
            ("ladder_sha256", o.ladder_sha256.clone().into()),
            ("ground", o.ground.clone().into()),
            ("px_per_mm", o.px_per_mm.into()),
            ("netted_seconds", o.netted_seconds.into()),
            ("doubts", Value::Text(joined(&o.doubts))),
            ("program", o.program.clone().into()),
        ],
    )?;
    animals::write(&change.db, row, &new.animals)?;
    Ok(row)
}

/// `1 animal`, `7 animals`.
pub fn animal_count(count: usize) -> String {
    format!("{count} animal{}", if count == 1 { "" } else { "s" })
}

/// The complaint about a photo that is in the book.
pub fn photo_known(known: &ScoopEntry) -> Error {
    Error::book(
        "photo_known",
        format!(
            "this very photo is in the book: scoop {} of tank {}, {}",
            known.number,
            known.tank,
            known.at.strftime("%Y-%m-%d %H:%M")
        ),
        format!(
            "nothing was filed; if it belongs to another tank: catchcup scoop edit {} --tank TANK",
            known.number
        ),
    )
}
