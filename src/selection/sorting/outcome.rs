//! What a sorting came to: who was kept of whom.

use std::collections::BTreeMap;

use crate::selection::forecast::realised_differential;
use crate::selection::inbreeding::effective_size;
use crate::selection::realised::Step;
use crate::selection::worth::Yardstick;

use super::{Decided, Verdict, side};

/// Worths of all judged animals and of those kept, females and males.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Outcome {
    /// All that were judged.
    pub all: [Vec<f64>; 2],
    /// Those kept.
    pub kept: [Vec<f64>; 2],
}

/// The outcome of these cups.
pub fn outcome(cups: &[Decided]) -> Outcome {
    let mut found = Outcome::default();
    let mut tub: BTreeMap<(usize, u32), f64> = BTreeMap::new();
    for Decided { cup, decision } in cups {
        for left in &decision.from_tub {
            let worth = tub.remove(&(left.sex, left.place));
            found.kept[left.sex].extend(worth.filter(|_| left.keep));
        }
        for judged in &decision.animals {
            let worth = cup.animals.iter().find(|animal| animal.no == judged.no);
            let worth = worth.and_then(|animal| animal.worth.as_ref().ok());
            let (Some(sex), Some(worth)) = (side(judged.sex), worth) else {
                continue;
            };
            found.all[sex].push(worth.value);
            match judged.verdict {
                Verdict::Keep => found.kept[sex].push(worth.value),
                Verdict::Hold(place) => drop(tub.insert((sex, place), worth.value)),
                Verdict::MoveOut | Verdict::Back => {}
            }
        }
    }
    found
}

impl Outcome {
    /// The generation as a step of the line's history, in the worth of the yardstick `first`; `None` where one sex was not
    /// judged or none of it kept.
    pub fn step(&self, own: &Yardstick, first: &Yardstick) -> Option<Step> {
        let half = |sex: usize| realised_differential(&self.all[sex], &self.kept[sex]);
        let mean = |sex: usize| crate::stats::mean(&self.all[sex]);
        Some(Step {
            mean: (mean(0)? + mean(1)?) / 2.0 + between(own, first),
            measured: self.all[0].len() + self.all[1].len(),
            differential: (half(0)? + half(1)?) / 2.0,
            effective_size: effective_size(self.kept[1].len() as f64, self.kept[0].len() as f64),
        })
    }
}

/// What a worth of 0 by one yardstick is by another, the mean of both sexes.
fn between(own: &Yardstick, first: &Yardstick) -> f64 {
    let one = |sex: usize| -> f64 {
        own.scales[sex]
            .iter()
            .zip(&first.scales[sex])
            .zip(&first.weights)
            .map(|((own, first), (_, weight))| weight * (own.0 - first.0) / first.1)
            .sum()
    };
    (one(0) + one(1)) / 2.0
}
