//! Lines and their generations: a line is a small family tree of tanks.

use jiff::civil::Date;
use rusqlite::types::Value;
use rusqlite::{OptionalExtension, Row, params};

use super::rows::{day, maybe_parsed, parsed};
use super::{Book, Stamp, failed, names, sense};
use crate::error::Error;

/// A line.
#[derive(Debug, Clone, PartialEq)]
pub struct Line {
    pub(super) id: i64,
    /// Code of the house.
    pub code: String,
    /// What it is, in words.
    pub title: String,
    /// Id of its ladder.
    pub ladder: String,
    /// Kept since.
    pub since: Date,
    /// Given up on.
    pub ended: Option<Date>,
}

/// A line to be added.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct NewLine {
    /// Code of the house.
    pub code: String,
    /// What it is, in words.
    pub title: String,
    /// Id of its ladder.
    pub ladder: String,
    /// Kept since; today where not said.
    pub since: Option<Date>,
}

/// What is to be changed of a line; `None` leaves it as it is.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct LineChange {
    /// What it is, in words.
    pub title: Option<String>,
    /// Id of its ladder.
    pub ladder: Option<String>,
    /// Given up on that day; `Some(None)` takes it up again.
    pub ended: Option<Option<Date>>,
}

/// A generation of a line in a tank.
#[derive(Debug, Clone, PartialEq)]
pub struct Generation {
    pub(super) id: i64,
    /// Code of its tank.
    pub tank: String,
    /// Code of its line.
    pub line: String,
    /// 0 = founders, 1 = F1 and so on.
    pub number: u32,
    /// Began on.
    pub since: Date,
    /// Females it began with.
    pub females: Option<u32>,
    /// Males it began with.
    pub males: Option<u32>,
    /// Where its founders came from, where it was no tank of the book.
    pub origin: String,
    /// Codes of the tanks its founders were taken from.
    pub parents: Vec<String>,
}

/// A generation to be begun.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct NewGeneration {
    /// Code of its tank; its line is the tank's.
    pub tank: String,
    /// 0 = founders, 1 = F1 and so on.
    pub number: u32,
    /// Began on; today where not said.
    pub since: Option<Date>,
    /// Females it began with.
    pub females: Option<u32>,
    /// Males it began with.
    pub males: Option<u32>,
    /// Where its founders came from.
    pub origin: String,
    /// Codes of the tanks its founders were taken from.
    pub parents: Vec<String>,
}

/// `founders`, `F1`, `F2` ...
pub fn generation_name(number: u32) -> String {
    if number == 0 {
        "founders".into()
    } else {
        format!("F{number}")
    }
}

/// The number of `founders`, `F0`, `F3` or `3`, up to 999.
pub fn generation_number(word: &str) -> Option<u32> {
    let word = word.trim();
    if word.eq_ignore_ascii_case("founders") {
        return Some(0);
    }
    let digits = word.strip_prefix(['F', 'f']).unwrap_or(word);
    digits.parse().ok().filter(|number| *number <= 999)
}

fn line(row: &Row<'_>) -> rusqlite::Result<Line> {
    Ok(Line {
        id: row.get(0)?,
        code: row.get(1)?,
        title: row.get(2)?,
        ladder: row.get(3)?,
        since: parsed(row, 4)?,
        ended: maybe_parsed(row, 5)?,
    })
}

const LINE: &str = "SELECT id, code, title, ladder, since, ended FROM line WHERE void = 0";

impl Book {
    /// All lines by code, those given up last.
    ///
    /// # Errors
    /// Where the book can't be read.
    pub fn lines(&self) -> Result<Vec<Line>, Error> {
        let doing = "reading the lines";
        let sql = format!("{LINE} ORDER BY ended IS NOT NULL, code COLLATE NOCASE");
        let mut query = self.db.prepare_cached(&sql).map_err(failed(doing))?;
        let rows = query.query_map([], line).map_err(failed(doing))?;
        rows.collect::<Result<_, _>>().map_err(failed(doing))
    }

    /// The line of that code; `None` where there is none.
    ///
    /// # Errors
    /// Where the book can't be read.
    pub fn find_line(&self, code: &str) -> Result<Option<Line>, Error> {
        let sql = format!("{LINE} AND code = ?1 COLLATE NOCASE");
        self.db
            .prepare_cached(&sql)
            .and_then(|mut query| query.query_row([code.trim()], line).optional())
            .map_err(failed("reading the lines"))
    }

    /// The line of that code.
    ///
    /// # Errors
    /// Where there is none.
    pub fn line(&self, code: &str) -> Result<Line, Error> {
        if let Some(line) = self.find_line(code)? {
            return Ok(line);
        }
        let known: Vec<String> = self.lines()?.into_iter().map(|line| line.code).collect();
        let hint = if known.is_empty() {
            format!("add it: catchcup line add {code} --ladder red")
        } else {
            format!(
                "lines in the book: {}; or add it: catchcup line add {code} --ladder red",
                known.join(", ")
            )
        };
        Err(Error::book(
            "no_line",
            format!("there is no line `{code}` in the book"),
            hint,
        ))
    }

    /// The row of a line, where one is named.
    pub(super) fn line_row(&self, code: Option<&str>) -> Result<Option<i64>, Error> {
        code.map(|code| self.line(code).map(|line| line.id))
            .transpose()
    }

