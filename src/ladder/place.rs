//! Where an animal stands: rung, too close to call, off the ladder, and what the next rung lacks.

use super::chances::chances;
use super::{Bounds, Condition, Ladder, Measure, Rung};
use crate::measures::{AnimalMeasures, Flag};

/// Why an animal stands off-type.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct OffTypeReason {
    /// [`Measure::WrongHueShare`] or [`Measure::BrownShare`].
    pub measure: Measure,
    /// Its share, 0..=1.
    pub value: f64,
    /// The highest share the line allows, 0..=1.
    pub limit: f64,
}

/// Why an animal has no rung.
#[derive(Debug, Clone, PartialEq)]
pub enum OffLadder {
    /// Cut by the frame or hidden by the cup's edge.
    Cut,
    /// Shorter than the house's juvenile length.
    Juvenile,
    /// Milky or stiff white: to be looked at, not graded.
    Milky,
    /// Wrong hue or wild-type brown over more of the body than the line allows.
    OffType(Vec<OffTypeReason>),
    /// A measure that decides the rung could not be read.
    Withheld {
        /// The measure.
        measure: Measure,
        /// Code of the reason.
        code: &'static str,
    },
}

impl OffLadder {
    /// The word under which such animals are counted.
    pub fn word(&self) -> &'static str {
        match self {
            OffLadder::Cut => "cut",
            OffLadder::Juvenile => "juvenile",
            OffLadder::Milky => "milky",
            OffLadder::OffType(_) => "off_type",
            OffLadder::Withheld { .. } => "withheld",
        }
    }
}

/// A measure that falls short of a rung.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ShortOf {
    /// The measure.
    pub measure: Measure,
    /// Its value, in the measure's unit.
    pub value: f64,
    /// The limit it misses (for hue the nearer end of the range).
    pub needs: f64,
    /// True where the value is too high instead of too low.
    pub too_high: bool,
}

/// The rung above and what is missing to it.
#[derive(Debug, Clone, PartialEq)]
pub struct NextRung {
    /// The rung above.
    pub rung: Rung,
    /// Every measure that falls short, in the order of the record; never empty.
    pub short_of: Vec<ShortOf>,
}

/// Where an animal stands.
#[derive(Debug, Clone, PartialEq)]
pub struct Placing {
    /// The rung of the point values; `None` exactly when `off` is given.
    pub rung: Option<Rung>,
    /// Why there is no rung.
    pub off: Option<OffLadder>,
    /// The rung and the other likely one, lower first, where it is too close to call.
    pub between: Option<(Rung, Rung)>,
    /// Chance of each rung, G0 first; `None` without a rung.
    pub chances: Option<[f64; 6]>,
    /// What the rung above asks more; `None` on the best rung and without a rung.
    pub next: Option<NextRung>,
}

impl Placing {
    /// True for an animal that stands off the ladder for its colour.
    pub fn is_off_type(&self) -> bool {
        matches!(self.off, Some(OffLadder::OffType(_)))
    }
}

/// Where the animal stands on the ladder. `Flag::Juvenile` must have been set before.
///
/// Too close to call is said when another rung than the animal's own holds at least `ladder.between_from` of the chance;
/// while the own rung is the likeliest, that other one is the second-likeliest.
pub fn place(ladder: &Ladder, animal: &AnimalMeasures) -> Placing {
    match reason_off(ladder, animal) {
        Some(off) => off_ladder(off),
        None => match rung_of_values(ladder, animal) {
            Err(off) => off_ladder(off),
            Ok(rung) => on_rung(ladder, animal, rung),
        },
    }
}

fn off_ladder(off: OffLadder) -> Placing {
    Placing {
        rung: None,
        off: Some(off),
        between: None,
        chances: None,
        next: None,
    }
}

fn on_rung(ladder: &Ladder, animal: &AnimalMeasures, rung: Rung) -> Placing {
    let chances = chances(ladder, animal);
    Placing {
        rung: Some(rung),
        off: None,
        between: too_close(rung, &chances, ladder.between_from),
        chances: Some(chances),
        next: next_rung(ladder, animal, rung),
    }
}

