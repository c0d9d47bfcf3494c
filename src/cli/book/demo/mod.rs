//! `catchcup demo`: an invented house to try every command on.

mod animals;
mod house;
mod rungs;

use std::path::Path;

use anyhow::Result;
use catchcup::book::{Book, NewScoop, PhotoStore, Stamp};
use catchcup::error::Error;
use catchcup::ladder::Shelf;
use catchcup::scene::CupSpec;
use catchcup::scoop::kept::Origin;
use catchcup::scoop::{KeptAnimal, MinutesRule, Netted, Order, grade_photo};
use jiff::civil::DateTime;

use super::now;
use crate::cli::book_args::DemoArgs;
use crate::cli::output::Out;

/// Photos that are graded into the house (rendered for this project): name, bytes, tank, inner diameter of the cup.
const PHOTOS: [(&str, &[u8], &str, f64); 2] = [
    (
        "red.jpg",
        include_bytes!("../../../../sample-images/red-clear-to-solid_8-animals.jpg"),
        "A2",
        96.87,
    ),
    (
        "blue.jpg",
        include_bytes!("../../../../sample-images/blue-dark-and-light_8-animals.jpg"),
        "B1",
        90.28,
    ),
];

/// A photo that is left for the user to file.
const TO_FILE: (&str, &[u8]) = (
    "new.jpg",
    include_bytes!("../../../../sample-images/mixed-banded-red-and-orange_7-animals.jpg"),
);

const HOUSE: &str = "\
# An invented house: all names, numbers and events in its book are made up.
book = \"house.book\"
who = \"Mara\"
cup_mm = 84.27
sale_rung = \"G4\"
";

/// Makes the house.
///
/// # Errors
/// Where the folder is there already or can't be written.
pub fn run(args: &DemoArgs, out: &mut Out) -> Result<bool> {
    let folder = &args.folder;
    if folder.exists() {
        return Err(Error::book(
            "demo_exists",
            format!(
                "{} is there already and was left as it is",
                folder.display()
            ),
            "name a folder that is not there yet",
        )
        .into());
    }
    let now = args.now.unwrap_or_else(now);
    let put = |name: &str, bytes: &[u8]| -> Result<()> {
        let path = folder.join(name);
        std::fs::write(&path, bytes).map_err(|e| Error::io(&path.display().to_string(), &e))?;
        Ok(())
    };
    let photos = folder.join("photos");
    std::fs::create_dir_all(&photos).map_err(|e| Error::io(&photos.display().to_string(), &e))?;
    put("house.toml", HOUSE.as_bytes())?;
    put("prices.toml", crate::cli::price::START.as_bytes())?;
    put(&format!("photos/{}", TO_FILE.0), TO_FILE.1)?;
    let path = folder.join("house.book");
    let mut book = Book::open_or_begin(&path)?;
    let scoops = house::fill(&mut book, now)?;
    let graded = grade_samples(&mut book, &path, now)?;
    let shown = folder.display();
    out.raw(&format!(
        "made an invented house in {shown}: {} tanks, {scoops} scoops with made-up numbers,\n\
         {graded} with sample photos. Go there and try:\n\n  \
         cd {shown}\n  \
         catchcup tank list\n  \
         catchcup tank show B2\n  \
         catchcup line show R1\n  \
         catchcup scoop list A1\n  \
         catchcup agree R1\n  \
         catchcup teach R1\n  \
         catchcup scoop add D3 photos/new.jpg\n  \
         catchcup price list\n  \
         catchcup howmany A4 --rung G4 --at-least 60\n  \
         catchcup book undo\n",
        book.tanks()?.len()
    ))?;
    Ok(true)
}

fn grade_samples(book: &mut Book, path: &Path, now: DateTime) -> Result<usize> {
    let store = PhotoStore::beside(path);
    let shelf = Shelf::default();
    for (name, bytes, tank, cup_mm) in PHOTOS {
        let ladder = book.tank(tank)?.ladder;
        let order = Order {
            ladder: ladder.and_then(|id| shelf.ladder(&id)),
            cup: CupSpec {
                floor_mm: Some(cup_mm),
                ..CupSpec::default()
            },
            sex: None,
            juvenile_mm: 15.0,
            netted: Netted::Ago(100),
            minutes: MinutesRule::default(),
        };
        let scoop = grade_photo(name, bytes, &order, &shelf)?.scoop;
        let mut origin = Origin::of(&scoop, env!("CARGO_PKG_VERSION"));
        store.keep(&scoop.photo.sha256, name, bytes)?;
        origin.photo_kept = true;
        let stamp = Stamp {
            at: now,
            who: "Ole".into(),
        };
        let new = NewScoop {
            tank: tank.into(),
            at: now,
            who: stamp.who.clone(),
            kept_apart: false,
            second_of: None,
            remark: "sample photo, rendered".into(),
            import_label: None,
            origin,
            animals: scoop.animals.iter().map(KeptAnimal::of).collect(),
        };
        book.file_scoop(&new, &stamp)?;
    }
    Ok(PHOTOS.len())
}
