//! What a sorting learns from the tank's earlier scoops.

use crate::ladder::Wish;
use crate::scoop::{KeptAnimal, PastScoop};
use crate::selection::worth::Yardstick;

use super::{Setup, TankNumber, side};

/// So many animals of each sex are learned from, the latest first: enough for the shape, and no older than needed.
pub const ENOUGH: usize = 120;

/// Scoops to learn from, the latest first: those of the generation that lives in the tank now, each scoop once.
fn present(past: &[PastScoop]) -> impl Iterator<Item = &PastScoop> {
    let now = past
        .last()
        .map(|scoop| (scoop.line.clone(), scoop.generation));
    past.iter().rev().filter(move |scoop| {
        scoop.second_of.is_none() && Some((scoop.line.clone(), scoop.generation)) == now
    })
}

/// Animals to learn from.
pub fn earlier_animals(past: &[PastScoop]) -> Vec<&KeptAnimal> {
    let mut found: Vec<&KeptAnimal> = Vec::new();
    let mut counts = [0usize; 2];
    for scoop in present(past) {
        for animal in &scoop.animals {
            if let Some(sex) = side(animal.sex) {
                counts[sex] += 1;
            }
            found.push(animal);
        }
        if counts.iter().all(|count| *count >= ENOUGH) {
            break;
        }
    }
    found
}

/// The yardstick and all that the sorting begins with.
pub fn begin(
    wish: &Wish,
    past: &[PastScoop],
    wanted: [usize; 2],
    places: usize,
    number: TankNumber,
) -> (Yardstick, Setup) {
    let animals = earlier_animals(past);
    let stick = Yardstick::new(wish, &animals);
    let mut setup = Setup {
        wanted,
        places,
        number,
        earlier: [Vec::new(), Vec::new()],
        earlier_others: 0,
    };
    for animal in animals {
        match (side(animal.sex), stick.worth(animal)) {
            (Some(sex), Ok(worth)) => setup.earlier[sex].push(worth.value),
            _ => setup.earlier_others += 1,
        }
    }
    (stick, setup)
}
