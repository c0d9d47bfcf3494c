//! `catchcup sort`: a tank sorted cup by cup.

use std::path::Path;

use anyhow::Result;
use catchcup::book::lines::generation_name;
use catchcup::book::{Book, NewScoop, NewSorting, SortingEntry, photo_store, sortings};
use catchcup::error::Error;
use catchcup::measures::{Sex, SexFrom};
use catchcup::report::selection::overlay::orders_jpeg;
use catchcup::report::selection::sort::{self as text, ToldCup};
use catchcup::report::wire::selection as wire;
use catchcup::scoop::kept::Origin;
use catchcup::scoop::{Graded, KeptAnimal, grade_photo};
use catchcup::selection::inbreeding::{effective_size, rate};
use catchcup::selection::sorting::begin::begin;
use catchcup::selection::sorting::find::finds;
use catchcup::selection::sorting::wells::{self, Tray};
use catchcup::selection::sorting::{Cup, CupAnimal, Decided, Sorting, TankNumber};
use catchcup::selection::worth::Yardstick;
use catchcup::trends::{match_photos, sightings_of_kept};
use catchcup::units::Measured;

use super::tank_and_ladder;
use crate::cli::book::Desk;
use crate::cli::book::grading::order;
use crate::cli::book::rooms::house_shelf;
use crate::cli::output::Out;
use crate::cli::photos::{self, file_name};
use crate::cli::scoop_args::AddArgs;
use crate::cli::select_args::{CupArgs, SortArgs, SortCommand, Wanted, wanted};

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
            let entry = latest(&book, tank)?;
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

/// The sorting under way.
fn open(book: &Book, tank: &str) -> Result<SortingEntry, Error> {
    let code = book.tank(tank)?.code;
    book.open_sorting(tank)?
        .ok_or_else(|| nothing_sorted(&code))
}

/// The latest sorting, under way or not.
fn latest(book: &Book, tank: &str) -> Result<SortingEntry, Error> {
    let code = book.tank(tank)?.code;
    book.last_sorting(tank)?
        .ok_or_else(|| nothing_sorted(&code))
}

fn nothing_sorted(tank: &str) -> Error {
    Error::book(
        "no_sorting",
        format!("tank {tank} is not being sorted"),
        format!("begin: catchcup sort start {tank} --keep 15F 10M --about 160"),
    )
}

/// A cup graded: its photo with all that is kept of it.
struct Shot {
    graded: Graded,
    bytes: Vec<u8>,
    name: String,
    animals: Vec<KeptAnimal>,
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
    let animals = graded.scoop.animals.iter().map(KeptAnimal::of);
    let animals = animals
        .map(|animal| with_sex(animal, &args.sexes))
        .collect();
    Ok(Shot {
        graded,
        bytes,
        name,
        animals,
    })
}

/// The sex that the keeper sees goes before that of the photo.
fn with_sex(mut animal: KeptAnimal, said: &[(u32, bool)]) -> KeptAnimal {
    if let Some((_, male)) = said.iter().find(|(no, _)| *no == animal.no) {
        animal.sex = if *male { Sex::Male } else { Sex::Female };
        animal.sex_from = SexFrom::Given;
    }
    animal
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
    let entry = open(book, &args.tank)?;
    let shot = shoot(book, args, desk)?;
    let mut before = entry.decided();
    let mut cup = cup_of(&shot.animals, &entry.stick, args);
    let mut second_of = None;
    if args.again {
        let last = entry
            .cups
            .last()
            .ok_or_else(|| sortings::no_cup(&entry.tank))?;
        before.pop();
        second_of = last.scoop;
        let first = match last.scoop {
            Some(number) => book.scoop(number)?.animals,
            None => Vec::new(),
        };
        found_again(&first, &last.decided.cup, &shot.animals, &mut cup)?;
        cup.sweeps = cup.sweeps.or(last.decided.cup.sweeps);
        cup.left_told = cup.left_told.or(last.decided.cup.left_told);
        cup.last |= last.decided.cup.last;
    }
    let mut sorting = Sorting::resumed(entry.setup.clone(), &before);
    let decision = sorting.decide(&cup);
    let decided = Decided { cup, decision };
    let scoop = keep_photo(&shot, &entry, second_of, desk)?;
    if args.again {
        book.file_cup_again(&entry, &scoop, &decided, &desk.stamp)?;
    } else {
        book.file_cup(&entry, &scoop, &decided, &desk.stamp)?;
    }
    sorting.enter(&decided.cup, &decided.decision);
    let wells = wells_of(&shot, args)?;
    let finds = finds(&shot.animals);
    let told = ToldCup {
        tank: &entry.tank,
        no: sorting.cups,
        cup: &decided.cup,
        decision: &decided.decision,
        finds: &finds,
        wells: &wells,
        after: &sorting,
        again: args.again,
    };
    desk.answer(out, [wire::cup(&told)], || text::cup(&told))?;
    if let Some(folder) = &args.overlay {
        write_pictures(&shot, &decided, &told, folder, desk, out)?;
    }
    Ok(())
}

