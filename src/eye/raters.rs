//! Who agrees with whom: every pair of raters that graded the same animals.

use std::collections::BTreeMap;

use jiff::civil::DateTime;

use super::agreement::{Agreement, Pair, agreement};
use super::teach::Twice;
use crate::ladder::Rung;

/// Animals below which nothing is said of a month: a single one would move it too far (house rule).
const FEWEST_A_MONTH: usize = 10;

/// Scoop and number of an animal.
pub type AnimalId = (i64, u32);

/// A rung that a person gave.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Rating {
    /// The animal.
    pub animal: AnimalId,
    /// Whose eye.
    pub who: String,
    /// When.
    pub at: DateTime,
    /// The rung.
    pub rung: Rung,
    /// True where the program's rung was hidden.
    pub is_blind: bool,
}

/// Who stands on one side of a comparison.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub enum Rater {
    /// The program.
    Program,
    /// A person.
    Person(String),
    /// The same person, another time.
    Again(String),
}

/// Agreement in one month, by the day of the later grading.
#[derive(Debug, Clone, PartialEq)]
pub struct Month {
    /// `2026-05`.
    pub month: String,
    /// Animals.
    pub animals: usize,
    /// Share of the same rung.
    pub exact: f64,
    /// Mean of second minus first, in rungs.
    pub shift: f64,
}

/// One pair of raters.
#[derive(Debug, Clone, PartialEq)]
pub struct Comparison {
    /// The first one.
    pub first: Rater,
    /// The second one; shifts are second minus first.
    pub second: Rater,
    /// How they agree.
    pub agreement: Agreement,
    /// Months with enough animals, earliest first.
    pub months: Vec<Month>,
}

/// All comparisons: the program with each person, each two people, each person with himself. Against the program, rungs
/// given with the program's rung in view are left out unless `seen_too`: they lean to it. Each person's first rung of an
/// animal counts; against himself, the first and the second.
pub fn comparisons(
    ratings: &[Rating],
    program: &BTreeMap<AnimalId, Rung>,
    seen_too: bool,
) -> Vec<Comparison> {
    let mut by_person: BTreeMap<&str, BTreeMap<AnimalId, Vec<&Rating>>> = BTreeMap::new();
    for rating in ratings {
        let animals = by_person.entry(&rating.who).or_default();
        animals.entry(rating.animal).or_default().push(rating);
    }
    for gradings in by_person.values_mut().flat_map(BTreeMap::values_mut) {
        gradings.sort_by_key(|rating| rating.at);
    }
    let person = |who: &str| Rater::Person(who.to_string());
    let mut found = Vec::new();
    for (who, animals) in &by_person {
        let against = animals.values().filter_map(|all| {
            let rating = all.iter().find(|r| r.is_blind || seen_too)?;
            Some((*program.get(&rating.animal)?, *rating))
        });
        found.extend(comparison(Rater::Program, person(who), against.collect()));
    }
    let people: Vec<&str> = by_person.keys().copied().collect();
    for (i, a) in people.iter().enumerate() {
        for b in &people[i + 1..] {
            let both = by_person[a].iter().filter_map(|(animal, first)| {
                let second = by_person[b].get(animal)?;
                Some((first.first()?.rung, *second.first()?))
            });
            found.extend(comparison(person(a), person(b), both.collect()));
        }
    }
    for (who, animals) in &by_person {
        let twice = animals
            .values()
            .filter(|all| all.len() > 1)
            .map(|all| (all[0].rung, all[1]));
        found.extend(comparison(
            person(who),
            Rater::Again((*who).to_string()),
            twice.collect(),
        ));
    }
    found
}

fn comparison(first: Rater, second: Rater, rated: Vec<(Rung, &Rating)>) -> Option<Comparison> {
    let pair = |(first, second): &(Rung, &Rating)| Pair {
        first: *first,
        second: second.rung,
        photo: second.animal.0,
    };
    let pairs: Vec<Pair> = rated.iter().map(pair).collect();
    let mut by_month: BTreeMap<String, Vec<Pair>> = BTreeMap::new();
    for (rating, pair) in rated.iter().zip(&pairs) {
        by_month
            .entry(rating.1.at.strftime("%Y-%m").to_string())
            .or_default()
            .push(*pair);
    }
    let months = by_month
        .into_iter()
        .filter(|(_, pairs)| pairs.len() >= FEWEST_A_MONTH)
        .filter_map(|(month, pairs)| {
            let found = agreement(&pairs)?;
            Some(Month {
                month,
                animals: pairs.len(),
                exact: found.exact.0,
                shift: found.bias.shift,
            })
        })
        .collect();
    Some(Comparison {
        first,
        second,
        agreement: agreement(&pairs)?,
        months,
    })
}

