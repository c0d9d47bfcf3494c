//! Sortings of a tank, cup by cup: begun, resumed, ended.

use jiff::civil::DateTime;
use rusqlite::types::Value;
use rusqlite::{OptionalExtension, Row};

use super::rows::{maybe_parsed, moment, parsed};
use super::scoops::{NewScoop, photo_known, put};
use super::sorting_cells as cells;
use super::{Book, Stamp, corrections, failed, journal::damaged};
use crate::error::Error;
use crate::selection::sorting::{Cup, Decided, Decision, Setup, TankNumber};
use crate::selection::worth::Yardstick;

/// A sorting to be begun.
#[derive(Debug, Clone, PartialEq)]
pub struct NewSorting {
    /// Code of its tank.
    pub tank: String,
    /// What it begins with.
    pub setup: Setup,
    /// What makes a worth out of an animal.
    pub stick: Yardstick,
}

/// A cup of a sorting.
#[derive(Debug, Clone, PartialEq)]
pub struct SortedCup {
    /// Its number, 1 = the first.
    pub no: u32,
    /// Its scoop; `None` for the entry that empties the tub.
    pub scoop: Option<i64>,
    /// When.
    pub at: DateTime,
    /// The cup and what was decided.
    pub decided: Decided,
    row: i64,
}

/// A sorting with its cups.
#[derive(Debug, Clone, PartialEq)]
pub struct SortingEntry {
    id: i64,
    /// Code of its tank.
    pub tank: String,
    /// Begun.
    pub since: DateTime,
    /// Ended.
    pub ended: Option<DateTime>,
    /// What it began with.
    pub setup: Setup,
    /// What makes a worth out of an animal.
    pub stick: Yardstick,
    /// Its cups, earliest first.
    pub cups: Vec<SortedCup>,
}

impl SortingEntry {
    /// The cups as they were decided.
    pub fn decided(&self) -> Vec<Decided> {
        self.cups.iter().map(|cup| cup.decided.clone()).collect()
    }
}

const SORTING: &str = "SELECT g.id, tank.code, g.since, g.ended, g.females, g.males, g.places, g.animals, g.counted, g.learned
     FROM sorting AS g JOIN tank ON tank.id = g.tank WHERE g.void = 0";

impl Book {
    /// Begins a sorting.
    ///
    /// # Errors
    /// Where the tank is unknown, is being sorted already, or the book can't be written.
    pub fn begin_sorting(&mut self, new: &NewSorting, stamp: &Stamp) -> Result<(), Error> {
        let tank = self.tank(&new.tank)?;
        if let Some(open) = self.open_sorting(&tank.code)? {
            return Err(Error::book(
                "sorting_open",
                format!(
                    "tank {} is being sorted since {}",
                    tank.code,
                    open.since.strftime("%Y-%m-%d %H:%M")
                ),
                format!(
                    "go on: catchcup sort cup {0} PHOTO; or end it: catchcup sort finish {0}",
                    tank.code
                ),
            ));
        }
        let (animals, counted) = match new.setup.number {
            TankNumber::Counted(number) => (number, true),
            TankNumber::About(number) => (number, false),
        };
        let wanted = new.setup.wanted;
        let row = [
            ("tank", Value::Integer(tank.id)),
            ("since", Value::Text(moment(stamp.at))),
            ("females", Value::Integer(wanted[0] as i64)),
            ("males", Value::Integer(wanted[1] as i64)),
            ("places", Value::Integer(new.setup.places as i64)),
            ("animals", Value::Integer(animals.into())),
            ("counted", Value::Integer(counted.into())),
            (
                "learned",
                Value::Text(cells::learned(&new.stick, &new.setup)),
            ),
        ];
        let what = format!(
            "began to sort tank {}: {} females and {} males are wanted",
            tank.code, wanted[0], wanted[1]
        );
        self.change(stamp, &what, |change| change.insert("sorting", &row))?;
        Ok(())
    }

    /// The sorting of a tank that is under way; `None` where there is none.
    ///
    /// # Errors
    /// Where the tank is unknown or the book can't be read.
    pub fn open_sorting(&self, tank: &str) -> Result<Option<SortingEntry>, Error> {
        let tank = self.tank(tank)?;
        self.one_sorting(&format!("AND g.tank = {} AND g.ended IS NULL", tank.id))
    }