fn cup_of(animals: &[KeptAnimal], stick: &Yardstick, args: &CupArgs) -> Cup {
    let animal = |animal: &KeptAnimal| CupAnimal {
        no: animal.no,
        sex: animal.sex,
        worth: stick.worth(animal),
    };
    Cup {
        animals: animals.iter().map(animal).collect(),
        sweeps: args.sweeps,
        left_told: args.left,
        last: args.last,
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
    }
    if found * 2 < second.len() {
        return Err(wrong(format!(
            "only {found} of {} animals were found again in this photo",
            second.len()
        )));
    }
    Ok(())
}

/// Puts the photo beside the book; its scoop, ready to be filed.
fn keep_photo(
    shot: &Shot,
    entry: &SortingEntry,
    second_of: Option<i64>,
    desk: &Desk,
) -> Result<NewScoop, Error> {
    let mut origin = Origin::of(&shot.graded.scoop, env!("CARGO_PKG_VERSION"));
    if let Some(sha256) = &origin.photo_sha256 {
        desk.photos.keep(sha256, &shot.name, &shot.bytes)?;
        origin.photo_kept = true;
    }
    Ok(NewScoop {
        tank: entry.tank.clone(),
        at: desk.stamp.at,
        who: desk.stamp.who.clone(),
        kept_apart: true,
        second_of,
        remark: "a cup of a sorting".into(),
        import_label: None,
        origin,
        animals: shot.animals.clone(),
    })
}

/// The well of each animal, where a tray is used; it must fill the photo.
fn wells_of(shot: &Shot, args: &CupArgs) -> Result<Vec<Option<String>>, Error> {
    let Some((rows, columns)) = args.wells else {
        return Ok(Vec::new());
    };
    let facts = &shot.graded.scoop.photo;
    let edges = [0.0, 0.0, facts.width as f64, facts.height as f64];
    Ok(wells::wells(&shot.animals, Tray { rows, columns }, edges))
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
    let entry = open(book, tank)?;
    let mut sorting = Sorting::resumed(entry.setup.clone(), &entry.decided());
    let cup = Cup {
        last: true,
        ..Cup::default()
    };
    let decided = Decided {
        decision: sorting.decide(&cup),
        cup,
    };
    book.end_sorting(&entry, &decided, &desk.stamp)?;
    sorting.enter(&decided.cup, &decided.decision);
    let kept = sorting.counts.map(|count| count.kept as f64);
    let ne = effective_size(kept[1], kept[0]);
    let mut costs = Vec::new();
    if ne > 0.0 {
        costs.push(catchcup::report::selection::forecast::cost_words(
            ne,
            rate(ne),
        ));
    }
    if kept.iter().all(|count| *count > 0.0) {
        let number = book
            .generations()?
            .iter()
            .filter(|g| g.tank == entry.tank)
            .map(|g| g.number)
            .max();
        let next = generation_name(number.map_or(1, |number| number + 1));
        costs.push(format!(
            "Begin the next generation with them: catchcup generation begin TANK {next} --females {} --males {} --from {}",
            kept[0], kept[1], entry.tank
        ));
    }
    desk.answer(
        out,
        [wire::ended(&entry.tank, &decided.decision, &sorting, ne)],
        || text::ended(&entry.tank, &decided.decision, &sorting, &costs),
    )
}
