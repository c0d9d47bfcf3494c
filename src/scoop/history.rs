//! The past of a tank or of a line: what trends and selection are made from. Plain values, wherever they were kept.

use std::collections::BTreeMap;

use jiff::civil::DateTime;

use super::kept::{KeptAnimal, Origin};
use crate::ladder::Rung;

/// What is the same for a while and moves colour or its measuring.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum ConditionKind {
    /// Colour or kind of the tank's floor.
    Floor,
    /// Lamp over the tank or over the cup.
    Lamp,
    /// Feed.
    Feed,
    /// Catch cup.
    Cup,
    /// Phone or camera.
    Camera,
    /// Water.
    Water,
}

impl ConditionKind {
    /// All kinds, in the order in which they are told.
    pub const ALL: [ConditionKind; 6] = [
        ConditionKind::Floor,
        ConditionKind::Lamp,
        ConditionKind::Feed,
        ConditionKind::Cup,
        ConditionKind::Camera,
        ConditionKind::Water,
    ];

    /// Its word in files and on the command line.
    pub fn word(self) -> &'static str {
        match self {
            ConditionKind::Floor => "floor",
            ConditionKind::Lamp => "lamp",
            ConditionKind::Feed => "feed",
            ConditionKind::Cup => "cup",
            ConditionKind::Camera => "camera",
            ConditionKind::Water => "water",
        }
    }

    /// The kind of that word.
    pub fn from_word(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|kind| kind.word() == word)
    }
}

/// One scoop of the past with all that was in force when it was taken.
#[derive(Debug, Clone, PartialEq)]
pub struct PastScoop {
    /// Its number in the book, above 0, rising in the order of filing.
    pub number: i64,
    /// Code of its tank.
    pub tank: String,
    /// Code of the line that lived in the tank then.
    pub line: Option<String>,
    /// Generation that lived in the tank then, 0 = founders.
    pub generation: Option<u32>,
    /// Local time of the scoop.
    pub at: DateTime,
    /// Who took it.
    pub who: String,
    /// True where its animals were kept apart from the tank until after the next scoops; false where they were put back
    /// and can be met again.
    pub kept_apart: bool,
    /// The scoop of which this is another photo: the same animals, to be left out of every count.
    pub second_of: Option<i64>,
    /// Conditions in force, as far as they were noted.
    pub conditions: BTreeMap<ConditionKind, String>,
    /// How it was photographed and graded.
    pub origin: Origin,
    /// A remark.
    pub remark: String,
    /// Its animals by number.
    pub animals: Vec<KeptAnimal>,
}

/// The scoops of the last day on which a tank was netted, other photos of the same animals left out; `scoops` are its own,
/// earliest first.
pub fn last_day(scoops: &[PastScoop]) -> Vec<PastScoop> {
    let own: Vec<&PastScoop> = scoops.iter().filter(|s| s.second_of.is_none()).collect();
    let last = own.last().map(|s| s.at.date());
    own.into_iter()
        .filter(|s| Some(s.at.date()) == last)
        .cloned()
        .collect()
}

impl PastScoop {
    /// Mean coverage of the animals that have one, 0..=1; `None` where none has.
    pub fn mean_coverage(&self) -> Option<f64> {
        let all: Vec<f64> = self
            .animals
            .iter()
            .filter_map(|animal| Some(animal.coverage?.value))
            .collect();
        (!all.is_empty()).then(|| all.iter().sum::<f64>() / all.len() as f64)
    }

    /// Animals on each rung, best first; rungs without any are left out.
    pub fn rung_counts(&self) -> Vec<(Rung, usize)> {
        let count = |rung: Rung| {
            let here = self.animals.iter().filter(|a| a.rung == Some(rung));
            (rung, here.count())
        };
        Rung::all().rev().map(count).filter(|c| c.1 > 0).collect()
    }

    /// Off-type animals.
    pub fn off_types(&self) -> usize {
        self.animals.iter().filter(|a| a.is_off_type()).count()
    }

    /// Animals that count in shares: on a rung, or off-type.
    pub fn judged(&self) -> impl Iterator<Item = &KeptAnimal> {
        self.animals.iter().filter(|animal| animal.is_judged())
    }
}