    /// The latest sorting of a tank; `None` where there is none.
    ///
    /// # Errors
    /// Where the tank is unknown or the book can't be read.
    pub fn last_sorting(&self, tank: &str) -> Result<Option<SortingEntry>, Error> {
        let tank = self.tank(tank)?;
        self.one_sorting(&format!("AND g.tank = {}", tank.id))
    }

    /// All sortings of a tank, earliest first.
    ///
    /// # Errors
    /// Where the tank is unknown or the book can't be read.
    pub fn sortings(&self, tank: &str) -> Result<Vec<SortingEntry>, Error> {
        let tank = self.tank(tank)?;
        let sql = format!(
            "SELECT id FROM sorting WHERE void = 0 AND tank = {} ORDER BY id",
            tank.id
        );
        let ids: Vec<i64> = self
            .db
            .prepare_cached(&sql)
            .and_then(|mut query| query.query_map([], |row| row.get(0))?.collect())
            .map_err(failed("reading the sortings"))?;
        let found: Result<Vec<_>, Error> = ids
            .into_iter()
            .map(|id| self.one_sorting(&format!("AND g.id = {id}")))
            .collect();
        Ok(found?.into_iter().flatten().collect())
    }

    fn one_sorting(&self, condition: &str) -> Result<Option<SortingEntry>, Error> {
        let doing = "reading the sorting";
        let sql = format!("{SORTING} {condition} ORDER BY g.id DESC LIMIT 1");
        let found = self
            .db
            .prepare_cached(&sql)
            .and_then(|mut query| query.query_row([], entry).optional())
            .map_err(failed(doing))?;
        let Some((mut sorting, learned)) = found else {
            return Ok(None);
        };
        let (stick, earlier, others) = cells::read_learned(&learned)
            .ok_or_else(|| damaged(&format!("sorting {} can't be read", sorting.id)))?;
        sorting.stick = stick;
        sorting.setup.earlier = earlier;
        sorting.setup.earlier_others = others;
        sorting.cups = self.sorted_cups(sorting.id)?;
        Ok(Some(sorting))
    }

    fn sorted_cups(&self, sorting: i64) -> Result<Vec<SortedCup>, Error> {
        let doing = "reading the cups of a sorting";
        let mut query = self
            .db
            .prepare_cached(
                "SELECT id, no, scoop, at, sweeps, left_told, last, animals, from_tub, line
                 FROM sorting_cup WHERE void = 0 AND sorting = ?1 ORDER BY no, id",
            )
            .map_err(failed(doing))?;
        let rows = query.query_map([sorting], cup).map_err(failed(doing))?;
        rows.map(|row| {
            row.map_err(failed(doing))?
                .ok_or_else(|| damaged(&format!("a cup of sorting {sorting} can't be read")))
        })
        .collect()
    }

    /// Files a cup with its photo's scoop and what was decided, as one change.
    ///
    /// # Errors
    /// Where the photo is in the book already, or the book can't be written.
    pub fn file_cup(
        &mut self,
        sorting: &SortingEntry,
        scoop: &NewScoop,
        decided: &Decided,
        stamp: &Stamp,
    ) -> Result<i64, Error> {
        let tank = self.known_photo(scoop)?;
        let no = sorting.cups.len() as i64 + 1;
        let what = format!("sorted cup {no} of tank {}", sorting.tank);
        self.change(stamp, &what, |change| {
            let number = put(change, tank, scoop)?;
            let mut row = decided_cells(decided);
            row.extend([
                ("sorting", Value::Integer(sorting.id)),
                ("no", Value::Integer(no)),
                ("scoop", Value::Integer(number)),
                ("at", Value::Text(moment(stamp.at))),
            ]);
            change.insert("sorting_cup", &row)?;
            Ok(number)
        })
    }

    /// Files another photo of the last cup and what is decided now, in place of what was. What was told to be no animal
    /// (scoop and number; no scoop for the new photo's) becomes a correction, as part of the same change.
    ///
    /// # Errors
    /// Where there is no cup yet, the photo is in the book already, or the book can't be written.
    pub fn file_cup_again(
        &mut self,
        sorting: &SortingEntry,
        scoop: &NewScoop,
        decided: &Decided,
        no_animals: &[(Option<i64>, u32)],
        stamp: &Stamp,
    ) -> Result<i64, Error> {
        let tank = self.known_photo(scoop)?;
        let last = sorting.cups.last().ok_or_else(|| no_cup(&sorting.tank))?;
        let what = format!("sorted cup {} of tank {} again", last.no, sorting.tank);
        let row = last.row;
        self.change(stamp, &what, |change| {
            let number = put(change, tank, scoop)?;
            let mut cells = decided_cells(decided);
            cells.push(("scoop", Value::Integer(number)));
            change.update("sorting_cup", row, &cells)?;
            for (other, no) in no_animals {
                corrections::no_animal(change, other.unwrap_or(number), *no, stamp)?;
            }
            Ok(number)
        })
    }

