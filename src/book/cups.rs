//! A cup of a sorting from its graded photo to what is done with each animal, and the end of a sorting.

use super::lines::generation_name;
use super::{Book, NewScoop, PhotoStore, SortedCup, SortingEntry, Stamp, sortings};
use crate::error::Error;
use crate::measures::{Sex, SexFrom};
use crate::scoop::kept::Origin;
use crate::scoop::{KeptAnimal, Scoop};
use crate::selection::inbreeding::effective_size;
use crate::selection::sorting::{Cup, CupAnimal, Decided, Decision, Sorting};
use crate::selection::worth::Yardstick;
use crate::trends::{match_photos, sightings_of_kept};
use crate::units::Measured;

/// A cup that was photographed and graded.
#[derive(Debug, Clone)]
pub struct CupShot<'a> {
    /// The graded photo.
    pub scoop: &'a Scoop,
    /// Its name and bytes.
    pub photo: (&'a str, &'a [u8]),
    /// Animals whose sex the keeper sees, true = male: it goes before that of the photo.
    pub sexes: &'a [(u32, bool)],
    /// Sweeps of the net it took.
    pub sweeps: Option<u32>,
    /// How many the keeper thinks are left after it.
    pub left_told: Option<u32>,
    /// True where the tank is empty after it.
    pub last: bool,
    /// True for another photo of the cup before.
    pub again: bool,
}

/// A cup as it was decided.
#[derive(Debug, Clone)]
pub struct CupSorted {
    /// Its animals with the sexes said.
    pub animals: Vec<KeptAnimal>,
    /// The cup and what to do.
    pub decided: Decided,
    /// The sorting after it.
    pub after: Sorting,
}

/// A sorting that has ended.
#[derive(Debug, Clone)]
pub struct Ended {
    /// What became of the tub.
    pub decision: Decision,
    /// The sorting after it.
    pub after: Sorting,
    /// Effective size of the breeding group; 0 where a sex is missing.
    pub effective_size: f64,
    /// Name of the generation to begin with them, where both sexes are there.
    pub next_generation: Option<String>,
}

impl Book {
    /// The sorting of a tank under way.
    ///
    /// # Errors
    /// Where there is none, or no such tank.
    pub fn sorting_under_way(&self, tank: &str) -> Result<SortingEntry, Error> {
        let code = self.tank(tank)?.code;
        self.open_sorting(tank)?
            .ok_or_else(|| nothing_sorted(&code))
    }

    /// The latest sorting of a tank, under way or not.
    ///
    /// # Errors
    /// Where there is none, or no such tank.
    pub fn latest_sorting(&self, tank: &str) -> Result<SortingEntry, Error> {
        let code = self.tank(tank)?.code;
        self.last_sorting(tank)?
            .ok_or_else(|| nothing_sorted(&code))
    }

    /// Decides what to do with a cup's animals and files it, photo first.
    ///
    /// # Errors
    /// Where there is no cup to photograph again, its animals are not found again, the photo is in the book already, or
    /// photo or book can't be written.
    pub fn sort_cup(
        &mut self,
        entry: &SortingEntry,
        shot: &CupShot<'_>,
        photos: &PhotoStore,
        stamp: &Stamp,
    ) -> Result<CupSorted, Error> {
        let animals = shot.scoop.animals.iter().map(KeptAnimal::of);
        let animals: Vec<KeptAnimal> = animals.map(|animal| with_sex(animal, shot.sexes)).collect();
        let mut before = entry.decided();
        let mut cup = cup_of(&animals, &entry.stick, shot);
        let mut second_of = None;
        if shot.again {
            let last = entry
                .cups
                .last()
                .ok_or_else(|| sortings::no_cup(&entry.tank))?;
            before.pop();
            second_of = last.scoop;
            self.bring_along(last, &animals, &mut cup)?;
        }
        let mut after = Sorting::resumed(entry.setup.clone(), &before);
        let decision = after.decide(&cup);
        let decided = Decided { cup, decision };
        let scoop = keep_photo(shot, &animals, entry, second_of, photos, stamp)?;
        if shot.again {
            self.file_cup_again(entry, &scoop, &decided, stamp)?;
        } else {
            self.file_cup(entry, &scoop, &decided, stamp)?;
        }
        after.enter(&decided.cup, &decided.decision);
        Ok(CupSorted {
            animals,
            decided,
            after,
        })
    }

    /// What was said and read of the cup before comes into another photo of it.
    fn bring_along(
        &self,
        last: &SortedCup,
        animals: &[KeptAnimal],
        cup: &mut Cup,
    ) -> Result<(), Error> {
        let first = match last.scoop {
            Some(number) => self.scoop(number)?.animals,
            None => Vec::new(),
        };
        found_again(&first, &last.decided.cup, animals, cup)?;
        cup.sweeps = cup.sweeps.or(last.decided.cup.sweeps);
        cup.left_told = cup.left_told.or(last.decided.cup.left_told);
        cup.last |= last.decided.cup.last;
        Ok(())
    }

