//! A cup of a sorting from its graded photo to what is done with each animal, and the end of a sorting.

use super::cup_again::{Together, together};
use super::lines::generation_name;
use super::{Book, NewScoop, PhotoStore, SortingEntry, Stamp, sortings};
use crate::error::Error;
use crate::eye::errors::{Correction, Right};
use crate::measures::{Sex, SexFrom};
use crate::scoop::kept::Origin;
use crate::scoop::{KeptAnimal, Scoop};
use crate::selection::inbreeding::effective_size;
use crate::selection::sorting::again::{Said, TwoPhotos};
use crate::selection::sorting::find::{Find, finds};
use crate::selection::sorting::{Cup, CupAnimal, Decided, Decision, Left, Shift, Sorting};
use crate::selection::worth::Yardstick;

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
    /// True where the keeper says that it is the right tank, light and cup, though the animals read otherwise than earlier
    /// ones.
    pub tank_sure: bool,
    /// For another photo of the cup before: what the keeper says of animals that only one of both photos shows.
    pub again: Option<&'a Said>,
}

/// A cup as it was decided.
#[derive(Debug, Clone)]
pub struct CupSorted {
    /// The animals of its photo with the sexes said.
    pub animals: Vec<KeptAnimal>,
    /// How each is found again, those that only an earlier photo shows last.
    pub finds: Vec<Find>,
    /// How it goes together with the photo before.
    pub photos: Option<TwoPhotos>,
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
    /// Animals expected in the tank when the keeper ended it.
    pub left: Left,
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
    /// Where there is no cup to photograph again, it may be another one, a sex is said of an animal that is not there, the
    /// animals read so far from earlier ones that it may be another tank, the photo is in the book already, or photo or book
    /// can't be written.
    pub fn sort_cup(
        &mut self,
        entry: &SortingEntry,
        shot: &CupShot<'_>,
        photos: &PhotoStore,
        stamp: &Stamp,
    ) -> Result<CupSorted, Error> {
        let animals = animals_of(shot.scoop, shot.sexes);
        known_numbers(shot.sexes, &animals)?;
        let cup = cup_of(&animals, &entry.stick, shot);
        match shot.again {
            None => {
                if let Some(shift) = unlike_earlier(entry, &cup).filter(|_| !shot.tank_sure) {
                    return Err(may_be_another(entry, &shift));
                }
                let mut after = Sorting::resumed(entry.setup.clone(), &entry.decided());
                let decision = after.decide(&cup);
                let decided = Decided { cup, decision };
                let scoop = keep_photo(shot, &animals, entry, None, photos, stamp)?;
                self.file_cup(entry, &scoop, &decided, stamp)?;
                after.enter(&decided.cup, &decided.decision);
                Ok(CupSorted {
                    finds: finds(&animals),
                    photos: None,
                    animals,
                    decided,
                    after,
                })
            }
            Some(said) => {
                let found = self.cup_again(entry, &animals)?;
                let last = entry.cups.last();
                let last = last.ok_or_else(|| sortings::no_cup(&entry.tank))?;
                let both = together(&found, last, &cup, said)?;
                let scoop = keep_photo(shot, &animals, entry, last.scoop, photos, stamp)?;
                self.sort_again(entry, &scoop, animals, both, stamp)
            }
        }
    }

    /// Decides anew of a cup that was photographed again, as if its first answer had not been given.
    fn sort_again(
        &mut self,
        entry: &SortingEntry,
        scoop: &NewScoop,
        animals: Vec<KeptAnimal>,
        both: Together,
        stamp: &Stamp,
    ) -> Result<CupSorted, Error> {
        let mut before = entry.decided();
        before.pop();
        let mut after = Sorting::resumed(entry.setup.clone(), &before);
        let mut decision = after.decide_rest(&both.cup, &both.done);
        look_at_unsaid(&both.photos, &mut decision);
        let decided = Decided {
            cup: both.cup,
            decision,
        };
        let no_animals = self.not_yet_corrected(both.no_animals)?;
        self.file_cup_again(entry, scoop, &decided, &no_animals, stamp)?;
        after.enter(&decided.cup, &decided.decision);
        let mut finds = finds(&animals);
        finds.extend(both.finds);
        Ok(CupSorted {
            animals,
            finds,
            photos: Some(both.photos),
            decided,
            after,
        })
    }

