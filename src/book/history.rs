//! Reads the past of a tank, a line or the whole room as plain values.

use std::collections::BTreeMap;

use jiff::civil::Date;
use rusqlite::{Row, ToSql};

use super::conditions::{Condition, in_force};
use super::lines::Generation;
use super::rows::parsed;
use super::{Book, animals, failed};
use crate::error::Error;
use crate::scoop::kept::Origin;
use crate::scoop::{KeptAnimal, PastScoop};

/// Columns of a scoop, in the order in which [`scoop`] reads them.
const SCOOP: &str = "s.id, tank.code, line.code, s.at, s.who, s.kept_apart, s.second_of, s.remark,
    s.photo_sha256, s.photo_file, s.photo_kept, s.taken_at, s.camera, s.ladder, s.ladder_sha256, s.ground,
    s.px_per_mm, s.netted_seconds, s.doubts, s.program";

/// How much is read of each animal.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Detail {
    All,
    /// What trends are made from; the rest is left empty.
    Measures,
}

/// Generations and conditions, to be looked up for every scoop.
struct Setting {
    generations: BTreeMap<String, Vec<Generation>>,
    conditions: Vec<Condition>,
}

impl Book {
    /// All scoops of a tank with everything in force at their time, earliest first.
    ///
    /// # Errors
    /// Where the tank is unknown or the book can't be read.
    pub fn history_of_tank(&self, code: &str) -> Result<Vec<PastScoop>, Error> {
        let tank = self.tank(code)?;
        self.past("AND s.tank = ?1", &[&tank.id], Detail::All)
    }

    /// The same as [`Book::history_of_tank`], in a fraction of the time, with what trends are made from alone: animals come with
    /// number, sex, length, coverage, opacity, hue, chroma, rung, `between` and why they stood off the ladder.
    ///
    /// # Errors
    /// Where the tank is unknown or the book can't be read.
    pub fn measures_of_tank(&self, code: &str) -> Result<Vec<PastScoop>, Error> {
        let tank = self.tank(code)?;
        self.past("AND s.tank = ?1", &[&tank.id], Detail::Measures)
    }

    /// All scoops of a line, whichever tank it lived in then, earliest first.
    ///
    /// # Errors
    /// Where the line is unknown or the book can't be read.
    pub fn history_of_line(&self, code: &str) -> Result<Vec<PastScoop>, Error> {
        self.past_of_line(code, Detail::All)
    }

    /// The same as [`Book::history_of_line`], with the measures alone, as [`Book::measures_of_tank`].
    ///
    /// # Errors
    /// Where the line is unknown or the book can't be read.
    pub fn measures_of_line(&self, code: &str) -> Result<Vec<PastScoop>, Error> {
        self.past_of_line(code, Detail::Measures)
    }

    /// The `count` scoops of the whole book that were filed last with the measures alone, as [`Book::measures_of_tank`], earliest first.
    ///
    /// # Errors
    /// Where the book can't be read.
    pub fn measures_of_latest(&self, count: u32) -> Result<Vec<PastScoop>, Error> {
        let latest = "AND s.id IN (SELECT id FROM scoop WHERE void = 0 ORDER BY id DESC LIMIT ?1)";
        self.past(latest, &[&count], Detail::Measures)
    }

    /// All scoops from `day` on with the measures alone, as [`Book::measures_of_tank`], earliest first.
    ///
    /// # Errors
    /// Where the book can't be read.
    pub fn measures_since(&self, day: Date) -> Result<Vec<PastScoop>, Error> {
        self.past(
            "AND s.at >= ?1",
            &[&super::rows::day(day)],
            Detail::Measures,
        )
    }

    /// Tank by tank, in which the index gives them in order, then put together by time.
    fn past_of_line(&self, code: &str, detail: Detail) -> Result<Vec<PastScoop>, Error> {
        let line = self.line(code)?;
        let doing = "reading the tanks of a line";
        let tanks: Vec<i64> = self
            .db
            .prepare_cached(
                "SELECT id FROM tank WHERE void = 0 AND line = ?1
                 UNION SELECT tank FROM generation WHERE void = 0 AND line = ?1",
            )
            .and_then(|mut query| query.query_map([line.id], |row| row.get(0))?.collect())
            .map_err(failed(doing))?;
        let mut scoops = self.past_of_tanks(&tanks, detail)?;
        scoops.retain(|scoop| scoop.line.as_deref() == Some(line.code.as_str()));
        scoops.sort_by_key(|scoop| (scoop.at, scoop.number));
        Ok(scoops)
    }

    /// Tank by tank, half of them through a second reader where the book lies in a file: most of the time goes into turning
    /// rows into values, and readers don't wait for each other.
    fn past_of_tanks(&self, tanks: &[i64], detail: Detail) -> Result<Vec<PastScoop>, Error> {
        let all = |book: &Self, tanks: &[i64]| -> Result<Vec<PastScoop>, Error> {
            let mut scoops = Vec::new();
            for tank in tanks {
                scoops.extend(book.past("AND s.tank = ?1", &[tank], detail)?);
            }
            Ok(scoops)
        };
        let second = if tanks.len() > 1 {
            self.second_reader()
        } else {
            None
        };
        let Some(second) = second else {
            return all(self, tanks);
        };
        let (ours, theirs) = tanks.split_at(tanks.len().div_ceil(2));
        let (first, rest) = std::thread::scope(|scope| {
            let rest = scope.spawn(move || all(&second, theirs));
            (all(self, ours), rest.join())
        });
        let mut scoops = first?;
        scoops.extend(rest.unwrap_or_else(|_| all(self, theirs))?);
        Ok(scoops)
    }

