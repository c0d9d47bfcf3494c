//! Another photo of the last cup: who is who, what the keeper is to be asked, and the cup that both photos make together.

use super::{Book, SortedCup, SortingEntry, sortings};
use crate::error::Error;
use crate::measures::Sex;
use crate::scoop::KeptAnimal;
use crate::selection::sorting::again::{Appeared, Gone, Said, TwoPhotos, Vanished};
use crate::selection::sorting::find::{Find, finds};
use crate::selection::sorting::{Before, Cup, CupAnimal, Decision, Judged};
use crate::trends::{Again, photographed_again, sightings_of_kept};
use crate::units::Measured;

/// An animal of the last cup as it was known before.
#[derive(Debug, Clone)]
pub(super) struct Then {
    kept: KeptAnimal,
    find: Find,
    /// Where it was photographed.
    before: Before,
    /// How it stood in the cup; `None` for a find that was told to be no animal.
    stood: Option<(CupAnimal, Judged)>,
}

/// The last cup beside another photo of it.
#[derive(Debug, Clone)]
pub struct CupAgain {
    first: Vec<Then>,
    again: Again,
    /// Those of the first that were told to have been moved.
    moved: Vec<usize>,
    /// Numbers of this photo's animals.
    nos: Vec<u32>,
}

/// An animal of the photo before that is to be asked after.
#[derive(Debug, Clone, PartialEq)]
pub struct Missed<'a> {
    /// Its number in the photo before.
    pub no: u32,
    /// How it was to be found.
    pub find: &'a Find,
    /// Its sex.
    pub sex: Sex,
    /// What was to be done with it.
    pub judged: Judged,
    /// Its photo's scoop, and its number there.
    pub before: Before,
}

impl CupAgain {
    /// False where so few animals are known again that it may be another cup.
    pub fn is_same_cup(&self) -> bool {
        self.again.is_same_cup()
    }

    /// Animals surely known again, and of how many.
    pub fn known(&self) -> (usize, usize) {
        (self.again.known.len(), self.nos.len())
    }

    /// Numbers before and now of the animals surely known again, by the new ones.
    pub fn renumbered(&self) -> Vec<(u32, u32)> {
        let pair = |(then, now): &(usize, usize)| {
            let (animal, _) = self.first[*then].stood.as_ref()?;
            Some((animal.no, self.nos[*now]))
        };
        let mut pairs: Vec<_> = self.again.known.iter().filter_map(pair).collect();
        pairs.sort_by_key(|(_, now)| *now);
        pairs
    }

    /// Animals of the photo before that this one does not show.
    pub fn missed(&self) -> Vec<Missed<'_>> {
        let asked = |at: &usize| {
            let then = &self.first[*at];
            let (animal, judged) = then.stood.as_ref()?;
            Some(Missed {
                no: judged.no,
                find: &then.find,
                sex: animal.sex,
                judged: *judged,
                before: then.before,
            })
        };
        self.again.gone.iter().filter_map(asked).collect()
    }

    /// Numbers of this photo's animals that the one before does not show.
    pub fn appeared(&self) -> Vec<u32> {
        self.again.new.iter().map(|at| self.nos[*at]).collect()
    }

    /// True where nobody need be asked.
    pub fn is_clear(&self) -> bool {
        self.is_same_cup() && self.missed().is_empty() && self.again.new.is_empty()
    }

    fn then_of(&self, at_now: usize) -> Option<(&Then, bool)> {
        let find = |pairs: &[(usize, usize)]| {
            let pair = pairs.iter().find(|(_, now)| *now == at_now);
            pair.map(|(then, _)| &self.first[*then])
        };
        let known = find(&self.again.known).map(|then| (then, true));
        known.or_else(|| find(&self.again.likely).map(|then| (then, false)))
    }
}

/// What two photos make together.
#[derive(Debug, Clone)]
pub(super) struct Together {
    pub(super) cup: Cup,
    /// What was done already.
    pub(super) done: Decision,
    pub(super) photos: TwoPhotos,
    /// How to find the animals that this photo does not show.
    pub(super) finds: Vec<Find>,
    /// Scoop and number of the finds told to be no animals; without a scoop those of this photo.
    pub(super) no_animals: Vec<(Option<i64>, u32)>,
}

