//! Changes: one transaction, one entry in the trail, and what is needed to take it back.

use std::collections::BTreeMap;

use jiff::civil::DateTime;
use rusqlite::types::Value;
use rusqlite::{OptionalExtension, Transaction, TransactionBehavior, params, params_from_iter};

use super::rows::{moment, parsed};
use super::{Book, Stamp, failed};
use crate::error::Error;

/// One entry of the trail.
#[derive(Debug, Clone, PartialEq)]
pub struct TrailEntry {
    /// Its number, rising in time.
    pub number: i64,
    /// When.
    pub at: DateTime,
    /// Who.
    pub who: String,
    /// What was done, in words.
    pub what: String,
    /// True while it is taken back.
    pub taken_back: bool,
}

/// A row's columns by name.
type Cells = BTreeMap<String, serde_json::Value>;

/// A change being made. Rows are written through it, so that it can be taken back.
pub(super) struct Change<'a> {
    pub(super) db: Transaction<'a>,
    number: i64,
    rows: i64,
}

impl Book {
    /// One change, all or nothing: `work` writes its rows, the trail gets who, when and `what`. Nothing is entered where
    /// no row was written.
    pub(super) fn change<T>(
        &mut self,
        stamp: &Stamp,
        what: &str,
        work: impl FnOnce(&mut Change<'_>) -> Result<T, Error>,
    ) -> Result<T, Error> {
        let db = self
            .db
            .transaction_with_behavior(TransactionBehavior::Immediate)
            .map_err(failed("beginning an entry"))?;
        let number = enter(&db, stamp, what, None)?;
        let mut change = Change {
            db,
            number,
            rows: 0,
        };
        let answer = work(&mut change)?;
        if change.rows > 0 {
            change.db.commit().map_err(failed("keeping the entry"))?;
        }
        Ok(answer)
    }

    /// Takes back the last change that stands; its words, or `None` where nothing is left to take back.
    ///
    /// # Errors
    /// Where the book can't be written.
    pub fn undo(&mut self, stamp: &Stamp) -> Result<Option<String>, Error> {
        let doing = "taking back the last change";
        let db = self
            .db
            .transaction_with_behavior(TransactionBehavior::Immediate)
            .map_err(failed(doing))?;
        let last: Option<(i64, String)> = db
            .query_row(
                "SELECT id, what FROM change WHERE undoes IS NULL AND undone_by IS NULL
                 ORDER BY id DESC LIMIT 1",
                [],
                |row| Ok((row.get(0)?, row.get(1)?)),
            )
            .optional()
            .map_err(failed(doing))?;
        let Some((number, what)) = last else {
            return Ok(None);
        };
        put_back(&db, number, Side::Before)?;
        let undo = enter(&db, stamp, &format!("took back: {what}"), Some(number))?;
        db.execute(
            "UPDATE change SET undone_by = ?2 WHERE id = ?1",
            [number, undo],
        )
        .map_err(failed(doing))?;
        db.commit().map_err(failed(doing))?;
        Ok(Some(what))
    }

    /// Brings back the change that was taken back last; its words, or `None` where the last entry is no taking back.
    ///
    /// # Errors
    /// Where the book can't be written.
    pub fn redo(&mut self, stamp: &Stamp) -> Result<Option<String>, Error> {
        let doing = "bringing back a change";
        let db = self
            .db
            .transaction_with_behavior(TransactionBehavior::Immediate)
            .map_err(failed(doing))?;
        let last: Option<(i64, String)> = db
            .query_row(
                "SELECT id, what FROM change WHERE undone_by IS NOT NULL
                 AND undone_by > (SELECT ifnull(max(id), 0) FROM change WHERE undoes IS NULL)
                 ORDER BY id LIMIT 1",
                [],
                |row| Ok((row.get(0)?, row.get(1)?)),
            )
            .optional()
            .map_err(failed(doing))?;
        let Some((number, what)) = last else {
            return Ok(None);
        };
        put_back(&db, number, Side::After)?;
        enter(&db, stamp, &format!("brought back: {what}"), Some(number))?;
        db.execute("UPDATE change SET undone_by = NULL WHERE id = ?1", [number])
            .map_err(failed(doing))?;
        db.commit().map_err(failed(doing))?;
        Ok(Some(what))
    }

    /// The latest `most` entries of the trail, latest first.
    ///
    /// # Errors
    /// Where the book can't be read.
    pub fn trail(&self, most: usize) -> Result<Vec<TrailEntry>, Error> {
        let doing = "reading the trail";
        let mut query = self
            .db
            .prepare_cached(
                "SELECT id, at, who, what, undone_by IS NOT NULL FROM change ORDER BY id DESC LIMIT ?1",
            )
            .map_err(failed(doing))?;
        let rows = query.query_map([most as i64], |row| {
            Ok(TrailEntry {
                number: row.get(0)?,
                at: parsed(row, 1)?,
                who: row.get(2)?,
                what: row.get(3)?,
                taken_back: row.get(4)?,
            })
        });
        rows.map_err(failed(doing))?
            .collect::<Result<_, _>>()
            .map_err(failed(doing))
    }
}

/// Writes an entry of the trail; its number.
fn enter(
    db: &Transaction<'_>,
    stamp: &Stamp,
    what: &str,
    undoes: Option<i64>,
) -> Result<i64, Error> {
    db.execute(
        "INSERT INTO change (at, who, what, undoes) VALUES (?1, ?2, ?3, ?4)",
        params![moment(stamp.at), stamp.who, what, undoes],
    )
    .map_err(failed("writing the trail"))?;
    Ok(db.last_insert_rowid())
}

#[derive(Clone, Copy)]
enum Side {
    Before,
    After,
}

/// Sets the rows of a change to what they were before it, last row first, or after it, first row first.
fn put_back(db: &Transaction<'_>, number: i64, side: Side) -> Result<(), Error> {
    let doing = "putting rows back";
    let (column, order) = match side {
        Side::Before => ("before", "DESC"),
        Side::After => ("after", "ASC"),
    };
    let sql = format!(
        "SELECT table_name, row, {column} FROM change_row WHERE change = ?1 ORDER BY no {order}"
    );
    let mut query = db.prepare(&sql).map_err(failed(doing))?;
    let rows: Vec<(String, i64, String)> = query
        .query_map([number], |row| Ok((row.get(0)?, row.get(1)?, row.get(2)?)))
        .map_err(failed(doing))?
        .collect::<Result<_, _>>()
        .map_err(failed(doing))?;
    for (table, row, cells) in rows {
        let cells: Cells = serde_json::from_str(&cells)
            .map_err(|_| damaged(&format!("entry {number} of the trail can't be read")))?;
        let cells: Vec<(String, Value)> = cells
            .into_iter()
            .map(|(name, value)| (name, from_json(&value)))
            .collect();
        set(
            db,
            &table,
            row,
            cells
                .iter()
                .map(|(name, value)| (name.as_str(), value.clone())),
        )?;
    }
    Ok(())
}

pub(super) fn damaged(what: &str) -> Error {
    Error::book(
        "book_damaged",
        what,
        "keep the file, and go back to your last copy: catchcup book restore COPY",
    )
}

/// Tables that a change may touch: names in the trail are checked against it.
const TABLES: [&str; 12] = [
    "tank",
    "line",
    "generation",
    "condition",
    "note",
    "scoop",
    "sorting",
    "sorting_cup",
    "own_rung",
    "sitting",
    "ladder_text",
    "correction",
];

fn set<'n>(
    db: &Transaction<'_>,
    table: &str,
    row: i64,
    cells: impl IntoIterator<Item = (&'n str, Value)>,
) -> Result<(), Error> {
    let (names, mut values): (Vec<&str>, Vec<Value>) = cells.into_iter().unzip();
    let plain = |name: &&str| {
        name.chars()
            .all(|c| c.is_ascii_lowercase() || "_0123456789".contains(c))
    };
    if !TABLES.contains(&table) || !names.iter().all(plain) || names.is_empty() {
        return Err(damaged(&format!("the trail names a table `{table}`")));
    }
    let places: Vec<String> = names.iter().map(|name| format!("{name} = ?")).collect();
    values.push(Value::Integer(row));
    let sql = format!("UPDATE {table} SET {} WHERE id = ?", places.join(", "));
    db.prepare_cached(&sql)
        .and_then(|mut update| update.execute(params_from_iter(values)))
        .map_err(failed("writing an entry"))?;
    Ok(())
}

impl Change<'_> {
    /// A new row; its id.
    pub(super) fn insert(
        &mut self,
        table: &'static str,
        cells: &[(&'static str, Value)],
    ) -> Result<i64, Error> {
        let names: Vec<&str> = cells.iter().map(|(name, _)| *name).collect();
        let places = vec!["?"; cells.len()].join(", ");
        let sql = format!(
            "INSERT INTO {table} ({}) VALUES ({places})",
            names.join(", ")
        );
        self.db
            .prepare_cached(&sql)
            .and_then(|mut insert| insert.execute(params_from_iter(cells.iter().map(|(_, v)| v))))
            .map_err(failed("writing an entry"))?;
        let row = self.db.last_insert_rowid();
        self.note(table, row, "{\"void\":1}", "{\"void\":0}")?;
        Ok(row)
    }

    /// New values in a row.
    pub(super) fn update(
        &mut self,
        table: &'static str,
        row: i64,
        cells: &[(&'static str, Value)],
    ) -> Result<(), Error> {
        if cells.is_empty() {
            return Ok(());
        }
        let names: Vec<&str> = cells.iter().map(|(name, _)| *name).collect();
        let sql = format!("SELECT {} FROM {table} WHERE id = ?1", names.join(", "));
        let before: Vec<Value> = self
            .db
            .query_row(&sql, [row], |found| {
                (0..names.len()).map(|i| found.get(i)).collect()
            })
            .map_err(failed("writing an entry"))?;
        let after = cells.iter().map(|(_, value)| value.clone());
        let (before, after) = (object(&names, before.into_iter()), object(&names, after));
        set(&self.db, table, row, cells.iter().cloned())?;
        self.note(table, row, &before, &after)
    }

    /// Takes a row out of everything but the trail.
    pub(super) fn void(&mut self, table: &'static str, row: i64) -> Result<(), Error> {
        self.update(table, row, &[("void", Value::Integer(1))])
    }

    fn note(&mut self, table: &str, row: i64, before: &str, after: &str) -> Result<(), Error> {
        self.rows += 1;
        self.db
            .prepare_cached(
                "INSERT INTO change_row (change, no, table_name, row, before, after)
                 VALUES (?1, ?2, ?3, ?4, ?5, ?6)",
            )
            .and_then(|mut insert| {
                insert.execute(params![self.number, self.rows, table, row, before, after])
            })
            .map_err(failed("writing the trail"))?;
        Ok(())
    }
}

/// Columns with their values as a JSON object.
fn object(names: &[&str], values: impl Iterator<Item = Value>) -> String {
    let cells: Cells = names
        .iter()
        .map(|name| (*name).to_string())
        .zip(values.map(|value| to_json(&value)))
        .collect();
    serde_json::Value::from_iter(cells).to_string()
}

fn to_json(value: &Value) -> serde_json::Value {
    match value {
        Value::Integer(number) => (*number).into(),
        Value::Real(number) => (*number).into(),
        Value::Text(text) => text.as_str().into(),
        Value::Null | Value::Blob(_) => serde_json::Value::Null,
    }
}

fn from_json(value: &serde_json::Value) -> Value {
    match value {
        serde_json::Value::String(text) => Value::Text(text.clone()),
        serde_json::Value::Number(number) => number
            .as_i64()
            .map(Value::Integer)
            .or_else(|| number.as_f64().map(Value::Real))
            .unwrap_or(Value::Null),
        _ => Value::Null,
    }
}
