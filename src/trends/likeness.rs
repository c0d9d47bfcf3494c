//! Only like is compared with like: what was the same when two scoops were taken.

use std::collections::BTreeMap;

use jiff::civil::DateTime;

use crate::measures::{Sex, SexFrom};
use crate::scoop::{ConditionKind, KeptAnimal, MinutesRule, PastScoop};

/// Conditions that move colour or its measuring; the water is told but parts nothing.
const PARTING: [ConditionKind; 5] = [
    ConditionKind::Floor,
    ConditionKind::Lamp,
    ConditionKind::Feed,
    ConditionKind::Cup,
    ConditionKind::Camera,
];

/// How long the animals had been in the cup.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Stood {
    /// Within the house's aim, or not known.
    Short,
    /// Beyond the aim, within the limit of the warning.
    Middling,
}

/// What two scoops must have in common to be compared without a level of their own.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Likeness {
    /// The tank.
    pub tank: String,
    /// The sex, where it was given; animals of seen or unknown sex stand together.
    pub sex: Option<&'static str>,
    /// Conditions by kind, as far as any were noted.
    pub conditions: BTreeMap<ConditionKind, String>,
    /// `white` or `dark`.
    pub ground: Option<String>,
    /// Minutes in the cup.
    pub in_cup: Stood,
    /// Digest of the ladder, where rungs are compared.
    pub ladder: Option<String>,
}

/// Why a scoop is left out of every comparison.
#[derive(Debug, Clone, PartialEq)]
pub enum LeftOut {
    /// It stood longer in the cup than the house allows, minutes.
    TooLong(f64),
    /// No other scoop is like it.
    Alone,
}

/// Something that changed between two scoops of a tank.
#[derive(Debug, Clone, PartialEq)]
pub struct Change {
    /// The tank.
    pub tank: String,
    /// Time of the first scoop under the new state.
    pub at: DateTime,
    /// `floor`, `lamp`, `feed`, `cup`, `camera`, `ground` or `minutes in the cup`.
    pub what: &'static str,
    /// How it was.
    pub before: String,
    /// How it is from then on.
    pub after: String,
}

/// A scoop's conditions where the first note on a kind stands for the time before it as well: the first noting is no change.
pub(super) struct Known {
    first: BTreeMap<(String, ConditionKind), String>,
}

impl Known {
    pub(super) fn of(scoops: &[&PastScoop]) -> Self {
        let mut first = BTreeMap::new();
        for scoop in scoops {
            for (kind, value) in &scoop.conditions {
                let key = (scoop.tank.clone(), *kind);
                first.entry(key).or_insert_with(|| value.clone());
            }
        }
        Self { first }
    }

    fn conditions(&self, scoop: &PastScoop) -> BTreeMap<ConditionKind, String> {
        let value = |kind: ConditionKind| {
            let noted = scoop.conditions.get(&kind);
            let noted = noted.or_else(|| self.first.get(&(scoop.tank.clone(), kind)));
            Some((kind, noted?.clone()))
        };
        PARTING.into_iter().filter_map(value).collect()
    }

    /// What the scoop is like, without sex and ladder, or why it can't be compared.
    pub(super) fn likeness(
        &self,
        scoop: &PastScoop,
        minutes: &MinutesRule,
    ) -> Result<Likeness, LeftOut> {
        let stood = scoop.origin.netted_seconds.map(|s| f64::from(s) / 60.0);
        if let Some(long) = stood.filter(|m| *m > minutes.warn) {
            return Err(LeftOut::TooLong(long));
        }
        Ok(Likeness {
            tank: scoop.tank.clone(),
            sex: None,
            conditions: self.conditions(scoop),
            ground: scoop.origin.ground.clone(),
            in_cup: match stood {
                Some(m) if m > minutes.aim => Stood::Middling,
                _ => Stood::Short,
            },
            ladder: None,
        })
    }
}

/// Word of a sex that was given by the keeper; `None` for animals whose sex was seen or is not known.
pub(super) fn given_sex(animal: &KeptAnimal) -> Option<&'static str> {
    match (animal.sex_from, animal.sex) {
        (SexFrom::Given, Sex::Female) => Some("female"),
        (SexFrom::Given, Sex::Male) => Some("male"),
        _ => None,
    }
}

/// What changed from one scoop of a tank to the next, over all of `scoops` in their order.
pub fn changes(scoops: &[&PastScoop]) -> Vec<Change> {
    let known = Known::of(scoops);
    let mut latest: BTreeMap<&str, (BTreeMap<ConditionKind, String>, Option<&String>)> =
        BTreeMap::new();
    let mut found = Vec::new();
    for scoop in scoops {
        let mut here = known.conditions(scoop);
        if let Some(water) = scoop.conditions.get(&ConditionKind::Water) {
            here.insert(ConditionKind::Water, water.clone());
        }
        let ground = scoop.origin.ground.as_ref();
        let change = |what, before: &str, after: &str| Change {
            tank: scoop.tank.clone(),
            at: scoop.at,
            what,
            before: before.into(),
            after: after.into(),
        };
        if let Some((before, ground_before)) = latest.get(scoop.tank.as_str()) {
            for (kind, value) in &here {
                if let Some(old) = before.get(kind).filter(|old| *old != value) {
                    found.push(change(kind.word(), old, value));
                }
            }
            if let (Some(old), Some(new)) = (ground_before, ground)
                && *old != new
            {
                found.push(change("ground", old, new));
            }
        }
        latest.insert(&scoop.tank, (here, ground));
    }
    found
}