impl Book {
    /// The last cup of a sorting beside another photo of it, whose animals are `second`.
    ///
    /// # Errors
    /// Where there is no cup yet, or the book can't be read.
    pub fn cup_again(
        &self,
        entry: &SortingEntry,
        second: &[KeptAnimal],
    ) -> Result<CupAgain, Error> {
        let last = entry
            .cups
            .last()
            .ok_or_else(|| sortings::no_cup(&entry.tank))?;
        let first = self.then(last)?;
        // What was moved out of the cup can't be found in it.
        let is_moved = |then: &Then| matches!(&then.stood, Some((_, judged)) if judged.done);
        let (moved, open): (Vec<usize>, Vec<usize>) =
            (0..first.len()).partition(|at| is_moved(&first[*at]));
        let kept: Vec<KeptAnimal> = open.iter().map(|at| first[*at].kept.clone()).collect();
        let mut again = photographed_again(&sightings_of_kept(&kept), &sightings_of_kept(second));
        for (then, _) in again.known.iter_mut().chain(&mut again.likely) {
            *then = open[*then];
        }
        again.gone.iter_mut().for_each(|then| *then = open[*then]);
        Ok(CupAgain {
            again,
            first,
            moved,
            nos: second.iter().map(|animal| animal.no).collect(),
        })
    }

    /// The animals of a cup: those of its last photo, then those that only an earlier one shows.
    fn then(&self, cup: &SortedCup) -> Result<Vec<Then>, Error> {
        let stood = |no: u32, is_before: bool| {
            let Cup { animals, .. } = &cup.decided.cup;
            let animal = animals
                .iter()
                .find(|a| a.no == no && a.before.is_some() == is_before)?;
            let judged = &cup.decided.decision.animals;
            let judged = judged.iter().find(|judged| judged.no == no)?;
            Some((animal.clone(), *judged))
        };
        let mut all = Vec::new();
        if let Some(scoop) = cup.scoop {
            let animals = self.scoop(scoop)?.animals;
            for (kept, find) in animals.iter().zip(finds(&animals)) {
                all.push(Then {
                    kept: kept.clone(),
                    find,
                    before: Before { scoop, no: kept.no },
                    stood: stood(kept.no, false),
                });
            }
        }
        for animal in &cup.decided.cup.animals {
            if let Some(before) = animal.before
                && let Some((kept, find)) = self.seen_before(before)?
            {
                all.push(Then {
                    kept,
                    find,
                    before,
                    stood: stood(animal.no, true),
                });
            }
        }
        Ok(all)
    }

    fn seen_before(&self, before: Before) -> Result<Option<(KeptAnimal, Find)>, Error> {
        let animals = self.scoop(before.scoop)?.animals;
        let found = animals.iter().zip(finds(&animals));
        Ok(found
            .filter(|(animal, _)| animal.no == before.no)
            .map(|(animal, find)| (animal.clone(), find))
            .next())
    }

    /// How each animal of a cup is found again: those of its last photo, then those that only an earlier one shows, by their
    /// numbers in the cup.
    ///
    /// # Errors
    /// Where the book can't be read.
    pub fn finds_of_cup(&self, cup: &SortedCup) -> Result<Vec<Find>, Error> {
        let all = self.then(cup)?.into_iter();
        Ok(all.filter_map(|then| renumbered(&then)).collect())
    }
}

/// How an animal is found, by its number in the cup; `None` for what is no animal.
fn renumbered(then: &Then) -> Option<Find> {
    let (animal, _) = then.stood.as_ref()?;
    Some(Find {
        no: animal.no,
        // A neighbour's number would be that of another photo.
        beside: then.find.beside.filter(|_| animal.before.is_none()),
        ..then.find.clone()
    })
}

/// The cup that both photos make: `cup` as this photo alone shows it, with what is known from the one before and what the
/// keeper says.
///
/// # Errors
/// Where it may be another cup, or something is said of an animal that needs no word.
pub(super) fn together(
    found: &CupAgain,
    last: &SortedCup,
    cup: &Cup,
    said: &Said,
) -> Result<Together, Error> {
    check(found, said)?;
    let mut all = Together {
        cup: Cup {
            animals: Vec::new(),
            sweeps: cup.sweeps.or(last.decided.cup.sweeps),
            left_told: cup.left_told.or(last.decided.cup.left_told),
            last: cup.last || last.decided.cup.last,
        },
        done: Decision::default(),
        photos: TwoPhotos::default(),
        finds: Vec::new(),
        no_animals: Vec::new(),
    };
    for (at, animal) in cup.animals.iter().enumerate() {
        shown(found, at, animal, said, &mut all);
    }
    let mut next = found.nos.iter().max().map_or(1, |most| most + 1);
    for at in found.again.gone.iter().chain(&found.moved) {
        not_shown(&found.first[*at], said, &mut next, &mut all);
    }
    if !all.done.animals.is_empty() {
        all.done.from_tub = last.decided.decision.from_tub.clone();
    }
    Ok(all)
}

