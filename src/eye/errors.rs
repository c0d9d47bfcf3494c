//! What the program got wrong by the house's own eyes: single corrections, and how often each kind is needed.

use jiff::civil::DateTime;

use crate::ladder::Rung;
use crate::measures::Sex;
use crate::scoop::KeptAnimal;
use crate::stats::{Interval, wilson};

/// Level of the ranges of shares.
const LEVEL: f64 = 0.95;

/// What is right of an animal.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Right {
    /// True: it is no animal at all.
    NotAnimal(bool),
    /// True: they are two animals.
    TwoAnimals(bool),
    /// True: its head is at the other end.
    OtherHead(bool),
    /// Its sex, never unsure.
    Sex(Sex),
    /// True: it is a juvenile.
    Juvenile(bool),
}

/// Kinds of corrections in the order in which they are told.
pub const KINDS: [&str; 5] = ["not_animal", "two_animals", "other_head", "sex", "juvenile"];

impl Right {
    /// From its kind and value as they are stored; `None` for other words.
    pub fn from_words(kind: &str, value: &str) -> Option<Self> {
        let is_so = match value {
            "yes" => Some(true),
            "no" => Some(false),
            _ => None,
        };
        Some(match kind {
            "not_animal" => Self::NotAnimal(is_so?),
            "two_animals" => Self::TwoAnimals(is_so?),
            "other_head" => Self::OtherHead(is_so?),
            "juvenile" => Self::Juvenile(is_so?),
            "sex" if value == "female" => Self::Sex(Sex::Female),
            "sex" if value == "male" => Self::Sex(Sex::Male),
            _ => return None,
        })
    }

    /// Its kind, one of [`KINDS`].
    pub fn kind(self) -> &'static str {
        match self {
            Self::NotAnimal(_) => KINDS[0],
            Self::TwoAnimals(_) => KINDS[1],
            Self::OtherHead(_) => KINDS[2],
            Self::Sex(_) => KINDS[3],
            Self::Juvenile(_) => KINDS[4],
        }
    }

    /// `yes`, `no`, `female` or `male`.
    pub fn value(self) -> &'static str {
        match self {
            Self::NotAnimal(is_so)
            | Self::TwoAnimals(is_so)
            | Self::OtherHead(is_so)
            | Self::Juvenile(is_so) => yes_no(is_so),
            Self::Sex(sex) => sex_word(sex),
        }
    }

    /// What the program says of the same: `yes`, `no`, `female`, `male` or `unsure`.
    pub fn of_program(self, animal: &KeptAnimal) -> &'static str {
        match self {
            // It was counted as one animal, with its head where it was found.
            Self::NotAnimal(_) | Self::TwoAnimals(_) | Self::OtherHead(_) => "no",
            Self::Sex(_) => sex_word(animal.sex),
            Self::Juvenile(_) => yes_no(animal.flags.iter().any(|flag| flag == "juvenile")),
        }
    }
}

fn yes_no(is_so: bool) -> &'static str {
    if is_so { "yes" } else { "no" }
}

fn sex_word(sex: Sex) -> &'static str {
    match sex {
        Sex::Female => "female",
        Sex::Male => "male",
        Sex::Unsure => "unsure",
    }
}

/// A correction as it is kept.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Correction {
    /// Scoop of the animal.
    pub scoop: i64,
    /// Its number there.
    pub no: u32,
    /// What is right.
    pub right: Right,
    /// What the program says: `yes`, `no`, `female`, `male` or `unsure`.
    pub program: String,
    /// Who says so.
    pub who: String,
    /// When.
    pub at: DateTime,
}

impl Correction {
    /// True where the program said something else; not where it said that it is unsure.
    pub fn is_error(&self) -> bool {
        self.program != "unsure" && self.program != self.right.value()
    }
}

