//! What moves colour or its measuring, with the day from which on it holds.

use std::collections::BTreeMap;

use jiff::civil::Date;
use rusqlite::types::Value;

use super::rows::{day, parsed, unreadable};
use super::{Book, Stamp, failed, names};
use crate::error::Error;
use crate::scoop::ConditionKind;

/// A condition.
#[derive(Debug, Clone, PartialEq)]
pub struct Condition {
    /// Code of its tank; `None` = the whole room.
    pub tank: Option<String>,
    /// What it is about.
    pub kind: ConditionKind,
    /// How it is from that day on.
    pub value: String,
    /// The day.
    pub since: Date,
}

/// A condition to be noted.
#[derive(Debug, Clone, PartialEq)]
pub struct NewCondition {
    /// Code of its tank; `None` = the whole room.
    pub tank: Option<String>,
    /// What it is about.
    pub kind: ConditionKind,
    /// How it is from that day on.
    pub value: String,
    /// The day; today where not said.
    pub since: Option<Date>,
}

/// What holds in tank `tank` on `day`: for each kind the latest one that is not younger; on the same day a tank's own
/// goes before the room's. `conditions` come by date, as [`Book::conditions`] gives them.
pub fn in_force(
    conditions: &[Condition],
    tank: &str,
    day: Date,
) -> BTreeMap<ConditionKind, String> {
    let mut found: BTreeMap<ConditionKind, &Condition> = BTreeMap::new();
    let here = |c: &&Condition| c.since <= day && c.tank.as_deref().is_none_or(|own| own == tank);
    for condition in conditions.iter().filter(here) {
        let known = found.entry(condition.kind).or_insert(condition);
        let rank = |c: &Condition| (c.since, c.tank.is_some());
        if rank(condition) >= rank(known) {
            *known = condition;
        }
    }
    found
        .into_iter()
        .map(|(kind, condition)| (kind, condition.value.clone()))
        .collect()
}

impl Book {
    /// Notes a condition.
    ///
    /// # Errors
    /// Where the tank is unknown or the value is empty.
    pub fn set_condition(&mut self, new: &NewCondition, stamp: &Stamp) -> Result<Condition, Error> {
        let tank = new
            .tank
            .as_deref()
            .map(|code| self.tank(code))
            .transpose()?;
        let value = names::text(&new.value)?;
        if value.is_empty() {
            return Err(Error::book(
                "empty_condition",
                format!("nothing is said about the {}", new.kind.word()),
                "say how it is from that day on, for example: black sand",
            ));
        }
        let condition = Condition {
            tank: tank.as_ref().map(|tank| tank.code.clone()),
            kind: new.kind,
            value,
            since: new.since.unwrap_or(stamp.at.date()),
        };
        let cells = [
            ("tank", tank.as_ref().map(|tank| tank.id).into()),
            ("kind", Value::Text(new.kind.word().into())),
            ("value", Value::Text(condition.value.clone())),
            ("since", Value::Text(day(condition.since))),
        ];
        let what = format!(
            "noted for {}: {} {} since {}",
            condition.tank.as_deref().unwrap_or("the room"),
            condition.kind.word(),
            condition.value,
            condition.since
        );
        self.change(stamp, &what, |change| change.insert("condition", &cells))?;
        Ok(condition)
    }

    /// All conditions by date.
    ///
    /// # Errors
    /// Where the book can't be read.
    pub fn conditions(&self) -> Result<Vec<Condition>, Error> {
        let doing = "reading the conditions";
        let mut query = self
            .db
            .prepare_cached(
                "SELECT tank.code, c.kind, c.value, c.since FROM condition AS c
                 LEFT JOIN tank ON tank.id = c.tank WHERE c.void = 0 ORDER BY c.since, c.id",
            )
            .map_err(failed(doing))?;
        let rows = query
            .query_map([], |row| {
                let kind: String = row.get(1)?;
                Ok(Condition {
                    tank: row.get(0)?,
                    kind: ConditionKind::from_word(&kind).ok_or_else(|| unreadable(&kind))?,
                    value: row.get(2)?,
                    since: parsed(row, 3)?,
                })
            })
            .map_err(failed(doing))?;
        rows.collect::<Result<_, _>>().map_err(failed(doing))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use jiff::civil::date;

    fn lamp(tank: Option<&str>, value: &str, since: Date) -> Condition {
        Condition {
            tank: tank.map(str::to_string),
            kind: ConditionKind::Lamp,
            value: value.into(),
            since,
        }
    }

    #[test]
    fn the_latest_holds_and_a_tanks_own_goes_first() {
        let all = [
            lamp(None, "old", date(2026, 1, 1)),
            lamp(Some("A1"), "own", date(2026, 2, 1)),
            lamp(None, "new", date(2026, 2, 1)),
            lamp(None, "newest", date(2026, 3, 1)),
        ];
        let at = |tank: &str, day| in_force(&all, tank, day).get(&ConditionKind::Lamp).cloned();
        assert_eq!(at("A1", date(2025, 12, 31)), None);
        assert_eq!(at("A1", date(2026, 1, 31)).as_deref(), Some("old"));
        assert_eq!(at("A1", date(2026, 2, 1)).as_deref(), Some("own"));
        assert_eq!(at("B1", date(2026, 2, 1)).as_deref(), Some("new"));
        assert_eq!(at("A1", date(2026, 3, 1)).as_deref(), Some("newest"));
    }
}
