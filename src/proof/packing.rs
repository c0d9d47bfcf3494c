//! A packed lot before it leaves: how many meet the rung, and which to swap.

use super::count::{chance, is_undecided, meets_plainly};
use super::statement::{Whole, whole};
use super::weakness::Weakness;
use crate::ladder::Rung;
use crate::scoop::KeptAnimal;

/// What to do with an animal of a packed lot.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Swap {
    /// Off-type: swap first.
    OffType,
    /// Below the rung.
    Below,
    /// No rung could be given (cut, juvenile, unreadable).
    NotJudged,
    /// Too close to call, and below it at the lower of its two rungs.
    Undecided,
}

/// A packed lot held against what it is sold as.
#[derive(Debug, Clone, PartialEq)]
pub struct Packed {
    /// The rung it is sold as.
    pub rung: Rung,
    /// The lot as a whole.
    pub whole: Whole,
    /// Animals that the buyer was promised, where said.
    pub promised: Option<u32>,
    /// Animals to swap, worst first, by number in the photo. As many as must be swapped for every animal to meet the rung
    /// plainly.
    pub swaps: Vec<(u32, Swap)>,
}

impl Packed {
    /// True where as many as promised are there and all of them meet the rung plainly.
    pub fn ready(&self) -> bool {
        self.whole.animals > 0 && self.swaps.is_empty() && self.missing() == 0
    }

    /// Animals that are missing to the promised number.
    pub fn missing(&self) -> u32 {
        self.promised
            .map_or(0, |n| n.saturating_sub(self.whole.animals))
    }
}

/// The lot photographed whole: all its animals are in `animals`.
pub fn check(
    animals: &[KeptAnimal],
    rung: Rung,
    promised: Option<u32>,
    permille: u32,
    confidence: f64,
    weaknesses: &[Weakness],
) -> Packed {
    let chances: Vec<Option<f64>> = animals.iter().map(|a| chance(a, rung)).collect();
    let plain = animals.iter().filter(|a| meets_plainly(a, rung)).count() as u32;
    let mut swaps: Vec<(Swap, f64, u32)> = animals
        .iter()
        .zip(&chances)
        .filter_map(|(animal, chance)| {
            Some((swap(animal, rung)?, chance.unwrap_or(0.0), animal.no))
        })
        .collect();
    swaps.sort_by(|a, b| {
        (a.0, a.1, a.2)
            .partial_cmp(&(b.0, b.1, b.2))
            .unwrap_or(std::cmp::Ordering::Equal)
    });
    Packed {
        rung,
        whole: whole(&chances, plain, permille, confidence, weaknesses),
        promised,
        swaps: swaps.into_iter().map(|(swap, _, no)| (no, swap)).collect(),
    }
}

fn swap(animal: &KeptAnimal, rung: Rung) -> Option<Swap> {
    if animal.is_off_type() {
        Some(Swap::OffType)
    } else if animal.rung.is_none() {
        Some(Swap::NotJudged)
    } else if is_undecided(animal, rung) {
        Some(Swap::Undecided)
    } else {
        (!meets_plainly(animal, rung)).then_some(Swap::Below)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn on(no: u32, rung: usize) -> KeptAnimal {
        let rung = Rung::from_index(rung);
        KeptAnimal {
            rung,
            ..KeptAnimal::blank(no)
        }
    }

    #[test]
    fn seventeen_of_twenty() {
        let g4 = Rung::from_index(4).expect("a rung");
        let mut animals: Vec<KeptAnimal> = (1..=17).map(|no| on(no, 4)).collect();
        animals.push(on(18, 3));
        let mut undecided = on(19, 4);
        undecided.between = Some((Rung::from_index(3).expect("a rung"), g4));
        undecided.chances = Some([0.0, 0.0, 0.0, 0.4, 0.6, 0.0]);
        animals.push(undecided);
        let mut brown = KeptAnimal::blank(20);
        brown.off_ladder = Some("off_type".into());
        animals.push(brown);
        let packed = check(&animals, g4, Some(20), 1000, 0.95, &[]);
        assert_eq!((packed.whole.plain, packed.whole.animals), (17, 20));
        let expected = [
            (20, Swap::OffType),
            (18, Swap::Below),
            (19, Swap::Undecided),
        ];
        assert_eq!(packed.swaps, expected);
        assert!(!packed.ready());
        let good = check(&animals[..17], g4, Some(17), 1000, 0.95, &[]);
        assert!(good.ready());
        assert_eq!(
            check(&animals[..17], g4, Some(20), 1000, 0.95, &[]).missing(),
            3
        );
        assert!(!check(&[], g4, None, 1000, 0.95, &[]).ready());
    }
}
