//! Which animals are shown in a blind test or a quiz: spread over the rungs, doubtful ones among them.

use std::collections::BTreeMap;

use super::dice::Dice;
use super::raters::AnimalId;
use crate::ladder::Rung;

/// An animal that can be shown.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Candidate {
    /// The animal.
    pub animal: AnimalId,
    /// Its rung.
    pub rung: Rung,
    /// True where it was too close to call.
    pub is_doubtful: bool,
}

/// Up to `count` of the candidates in a drawn order: from each rung alike as far as it has them, doubtful ones and clear
/// ones in turn. The same candidates and seed give the same draw.
pub fn draw(candidates: &[Candidate], count: usize, seed: u64) -> Vec<Candidate> {
    let mut dice = Dice::new(seed);
    let mut sorted: Vec<Candidate> = candidates.to_vec();
    sorted.sort_by_key(|c| c.animal);
    dice.shuffle(&mut sorted);
    let mut piles: BTreeMap<(Rung, bool), Vec<Candidate>> = BTreeMap::new();
    for candidate in sorted {
        piles
            .entry((candidate.rung, candidate.is_doubtful))
            .or_default()
            .push(candidate);
    }
    let mut drawn = Vec::new();
    let mut doubtful_first = true;
    while drawn.len() < count {
        let before = drawn.len();
        for rung in Rung::all() {
            let mut from = |is_doubtful| piles.get_mut(&(rung, is_doubtful)).and_then(Vec::pop);
            let next = from(doubtful_first).or_else(|| from(!doubtful_first));
            drawn.extend(next.filter(|_| drawn.len() < count));
        }
        doubtful_first = !doubtful_first;
        if drawn.len() == before {
            break;
        }
    }
    dice.shuffle(&mut drawn);
    drawn
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn spread_over_rungs_and_doubt() {
        let mut all = Vec::new();
        for no in 0..200u32 {
            // Nine in ten are G4, as in many a house.
            let rung = if no % 10 == 0 {
                (no / 10 % 5) as usize
            } else {
                4
            };
            let rung = Rung::from_index(rung).expect("a rung");
            all.push(Candidate {
                animal: (1, no),
                rung,
                is_doubtful: no % 3 == 0,
            });
        }
        let drawn = draw(&all, 20, 5);
        let at = |rung: usize| drawn.iter().filter(|c| c.rung.index() == rung).count();
        assert_eq!(drawn.len(), 20);
        assert!((0..5).all(|rung| at(rung) == 4), "{drawn:?}");
        let doubtful = drawn.iter().filter(|c| c.is_doubtful).count();
        assert!((6..=14).contains(&doubtful), "{doubtful}");
        let mut reversed = all.clone();
        reversed.reverse();
        assert_eq!(
            draw(&reversed, 20, 5),
            drawn,
            "the order of the book does not matter"
        );
        assert_ne!(draw(&all, 20, 6), drawn);
        assert_eq!(draw(&all[..3], 20, 5).len(), 3);
        assert!(draw(&[], 20, 5).is_empty());
    }
}
