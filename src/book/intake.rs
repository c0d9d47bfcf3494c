//! A graded photo into the book: the two questions that must be answered first, then the photo, then its entry.

use jiff::civil::DateTime;

use super::{Book, NewScoop, PhotoStore, ScoopEntry, Stamp, Tank};
use crate::error::Error;
use crate::scoop::KeptAnimal;
use crate::scoop::alarms::{ColourCheck, could_be_the_same};
use crate::scoop::kept::Origin;

/// Two photos of a tank taken within so many minutes may show the same scoop (house rule).
const SAME_SCOOP_MINUTES: i64 = 15;

/// A graded photo that waits to be filed, with what is known about it.
#[derive(Debug, Clone)]
pub struct Intake<'a> {
    /// Its tank.
    pub tank: &'a Tank,
    /// How it was photographed and graded.
    pub origin: Origin,
    /// Its animals.
    pub animals: Vec<KeptAnimal>,
    /// The photo's name and bytes, to be kept; `None` for a record.
    pub photo: Option<(&'a str, &'a [u8])>,
    /// When it was taken; else the photo's own time, else now.
    pub at: Option<DateTime>,
    /// True where the animals are kept apart from the tank.
    pub kept_apart: bool,
    /// A remark.
    pub remark: String,
    /// True where the tank is right even if the colours do not fit its line.
    pub tank_sure: bool,
    /// Which scoop it is.
    pub which: Which,
}

/// Which scoop a photo shows.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Which {
    /// To be asked where another one was filed shortly before or after.
    Ask,
    /// A scoop of its own.
    Own,
    /// The one filed shortly before or after, photographed again.
    Near,
    /// That scoop photographed again.
    AgainOf(i64),
}

/// What became of it.
#[derive(Debug, Clone, PartialEq)]
pub enum Taken {
    /// Filed.
    Filed {
        /// Its number.
        number: i64,
        /// The scoop of which it is another photo.
        second_of: Option<i64>,
    },
    /// Nothing was filed: so many animals are off-type that it may be another tank.
    AskTank(ColourCheck),
    /// Nothing was filed: it may be the scoop `near` photographed again.
    AskSame {
        /// That scoop.
        near: ScoopEntry,
        /// True where number and sizes of the animals agree.
        alike: bool,
    },
}

impl Book {
    /// Files a graded photo, or says which question is open. The photo is kept before its entry is written, so that no
    /// entry is ever without its photo.
    ///
    /// # Errors
    /// Where the photo is filed already, or photo or book can't be written.
    pub fn take_in(
        &mut self,
        intake: Intake<'_>,
        photos: &PhotoStore,
        stamp: &Stamp,
    ) -> Result<Taken, Error> {
        if let Some(sha256) = &intake.origin.photo_sha256
            && let Some(known) = self.scoop_of_photo(sha256)?
        {
            return Err(super::scoops::photo_known(&known));
        }
        let check = ColourCheck::of(&intake.animals);
        if !intake.tank_sure && intake.tank.line.is_some() && check.may_be_the_wrong_tank() {
            return Ok(Taken::AskTank(check));
        }
        let at = moment(&intake, stamp);
        let second_of = match self.which(&intake, at)? {
            Ok(second_of) => second_of,
            Err(question) => return Ok(question),
        };
        let mut origin = intake.origin;
        if let (Some((name, bytes)), Some(sha256)) = (intake.photo, &origin.photo_sha256) {
            photos.keep(sha256, name, bytes)?;
            origin.photo_kept = true;
        }
        let new = NewScoop {
            tank: intake.tank.code.clone(),
            at,
            who: stamp.who.clone(),
            kept_apart: intake.kept_apart,
            second_of,
            remark: intake.remark,
            import_label: None,
            origin,
            animals: intake.animals,
        };
        let number = self.file_scoop(&new, stamp)?;
        Ok(Taken::Filed { number, second_of })
    }

    /// The scoop of which it is another photo, or the question about it.
    fn which(
        &self,
        intake: &Intake<'_>,
        at: DateTime,
    ) -> Result<Result<Option<i64>, Taken>, Error> {
        match intake.which {
            Which::Own => return Ok(Ok(None)),
            Which::AgainOf(number) => return Ok(Ok(Some(self.scoop_entry(number)?.number))),
            Which::Ask | Which::Near => {}
        }
        let near = self.scoop_near(&intake.tank.code, at, SAME_SCOOP_MINUTES)?;
        let Some(near) = near else {
            return Ok(Ok(None));
        };
        if intake.which == Which::Near {
            return Ok(Ok(Some(near.number)));
        }
        let other = self.scoop(near.number)?;
        let alike = could_be_the_same(&other.animals, &intake.animals);
        Ok(Err(Taken::AskSame { near, alike }))
    }
}

/// When the scoop was taken: as said, else by the photo's own clock, else now.
fn moment(intake: &Intake<'_>, stamp: &Stamp) -> DateTime {
    let taken = intake.origin.taken_at.as_deref();
    let taken = taken.and_then(|text| text.parse().ok());
    intake.at.or(taken).unwrap_or(stamp.at)
}