fn reason_off(ladder: &Ladder, animal: &AnimalMeasures) -> Option<OffLadder> {
    let flags = [
        (Flag::Cut, OffLadder::Cut),
        (Flag::Juvenile, OffLadder::Juvenile),
        (Flag::Milky, OffLadder::Milky),
    ];
    if let Some((_, off)) = flags
        .into_iter()
        .find(|(flag, _)| animal.flags.contains(flag))
    {
        return Some(off);
    }
    let limits = [
        (Measure::WrongHueShare, ladder.off_type.wrong_hue_share),
        (Measure::BrownShare, ladder.off_type.brown_share),
    ];
    let reasons: Vec<OffTypeReason> = limits
        .into_iter()
        .filter_map(|(measure, limit)| {
            let (value, limit) = (measure.read(animal, 0.0).value()?, limit?);
            (value > limit).then_some(OffTypeReason {
                measure,
                value,
                limit,
            })
        })
        .collect();
    (!reasons.is_empty()).then_some(OffLadder::OffType(reasons))
}

/// The highest rung all of whose conditions hold. A condition whose measure can't be read leaves its rung open, unless
/// another condition of that rung fails anyway.
fn rung_of_values(ladder: &Ladder, animal: &AnimalMeasures) -> Result<Rung, OffLadder> {
    for rung in Rung::all().rev() {
        match verdict(ladder.asks(rung, animal.sex), animal) {
            Verdict::Holds => return Ok(rung),
            Verdict::Fails => {}
            Verdict::Open { measure, code } => return Err(OffLadder::Withheld { measure, code }),
        }
    }
    Ok(Rung::G0)
}

enum Verdict {
    Holds,
    Fails,
    Open {
        measure: Measure,
        code: &'static str,
    },
}

fn verdict(conditions: &[Condition], animal: &AnimalMeasures) -> Verdict {
    let mut open = None;
    for condition in conditions {
        let reading = condition.measure.read(animal, condition.uncertainty);
        match (reading.value(), reading.withheld()) {
            (Some(value), _) if !condition.passes(value) => return Verdict::Fails,
            (None, Some(code)) if !condition.unseen_passes => {
                open.get_or_insert(Verdict::Open {
                    measure: condition.measure,
                    code,
                });
            }
            _ => {}
        }
    }
    open.unwrap_or(Verdict::Holds)
}

/// The two rungs between which it is too close to call: `rung` and the likeliest other one, where that one's chance is at
/// least `from`.
pub fn too_close(rung: Rung, chances: &[f64; 6], from: f64) -> Option<(Rung, Rung)> {
    let others = Rung::all().filter(|other| *other != rung);
    // Ties go to the lower rung: nothing is rounded up silently.
    let likeliest = others
        .rev()
        .max_by(|a, b| chances[a.index()].total_cmp(&chances[b.index()]))?;
    (chances[likeliest.index()] >= from).then(|| (rung.min(likeliest), rung.max(likeliest)))
}

fn next_rung(ladder: &Ladder, animal: &AnimalMeasures, rung: Rung) -> Option<NextRung> {
    let next = Rung::from_index(rung.index() + 1)?;
    let mut short_of: Vec<ShortOf> = ladder
        .asks(next, animal.sex)
        .iter()
        .filter_map(|condition| shortfall(condition, animal))
        .collect();
    short_of.sort_by_key(|short| short.measure);
    Some(NextRung {
        rung: next,
        short_of,
    })
}

fn shortfall(condition: &Condition, animal: &AnimalMeasures) -> Option<ShortOf> {
    let value = condition
        .measure
        .read(animal, condition.uncertainty)
        .value()?;
    if condition.passes(value) {
        return None;
    }
    let (needs, too_high) = match condition.bounds {
        Bounds::Range { at_least, at_most } => match at_least.filter(|low| value < *low) {
            Some(low) => (low, false),
            None => (at_most?, true),
        },
        Bounds::Hue(gate) => {
            let past = (value - gate.to_deg).rem_euclid(360.0);
            let before = (gate.from_deg - value).rem_euclid(360.0);
            if past <= before {
                (gate.to_deg, true)
            } else {
                (gate.from_deg, false)
            }
        }
    };
    Some(ShortOf {
        measure: condition.measure,
        value,
        needs,
        too_high,
    })
}