    /// Ends a sorting: what became of the tub, as one change.
    ///
    /// # Errors
    /// Where the book can't be written.
    pub fn end_sorting(
        &mut self,
        sorting: &SortingEntry,
        decided: &Decided,
        stamp: &Stamp,
    ) -> Result<(), Error> {
        let what = format!("ended the sorting of tank {}", sorting.tank);
        let mut row = decided_cells(decided);
        row.extend([
            ("sorting", Value::Integer(sorting.id)),
            ("no", Value::Integer(sorting.cups.len() as i64 + 1)),
            ("at", Value::Text(moment(stamp.at))),
        ]);
        let id = sorting.id;
        self.change(stamp, &what, |change| {
            change.insert("sorting_cup", &row)?;
            change.update("sorting", id, &[("ended", Value::Text(moment(stamp.at)))])
        })
    }

    /// The row of the scoop's tank, once it is sure that its photo is not in the book.
    fn known_photo(&self, scoop: &NewScoop) -> Result<i64, Error> {
        if let Some(sha256) = &scoop.origin.photo_sha256
            && let Some(known) = self.scoop_of_photo(sha256)?
        {
            return Err(photo_known(&known));
        }
        Ok(self.tank(&scoop.tank)?.id)
    }
}

/// The complaint about a sorting without a cup.
pub fn no_cup(tank: &str) -> Error {
    Error::book(
        "no_cup",
        format!("no cup of tank {tank} has been sorted yet, so there is none to photograph again"),
        format!("photograph the first cup: catchcup sort cup {tank} PHOTO"),
    )
}

/// The complaint about a photo that is in the book.
pub fn known(known: &super::ScoopEntry) -> Error {
    photo_known(known)
}

fn decided_cells(decided: &Decided) -> Vec<(&'static str, Value)> {
    let Decided { cup, decision } = decided;
    vec![
        ("sweeps", cup.sweeps.into()),
        ("left_told", cup.left_told.into()),
        ("last", Value::Integer(cup.last.into())),
        ("animals", Value::Text(cells::animals(cup, decision))),
        ("from_tub", Value::Text(cells::from_tub(&decision.from_tub))),
        ("line", Value::Text(cells::line(&decision.line))),
    ]
}

/// A sorting without its cups, and the cell with what was learned.
fn entry(row: &Row<'_>) -> rusqlite::Result<(SortingEntry, String)> {
    let count = |at: usize| row.get::<_, u32>(at);
    let number = if row.get(8)? {
        TankNumber::Counted(count(7)?)
    } else {
        TankNumber::About(count(7)?)
    };
    let entry = SortingEntry {
        id: row.get(0)?,
        tank: row.get(1)?,
        since: parsed(row, 2)?,
        ended: maybe_parsed(row, 3)?,
        setup: Setup {
            wanted: [count(4)? as usize, count(5)? as usize],
            places: count(6)? as usize,
            number,
            earlier: [Vec::new(), Vec::new()],
            earlier_others: 0,
        },
        stick: Yardstick {
            weights: Vec::new(),
            from: crate::selection::worth::WeightsFrom::BestRung,
            scales: [Vec::new(), Vec::new()],
            counts: [0; 2],
        },
        cups: Vec::new(),
    };
    Ok((entry, row.get(9)?))
}

/// A cup, `None` where its cells can't be read.
fn cup(row: &Row<'_>) -> rusqlite::Result<Option<SortedCup>> {
    let text = |at: usize| row.get::<_, String>(at);
    let read = (
        cells::read_animals(&text(7)?),
        cells::read_from_tub(&text(8)?),
        cells::read_line(&text(9)?),
    );
    let (Some((animals, judged)), Some(from_tub), Some(line)) = read else {
        return Ok(None);
    };
    Ok(Some(SortedCup {
        row: row.get(0)?,
        no: row.get(1)?,
        scoop: row.get(2)?,
        at: parsed(row, 3)?,
        decided: Decided {
            cup: Cup {
                animals,
                sweeps: row.get(4)?,
                left_told: row.get(5)?,
                last: row.get(6)?,
            },
            decision: Decision {
                animals: judged,
                from_tub,
                line,
            },
        },
    }))
}
