//! Which animals stand for a rung on a sheet for the wall.

use std::collections::BTreeMap;

use super::raters::{AnimalId, Rating, house_rungs};
use crate::ladder::Rung;
use crate::scoop::{KeptAnimal, PastScoop};

/// Times that the same own rung must have been given before it may stand on the wall against the ladder: a single answer may
/// be a slip (house rule).
const TIMES: usize = 2;

/// What an animal is an example of.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    /// Plainly of the rung.
    Typical,
    /// Between two rungs, of which the sheet's is one, lower first.
    Edge(Rung, Rung),
    /// Of the rung by the house's eye, given at least twice, though the ladder says another.
    Against(Option<Rung>),
}

/// An animal for a sheet.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Example<'a> {
    /// Scoop in the book.
    pub scoop: i64,
    /// The animal.
    pub animal: &'a KeptAnimal,
    /// What it is an example of.
    pub kind: Kind,
    /// True where a person of the house gave it this rung.
    pub is_own: bool,
}

/// Up to `most` animals for `rung`: those with the house's own rung first, then the likeliest; plain ones, and those at an
/// edge for half of the places at most. An own rung that the ladder contradicts counts from the second time on that it was
/// given; until then the animal stands for no rung.
pub fn examples<'a>(
    scoops: &[&'a PastScoop],
    ratings: &[Rating],
    rung: Rung,
    most: usize,
) -> Vec<Example<'a>> {
    let own = house_rungs(ratings, None);
    let mut times: BTreeMap<(AnimalId, Rung), usize> = BTreeMap::new();
    for rating in ratings {
        *times.entry((rating.animal, rating.rung)).or_default() += 1;
    }
    let mut all: Vec<Example<'a>> = Vec::new();
    for scoop in scoops {
        for animal in &scoop.animals {
            let id = (scoop.number, animal.no);
            let said = own.get(&id).copied();
            let often = said.is_some_and(|said| times.get(&(id, said)) >= Some(&TIMES));
            if let Some(kind) = kind(animal, said, often, rung) {
                all.push(Example {
                    scoop: scoop.number,
                    animal,
                    kind,
                    is_own: said.is_some(),
                });
            }
        }
    }
    let sure = |e: &Example<'_>| e.animal.chances.map_or(0.0, |c| c[rung.index()]);
    all.sort_by(|a, b| b.is_own.cmp(&a.is_own).then(sure(b).total_cmp(&sure(a))));
    let (edge, clear): (Vec<_>, Vec<_>) = all
        .into_iter()
        .partition(|e| matches!(e.kind, Kind::Edge(..)));
    let edges = edge.len().min(most / 2);
    clear
        .into_iter()
        .take(most - edges)
        .chain(edge.into_iter().take(edges))
        .collect()
}

/// What the animal is an example of at `rung`; `None` where it stands elsewhere or nowhere.
fn kind(animal: &KeptAnimal, said: Option<Rung>, often: bool, rung: Rung) -> Option<Kind> {
    let between = |rung: Rung| {
        animal
            .between
            .is_some_and(|(low, high)| low <= rung && rung <= high)
    };
    if let Some(said) = said
        && animal.rung != Some(said)
        && !between(said)
    {
        return (often && said == rung).then_some(Kind::Against(animal.rung));
    }
    let kind = match animal.between {
        Some((low, high)) => Kind::Edge(low, high),
        None => Kind::Typical,
    };
    (said.or(animal.rung)? == rung).then_some(kind)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::scoop::kept::Origin;
    use jiff::civil::date;

    fn at(rung: usize) -> Rung {
        Rung::from_index(rung).expect("a rung")
    }

    fn scoop() -> PastScoop {
        let animal = |no: u32, rung: usize, between: Option<(usize, usize)>| KeptAnimal {
            rung: Some(at(rung)),
            between: between.map(|(a, b)| (at(a), at(b))),
            ..KeptAnimal::blank(no)
        };
        PastScoop {
            number: 1,
            tank: "A1".into(),
            line: None,
            generation: None,
            at: date(2026, 5, 1).at(9, 0, 0, 0),
            who: String::new(),
            kept_apart: false,
            second_of: None,
            conditions: BTreeMap::new(),
            origin: Origin::default(),
            remark: String::new(),
            animals: vec![
                animal(1, 2, Some((2, 3))),
                animal(2, 4, None),
                animal(3, 3, Some((3, 4))),
            ],
        }
    }

    fn rating(no: u32, rung: usize, day: i8, who: &str) -> Rating {
        Rating {
            animal: (1, no),
            who: who.into(),
            at: date(2026, 5, day).at(12, 0, 0, 0),
            rung: at(rung),
            is_blind: true,
        }
    }

    fn shown(ratings: &[Rating], rung: usize) -> Vec<(u32, Kind)> {
        let scoop = scoop();
        let found = examples(&[&scoop], ratings, at(rung), 6);
        found.iter().map(|e| (e.animal.no, e.kind)).collect()
    }

    #[test]
    fn a_single_answer_against_the_ladder_is_no_example() {
        // G2/G3 by the ladder, once called G4: on no sheet.
        let once = [rating(1, 4, 1, "Ann")];
        assert_eq!(shown(&once, 4), [(2, Kind::Typical)]);
        assert_eq!(shown(&once, 2), []);
        // A second answer, by whomever, makes it the house's rung.
        let twice = [rating(1, 4, 1, "Ann"), rating(1, 4, 2, "Ben")];
        let against = (1, Kind::Against(Some(at(2))));
        assert_eq!(shown(&twice, 4), [against, (2, Kind::Typical)]);
        // Within what the ladder leaves open, one answer is enough.
        let edge = (3, Kind::Edge(at(3), at(4)));
        assert_eq!(shown(&[], 3), [edge]);
        assert_eq!(
            shown(&[rating(3, 4, 1, "Ann")], 4),
            [(2, Kind::Typical), edge]
        );
    }
}