/// An animal of this photo.
fn shown(found: &CupAgain, at: usize, animal: &CupAnimal, said: &Said, all: &mut Together) {
    let mut now = animal.clone();
    match found.then_of(at) {
        Some((then, is_known)) => match &then.stood {
            Some((old, _)) if is_known => {
                all.photos.renumbered.push((old.no, now.no));
                all.photos.known += 1;
                mean_of_both(old, &mut now);
            }
            Some((old, _)) => {
                all.photos.renumbered.push((old.no, now.no));
                all.photos.likely += 1;
                sex_of_both(old, &mut now);
            }
            None => {
                // It was told to be no animal in the photo before.
                all.no_animals.push((None, now.no));
                return;
            }
        },
        None => {
            let says = said.of_new(now.no);
            all.photos.new.push(Appeared {
                no: now.no,
                is_animal: says != Some(false),
                is_said: says.is_some(),
            });
            if says == Some(false) {
                all.no_animals.push((None, now.no));
                return;
            }
            let here = |(_, what): &&(u32, Gone)| *what == Gone::Here(now.no);
            let is = said.gone.iter().find(here).map(|(no, _)| *no);
            if let Some(old) = is.and_then(|no| stood(found, no)) {
                mean_of_both(old, &mut now);
            }
        }
    }
    all.cup.animals.push(now);
}

fn stood(found: &CupAgain, no: u32) -> Option<&CupAnimal> {
    let all = found.first.iter().filter_map(|then| then.stood.as_ref());
    all.map(|(animal, _)| animal).find(|animal| animal.no == no)
}

/// An animal of the photo before that this one does not show.
fn not_shown(then: &Then, said: &Said, next: &mut u32, all: &mut Together) {
    let Some((animal, judged)) = &then.stood else {
        return;
    };
    let says = said.of_gone(judged.no);
    let what = if judged.done {
        Gone::Moved
    } else {
        says.unwrap_or(Gone::InCup)
    };
    let no = match what {
        Gone::InCup | Gone::Moved => {
            let no = *next;
            *next += 1;
            all.cup.animals.push(CupAnimal {
                no,
                before: Some(then.before),
                ..animal.clone()
            });
            all.finds.push(Find {
                no,
                beside: None,
                ..then.find.clone()
            });
            Some(no)
        }
        Gone::Here(no) => Some(no),
        Gone::NoAnimal => {
            all.no_animals
                .push((Some(then.before.scoop), then.before.no));
            None
        }
    };
    if let (Gone::Moved, Some(no)) = (what, no) {
        all.done.animals.push(Judged {
            no,
            done: true,
            ..*judged
        });
    }
    all.photos.gone.push(Vanished {
        no_before: judged.no,
        no,
        what,
        is_said: judged.done || says.is_some(),
    });
}

fn check(found: &CupAgain, said: &Said) -> Result<(), Error> {
    let (known, of) = found.known();
    if !(found.is_same_cup() || said.same_cup) {
        return Err(Error::book(
            "not_found_again",
            format!("only {known} of {of} animals are surely known again: is it the same cup?"),
            "nothing was changed: leave --again out for the next cup, or, where it is the same one, say so: --same-cup",
        ));
    }
    let missed: Vec<u32> = found.missed().iter().map(|missed| missed.no).collect();
    let new = found.appeared();
    for (no, what) in &said.gone {
        if !missed.contains(no) {
            return Err(no_question(*no, "of the photo before is found", &missed));
        }
        if let Gone::Here(here) = what {
            let others = said.gone.iter().filter(|(_, other)| other == what);
            if !new.contains(here) || others.count() > 1 {
                return Err(no_question(*here, "here is another's", &new));
            }
            if said.of_new(*here) == Some(false) {
                return Err(no_question(*here, "can't be both an animal and none", &new));
            }
        }
    }
    match said.new.iter().find(|(no, _)| !new.contains(no)) {
        Some((no, _)) => Err(no_question(
            *no,
            "here is known from the photo before",
            &new,
        )),
        None => Ok(()),
    }
}

fn no_question(no: u32, why: &str, open: &[u32]) -> Error {
    let open: Vec<String> = open.iter().map(u32::to_string).collect();
    let open = match open.len() {
        0 => "there is nothing to be said of any other".to_string(),
        _ => format!("something can be said of {}", open.join(", ")),
    };
    Error::book(
        "no_question",
        format!("no. {no} {why}, or there is none; nothing was changed"),
        open,
    )
}

fn sex_of_both(old: &CupAnimal, new: &mut CupAnimal) {
    if new.sex == Sex::Unsure {
        new.sex = old.sex;
    }
}

fn mean_of_both(old: &CupAnimal, new: &mut CupAnimal) {
    sex_of_both(old, new);
    new.worth = match (&old.worth, &new.worth) {
        (Ok(a), Ok(b)) => Ok(Measured::new(
            (a.value + b.value) / 2.0,
            a.uncertainty.hypot(b.uncertainty) / 2.0,
        )),
        (Ok(a), Err(_)) => Ok(*a),
        (_, now) => *now,
    };
}
