//! How statements that a house is working on would stand on another ladder.

use crate::ladder::chances::chance_of_all;
use crate::ladder::place::too_close;
use crate::ladder::{Ladder, Rung};
use crate::proof::Plan;
use crate::proof::count::{Count, count};
use crate::proof::statement::{Standing, stand};
use crate::scoop::{KeptAnimal, PastScoop};
use crate::units::Measured;

use super::subject::Subject;

/// A declared statement, read on two ladders from the same measures.
#[derive(Debug, Clone, PartialEq)]
pub struct Claim {
    /// The plan, with its tank.
    pub plan: Plan,
    /// As it stands on the present ladder.
    pub now: Standing,
    /// As it would stand on the other.
    pub then: Standing,
}

impl Claim {
    /// Reads `scoops`, those that count for the plan in the order netted, on both ladders. Weaknesses are left out: they are
    /// the same on both.
    pub fn read(plan: &Plan, scoops: &[PastScoop], old: &Ladder, new: &Ladder) -> Self {
        let on = |ladder: &Ladder| {
            let counts: Vec<Count> = scoops
                .iter()
                .map(|scoop| {
                    let animals: Vec<KeptAnimal> = scoop
                        .animals
                        .iter()
                        .map(|animal| placed(animal, ladder))
                        .collect();
                    count(&animals, plan.rung)
                })
                .collect();
            stand(plan, &counts, &[])
        };
        Self {
            now: on(old),
            then: on(new),
            plan: plan.clone(),
        }
    }
}

/// The animal as `ladder` places it, by its kept measures. What stands off the ladder stays there; no measure that decides,
/// no rung.
fn placed(animal: &KeptAnimal, ladder: &Ladder) -> KeptAnimal {
    let mut placed = animal.clone();
    if animal.off_ladder.is_some() {
        return placed;
    }
    let subject = Subject::of(0, animal, Rung::G0);
    placed.rung = subject.rung_on(ladder);
    let reach = |rung: Rung| {
        chance_of_all(ladder.asks(rung, subject.sex), |condition| {
            let value = subject.value(condition.measure)?;
            Some(if value.uncertainty > 0.0 {
                value
            } else {
                Measured::new(value.value, condition.uncertainty)
            })
        })
    };
    let reached: Vec<f64> = Rung::all().map(reach).collect();
    let next = |i: usize| reached.get(i + 1).copied().unwrap_or(0.0);
    let chances = std::array::from_fn(|i| (reached[i] - next(i)).max(0.0));
    let stands = placed.rung;
    placed.between = stands.and_then(|rung| too_close(rung, &chances, ladder.between_from));
    placed.chances = Some(chances);
    placed
}
