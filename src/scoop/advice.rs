//! The one next action after a scoop.

use super::Scoop;
use super::check::Answer;
use super::mix::{AtOrAbove, LEVEL};
use crate::doubt::Note;
use crate::ladder::Rung;
use crate::stats::clopper_pearson;

/// House rule: a range for the tank this wide or narrower says enough to act on.
const WIDE_ENOUGH_TO_ACT: f64 = 0.30;

/// No tank is asked for more than this many further animals; beyond, a range stays wide for other reasons.
const MOST_TO_NET: u32 = 400;

/// House rule: with fewer off-types than this, nothing is said about the line.
const FEWEST_FOR_WRONG_LINE: u32 = 3;

/// What to do next.
#[derive(Debug, Clone, PartialEq)]
pub enum Advice {
    /// The animals were in the cup longer than the house ever allows: back into their tank before anything else.
    PutBack,
    /// The photo can't be graded, or its numbers can't be trusted: its cure.
    Retake(Note),
    /// No animal was found.
    NoAnimals,
    /// Look at the off-type animals (by number) before anything else.
    LookAtOffTypes(Vec<u32>),
    /// Most animals are off-type: the line is more likely wrong than they are.
    CheckLine {
        /// Off-type animals.
        off_type: u32,
        /// Animals judged.
        judged: u32,
    },
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
    if scoop.past_the_stop().is_some() {
        return Advice::PutBack;
    }
    if let Some(note) = scoop.withheld.first() {
        return Advice::Retake(note.clone());
    }
    let bad = scoop.check.reasons.first();
    if let Some(reason) = bad.filter(|reason| reason.answer == Answer::ShootAgain) {
        return Advice::Retake(reason.note.clone());
    }
    if scoop.animals.is_empty() {
        return Advice::NoAnimals;
    }
    let off_types = numbers(scoop, |animal| animal.placing.is_off_type());
    let (off_type, judged) = (scoop.mix.off_type, scoop.mix.judged());
    if off_type >= FEWEST_FOR_WRONG_LINE && 2 * off_type > judged {
        return Advice::CheckLine { off_type, judged };
    }
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
    match animals_needed(seen, scoop.mix.judged()) {
        Some(needed) => Advice::NetMore {
            more: needed - scoop.mix.judged(),
            rung,
        },
        None => Advice::LookAtUndecided(numbers(scoop, |a| {
            a.placing
                .between
                .is_some_and(|(low, high)| low < rung && rung <= high)
        })),
    }
}

/// Animals to be judged in all until the range is narrow enough, if shares stay as they are; `None` where no sensible
/// number does it because too many stand too close to call.
fn animals_needed(seen: AtOrAbove, judged: u32) -> Option<u32> {
    let per_animal = |count: u32| f64::from(count) / f64::from(judged);
    let (sure, open) = (
        per_animal(seen.sure),
        per_animal(seen.sure + seen.undecided),
    );
    let at = |share: f64, n: u32| {
        clopper_pearson((share * f64::from(n)).round() as u64, u64::from(n), LEVEL)
    };
    (judged + 1..=judged + MOST_TO_NET)
        .find(|n| at(open, *n).high - at(sure, *n).low <= WIDE_ENOUGH_TO_ACT)
}

fn numbers(scoop: &Scoop, pick: impl Fn(&super::GradedAnimal) -> bool) -> Vec<u32> {
    scoop
        .animals
        .iter()
        .filter(|animal| pick(animal))
        .map(|animal| animal.measures.no)
        .collect()
}
