//! The measures that a condition of a ladder may name.

use crate::measures::AnimalMeasures;
use crate::units::{Measured, Reading};

/// A measure that a condition may name; the words of the rules files are those of the record.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Measure {
    /// Share of the body covered, 0..=1.
    Coverage,
    /// Coverage of the head third.
    CoverageHead,
    /// Coverage of the middle third.
    CoverageMiddle,
    /// Coverage of the tail third.
    CoverageTail,
    /// Mean opacity of the covered part, 0..=1.
    Opacity,
    /// Evenness of the covered part, 0..=1.
    Evenness,
    /// Largest clear window, share of the body.
    ClearWindow,
    /// Count of covered islands.
    Islands,
    /// Coloured share of the legs.
    Legs,
    /// Unbroken share of the back stripe.
    Stripe,
    /// Clear share of the middle third.
    ClearMiddle,
    /// CIEDE2000 to the nearest colour of the line.
    LineDe00,
    /// Length in millimetres.
    LengthMm,
    /// CIELAB lightness of the covered part, floor = 100.
    Lightness,
    /// CIELAB chroma of the covered part.
    Chroma,
    /// CIELAB hue of the covered part, degrees.
    Hue,
    /// Share of the body of a hue that is not the line's.
    WrongHueShare,
    /// Share of the body of wild-type brown.
    BrownShare,
}

/// Every measure with its word in rules files and the range a limit may lie in.
const WORDS: [(Measure, &str, f64, f64); 18] = [
    (Measure::Coverage, "coverage", 0.0, 1.0),
    (Measure::CoverageHead, "coverage_head", 0.0, 1.0),
    (Measure::CoverageMiddle, "coverage_middle", 0.0, 1.0),
    (Measure::CoverageTail, "coverage_tail", 0.0, 1.0),
    (Measure::Opacity, "opacity", 0.0, 1.0),
    (Measure::Evenness, "evenness", 0.0, 1.0),
    (Measure::ClearWindow, "clear_window", 0.0, 1.0),
    (Measure::Islands, "islands", 0.0, 100.0),
    (Measure::Legs, "legs", 0.0, 1.0),
    (Measure::Stripe, "stripe", 0.0, 1.0),
    (Measure::ClearMiddle, "clear_middle", 0.0, 1.0),
    (Measure::LineDe00, "line_de00", 0.0, 100.0),
    (Measure::LengthMm, "length_mm", 0.0, 60.0),
    (Measure::Lightness, "lightness", 0.0, 300.0),
    (Measure::Chroma, "chroma", 0.0, 200.0),
    (Measure::Hue, "hue", 0.0, 360.0),
    (Measure::WrongHueShare, "wrong_hue_share", 0.0, 1.0),
    (Measure::BrownShare, "brown_share", 0.0, 1.0),
];

impl Measure {
    /// All measures in the order of the record.
    pub fn all() -> impl Iterator<Item = Measure> {
        WORDS.iter().map(|row| row.0)
    }

    /// The word of the rules files and of the record.
    pub fn word(self) -> &'static str {
        self.row().1
    }

    /// Lowest and highest limit that makes sense.
    pub fn range(self) -> (f64, f64) {
        (self.row().2, self.row().3)
    }

    /// True for shares, which are 0..=1 and shown as per cent to people.
    pub fn is_share(self) -> bool {
        !matches!(
            self,
            Measure::Islands
                | Measure::LineDe00
                | Measure::LengthMm
                | Measure::Lightness
                | Measure::Chroma
                | Measure::Hue
        )
    }

    /// True where the measuring states no uncertainty of its own, so that a condition has to.
    pub fn needs_stated_uncertainty(self) -> bool {
        matches!(
            self,
            Measure::CoverageHead
                | Measure::CoverageMiddle
                | Measure::CoverageTail
                | Measure::Lightness
                | Measure::Chroma
                | Measure::Hue
        )
    }

    /// True for parts that often can't be seen and then do not count against an animal, unless the house says so.
    pub fn often_unseen(self) -> bool {
        matches!(self, Measure::Legs | Measure::Stripe)
    }

    /// The animal's value; `stated` is the standard uncertainty for measures that carry none.
    pub fn read(self, animal: &AnimalMeasures, stated: f64) -> Reading {
        match self {
            Measure::Coverage => animal.coverage,
            Measure::CoverageHead => third(animal, 0, stated),
            Measure::CoverageMiddle => third(animal, 1, stated),
            Measure::CoverageTail => third(animal, 2, stated),
            Measure::Opacity => animal.opacity,
            Measure::Evenness => animal.evenness,
            Measure::ClearWindow => animal.clear_window,
            Measure::Islands => animal.islands,
            Measure::Legs => animal.legs,
            Measure::Stripe => animal.stripe,
            Measure::ClearMiddle => animal.clear_middle,
            Measure::LineDe00 => animal.line_de00,
            Measure::LengthMm => animal
                .length_mm
                .map_or(Reading::Withheld("scale_unknown"), Reading::Value),
            Measure::Lightness => of_colour(animal, stated, |c| c.lab[0]),
            Measure::Chroma => of_colour(animal, stated, |c| c.chroma),
            Measure::Hue => of_colour(animal, stated, |c| c.hue_deg),
            Measure::WrongHueShare => animal.wrong_hue_share,
            Measure::BrownShare => animal.brown_share,
        }
    }

    fn row(self) -> &'static (Measure, &'static str, f64, f64) {
        WORDS
            .iter()
            .find(|row| row.0 == self)
            .expect("the table holds every measure, as a test shows")
    }
}

fn third(animal: &AnimalMeasures, index: usize, stated: f64) -> Reading {
    let reason = animal.coverage.withheld().unwrap_or("third_unreadable");
    animal.coverage_thirds[index].map_or(Reading::Withheld(reason), |v| {
        Reading::Value(Measured::new(v, stated))
    })
}

fn of_colour(
    animal: &AnimalMeasures,
    stated: f64,
    pick: impl Fn(&crate::measures::BodyColour) -> f64,
) -> Reading {
    animal
        .colour
        .as_ref()
        .map_or(Reading::Withheld("too_few_covered"), |c| {
            Reading::Value(Measured::new(pick(c), stated))
        })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_measure_has_one_word() {
        let mut words: Vec<_> = Measure::all().map(Measure::word).collect();
        words.sort_unstable();
        words.dedup();
        assert_eq!(words.len(), WORDS.len());
    }
}
