//! `catchcup sort`: a tank sorted cup by cup.

use std::path::Path;

use anyhow::Result;
use catchcup::book::cups::{CupShot, animals_of, other_tank};
use catchcup::book::{Book, NewSorting, SortingEntry, photo_store, sortings};
use catchcup::error::Error;
use catchcup::report::selection::again;
use catchcup::report::selection::ended::ended as ended_lines;
use catchcup::report::selection::forecast::after_sorting;
use catchcup::report::selection::overlay::orders_jpeg;
use catchcup::report::selection::shift::other_tank_question;
use catchcup::report::selection::sort::{self as text, ToldCup};
use catchcup::report::text::{before_orders, closing};
use catchcup::report::wire::selection as wire;
use catchcup::scoop::{Graded, KeptAnimal, grade_photo};
use catchcup::selection::sorting::again::Said;
use catchcup::selection::sorting::begin::begin;
use catchcup::selection::sorting::find::finds;
use catchcup::selection::sorting::wells::{self, Tray};
use catchcup::selection::sorting::{Decided, Sorting, TankNumber};

use super::tank_and_ladder;
use crate::cli::book::grading::order;
use crate::cli::book::rooms::house_shelf;
use crate::cli::book::{Desk, ask};
use crate::cli::output::Out;
use crate::cli::photos::{self, file_name};
use crate::cli::scoop_args::AddArgs;
use crate::cli::select_args::{
    CupArgs, SortArgs, SortCommand, Wanted, gone_word, new_word, wanted,
};

/// Runs the command.
///
/// # Errors
/// Where the book can't be opened, the tank is unknown, nothing is being sorted, or the output can't be written.
pub fn run(args: &SortArgs, out: &mut Out) -> Result<bool> {
    let desk = Desk::new(&args.desk)?;
    let mut book = desk.open()?;
    match &args.command {
        SortCommand::Start {
            tank,
            keep,
            tub,
            animals,
            about,
        } => {
            let number = number(tank, *animals, *about)?;
            start(&mut book, tank, keep, *tub, number, &desk, out)?;
        }
        SortCommand::Cup(cup) => one_cup(&mut book, cup, &desk, out)?,
        SortCommand::Show { tank } => {
            let entry = book.latest_sorting(tank)?;
            let sorting = Sorting::resumed(entry.setup.clone(), &entry.decided());
            desk.answer(out, [wire::standing(&entry, &sorting)], || {
                text::standing(&entry.tank, &sorting, &entry.stick)
            })?;
        }
        SortCommand::Finish { tank } => finish(&mut book, tank, &desk, out)?,
    }
    Ok(true)
}

fn number(tank: &str, animals: Option<u32>, about: Option<u32>) -> Result<TankNumber, Error> {
    let counted = animals.map(TankNumber::Counted);
    counted.or(about.map(TankNumber::About)).ok_or_else(|| {
        Error::book(
            "no_number",
            format!("how many animals are in tank {tank}? the line hangs on it"),
            "say --animals N where you counted them, --about N for a guess",
        )
    })
}

fn start(
    book: &mut Book,
    tank: &str,
    keep: &[Wanted],
    places: u32,
    number: TankNumber,
    desk: &Desk,
    out: &mut Out,
) -> Result<()> {
    let (tank, ladder) = tank_and_ladder(book, tank, desk)?;
    let past = book.history_of_tank(&tank.code)?;
    let (stick, setup) = begin(&ladder.wish, &past, wanted(keep), places as usize, number);
    let new = NewSorting {
        tank: tank.code.clone(),
        setup: setup.clone(),
        stick: stick.clone(),
    };
    book.begin_sorting(&new, &desk.stamp)?;
    let sorting = Sorting::new(setup);
    desk.answer(out, [wire::begun(&tank.code, &sorting, &stick)], || {
        text::begun(&tank.code, &sorting, &stick)
    })
}

/// A cup graded: its photo with all that is kept of it.
struct Shot {
    graded: Graded,
    bytes: Vec<u8>,
    name: String,
}

fn shoot(book: &Book, args: &CupArgs, desk: &Desk) -> Result<Shot> {
    let (_, ladder) = tank_and_ladder(book, &args.tank, desk)?;
    let shelf = house_shelf(&desk.house)?;
    let asked = order(&as_scoop(args), Some(ladder), &desk.house)?;
    let bytes = photos::read(&args.photo)?;
    let sha256 = photo_store::digest(&bytes);
    if let Some(known) = book.scoop_of_photo(&sha256)? {
        return Err(sortings::known(&known).into());
    }
    let name = file_name(&args.photo);
    let graded = grade_photo(&name, &bytes, &asked, &shelf)?;
    if let Some(why) = graded.scoop.withheld.first() {
        return Err(Error::Book(why.clone()).into());
    }
    Ok(Shot {
        graded,
        bytes,
        name,
    })
}

/// The options as `scoop add` has them.
fn as_scoop(args: &CupArgs) -> AddArgs {
    AddArgs {
        tank: args.tank.clone(),
        photos: Vec::new(),
        record: Vec::new(),
        same: false,
        new: true,
        tank_sure: true,
        apart: true,
        at: None,
        remark: String::new(),
        cup_mm: args.cup_mm,
        px_per_mm: args.px_per_mm,
        ground: args.ground,
        sex: args.sex,
        netted: args.netted,
    }
}

