//! The one next action after a scoop.

use super::Scoop;
use super::mix::LEVEL;
use crate::doubt::Note;
use crate::ladder::Rung;
use crate::stats::wilson;

/// House rule: a range for the tank this wide or narrower says enough to act on.
const WIDE_ENOUGH_TO_ACT: f64 = 0.30;

/// No tank is asked for more than this many further animals; beyond, a range stays wide for other reasons.
const MOST_TO_NET: u32 = 400;

/// What to do next.
#[derive(Debug, Clone, PartialEq)]
pub enum Advice {
    /// The photo can't be graded: its cure.
    Retake(Note),
    /// No animal was found.
    NoAnimals,
    /// Look at the off-type animals (by number) before anything else.
    LookAtOffTypes(Vec<u32>),
    /// No animal could be placed.
    NothingPlaced,
    /// Net this many more for a range of 30 points at the share seen.
    NetMore {
        /// Animals still to be netted.
        more: u32,
        /// The rung in question.
        rung: Rung,
    },
    /// So many animals stand too close to call at the sale rung that netting more won't help; look at them by eye.
    LookAtUndecided(Vec<u32>),
    /// The scoop says enough.
    Enough {
        /// The rung in question.
        rung: Rung,
    },
}

/// The one thing to do next, the most pressing first.
pub fn advise(scoop: &Scoop, sale_rung: Rung) -> Advice {
    if let Some(note) = scoop.withheld.first() {
        return Advice::Retake(note.clone());
    }
    if scoop.animals.is_empty() {
        return Advice::NoAnimals;
    }
    let off_types = numbers(scoop, |animal| animal.placing.is_off_type());
    if !off_types.is_empty() {
        return Advice::LookAtOffTypes(off_types);
    }
    if scoop.mix.n == 0 {
        return Advice::NothingPlaced;
    }
    about_the_share(scoop, sale_rung)
}

fn about_the_share(scoop: &Scoop, rung: Rung) -> Advice {
    let seen = scoop.mix.at_or_above(rung);
    if seen.high - seen.low <= WIDE_ENOUGH_TO_ACT {
        return Advice::Enough { rung };
    }
    let judged = scoop.mix.judged();
    let share = (f64::from(seen.sure) + 0.5 * f64::from(seen.undecided)) / f64::from(judged);
    let open_share = f64::from(seen.undecided) / f64::from(judged);
    match animals_for(share, WIDE_ENOUGH_TO_ACT - open_share) {
        Some(needed) if needed > judged => Advice::NetMore {
            more: needed - judged,
            rung,
        },
        _ => Advice::LookAtUndecided(numbers(scoop, |a| {
            a.placing
                .between
                .is_some_and(|(low, high)| low < rung && rung <= high)
        })),
    }
}

/// Smallest sample whose interval at that share is at most `width` wide; `None` where no sensible sample is enough.
fn animals_for(share: f64, width: f64) -> Option<u32> {
    (1..=MOST_TO_NET).find(|n| {
        let there = (share * f64::from(*n)).round() as u64;
        let range = wilson(there, u64::from(*n), LEVEL);
        range.high - range.low <= width
    })
}

fn numbers(scoop: &Scoop, pick: impl Fn(&super::GradedAnimal) -> bool) -> Vec<u32> {
    scoop
        .animals
        .iter()
        .filter(|animal| pick(animal))
        .map(|animal| animal.measures.no)
        .collect()
}
