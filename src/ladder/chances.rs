//! How likely each rung is, given the uncertainties of the measures.

use statrs::distribution::{ContinuousCDF, Normal};

use super::{Bounds, Condition, Ladder, Rung};
use crate::measures::{AnimalMeasures, HueGate};
use crate::units::Measured;

/// Chance of each rung, G0 first, summing to 1.
///
/// Measures are taken as independent normals, each clipped to the range it can have; a rung asks all its conditions
/// together. The chance to stand on a rung is the chance to reach it or a higher one, less the chance to reach the next.
/// Every rung asks at least what the rung below asks, but a file may state a larger uncertainty below than above, so that
/// a lower rung by itself looks harder to reach: whoever meets the higher one stands no lower.
pub(super) fn chances(ladder: &Ladder, animal: &AnimalMeasures) -> [f64; 6] {
    let mut reach: Vec<f64> = Rung::all()
        .map(|rung| reach(ladder.asks(rung, animal.sex), animal))
        .collect();
    for i in (1..reach.len()).rev() {
        reach[i - 1] = reach[i - 1].max(reach[i]);
    }
    std::array::from_fn(|i| reach[i] - reach.get(i + 1).copied().unwrap_or(0.0))
}

/// Chance that all conditions hold.
fn reach(conditions: &[Condition], animal: &AnimalMeasures) -> f64 {
    chance_of_all(conditions, |condition| {
        let reading = condition.measure.read(animal, condition.uncertainty);
        reading.measured()
    })
}

/// Chance, 0..=1, that all conditions hold, given what was read for each.
pub fn chance_of_all(
    conditions: &[Condition],
    read: impl Fn(&Condition) -> Option<Measured>,
) -> f64 {
    conditions
        .iter()
        .map(|condition| chance_of(condition, read(condition)))
        .product()
}

fn chance_of(condition: &Condition, measured: Option<Measured>) -> f64 {
    let Some(measured) = measured else {
        // Placing stops before this where an unread measure matters; here it either passes by rule or is not needed.
        return if condition.unseen_passes { 1.0 } else { 0.0 };
    };
    if measured.uncertainty <= 0.0 || !measured.uncertainty.is_finite() {
        return if condition.passes(measured.value) {
            1.0
        } else {
            0.0
        };
    }
    match condition.bounds {
        Bounds::Range { at_least, at_most } => {
            chance_in_range(condition, measured, at_least, at_most)
        }
        Bounds::Hue(gate) => chance_in_gate(measured, gate),
    }
}

fn chance_in_range(
    condition: &Condition,
    measured: Measured,
    at_least: Option<f64>,
    at_most: Option<f64>,
) -> f64 {
    let (lowest, highest) = condition.measure.range();
    // Clipping moves mass from outside the range on to its end, so a limit at the end is met for certain.
    let below_low = at_least
        .filter(|l| *l > lowest)
        .map_or(0.0, |l| cdf(measured, l));
    let below_high = at_most
        .filter(|h| *h < highest)
        .map_or(1.0, |h| cdf(measured, h));
    (below_high - below_low).clamp(0.0, 1.0)
}

/// Wrapped normal: turns of two rounds either way are enough for any uncertainty under 180 degrees.
fn chance_in_gate(measured: Measured, gate: HueGate) -> f64 {
    let from = gate.from_deg;
    let to = from + (gate.to_deg - gate.from_deg).rem_euclid(360.0);
    let turns = (-2..=2).map(|turn| f64::from(turn) * 360.0);
    turns
        .map(|turn| cdf(measured, to + turn) - cdf(measured, from + turn))
        .sum::<f64>()
        .clamp(0.0, 1.0)
}

fn cdf(measured: Measured, at: f64) -> f64 {
    Normal::new(measured.value, measured.uncertainty).map_or_else(
        |_| if measured.value <= at { 1.0 } else { 0.0 },
        |n| n.cdf(at),
    )
}
