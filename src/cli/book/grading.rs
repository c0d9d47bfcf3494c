//! One photo of an evening from file to grades, under the tank named or the one whose tag lies in it.

use std::collections::{BTreeMap, BTreeSet};
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::Path;

use catchcup::book::{Tank, photo_store};
use catchcup::doubt::Note;
use catchcup::error::Error;
use catchcup::ladder::{Ladder, Shelf};
use catchcup::measures::Sex;
use catchcup::photo::{Photo, tag};
use catchcup::scene::CupSpec;
use catchcup::scoop::kept::Origin;
use catchcup::scoop::{Graded, KeptAnimal, Order, Scoop, grade_photo};

use crate::cli::args::{GroundArg, SexArg};
use crate::cli::colours;
use crate::cli::house::House;
use crate::cli::photos::{self, file_name};
use crate::cli::scoop_args::AddArgs;

/// Code of the complaint about a photo without a tag.
pub const NO_TAG: &str = "no_tag";

/// A tank and the ladder its scoops are graded with; `None` = guessed from the photo.
pub type Known = (Tank, Option<Ladder>);

/// A photo or record ready to be filed, or why it is not.
pub struct Ready {
    pub tank: Tank,
    pub origin: Origin,
    pub animals: Vec<KeptAnimal>,
    /// The photo's bytes, to be kept; `None` for a record.
    pub bytes: Option<Vec<u8>>,
    /// The whole answer of the grading, for people.
    pub scoop: Option<Scoop>,
}

/// What grading a photo needs; shared by the threads.
pub struct Grading<'a> {
    pub tanks: &'a BTreeMap<String, Known>,
    pub known: &'a BTreeSet<String>,
    pub shelf: &'a Shelf,
    pub args: &'a AddArgs,
    pub by_tag: bool,
    pub house: &'a House,
}

impl Grading<'_> {
    /// One photo from file to grades under its tank. A fault of the program is told for this photo and leaves the others
    /// alone.
    pub fn one(&self, path: &Path) -> Result<Ready, Error> {
        catch_unwind(AssertUnwindSafe(|| self.graded(path)))
            .unwrap_or_else(|_| Err(Error::bug("the program failed on this photo")))
    }

    fn graded(&self, path: &Path) -> Result<Ready, Error> {
        let bytes = photos::read(path)?;
        let sha256 = photo_store::digest(&bytes);
        if self.known.contains(&sha256) {
            return Err(Error::book(
                "photo_known",
                "this very photo is in the book already",
                "nothing was filed; see catchcup scoop list",
            ));
        }
        let name = file_name(path);
        let (tank, ladder) = self.tank_of(&name, &bytes)?;
        let order = order(self.args, ladder.clone(), self.house)?;
        let Graded { scoop, .. } = grade_photo(&name, &bytes, &order, self.shelf)?;
        if let Some(why) = nothing_to_file(&scoop) {
            return Err(Error::Book(why));
        }
        Ok(Ready {
            tank: tank.clone(),
            origin: Origin::of(&scoop, env!("CARGO_PKG_VERSION")),
            animals: scoop.animals.iter().map(KeptAnimal::of).collect(),
            bytes: Some(bytes),
            scoop: Some(scoop),
        })
    }

    /// The tank named, or the one whose tag lies in the photo.
    fn tank_of(&self, name: &str, bytes: &[u8]) -> Result<&Known, Error> {
        if !self.by_tag {
            let only = self.tanks.values().next();
            return only.ok_or_else(|| Error::bug("a tank that was found is not there"));
        }
        let found = tag::tanks_in(&Photo::from_bytes(name, bytes)?);
        let code = match found.as_slice() {
            [one] => one,
            [] => {
                return Err(Error::book(
                    NO_TAG,
                    "no tank's tag was found in the photo",
                    "file it by hand: catchcup scoop add TANK PHOTO; next time lay the tag beside the cup, flat and whole in view",
                ));
            }
            several => {
                return Err(Error::book(
                    "two_tags",
                    format!(
                        "tags of several tanks lie in the photo: {}",
                        several.join(", ")
                    ),
                    "file it by hand: catchcup scoop add TANK PHOTO",
                ));
            }
        };
        let known = self.tanks.get(&code.to_lowercase());
        let known = known.ok_or_else(|| {
            Error::book(
                "no_tank",
                format!("the tag says tank {code}, which is not in the book"),
                format!("add the tank: catchcup tank add {code} --line LINE"),
            )
        })?;
        match known.0.retired {
            Some(on) => Err(retired(&known.0, on)),
            None => Ok(known),
        }
    }
}

/// What is asked of a photo.
///
/// # Errors
/// Where the house's cup or light was never measured.
pub fn order(args: &AddArgs, ladder: Option<Ladder>, house: &House) -> Result<Order, Error> {
    let wrong = |e: anyhow::Error| {
        let hint = "correct house.toml, cups.toml or lights.toml";
        Error::rules("house_colours", e.to_string(), hint)
    };
    let cup = colours::cup(None, house).map_err(wrong)?;
    let cup_mm = cup.as_ref().and_then(|cup| cup.floor_mm);
    Ok(Order {
        ladder,
        cup: CupSpec {
            floor_mm: args.cup_mm.or(cup_mm).or(house.cup_mm),
            px_per_mm: args.px_per_mm,
            dark: args.ground == GroundArg::Dark,
            colour: colours::spec(None, house, cup.as_ref()).map_err(wrong)?,
        },
        sex: args.sex.map(|sex| match sex {
            SexArg::Female => Sex::Female,
            SexArg::Male => Sex::Male,
        }),
        juvenile_mm: house.juvenile_mm,
        netted: args.netted.unwrap_or_default(),
        minutes: house.minutes,
    })
}

/// The complaint about a tank that is in use no more.
pub fn retired(tank: &Tank, on: jiff::civil::Date) -> Error {
    Error::book(
        "tank_retired",
        format!("tank {} was retired on {on}", tank.code),
        format!(
            "is the code right? else take it into use again: catchcup tank retire {} --again",
            tank.code
        ),
    )
}

/// Why a graded photo has nothing to be filed.
fn nothing_to_file(scoop: &Scoop) -> Option<Note> {
    if let Some(why) = scoop.withheld.first() {
        return Some(why.clone());
    }
    scoop.animals.is_empty().then(|| {
        Note::new(
            "no_animals",
            "no animals were found in the photo",
            "is it the right photo? nothing was filed",
        )
    })
}
