//! Lots most like an earlier one.

use crate::colour::ciede2000;
use crate::scoop::{ConditionKind, KeptAnimal, PastScoop};

/// How near a scoop is to the wanted one.
#[derive(Debug, Clone, PartialEq)]
pub struct Near {
    /// Its number in the book.
    pub scoop: i64,
    /// Its tank.
    pub tank: String,
    /// CIEDE2000 between the mean colours; absolute ones where both scoops had a chart or a measured light, else those
    /// relative to the cup's floor.
    pub de00: Option<f64>,
    /// True where the colours are absolute.
    pub absolute: bool,
    /// Largest difference of the shares at or above a rung, 0..=1.
    pub rungs: f64,
    /// Difference of the mean lengths, millimetres.
    pub length_mm: Option<f64>,
    /// Conditions that moved colour or its measuring and differ or are not known of one.
    pub unlike: Vec<&'static str>,
}

impl Near {
    /// What scoops are ordered by: unlike conditions last, then rungs and colours together. Ten units of CIEDE2000 weigh as
    /// much as all animals on another rung (house number).
    fn order(&self) -> (usize, f64) {
        (
            self.unlike.len(),
            self.rungs + self.de00.map_or(0.5, |d| d / 10.0),
        )
    }
}

/// The scoops nearest to `wanted`, nearest first; other photos of the same animals and itself left out.
pub fn nearest(wanted: &PastScoop, others: &[PastScoop]) -> Vec<Near> {
    let mut found: Vec<Near> = others
        .iter()
        .filter(|s| s.number != wanted.number && s.second_of.is_none())
        .filter(|s| s.origin.ladder == wanted.origin.ladder && s.judged().count() > 0)
        .map(|s| near(wanted, s))
        .collect();
    found.sort_by(|a, b| {
        let (a_first, b_first) = (a.order(), b.order());
        a_first
            .0
            .cmp(&b_first.0)
            .then(a_first.1.total_cmp(&b_first.1))
            .then(a.scoop.cmp(&b.scoop))
    });
    found
}

fn near(wanted: &PastScoop, other: &PastScoop) -> Near {
    let pick = |absolute: bool| {
        let of = |s: &PastScoop| mean_lab(&s.animals, absolute);
        Some(ciede2000(of(wanted)?, of(other)?))
    };
    let absolute = pick(true);
    let length = |s: &PastScoop| mean(s.animals.iter().filter_map(|a| Some(a.length_mm?.value)));
    let unlike = [
        ConditionKind::Lamp,
        ConditionKind::Cup,
        ConditionKind::Camera,
        ConditionKind::Floor,
    ]
    .into_iter()
    .filter(|kind| wanted.conditions.get(kind) != other.conditions.get(kind))
    .map(ConditionKind::word)
    .collect();
    Near {
        scoop: other.number,
        tank: other.tank.clone(),
        de00: absolute.or_else(|| pick(false)),
        absolute: absolute.is_some(),
        rungs: apart(&wanted.animals, &other.animals),
        length_mm: length(wanted)
            .zip(length(other))
            .map(|(a, b)| (a - b).abs()),
        unlike,
    }
}

/// Largest difference of the shares at or above G1 to G5.
pub fn apart(one: &[KeptAnimal], other: &[KeptAnimal]) -> f64 {
    let above = |animals: &[KeptAnimal], from: usize| {
        let judged: Vec<&KeptAnimal> = animals.iter().filter(|a| a.is_judged()).collect();
        let there = judged
            .iter()
            .filter(|a| a.rung.is_some_and(|r| r.index() >= from))
            .count();
        there as f64 / judged.len().max(1) as f64
    };
    (1..=5)
        .map(|from| (above(one, from) - above(other, from)).abs())
        .fold(0.0, f64::max)
}

fn mean_lab(animals: &[KeptAnimal], absolute: bool) -> Option<[f64; 3]> {
    let labs: Vec<[f64; 3]> = animals
        .iter()
        .filter_map(|a| {
            if absolute {
                a.colour?.lab_abs
            } else {
                a.colour?.lab
            }
        })
        .collect();
    let n = labs.len() as f64;
    (!labs.is_empty()).then(|| std::array::from_fn(|c| labs.iter().map(|l| l[c]).sum::<f64>() / n))
}

fn mean(values: impl Iterator<Item = f64>) -> Option<f64> {
    crate::stats::mean(&values.collect::<Vec<f64>>())
}