    /// All scoops of the book, earliest first.
    ///
    /// # Errors
    /// Where the book can't be read.
    pub fn history_of_all(&self) -> Result<Vec<PastScoop>, Error> {
        self.past("", &[], Detail::All)
    }

    /// One scoop with its animals.
    ///
    /// # Errors
    /// Where there is no scoop of that number.
    pub fn scoop(&self, number: i64) -> Result<PastScoop, Error> {
        self.scoop_entry(number)?;
        let found = self.past("AND s.id = ?1", &[&number], Detail::All)?;
        found
            .into_iter()
            .next()
            .ok_or_else(|| super::journal::damaged(&format!("scoop {number} has no animals")))
    }

    fn past(
        &self,
        condition: &str,
        values: &[&dyn ToSql],
        detail: Detail,
    ) -> Result<Vec<PastScoop>, Error> {
        let doing = "reading the scoops";
        let columns = match detail {
            Detail::All => animals::columns(),
            Detail::Measures => animals::columns_of_measures(),
        };
        let columns: Vec<String> = columns
            .split(", ")
            .map(|name| format!("a.{name}"))
            .collect();
        // One moment of the book for both readings.
        let moment = self.db.unchecked_transaction().map_err(failed(doing))?;
        let setting = self.setting()?;
        let sql = format!(
            "SELECT {SCOOP} FROM scoop AS s JOIN tank ON tank.id = s.tank
             LEFT JOIN line ON line.id = tank.line
             WHERE s.void = 0 {condition} ORDER BY s.at, s.id"
        );
        let mut scoops: Vec<PastScoop> = self
            .db
            .prepare_cached(&sql)
            .and_then(|mut query| {
                query
                    .query_map(values, |row| scoop(row, &setting))?
                    .collect()
            })
            .map_err(failed(doing))?;
        // Animals apart: joined to their scoop, every row would carry all that the scoop says.
        let sql = format!(
            "SELECT {} FROM scoop AS s JOIN animal AS a ON a.scoop = s.id
             WHERE s.void = 0 {condition} ORDER BY s.at, s.id, a.no",
            columns.join(", ")
        );
        let mut query = self.db.prepare_cached(&sql).map_err(failed(doing))?;
        let mut rows = query.query(values).map_err(failed(doing))?;
        let mut at = 0;
        // Gathered here first: a scoop's list then gets just the room that it needs, which counts over ten years.
        let mut gathered: Vec<KeptAnimal> = Vec::new();
        while let Some(row) = rows.next().map_err(failed(doing))? {
            let number: i64 = row.get(0).map_err(failed(doing))?;
            while scoops.get(at).is_some_and(|scoop| scoop.number != number) {
                scoops[at].animals.append(&mut gathered);
                at += 1;
            }
            if at == scoops.len() {
                break;
            }
            let animal = match detail {
                Detail::All => animals::animal(row, 0),
                Detail::Measures => animals::measures(row),
            };
            gathered.push(animal.map_err(failed(doing))?);
        }
        if let Some(scoop) = scoops.get_mut(at) {
            scoop.animals.extend(gathered);
        }
        drop(rows);
        drop(query);
        moment.finish().map_err(failed(doing))?;
        scoops.retain(|scoop| !scoop.animals.is_empty());
        Ok(scoops)
    }

    fn setting(&self) -> Result<Setting, Error> {
        let mut generations: BTreeMap<String, Vec<Generation>> = BTreeMap::new();
        for generation in self.generations()? {
            generations
                .entry(generation.tank.clone())
                .or_default()
                .push(generation);
        }
        Ok(Setting {
            generations,
            conditions: self.conditions()?,
        })
    }
}

impl Setting {
    /// The generation that lived in `tank` on `day`.
    fn generation(&self, tank: &str, day: Date) -> Option<&Generation> {
        let all = self.generations.get(tank)?;
        all.iter().rev().find(|generation| generation.since <= day)
    }
}

fn scoop(row: &Row<'_>, setting: &Setting) -> rusqlite::Result<PastScoop> {
    let (tank, at): (String, jiff::civil::DateTime) = (row.get(1)?, parsed(row, 3)?);
    let generation = setting.generation(&tank, at.date());
    let line: Option<String> = row.get(2)?;
    let doubts: String = row.get(18)?;
    Ok(PastScoop {
        number: row.get(0)?,
        line: generation.map(|g| g.line.clone()).or(line),
        generation: generation.map(|g| g.number),
        conditions: in_force(&setting.conditions, &tank, at.date()),
        tank,
        at,
        who: row.get(4)?,
        kept_apart: row.get(5)?,
        second_of: row.get(6)?,
        remark: row.get(7)?,
        origin: Origin {
            photo_sha256: row.get(8)?,
            photo_file: row.get(9)?,
            photo_kept: row.get(10)?,
            taken_at: row.get(11)?,
            camera: row.get(12)?,
            ladder: row.get(13)?,
            ladder_sha256: row.get(14)?,
            ground: row.get(15)?,
            px_per_mm: row.get(16)?,
            netted_seconds: row.get(17)?,
            doubts: doubts.split_whitespace().map(str::to_string).collect(),
            program: row.get(19)?,
        },
        animals: Vec::new(),
    })
}
