//! The house's ladder: rules in a text file, rungs G0 to G5, and where an animal stands on them.
//!
//! An animal stands on the highest rung all of whose conditions it meets; a rung also asks for what the rungs below ask,
//! unless it states its own limit for that measure. G0 is everything below G1.

pub mod chances;
pub mod decimal;
pub mod load;
pub mod measure;
pub mod place;
pub mod rewrite;
pub mod shelf;
pub mod toml_text;
pub mod wish;

pub use load::load;
pub use measure::Measure;
pub use place::{NextRung, OffLadder, OffTypeReason, Placing, ShortOf, place};
pub use shelf::Shelf;
pub use toml_text::RulesError;
pub use wish::Wish;

use std::fmt;

use crate::measures::{HueGate, LineColour, Sex};

/// A rung, G0 (lowest) to G5 (best).
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Rung(u8);

impl Rung {
    /// The lowest rung, below every condition.
    pub const G0: Rung = Rung(0);
    /// The best rung.
    pub const BEST: Rung = Rung(5);

    /// All rungs, lowest first.
    pub fn all() -> impl DoubleEndedIterator<Item = Rung> {
        (0..=5).map(Rung)
    }

    /// 0 to 5.
    pub fn index(self) -> usize {
        usize::from(self.0)
    }

    /// The rung of that height, `None` above 5.
    pub fn from_index(index: usize) -> Option<Rung> {
        u8::try_from(index).ok().filter(|i| *i <= 5).map(Rung)
    }

    /// The rung written `G0` .. `G5` (small g allowed), else `None`.
    pub fn from_word(word: &str) -> Option<Rung> {
        let digits = word.strip_prefix(['G', 'g'])?;
        Rung::all().find(|rung| digits.len() == 1 && digits == rung.0.to_string())
    }
}

impl fmt::Display for Rung {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "G{}", self.0)
    }
}

/// What a measure has to be.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Bounds {
    /// From `at_least` to `at_most`, ends included; `None` = open.
    Range {
        /// Lowest value that passes.
        at_least: Option<f64>,
        /// Highest value that passes.
        at_most: Option<f64>,
    },
    /// A range of hues.
    Hue(HueGate),
}

/// One condition of a rung.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Condition {
    /// What is looked at.
    pub measure: Measure,
    /// What it has to be.
    pub bounds: Bounds,
    /// Standard uncertainty for measures that carry none of their own, in the measure's unit.
    pub uncertainty: f64,
    /// True where a measure that can't be read passes (legs seen from above).
    pub unseen_passes: bool,
}

impl Condition {
    /// True when `value` passes.
    pub fn passes(&self, value: f64) -> bool {
        match self.bounds {
            Bounds::Range { at_least, at_most } => {
                at_least.is_none_or(|l| value >= l) && at_most.is_none_or(|h| value <= h)
            }
            Bounds::Hue(gate) => gate.contains(value),
        }
    }
}

/// From where on an animal stands off the ladder; `None` = the line knows no such fault.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct OffTypeLimits {
    /// Highest share of the body that may be of a wrong hue, 0..=1.
    pub wrong_hue_share: Option<f64>,
    /// Highest share of the body that may be wild-type brown, 0..=1.
    pub brown_share: Option<f64>,
}

/// A line's ladder as read from its rules file.
#[derive(Debug, Clone, PartialEq)]
pub struct Ladder {
    /// Id of the line.
    pub line: String,
    /// The line in plain words.
    pub title: String,
    /// What colour the line is.
    pub colour: LineColour,
    /// From where on an animal is off-type.
    pub off_type: OffTypeLimits,
    /// Chance, 0..=1, that the second-likeliest rung needs for "too close to call".
    pub between_from: f64,
    /// The house's labels, G0 first; empty where the house gave none.
    pub labels: [String; 6],
    /// Conditions of G1 to G5 (what lower rungs ask included) for females and animals of unknown sex.
    pub conditions: [Vec<Condition>; 5],
    /// The same for males.
    pub male_conditions: [Vec<Condition>; 5],
    /// What the house breeds for.
    pub wish: Wish,
    /// SHA-256 of the rules file's text, lower-case hexadecimal.
    pub sha256: String,
}

impl Ladder {
    /// What `rung` asks of an animal of that sex; empty for G0.
    pub fn asks(&self, rung: Rung, sex: Sex) -> &[Condition] {
        let table = if sex == Sex::Male {
            &self.male_conditions
        } else {
            &self.conditions
        };
        rung.index()
            .checked_sub(1)
            .map_or(&[], |index| table[index].as_slice())
    }

    /// The house's label for the rung, empty where none was given.
    pub fn label(&self, rung: Rung) -> &str {
        &self.labels[rung.index()]
    }
}
