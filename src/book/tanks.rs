//! Tanks.

use jiff::civil::Date;
use rusqlite::types::Value;
use rusqlite::{OptionalExtension, Row};

use super::rows::{day, maybe_parsed, parsed};
use super::{Book, Stamp, failed, names};
use crate::error::Error;

/// A tank.
#[derive(Debug, Clone, PartialEq)]
pub struct Tank {
    /// Its row.
    pub(super) id: i64,
    /// Code on its tag.
    pub code: String,
    /// Code of the line that lives in it.
    pub line: Option<String>,
    /// Id of that line's ladder.
    pub ladder: Option<String>,
    /// Where it stands.
    pub place: String,
    /// Litres.
    pub litres: Option<f64>,
    /// In use since.
    pub since: Date,
    /// Given up on.
    pub retired: Option<Date>,
}

/// A tank to be added.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct NewTank {
    /// Code on its tag.
    pub code: String,
    /// Code of the line that lives in it.
    pub line: Option<String>,
    /// Where it stands.
    pub place: String,
    /// Litres.
    pub litres: Option<f64>,
    /// In use since; today where not said.
    pub since: Option<Date>,
}

/// What is to be changed of a tank; `None` leaves it as it is.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct TankChange {
    /// New code.
    pub code: Option<String>,
    /// Code of the line that lives in it from now on.
    pub line: Option<String>,
    /// Where it stands.
    pub place: Option<String>,
    /// Litres.
    pub litres: Option<f64>,
    /// In use since.
    pub since: Option<Date>,
    /// Given up on that day; `Some(None)` takes it into use again.
    pub retired: Option<Option<Date>>,
}

const COLUMNS: &str =
    "tank.id, tank.code, line.code, line.ladder, tank.place, tank.litres, tank.since, tank.retired
     FROM tank LEFT JOIN line ON line.id = tank.line WHERE tank.void = 0";

fn tank(row: &Row<'_>) -> rusqlite::Result<Tank> {
    Ok(Tank {
        id: row.get(0)?,
        code: row.get(1)?,
        line: row.get(2)?,
        ladder: row.get(3)?,
        place: row.get(4)?,
        litres: row.get(5)?,
        since: parsed(row, 6)?,
        retired: maybe_parsed(row, 7)?,
    })
}

impl Book {
    /// All tanks by code, retired ones last.
    ///
    /// # Errors
    /// Where the book can't be read.
    pub fn tanks(&self) -> Result<Vec<Tank>, Error> {
        let sql =
            format!("SELECT {COLUMNS} ORDER BY tank.retired IS NOT NULL, tank.code COLLATE NOCASE");
        let mut query = self
            .db
            .prepare_cached(&sql)
            .map_err(failed("reading the tanks"))?;
        let rows = query
            .query_map([], tank)
            .map_err(failed("reading the tanks"))?;
        rows.collect::<Result<_, _>>()
            .map_err(failed("reading the tanks"))
    }

    /// The tank of that code, small or capital letters alike; `None` where there is none.
    ///
    /// # Errors
    /// Where the book can't be read.
    pub fn find_tank(&self, code: &str) -> Result<Option<Tank>, Error> {
        let sql = format!("SELECT {COLUMNS} AND tank.code = ?1 COLLATE NOCASE");
        self.db
            .prepare_cached(&sql)
            .and_then(|mut query| query.query_row([code.trim()], tank).optional())
            .map_err(failed("reading the tanks"))
    }

    /// The tank of that code.
    ///
    /// # Errors
    /// Where there is none; the hint names the tanks whose codes are nearest.
    pub fn tank(&self, code: &str) -> Result<Tank, Error> {
        if let Some(tank) = self.find_tank(code)? {
            return Ok(tank);
        }
        let known: Vec<String> = self.tanks()?.into_iter().map(|tank| tank.code).collect();
        let hint = match known.len() {
            0 => format!("there is no tank yet; add it: catchcup tank add {code} --line LINE"),
            1..=30 => format!("tanks in the book: {}", known.join(", ")),
            _ => "see catchcup tank list".to_string(),
        };
        Err(Error::book(
            "no_tank",
            format!("there is no tank `{code}` in the book"),
            hint,
        ))
    }

    /// Adds a tank.
    ///
    /// # Errors
    /// Where the code is taken or not fit for one, or the line is unknown.
    pub fn add_tank(&mut self, new: &NewTank, stamp: &Stamp) -> Result<Tank, Error> {
        let code = names::code("tank", &new.code)?;
        self.free_code(&code, None)?;
        let line = self.line_row(new.line.as_deref())?;
        let place = names::text(&new.place)?;
        let since = new.since.unwrap_or(stamp.at.date());
        let cells = [
            ("code", Value::Text(code.clone())),
            ("line", line.into()),
            ("place", Value::Text(place)),
            ("litres", new.litres.into()),
            ("since", Value::Text(day(since))),
        ];
        self.change(stamp, &format!("added tank {code}"), |change| {
            change.insert("tank", &cells)
        })?;
        self.tank(&code)
    }

    /// Changes a tank.
    ///
    /// # Errors
    /// Where there is no such tank, the new code is taken, or the line is unknown.
    pub fn edit_tank(
        &mut self,
        code: &str,
        new: &TankChange,
        stamp: &Stamp,
    ) -> Result<Tank, Error> {
        let old = self.tank(code)?;
        let (cells, told) = self.tank_cells(&old, new)?;
        if cells.is_empty() {
            return Ok(old);
        }
        let what = format!("changed tank {}: {}", old.code, told.join(", "));
        self.change(stamp, &what, |change| change.update("tank", old.id, &cells))?;
        self.tank(new.code.as_deref().unwrap_or(&old.code))
    }

    /// Columns that a change writes, and each in words.
    #[allow(clippy::type_complexity)]
    fn tank_cells(
        &self,
        old: &Tank,
        new: &TankChange,
    ) -> Result<(Vec<(&'static str, Value)>, Vec<String>), Error> {
        let (mut cells, mut told) = (Vec::new(), Vec::new());
        if let Some(code) = &new.code {
            let code = names::code("tank", code)?;
            self.free_code(&code, Some(old.id))?;
            told.push(format!("code {code}"));
            cells.push(("code", Value::Text(code)));
        }
        if let Some(line) = &new.line {
            cells.push(("line", self.line_row(Some(line))?.into()));
            told.push(format!("line {line}"));
        }
        if let Some(place) = &new.place {
            let place = names::text(place)?;
            told.push(format!("place {place}"));
            cells.push(("place", Value::Text(place)));
        }
        if let Some(litres) = new.litres {
            cells.push(("litres", Value::Real(litres)));
            told.push(format!("{litres} litres"));
        }
        if let Some(since) = new.since {
            cells.push(("since", Value::Text(day(since))));
            told.push(format!("since {since}"));
        }
        if let Some(retired) = new.retired {
            cells.push(("retired", retired.map(day).into()));
            told.push(retired.map_or("in use again".into(), |on| format!("retired on {on}")));
        }
        Ok((cells, told))
    }

    fn free_code(&self, code: &str, own: Option<i64>) -> Result<(), Error> {
        match self.find_tank(code)? {
            Some(other) if Some(other.id) != own => Err(Error::book(
                "tank_exists",
                format!("there is a tank {} in the book already", other.code),
                "choose another code, or change that tank: catchcup tank edit",
            )),
            _ => Ok(()),
        }
    }
}
