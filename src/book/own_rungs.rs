//! Rungs that people gave animals, beside what the program measured.

use std::collections::BTreeMap;
use std::collections::btree_map::Entry;

use jiff::civil::DateTime;
use rusqlite::types::Value;

use super::rows::{height, moment, parsed, rung};
use super::{Book, Stamp, failed, names};
use crate::error::Error;
use crate::ladder::Rung;

/// A rung that a person gave.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct OwnRung {
    /// Scoop of the animal.
    pub scoop: i64,
    /// Its number there.
    pub no: u32,
    /// The rung given.
    pub rung: Rung,
    /// Whose eye.
    pub who: String,
    /// When.
    pub at: DateTime,
    /// True where the program's rung was hidden.
    pub is_blind: bool,
    /// The program's rung then.
    pub program: Option<Rung>,
    /// The blind test or quiz in which it was given.
    pub sitting: Option<i64>,
}

/// A rung to be kept.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct NewOwnRung {
    /// Scoop of the animal.
    pub scoop: i64,
    /// Its number there.
    pub no: u32,
    /// The rung given.
    pub rung: Rung,
    /// Whose eye; who writes where not said.
    pub who: Option<String>,
    /// When; now where not said.
    pub at: Option<DateTime>,
    /// True where the program's rung was hidden.
    pub is_blind: bool,
    /// The blind test or quiz in which it was given.
    pub sitting: Option<i64>,
}

impl Book {
    /// Keeps rungs as one change, all of them or none.
    ///
    /// # Errors
    /// Where a scoop or an animal is unknown, or the book can't be written.
    pub fn give_rungs(&mut self, all: &[NewOwnRung], stamp: &Stamp) -> Result<Vec<OwnRung>, Error> {
        let mut known: BTreeMap<i64, BTreeMap<u32, Option<Rung>>> = BTreeMap::new();
        let mut given = Vec::new();
        for new in all {
            if let Entry::Vacant(place) = known.entry(new.scoop) {
                let scoop = self.scoop(new.scoop)?;
                let animals = scoop.animals.iter().map(|animal| (animal.no, animal.rung));
                place.insert(animals.collect());
            }
            let animals = &known[&new.scoop];
            let Some(program) = animals.get(&new.no) else {
                let numbers: Vec<String> = animals.keys().map(u32::to_string).collect();
                return Err(Error::book(
                    "unknown_animal",
                    format!(
                        "scoop {} has no animal {}; nothing was kept",
                        new.scoop, new.no
                    ),
                    format!("its animals are {}", numbers.join(", ")),
                ));
            };
            given.push(OwnRung {
                scoop: new.scoop,
                no: new.no,
                rung: new.rung,
                who: names::text(new.who.as_deref().unwrap_or(&stamp.who))?,
                at: new.at.unwrap_or(stamp.at),
                is_blind: new.is_blind,
                program: *program,
                sitting: new.sitting,
            });
        }
        let what = match given.as_slice() {
            [one] => format!(
                "{} gave animal {} of scoop {} {}",
                one.who, one.no, one.scoop, one.rung
            ),
            several => format!("{} own rungs kept", several.len()),
        };
        self.change(stamp, &what, |change| {
            for one in &given {
                change.insert("own_rung", &cells(one))?;
            }
            Ok(())
        })?;
        Ok(given)
    }

    /// All rungs that people gave, in the order in which they were kept; those of scoops taken out are left out.
    ///
    /// # Errors
    /// Where the book can't be read.
    pub fn own_rungs(&self) -> Result<Vec<OwnRung>, Error> {
        let doing = "reading the house's own rungs";
        let mut query = self
            .db
            .prepare_cached(
                "SELECT o.scoop, o.no, o.rung, o.who, o.at, o.blind, o.program, o.sitting
                 FROM own_rung AS o JOIN scoop AS s ON s.id = o.scoop
                 WHERE o.void = 0 AND s.void = 0 ORDER BY o.id",
            )
            .map_err(failed(doing))?;
        let rows = query
            .query_map([], |row| {
                Ok(OwnRung {
                    scoop: row.get(0)?,
                    no: row.get(1)?,
                    rung: rung(row, 2)?.unwrap_or(Rung::G0),
                    who: row.get(3)?,
                    at: parsed(row, 4)?,
                    is_blind: row.get(5)?,
                    program: rung(row, 6)?,
                    sitting: row.get(7)?,
                })
            })
            .map_err(failed(doing))?;
        rows.collect::<Result<_, _>>().map_err(failed(doing))
    }
}

fn cells(one: &OwnRung) -> [(&'static str, Value); 8] {
    [
        ("scoop", Value::Integer(one.scoop)),
        ("no", Value::Integer(one.no.into())),
        ("rung", Value::Integer(height(one.rung))),
        ("who", Value::Text(one.who.clone())),
        ("at", Value::Text(moment(one.at))),
        ("blind", Value::Integer(one.is_blind.into())),
        ("program", one.program.map(height).into()),
        ("sitting", one.sitting.into()),
    ]
}
