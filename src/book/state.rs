//! A tank as it stands on a day: what is told wherever the tank is shown.

use std::collections::BTreeMap;

use jiff::civil::Date;

use super::conditions::in_force;
use super::{Book, Generation, HoldRules, Holds, Note, ScoopEntry, Tank, failed, holds};
use crate::error::Error;
use crate::scoop::ConditionKind;

/// A tank on a day.
#[derive(Debug, Clone, PartialEq)]
pub struct TankState {
    /// The tank.
    pub tank: Tank,
    /// The generation that lives in it.
    pub generation: Option<Generation>,
    /// Conditions in force.
    pub conditions: BTreeMap<ConditionKind, String>,
    /// What holds it back.
    pub holds: Holds,
    /// Scoops filed under it, other photos of the same scoop left out.
    pub scoops: u32,
    /// The last of them.
    pub last_scoop: Option<ScoopEntry>,
    /// The last one in which an animal was off-type.
    pub last_off_type: Option<ScoopEntry>,
}

impl Book {
    /// The tank of that code as it stands on `today`.
    ///
    /// # Errors
    /// Where there is no such tank or the book can't be read.
    pub fn tank_state(
        &self,
        code: &str,
        today: Date,
        rules: &HoldRules,
    ) -> Result<TankState, Error> {
        let tank = self.tank(code)?;
        let notes = self.notes(Some(&tank.code))?;
        self.state(tank, &notes, &self.generations()?, today, rules)
    }

    /// All tanks as they stand on `today`; retired ones only where asked for.
    ///
    /// # Errors
    /// Where the book can't be read.
    pub fn tank_states(
        &self,
        today: Date,
        rules: &HoldRules,
        retired_too: bool,
    ) -> Result<Vec<TankState>, Error> {
        let mut notes: BTreeMap<String, Vec<Note>> = BTreeMap::new();
        for note in self.notes(None)? {
            notes.entry(note.tank.clone()).or_default().push(note);
        }
        let generations = self.generations()?;
        let tanks = self.tanks()?.into_iter();
        tanks
            .filter(|tank| retired_too || tank.retired.is_none_or(|on| on > today))
            .map(|tank| {
                let own = notes.get(&tank.code).map_or(&[][..], Vec::as_slice);
                self.state(tank, own, &generations, today, rules)
            })
            .collect()
    }

    fn state(
        &self,
        tank: Tank,
        notes: &[Note],
        generations: &[Generation],
        today: Date,
        rules: &HoldRules,
    ) -> Result<TankState, Error> {
        let generation = generations
            .iter()
            .rev()
            .find(|g| g.tank == tank.code && g.since <= today);
        let end_of_day = today.at(23, 59, 59, 999_999_999);
        Ok(TankState {
            generation: generation.cloned(),
            conditions: in_force(&self.conditions()?, &tank.code, today),
            holds: holds(notes, today, rules),
            scoops: self.scoop_count(&tank)?,
            last_scoop: self.last_scoop(&tank.code, end_of_day)?,
            last_off_type: self.last_off_type(&tank.code, end_of_day)?,
            tank,
        })
    }

    fn scoop_count(&self, tank: &Tank) -> Result<u32, Error> {
        self.db
            .prepare_cached(
                "SELECT count(*) FROM scoop WHERE void = 0 AND second_of IS NULL AND tank = ?1",
            )
            .and_then(|mut query| query.query_row([tank.id], |row| row.get(0)))
            .map_err(failed("counting the scoops"))
    }
}