    /// Those of which nobody has said yet that they are no animals.
    fn not_yet_corrected(
        &self,
        mut all: Vec<(Option<i64>, u32)>,
    ) -> Result<Vec<(Option<i64>, u32)>, Error> {
        let known = self.corrections()?;
        all.retain(|(scoop, no)| {
            let same = |c: &Correction| Some(c.scoop) == *scoop && c.no == *no;
            !known
                .iter()
                .any(|c| same(c) && c.right == Right::NotAnimal(true))
        });
        Ok(all)
    }

    /// Ends the sorting of a tank: the tub is emptied.
    ///
    /// # Errors
    /// Where nothing is being sorted, or the book can't be written.
    pub fn finish_sorting(&mut self, entry: &SortingEntry, stamp: &Stamp) -> Result<Ended, Error> {
        let mut after = Sorting::resumed(entry.setup.clone(), &entry.decided());
        let left = after.left();
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
            left,
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

/// The animals of a cup's photo; what the keeper says of their sex (true = male) goes before what the photo shows.
pub fn animals_of(scoop: &Scoop, sexes: &[(u32, bool)]) -> Vec<KeptAnimal> {
    let animals = scoop.animals.iter().map(KeptAnimal::of);
    animals.map(|animal| with_sex(animal, sexes)).collect()
}

/// How far today's animals with those of `shot` stand from the ones of earlier scoops, where that is more than a drift and
/// nobody has been asked yet: the cups before it did not.
pub fn other_tank(entry: &SortingEntry, shot: &CupShot<'_>) -> Option<Shift> {
    let animals = animals_of(shot.scoop, shot.sexes);
    unlike_earlier(entry, &cup_of(&animals, &entry.stick, shot))
}

fn unlike_earlier(entry: &SortingEntry, cup: &Cup) -> Option<Shift> {
    let before = Sorting::resumed(entry.setup.clone(), &entry.decided());
    if before.shift().is_some_and(|shift| shift.is_far()) {
        return None;
    }
    before.shift_with(cup).filter(Shift::is_far)
}

fn may_be_another(entry: &SortingEntry, shift: &Shift) -> Error {
    let way = if shift.by_sd > 0.0 {
        "better"
    } else {
        "poorer"
    };
    Error::book(
        "unlike_earlier",
        format!(
            "these animals read {way} than those of earlier scoops, by {:.1} of the usual difference between two animals: that \
             is no drift",
            shift.by_sd.abs()
        ),
        format!(
            "nothing was decided or filed, move nobody: is it tank {}, and the usual lamp, cup and time in the cup? Then say so \
             with --tank-sure",
            entry.tank
        ),
    )
}

/// A sex that is said must be that of an animal in the photo.
fn known_numbers(sexes: &[(u32, bool)], animals: &[KeptAnimal]) -> Result<(), Error> {
    let is_there = |no: u32| animals.iter().any(|animal| animal.no == no);
    match sexes.iter().find(|(no, _)| !is_there(*no)) {
        None => Ok(()),
        Some((no, _)) => Err(Error::book(
            "no_such_animal",
            format!(
                "a sex is said of no. {no}, but the photo shows {} animals",
                animals.len()
            ),
            "nothing was decided: look up the numbers in the picture that --overlay DIR writes, or leave --sexes out and photograph \
             the cup again with --again",
        )),
    }
}

/// What only one photo shows, and nobody spoke of, is to be looked at.
fn look_at_unsaid(photos: &TwoPhotos, decision: &mut Decision) {
    let gone = photos.gone.iter().filter(|gone| !gone.is_said);
    let new = photos.new.iter().filter(|new| !new.is_said);
    let unsaid: Vec<u32> = gone
        .filter_map(|gone| gone.no)
        .chain(new.map(|new| new.no))
        .collect();
    for judged in &mut decision.animals {
        judged.look_twice |= unsaid.contains(&judged.no);
    }
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
        before: None,
    };
    Cup {
        animals: animals.iter().map(animal).collect(),
        sweeps: shot.sweeps,
        left_told: shot.left_told,
        last: shot.last,
    }
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