fn one_cup(book: &mut Book, args: &CupArgs, desk: &Desk, out: &mut Out) -> Result<()> {
    let entry = book.sorting_under_way(&args.tank)?;
    let shot = shoot(book, args, desk)?;
    let said = match args.again {
        true => Some(asked(book, &entry, &shot, args)?),
        false => None,
    };
    let mut cup = CupShot {
        scoop: &shot.graded.scoop,
        photo: (&shot.name, &shot.bytes),
        sexes: &args.sexes,
        sweeps: args.sweeps,
        left_told: args.left,
        last: args.last,
        tank_sure: args.tank_sure,
        again: said.as_ref(),
    };
    if said.is_none()
        && !cup.tank_sure
        && let Some(shift) = other_tank(&entry, &cup)
    {
        let question = other_tank_question(&entry.tank, &shift);
        cup.tank_sure = ask::yes(&question) == Some(true);
    }
    let sorted = book.sort_cup(&entry, &cup, &desk.photos, &desk.stamp)?;
    let wells = wells_of(&shot, &sorted.animals, args)?;
    let told = ToldCup {
        tank: &entry.tank,
        no: sorted.after.cups,
        cup: &sorted.decided.cup,
        decision: &sorted.decided.decision,
        finds: &sorted.finds,
        wells: &wells,
        after: &sorted.after,
        photos: sorted.photos.as_ref(),
    };
    desk.answer(out, [wire::cup(&told)], || {
        let mut lines = before_orders(&shot.graded.scoop);
        lines.extend(text::cup(&told));
        lines
    })?;
    if let Some(folder) = &args.overlay {
        write_pictures(&shot, &sorted.decided, &told, folder, desk, out)?;
    }
    if !desk.json() {
        out.lines(&closing(args.netted.is_none()))?;
    }
    Ok(())
}

/// What the options say of animals that only one photo shows, and what the keeper says of the others where somebody can be
/// asked.
fn asked(book: &Book, entry: &SortingEntry, shot: &Shot, args: &CupArgs) -> Result<Said, Error> {
    let animals = animals_of(&shot.graded.scoop, &args.sexes);
    let found = book.cup_again(entry, &animals)?;
    let mut said = Said {
        gone: args.gone.clone(),
        new: args.new.clone(),
        same_cup: args.same_cup,
    };
    if !found.is_same_cup() && !said.same_cup {
        said.same_cup = ask::yes(&again::same_cup_question(found.known())) == Some(true);
        if !said.same_cup {
            return Ok(said);
        }
    }
    for missed in found.missed() {
        if said.of_gone(missed.no).is_none()
            && let Some(what) = ask::one_of(&again::gone_question(&missed), gone_word)
        {
            said.gone.push((missed.no, what));
        }
    }
    let finds = finds(&animals);
    for no in found.appeared() {
        let find = finds.iter().find(|find| find.no == no);
        let animal = animals.iter().find(|animal| animal.no == no);
        if let (None, Some(find), Some(animal)) = (said.of_new(no), find, animal)
            && let Some(is_animal) = ask::one_of(&again::new_question(find, animal.sex), new_word)
        {
            said.new.push((no, is_animal));
        }
    }
    Ok(said)
}

/// The well of each animal, where a tray is used; it must fill the photo.
fn wells_of(
    shot: &Shot,
    animals: &[KeptAnimal],
    args: &CupArgs,
) -> Result<Vec<Option<String>>, Error> {
    let Some((rows, columns)) = args.wells else {
        return Ok(Vec::new());
    };
    let facts = &shot.graded.scoop.photo;
    let edges = [0.0, 0.0, facts.width as f64, facts.height as f64];
    Ok(wells::wells(animals, Tray { rows, columns }, edges))
}

fn write_pictures(
    shot: &Shot,
    decided: &Decided,
    told: &ToldCup<'_>,
    folder: &Path,
    desk: &Desk,
    out: &mut Out,
) -> Result<()> {
    let fail = |path: &Path, e: std::io::Error| Error::io(&path.display().to_string(), &e);
    std::fs::create_dir_all(folder).map_err(|e| fail(folder, e))?;
    let title = format!("Tank {}, cup {}", told.tank, told.no);
    let path = folder.join(format!("{}-cup-{}.jpg", told.tank, told.no));
    let picture = orders_jpeg(&shot.graded, &decided.decision, &title)?;
    std::fs::write(&path, picture).map_err(|e| fail(&path, e))?;
    if let Some(sheet) = catchcup::report::sheet_jpeg(&shot.graded)? {
        let path = folder.join(format!("{}-cup-{}-animals.jpg", told.tank, told.no));
        std::fs::write(&path, sheet).map_err(|e| fail(&path, e))?;
    }
    if !desk.json() {
        out.line(&format!("  Pictures: {}", path.display()))?;
    }
    Ok(())
}

fn finish(book: &mut Book, tank: &str, desk: &Desk, out: &mut Out) -> Result<()> {
    let entry = book.sorting_under_way(tank)?;
    let ended = book.finish_sorting(&entry, &desk.stamp)?;
    let costs = after_sorting(
        &entry.tank,
        &ended.after,
        ended.effective_size,
        ended.next_generation.as_deref(),
    );
    desk.answer(out, [wire::ended(&entry.tank, &ended)], || {
        ended_lines(&entry.tank, &ended, &costs)
    })
}