    /// Adds a line.
    ///
    /// # Errors
    /// Where the code is taken or not fit for one.
    pub fn add_line(&mut self, new: &NewLine, stamp: &Stamp) -> Result<Line, Error> {
        let code = names::code("line", &new.code)?;
        if let Some(other) = self.find_line(&code)? {
            return Err(Error::book(
                "line_exists",
                format!("there is a line {} in the book already", other.code),
                "choose another code, or change that line: catchcup line edit",
            ));
        }
        let cells = [
            ("code", Value::Text(code.clone())),
            ("title", Value::Text(names::text(&new.title)?)),
            ("ladder", Value::Text(new.ladder.clone())),
            (
                "since",
                Value::Text(day(new.since.unwrap_or(stamp.at.date()))),
            ),
        ];
        let what = format!("added line {code} with ladder {}", new.ladder);
        self.change(stamp, &what, |change| change.insert("line", &cells))?;
        self.line(&code)
    }

    /// Changes a line.
    ///
    /// # Errors
    /// Where there is no such line.
    pub fn edit_line(
        &mut self,
        code: &str,
        new: &LineChange,
        stamp: &Stamp,
    ) -> Result<Line, Error> {
        let old = self.line(code)?;
        let (mut cells, mut told) = (Vec::new(), Vec::new());
        if let Some(title) = &new.title {
            let title = names::text(title)?;
            told.push(format!("title {title}"));
            cells.push(("title", Value::Text(title)));
        }
        if let Some(ladder) = &new.ladder {
            told.push(format!("ladder {ladder}"));
            cells.push(("ladder", Value::Text(ladder.clone())));
        }
        if let Some(ended) = new.ended {
            told.push(ended.map_or("kept again".into(), |on| format!("ended on {on}")));
            cells.push(("ended", ended.map(day).into()));
        }
        if cells.is_empty() {
            return Ok(old);
        }
        let what = format!("changed line {}: {}", old.code, told.join(", "));
        self.change(stamp, &what, |change| change.update("line", old.id, &cells))?;
        self.line(&old.code)
    }

    /// Begins a generation in a tank.
    ///
    /// # Errors
    /// Where the tank or a parent tank is unknown, the tank has no line, the day is before it was in use or still to come, or
    /// the number does not stand between those before and after it.
    pub fn begin_generation(
        &mut self,
        new: &NewGeneration,
        stamp: &Stamp,
    ) -> Result<Generation, Error> {
        let tank = self.tank(&new.tank)?;
        let Some(line) = self.line_row(tank.line.as_deref())? else {
            return Err(Error::book(
                "tank_without_line",
                format!("tank {} has no line, so it has no generations", tank.code),
                format!("say its line: catchcup tank edit {} --line LINE", tank.code),
            ));
        };
        let since = new.since.unwrap_or(stamp.at.date());
        sense::day_of_tank(&tank, since, stamp.at.date(), "a generation")?;
        sense::order_of_generations(&tank, new.number, since, &self.generations()?)?;
        let parents: Result<Vec<i64>, Error> = new
            .parents
            .iter()
            .map(|code| Ok(self.tank(code)?.id))
            .collect();
        let parents = parents?;
        let cells = [
            ("tank", Value::Integer(tank.id)),
            ("line", Value::Integer(line)),
            ("number", Value::Integer(new.number.into())),
            ("since", Value::Text(day(since))),
            ("females", new.females.into()),
            ("males", new.males.into()),
            ("origin", Value::Text(names::text(&new.origin)?)),
        ];
        let what = format!(
            "began {} in tank {}",
            generation_name(new.number),
            tank.code
        );
        let id = self.change(stamp, &what, |change| {
            let row = change.insert("generation", &cells)?;
            for parent in &parents {
                change
                    .db
                    .execute(
                        "INSERT OR IGNORE INTO parent (generation, tank) VALUES (?1, ?2)",
                        params![row, parent],
                    )
                    .map_err(failed("writing an entry"))?;
            }
            Ok(row)
        })?;
        let all = self.generations()?;
        all.into_iter()
            .find(|g| g.id == id)
            .ok_or_else(|| Error::bug("a generation just written is not there"))
    }

    /// All generations, by tank and date.
    ///
    /// # Errors
    /// Where the book can't be read.
    pub fn generations(&self) -> Result<Vec<Generation>, Error> {
        let doing = "reading the generations";
        let mut query = self
            .db
            .prepare_cached(
                "SELECT g.id, tank.code, line.code, g.number, g.since, g.females, g.males, g.origin,
                   (SELECT group_concat(p.code, ' ') FROM parent
                    JOIN tank AS p ON p.id = parent.tank WHERE parent.generation = g.id)
                 FROM generation AS g JOIN tank ON tank.id = g.tank JOIN line ON line.id = g.line
                 WHERE g.void = 0 ORDER BY tank.code COLLATE NOCASE, g.since, g.id",
            )
            .map_err(failed(doing))?;
        let rows = query
            .query_map([], |row| {
                let parents: Option<String> = row.get(8)?;
                Ok(Generation {
                    id: row.get(0)?,
                    tank: row.get(1)?,
                    line: row.get(2)?,
                    number: row.get(3)?,
                    since: parsed(row, 4)?,
                    females: row.get(5)?,
                    males: row.get(6)?,
                    origin: row.get(7)?,
                    parents: parents
                        .unwrap_or_default()
                        .split_whitespace()
                        .map(str::to_string)
                        .collect(),
                })
            })
            .map_err(failed(doing))?;
        rows.collect::<Result<_, _>>().map_err(failed(doing))
    }
}
