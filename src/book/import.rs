//! Files a table of past records, all of it or none.

use std::collections::BTreeMap;

use rusqlite::OptionalExtension;
use rusqlite::types::Value;

use super::rows::{day, moment};
use super::scoops::{NewScoop, animal_count, put};
use super::table::{Table, TableScoop, faulty_rows};
use super::{Book, Stamp, failed};
use crate::error::Error;
use crate::scoop::kept::Origin;

/// What an import did.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Imported {
    /// Scoops filed.
    pub scoops: usize,
    /// Animals in them.
    pub animals: usize,
    /// Codes of tanks that were added.
    pub new_tanks: Vec<String>,
    /// Codes of lines that were added.
    pub new_lines: Vec<String>,
}

impl Book {
    /// Files a table, all of it or nothing. Tanks that are not in the book are added; so are lines whose code is the id of
    /// a ladder in `ladders`. A generation is begun on the day on which it is first seen in its tank.
    ///
    /// # Errors
    /// Where a line is neither in the book nor the id of a ladder, or a scoop was imported before.
    pub fn import(
        &mut self,
        name: &str,
        table: &Table,
        ladders: &[String],
        stamp: &Stamp,
    ) -> Result<Imported, Error> {
        self.nothing_twice(name, table)?;
        let mut done = Imported::default();
        let lines = self.lines_for(name, table, ladders)?;
        let count: usize = table.scoops.iter().map(|scoop| scoop.animals.len()).sum();
        let what = format!("imported {} from {name}", animal_count(count));
        let tanks: BTreeMap<String, (i64, Option<String>)> = self
            .tanks()?
            .into_iter()
            .map(|tank| (tank.code.to_lowercase(), (tank.id, tank.line)))
            .collect();
        let generations = self.generations()?;
        let mut known: Vec<(String, u32)> = generations
            .into_iter()
            .map(|g| (g.tank.to_lowercase(), g.number))
            .collect();
        self.change(stamp, &what, |change| {
            let mut rows = LineRows::new(lines, &mut done);
            let mut tanks: BTreeMap<String, i64> = tanks
                .into_iter()
                .map(|(code, (id, _))| (code, id))
                .collect();
            for scoop in in_time(table) {
                let line = rows.row(change, scoop, stamp)?;
                let key = scoop.tank.to_lowercase();
                let tank = match tanks.get(&key) {
                    Some(tank) => *tank,
                    None => {
                        let since = Value::Text(day(scoop.at.date()));
                        let code = Value::Text(scoop.tank.clone());
                        let cells = [("code", code), ("line", line.into()), ("since", since)];
                        let tank = change.insert("tank", &cells)?;
                        rows.done.new_tanks.push(scoop.tank.clone());
                        tanks.insert(key.clone(), tank);
                        tank
                    }
                };
                if let (Some(number), Some(line)) = (scoop.generation, line)
                    && !known.contains(&(key.clone(), number))
                {
                    let cells = [
                        ("tank", Value::Integer(tank)),
                        ("line", Value::Integer(line)),
                        ("number", Value::Integer(number.into())),
                        ("since", Value::Text(day(scoop.at.date()))),
                    ];
                    change.insert("generation", &cells)?;
                    known.push((key, number));
                }
                put(change, tank, &new_scoop(scoop, &rows.ladder(scoop), stamp))?;
                rows.done.scoops += 1;
                rows.done.animals += scoop.animals.len();
            }
            Ok(())
        })?;
        Ok(done)
    }

    fn nothing_twice(&self, name: &str, table: &Table) -> Result<(), Error> {
        let mut faults = Vec::new();
        for scoop in &table.scoops {
            let known: Option<i64> = self
                .db
                .prepare_cached(
                    "SELECT s.id FROM scoop AS s JOIN tank ON tank.id = s.tank
                     WHERE s.void = 0 AND tank.void = 0 AND tank.code = ?1 COLLATE NOCASE
                     AND s.at = ?2 AND s.import_label = ?3",
                )
                .and_then(|mut query| {
                    query
                        .query_row([&scoop.tank, &moment(scoop.at), &scoop.label], |row| {
                            row.get(0)
                        })
                        .optional()
                })
                .map_err(failed("looking for a scoop"))?;
            faults.extend(known.map(|number| {
                format!(
                    "row {}: this scoop was imported before, as scoop {number}",
                    scoop.row
                )
            }));
        }
        if faults.is_empty() {
            Ok(())
        } else {
            Err(faulty_rows(name, &faults))
        }
    }

    /// Row and ladder of each line named, `None` for the row of one that is to be added.
    fn lines_for(
        &self,
        name: &str,
        table: &Table,
        ladders: &[String],
    ) -> Result<BTreeMap<String, (Option<i64>, String)>, Error> {
        let mut lines = BTreeMap::new();
        let mut faults = Vec::new();
        for scoop in &table.scoops {
            let Some(code) = &scoop.line else { continue };
            let key = code.to_lowercase();
            if lines.contains_key(&key) {
                continue;
            }
            match self.find_line(code)? {
                Some(line) => {
                    lines.insert(key, (Some(line.id), line.ladder));
                }
                None if ladders.contains(&key) => {
                    lines.insert(key.clone(), (None, key));
                }
                None => faults.push(format!(
                    "row {}: there is no line `{code}`; add it first: catchcup line add {code} --ladder LADDER",
                    scoop.row
                )),
            }
        }
        if faults.is_empty() {
            Ok(lines)
        } else {
            Err(faulty_rows(name, &faults))
        }
    }
}

/// Lines by their code, added when they are first needed.
struct LineRows<'a> {
    lines: BTreeMap<String, (Option<i64>, String)>,
    done: &'a mut Imported,
}

impl<'a> LineRows<'a> {
    fn new(lines: BTreeMap<String, (Option<i64>, String)>, done: &'a mut Imported) -> Self {
        Self { lines, done }
    }

    fn row(
        &mut self,
        change: &mut super::journal::Change<'_>,
        scoop: &TableScoop,
        _stamp: &Stamp,
    ) -> Result<Option<i64>, Error> {
        let Some(code) = &scoop.line else {
            return Ok(None);
        };
        let Some((row, ladder)) = self.lines.get_mut(&code.to_lowercase()) else {
            return Ok(None);
        };
        if row.is_none() {
            let cells = [
                ("code", Value::Text(code.clone())),
                ("ladder", Value::Text(ladder.clone())),
                ("since", Value::Text(day(scoop.at.date()))),
            ];
            *row = Some(change.insert("line", &cells)?);
            self.done.new_lines.push(code.clone());
        }
        Ok(*row)
    }

    fn ladder(&self, scoop: &TableScoop) -> Option<String> {
        let code = scoop.line.as_ref()?;
        self.lines
            .get(&code.to_lowercase())
            .map(|(_, ladder)| ladder.clone())
    }
}

/// Earliest first, so that tanks, lines and generations begin on the day of their first scoop.
fn in_time(table: &Table) -> Vec<&TableScoop> {
    let mut scoops: Vec<&TableScoop> = table.scoops.iter().collect();
    scoops.sort_by_key(|scoop| scoop.at);
    scoops
}

fn new_scoop(scoop: &TableScoop, ladder: &Option<String>, stamp: &Stamp) -> NewScoop {
    NewScoop {
        tank: scoop.tank.clone(),
        at: scoop.at,
        who: stamp.who.clone(),
        kept_apart: false,
        second_of: None,
        remark: String::new(),
        import_label: Some(scoop.label.clone()),
        origin: Origin {
            ladder: ladder.clone(),
            ..Origin::default()
        },
        animals: scoop.animals.clone(),
    }
}
