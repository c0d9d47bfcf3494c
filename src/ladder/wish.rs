//! What a house breeds for: the part `[selection]` of a rules file.

use super::toml_text::{RulesError, Section};
use super::{Bounds, Condition, Measure};

/// What is wished of a breeder.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Wish {
    /// What one standard deviation of each measure is worth; below 0 where less is better.
    pub weights: Vec<(Measure, f64)>,
    /// True where the rules say so; else it is what the best rung asks for, all alike.
    pub is_said: bool,
    /// Share of the differences between animals that is inherited, 0..=1, where the house knows it.
    pub heritability: Vec<(Measure, f64)>,
    /// Genetic correlations, -1..=1, where the house knows them.
    pub genetic_correlations: Vec<(Measure, Measure, f64)>,
}

impl Wish {
    /// Heritability of a measure, where it is given.
    pub fn heritability_of(&self, measure: Measure) -> Option<f64> {
        let mut all = self.heritability.iter();
        all.find(|(m, _)| *m == measure).map(|(_, h2)| *h2)
    }

    /// Genetic correlation of two measures, where it is given.
    pub fn genetic_correlation(&self, one: Measure, two: Measure) -> Option<f64> {
        let mut all = self.genetic_correlations.iter();
        all.find(|(a, b, _)| (*a, *b) == (one, two) || (*b, *a) == (one, two))
            .map(|(_, _, value)| *value)
    }

    /// What the best rung asks for, all alike.
    pub fn of_best_rung(conditions: &[Condition]) -> Self {
        let direction = |condition: &Condition| match condition.bounds {
            Bounds::Range {
                at_least: Some(_), ..
            } => Some(1.0),
            Bounds::Range {
                at_most: Some(_), ..
            } => Some(-1.0),
            _ => None,
        };
        Self {
            weights: conditions
                .iter()
                .filter(|condition| !condition.unseen_passes)
                .filter_map(|condition| Some((condition.measure, direction(condition)?)))
                .collect(),
            ..Self::default()
        }
    }

    /// The wish written in a rules file, `None` where it has no such part.
    ///
    /// # Errors
    /// Where the part names no weight, or a value of the wrong kind or out of range.
    pub(super) fn read(top: &Section<'_, '_>) -> Result<Option<Self>, RulesError> {
        let known = ["weights", "heritability", "genetic_correlation"];
        let Some(part) = top.section("selection", &known)? else {
            return Ok(None);
        };
        let words: Vec<&str> = Measure::all().map(Measure::word).collect();
        let weights = numbers(&part.need_section("weights", &words)?, -100.0, 100.0)?;
        if weights.iter().all(|(_, weight)| *weight == 0.0) {
            return Err(part.error(
                "weights",
                "no measure has a weight",
                "write what counts, for example weights = { coverage = 1.0, opacity = 0.5 }",
            ));
        }
        let heritability = match part.section("heritability", &words)? {
            Some(section) => numbers(&section, 0.0, 1.0)?,
            None => Vec::new(),
        };
        let mut genetic_correlations = Vec::new();
        for pair in part.sections("genetic_correlation", &["of", "with", "value"])? {
            let value = pair.need_number("value", -1.0, 1.0)?;
            genetic_correlations.push((measure(&pair, "of")?, measure(&pair, "with")?, value));
        }
        Ok(Some(Self {
            weights,
            is_said: true,
            heritability,
            genetic_correlations,
        }))
    }
}

fn numbers(
    section: &Section<'_, '_>,
    low: f64,
    high: f64,
) -> Result<Vec<(Measure, f64)>, RulesError> {
    let mut found = Vec::new();
    for measure in Measure::all().filter(|m| section.has(m.word())) {
        // A hue runs in a circle: more of it is neither better nor worse.
        if measure == Measure::Hue {
            return Err(section.error(
                "hue",
                "`hue` can't be weighed, it runs in a circle",
                "weigh line_de00 instead, with a weight below 0",
            ));
        }
        found.push((measure, section.need_number(measure.word(), low, high)?));
    }
    Ok(found)
}

fn measure(section: &Section<'_, '_>, key: &str) -> Result<Measure, RulesError> {
    let word = section.need_text(key)?;
    Measure::all().find(|m| m.word() == word).ok_or_else(|| {
        section.error(
            key,
            format!("`{word}` is no measure"),
            "write one of the measures that a rung may name, for example \"coverage\"",
        )
    })
}