/// How often a kind of correction was needed.
#[derive(Debug, Clone, PartialEq)]
pub struct Rate {
    /// One of [`KINDS`].
    pub kind: &'static str,
    /// Animals corrected in all scoops.
    pub everywhere: u64,
    /// Animals corrected in the scoops that were looked through.
    pub looked_through: u64,
    /// 95 % range of the share among animals of scoops that were looked through (Wilson).
    pub range: Interval,
}

/// How often the program errs, as far as people looked.
#[derive(Debug, Clone, PartialEq)]
pub struct Errors {
    /// Scoops that somebody looked through, animal by animal.
    pub scoops: u64,
    /// Animals in them.
    pub animals: u64,
    /// Each kind of correction.
    pub rates: Vec<Rate>,
    /// Own rungs beside a rung of the program: the same, one apart, further apart.
    pub rungs: [u64; 3],
}

/// Counts corrections. `looked_through` are scoops with the number of their animals; `rungs` are own rungs beside the
/// program's.
///
/// Only scoops that were looked through give a share: in the others nobody says that the rest is right.
///
/// # Source
/// [Newcombe1998] for the ranges.
pub fn errors(
    corrections: &[Correction],
    looked_through: &[(i64, u64)],
    rungs: &[(Rung, Rung)],
) -> Errors {
    let animals = looked_through.iter().map(|(_, animals)| animals).sum();
    let rate = |kind: &'static str| {
        let wrong = corrections
            .iter()
            .filter(|one| one.right.kind() == kind && one.is_error());
        let (all, inside) = wrong.fold((0, 0), |(all, inside), one| {
            let is_inside = looked_through.iter().any(|(scoop, _)| *scoop == one.scoop);
            (all + 1, inside + u64::from(is_inside))
        });
        Rate {
            kind,
            everywhere: all,
            looked_through: inside,
            range: wilson(inside, animals, LEVEL),
        }
    };
    let mut apart = [0; 3];
    for (own, program) in rungs {
        apart[own.index().abs_diff(program.index()).min(2)] += 1;
    }
    Errors {
        scoops: looked_through.len() as u64,
        animals,
        rates: KINDS.into_iter().map(rate).collect(),
        rungs: apart,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn one(scoop: i64, right: Right, program: &str) -> Correction {
        Correction {
            scoop,
            no: 1,
            right,
            program: program.into(),
            who: "Mara".into(),
            at: jiff::civil::date(2026, 1, 2).at(8, 0, 0, 0),
        }
    }

    /// Counted by hand; the range of 1 of 10 is Wilson's 1.8 to 40.4 % [BrownCaiDasGupta2001].
    #[test]
    fn only_scoops_looked_through_give_a_share() {
        let all = [
            one(1, Right::NotAnimal(true), "no"),
            one(2, Right::NotAnimal(true), "no"),
            one(1, Right::Sex(Sex::Female), "unsure"),
            one(1, Right::Sex(Sex::Female), "male"),
        ];
        let best = Rung::BEST;
        let low = Rung::G0;
        let found = errors(&all, &[(1, 10)], &[(best, best), (best, low)]);
        assert_eq!(
            (found.scoops, found.animals, found.rungs),
            (1, 10, [1, 0, 1])
        );
        let not_animal = &found.rates[0];
        assert_eq!((not_animal.everywhere, not_animal.looked_through), (2, 1));
        assert!((not_animal.range.low - 0.018).abs() < 0.001);
        assert!((not_animal.range.high - 0.404).abs() < 0.001);
        // Unsure is no error.
        assert_eq!(found.rates[3].everywhere, 1);
    }

    #[test]
    fn words_are_read_back() {
        let all = [
            Right::NotAnimal(true),
            Right::TwoAnimals(false),
            Right::OtherHead(true),
            Right::Sex(Sex::Male),
            Right::Juvenile(false),
        ];
        for right in all {
            assert_eq!(Right::from_words(right.kind(), right.value()), Some(right));
        }
        assert_eq!(Right::from_words("sex", "unsure"), None);
        assert_eq!(Right::from_words("rung", "yes"), None);
    }
}