/// The house's rung of each animal: everybody's latest one, of several people the middle one, the lower of two in the
/// middle. `by` takes one person's alone.
pub fn house_rungs(ratings: &[Rating], by: Option<&str>) -> BTreeMap<AnimalId, Rung> {
    let mut latest: BTreeMap<(AnimalId, &str), &Rating> = BTreeMap::new();
    for rating in ratings.iter().filter(|r| by.is_none_or(|by| r.who == by)) {
        let slot = latest.entry((rating.animal, &rating.who)).or_insert(rating);
        if rating.at >= slot.at {
            *slot = rating;
        }
    }
    let mut all: BTreeMap<AnimalId, Vec<Rung>> = BTreeMap::new();
    for ((animal, _), rating) in latest {
        all.entry(animal).or_default().push(rating.rung);
    }
    all.into_iter()
        .map(|(animal, mut rungs)| {
            rungs.sort_unstable();
            (animal, rungs[(rungs.len() - 1) / 2])
        })
        .collect()
}

/// Animals graded twice, by one person or by two.
pub fn graded_twice(ratings: &[Rating]) -> Vec<Twice> {
    let mut by_animal: BTreeMap<AnimalId, Vec<&Rating>> = BTreeMap::new();
    for rating in ratings {
        by_animal.entry(rating.animal).or_default().push(rating);
    }
    let mut found = Vec::new();
    for ((scoop, no), mut all) in by_animal {
        all.sort_by_key(|rating| rating.at);
        let first = all[0];
        let other = all.iter().find(|r| r.who != first.who);
        let again = all.iter().skip(1).find(|r| r.who == first.who);
        for (second, is_by_two) in [(other, true), (again, false)] {
            found.extend(second.map(|s| Twice {
                scoop,
                no,
                first: first.rung,
                second: s.rung,
                is_by_two,
            }));
        }
    }
    found
}

#[cfg(test)]
mod tests {
    use jiff::civil::date;

    use super::*;

    fn rating(no: u32, who: &str, day: i8, rung: usize, is_blind: bool) -> Rating {
        Rating {
            animal: (1, no),
            who: who.into(),
            at: date(2026, 5, day).at(12, 0, 0, 0),
            rung: Rung::from_index(rung).expect("a rung"),
            is_blind,
        }
    }

    #[test]
    fn who_is_held_against_whom() {
        let ratings = [
            rating(1, "Ann", 1, 3, true),
            rating(1, "Ann", 2, 4, true),
            rating(1, "Ben", 1, 2, false),
            rating(2, "Ben", 1, 5, false),
        ];
        let rung = |i| Rung::from_index(i).expect("a rung");
        let program = BTreeMap::from([((1, 1), rung(3)), ((1, 2), rung(5))]);
        let sides = |seen_too| -> Vec<(Rater, Rater, usize)> {
            comparisons(&ratings, &program, seen_too)
                .into_iter()
                .map(|c| (c.first, c.second, c.agreement.animals))
                .collect()
        };
        let person = |who: &str| Rater::Person(who.into());
        assert_eq!(
            sides(false),
            [
                (Rater::Program, person("Ann"), 1),
                (person("Ann"), person("Ben"), 1),
                (person("Ann"), Rater::Again("Ann".into()), 1),
            ]
        );
        assert_eq!(sides(true)[1], (Rater::Program, person("Ben"), 2));
        assert_eq!(
            house_rungs(&ratings, None)[&(1, 1)],
            rung(2),
            "the lower of Ann's 4 and Ben's 2"
        );
        assert_eq!(
            house_rungs(&ratings, Some("Ann"))[&(1, 1)],
            rung(4),
            "her latest"
        );
        assert_eq!(graded_twice(&ratings).len(), 2);
    }
}