    /// Ends the sorting of a tank: the tub is emptied.
    ///
    /// # Errors
    /// Where nothing is being sorted, or the book can't be written.
    pub fn finish_sorting(&mut self, entry: &SortingEntry, stamp: &Stamp) -> Result<Ended, Error> {
        let mut after = Sorting::resumed(entry.setup.clone(), &entry.decided());
        let cup = Cup {
            last: true,
            ..Cup::default()
        };
        let decided = Decided {
            decision: after.decide(&cup),
            cup,
        };
        self.end_sorting(entry, &decided, stamp)?;
        after.enter(&decided.cup, &decided.decision);
        let kept = after.counts.map(|count| count.kept as f64);
        let number = self
            .generations()?
            .iter()
            .filter(|g| g.tank == entry.tank)
            .map(|g| g.number)
            .max();
        let next = generation_name(number.map_or(1, |number| number + 1));
        Ok(Ended {
            decision: decided.decision,
            effective_size: effective_size(kept[1], kept[0]),
            next_generation: kept.iter().all(|count| *count > 0.0).then_some(next),
            after,
        })
    }
}

fn nothing_sorted(tank: &str) -> Error {
    Error::book(
        "no_sorting",
        format!("tank {tank} is not being sorted"),
        format!("begin: catchcup sort start {tank} --keep 15F 10M --about 160"),
    )
}

fn with_sex(mut animal: KeptAnimal, said: &[(u32, bool)]) -> KeptAnimal {
    if let Some((_, male)) = said.iter().find(|(no, _)| *no == animal.no) {
        animal.sex = if *male { Sex::Male } else { Sex::Female };
        animal.sex_from = SexFrom::Given;
    }
    animal
}

fn cup_of(animals: &[KeptAnimal], stick: &Yardstick, shot: &CupShot<'_>) -> Cup {
    let animal = |animal: &KeptAnimal| CupAnimal {
        no: animal.no,
        sex: animal.sex,
        worth: stick.worth(animal),
    };
    Cup {
        animals: animals.iter().map(animal).collect(),
        sweeps: shot.sweeps,
        left_told: shot.left_told,
        last: shot.last,
    }
}

/// Brings the first photo's readings of the same animals into the cup: the mean of both counts.
fn found_again(
    first: &[KeptAnimal],
    before: &Cup,
    second: &[KeptAnimal],
    cup: &mut Cup,
) -> Result<(), Error> {
    let wrong = |what: String| {
        Error::book(
            "not_found_again",
            what,
            "nothing was changed: photograph the whole cup once more, or go on with the first photo's answer",
        )
    };
    if first.len() != second.len() {
        return Err(wrong(format!(
            "the first photo shows {} animals, this one {}: it can't be said who is who",
            first.len(),
            second.len()
        )));
    }
    let matching = match_photos(&[sightings_of_kept(first), sightings_of_kept(second)]);
    let mut found = 0;
    for row in &matching.animals {
        let (Some(then), Some(now)) = (row[0], row[1]) else {
            continue;
        };
        let old = before.animals.iter().find(|a| a.no == first[then].no);
        let new = cup.animals.iter_mut().find(|a| a.no == second[now].no);
        if let (Some(old), Some(new)) = (old, new) {
            found += 1;
            mean_of_both(old, new);
        }
    }
    if found * 2 < second.len() {
        return Err(wrong(format!(
            "only {found} of {} animals were found again in this photo",
            second.len()
        )));
    }
    Ok(())
}

fn mean_of_both(old: &CupAnimal, new: &mut CupAnimal) {
    if new.sex == Sex::Unsure {
        new.sex = old.sex;
    }
    new.worth = match (&old.worth, &new.worth) {
        (Ok(a), Ok(b)) => Ok(Measured::new(
            (a.value + b.value) / 2.0,
            a.uncertainty.hypot(b.uncertainty) / 2.0,
        )),
        (Ok(a), Err(_)) => Ok(*a),
        (_, now) => *now,
    };
}

/// Puts the photo beside the book; its scoop, ready to be filed.
fn keep_photo(
    shot: &CupShot<'_>,
    animals: &[KeptAnimal],
    entry: &SortingEntry,
    second_of: Option<i64>,
    photos: &PhotoStore,
    stamp: &Stamp,
) -> Result<NewScoop, Error> {
    let mut origin = Origin::of(shot.scoop, env!("CARGO_PKG_VERSION"));
    if let Some(sha256) = &origin.photo_sha256 {
        photos.keep(sha256, shot.photo.0, shot.photo.1)?;
        origin.photo_kept = true;
    }
    Ok(NewScoop {
        tank: entry.tank.clone(),
        at: stamp.at,
        who: stamp.who.clone(),
        kept_apart: true,
        second_of,
        remark: "a cup of a sorting".into(),
        import_label: None,
        origin,
        animals: animals.to_vec(),
    })
}
