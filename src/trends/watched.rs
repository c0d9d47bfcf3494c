//! What is watched in a tank, and how it is read from an animal.

use crate::scoop::KeptAnimal;

/// A watched measure.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Watched {
    /// Mean coverage, 0..=1.
    Coverage,
    /// Mean opacity, 0..=1.
    Opacity,
    /// Mean hue in degrees from the tank's own first hue, positive toward that of wild type.
    Hue,
    /// Share at or above the sale rung, 0..=1.
    SaleShare,
    /// Share of off-type animals, 0..=1.
    OffType,
    /// Mean length, millimetres.
    Size,
    /// Standard deviation of coverage within the batch.
    Spread,
}

/// Below this chroma a colour has no hue worth the name (CIELAB; the same floor as for off-types).
const LEAST_CHROMA: f64 = 8.0;

impl Watched {
    /// All of them, in the order in which they are told.
    pub const ALL: [Watched; 7] = [
        Watched::Coverage,
        Watched::Opacity,
        Watched::Hue,
        Watched::SaleShare,
        Watched::OffType,
        Watched::Size,
        Watched::Spread,
    ];

    /// Its word in files and on the command line.
    pub fn word(self) -> &'static str {
        match self {
            Watched::Coverage => "coverage",
            Watched::Opacity => "opacity",
            Watched::Hue => "hue",
            Watched::SaleShare => "sale-share",
            Watched::OffType => "off-type",
            Watched::Size => "size",
            Watched::Spread => "spread",
        }
    }

    /// The measure of that word.
    pub fn from_word(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|measure| measure.word() == word)
    }

    /// True for shares of counted animals, false for means.
    pub fn is_counted(self) -> bool {
        matches!(self, Watched::SaleShare | Watched::OffType)
    }

    /// +1 where more is worse for the line, -1 where less is.
    pub fn worse(self) -> f64 {
        match self {
            Watched::Hue | Watched::OffType | Watched::Spread => 1.0,
            Watched::Coverage | Watched::Opacity | Watched::SaleShare | Watched::Size => -1.0,
        }
    }

    /// The value of an animal that stands on the ladder; `None` where it has none. Hue in degrees [0, 360).
    pub fn of(self, animal: &KeptAnimal) -> Option<f64> {
        if animal.off_ladder.is_some() {
            return None;
        }
        match self {
            Watched::Coverage | Watched::Spread => Some(animal.coverage?.value),
            Watched::Opacity => Some(animal.opacity?.value),
            Watched::Size => Some(animal.length_mm?.value),
            Watched::Hue => {
                let colour = animal.colour?;
                colour
                    .hue_deg
                    .filter(|_| colour.chroma.is_none_or(|c| c >= LEAST_CHROMA))
            }
            Watched::SaleShare | Watched::OffType => None,
        }
    }
}
