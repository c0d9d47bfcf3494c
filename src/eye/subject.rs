//! An animal with the rung that the house gave it, as plain numbers.

use crate::ladder::{Bounds, Condition, Ladder, Measure, Rung};
use crate::measures::Sex;
use crate::scoop::KeptAnimal;
use crate::units::Measured;

/// An animal to learn from.
#[derive(Debug, Clone, PartialEq)]
pub struct Subject {
    /// Scoop it is in.
    pub scoop: i64,
    /// Its number there.
    pub no: u32,
    /// Sex: males may have limits of their own.
    pub sex: Sex,
    /// The house's own rung.
    pub own: Rung,
    /// Its measures.
    pub values: Vec<(Measure, Measured)>,
}

impl Subject {
    /// A kept animal with the house's rung.
    pub fn of(scoop: i64, animal: &KeptAnimal, own: Rung) -> Self {
        Self {
            scoop,
            no: animal.no,
            sex: animal.sex,
            own,
            values: values_of(animal),
        }
    }

    /// Its measure; `None` where it was not read.
    pub fn value(&self, measure: Measure) -> Option<Measured> {
        self.values
            .iter()
            .find(|(m, _)| *m == measure)
            .map(|(_, value)| *value)
    }

    /// The rung it stands on; `None` where a measure that decides is missing. What stands off the ladder has to be left
    /// out before.
    pub fn rung_on(&self, ladder: &Ladder) -> Option<Rung> {
        for rung in Rung::all().rev() {
            match verdict(ladder.asks(rung, self.sex), self) {
                Some(true) => return Some(rung),
                Some(false) => {}
                None => return None,
            }
        }
        None
    }
}

/// All measures of a kept animal that a ladder may name and that were read; those without an uncertainty of their own
/// carry 0.
pub fn values_of(animal: &KeptAnimal) -> Vec<(Measure, Measured)> {
    let plain = |value: Option<f64>| value.map(|v| Measured::new(v, 0.0));
    let colour = animal.colour.as_ref();
    Measure::all()
        .filter_map(|measure| {
            let value = match measure {
                Measure::CoverageHead => plain(animal.coverage_thirds[0]),
                Measure::CoverageMiddle => plain(animal.coverage_thirds[1]),
                Measure::CoverageTail => plain(animal.coverage_thirds[2]),
                Measure::Lightness => plain(colour.and_then(|c| c.lab).map(|lab| lab[0])),
                Measure::Chroma => plain(colour.and_then(|c| c.chroma)),
                Measure::Hue => plain(colour.and_then(|c| c.hue_deg)),
                other => animal.reading(other),
            };
            value.map(|value| (measure, value))
        })
        .collect()
}

/// True where all hold, false where one fails, `None` where none fails but one can't be told.
fn verdict(conditions: &[Condition], subject: &Subject) -> Option<bool> {
    let mut open = false;
    for condition in conditions {
        match subject.value(condition.measure) {
            Some(value) if !condition.passes(value.value) => return Some(false),
            None if !condition.unseen_passes => open = true,
            _ => {}
        }
    }
    (!open).then_some(true)
}

/// The limit of a condition with one end.
pub(super) fn limit(condition: &Condition) -> Option<f64> {
    match condition.bounds {
        Bounds::Range {
            at_least: Some(low),
            at_most: None,
        } => Some(low),
        Bounds::Range {
            at_least: None,
            at_most: Some(high),
        } => Some(high),
        _ => None,
    }
}
