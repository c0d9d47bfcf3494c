//! `catchcup grade`: photos in, records or text out.

use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::Path;

use anyhow::Result;
use catchcup::error::Error;
use catchcup::ladder::{self, Ladder, Rung, Shelf};
use catchcup::measures::Sex;
use catchcup::report::text::{TextOptions, closing, error_lines, render};
use catchcup::report::{csv, error_json, patch_lines, record_json, record_json_with_patches};
use catchcup::scene::CupSpec;
use catchcup::scoop::{Graded, Netted, Order, grade_photo};

use super::args::{GradeArgs, GroundArg, PhotoArgs, SexArg};
use super::colours;
use super::house::{self, House};
use super::in_order::in_order;
use super::output::{self, Out};
use super::photos::{self, file_name};
use super::pictures;
use super::progress::Progress;
use super::rules::unknown;

/// Rung from which a house sells that has not said so (house rule).
pub(super) const SALE_RUNG: &str = "G4";

/// Grades every photo, several at once, printed in the order named; true where all could be read.
///
/// # Errors
/// Where options, house or rules are wrong, or the output can't be written.
pub fn run(args: &GradeArgs, out: &mut Out) -> Result<bool> {
    let house = house::read(args.shot.house.as_deref())?;
    let shelf = shelf(&args.shot, &house)?;
    let netted = args.netted.unwrap_or_default();
    let order = order(&args.shot, netted, &house, &shelf)?;
    let text = text_options(args, &house);
    prepare(args)?;
    let photos = photos::listed(&args.shot.photos);
    let progress = Progress::new(photos.len());
    let (mut all_read, mut minutes_unknown) = (true, false);
    if args.csv {
        out.raw(&csv::heading())?;
    }
    in_order(
        photos.len(),
        |index| grade_one(&photos[index], &order, &shelf),
        |index, graded| {
            progress.clear();
            all_read &= graded.is_ok();
            print(args, &text, &photos[index], index, &graded, out)?;
            if let Ok(graded) = &graded {
                minutes_unknown |= graded.scoop.in_cup.seconds.is_none();
                pictures::write(graded, args, index, &photos)?;
            }
            progress.say(index + 1);
            Ok(())
        },
    )?;
    if !args.json && !args.csv {
        out.lines(&closing(minutes_unknown && args.netted.is_none()))?;
    }
    Ok(all_read)
}

/// One photo from file to grades. A fault of the program is told for this photo and leaves the others alone.
pub(super) fn grade_one(path: &Path, order: &Order, shelf: &Shelf) -> Result<Graded, Error> {
    let bytes = photos::read(path)?;
    catch_unwind(AssertUnwindSafe(move || {
        grade_photo(&file_name(path), bytes, order, shelf)
    }))
    .unwrap_or_else(|_| Err(Error::bug("the program failed on this photo")))
}

pub(super) fn shelf(args: &PhotoArgs, house: &House) -> Result<Shelf> {
    let files = house.rules.iter().chain(&args.rules);
    let own = files.map(|path| Ok(ladder::load(&file_name(path), &house::read_text(path)?)?));
    Ok(Shelf::with_own(own.collect::<Result<Vec<Ladder>>>()?))
}

pub(super) fn order(
    args: &PhotoArgs,
    netted: Netted,
    house: &House,
    shelf: &Shelf,
) -> Result<Order> {
    let cup = colours::cup(args.cup.as_deref(), house)?;
    let cup_mm = cup.as_ref().and_then(|cup| cup.floor_mm);
    Ok(Order {
        ladder: ladder_asked(args, house, shelf)?,
        cup: CupSpec {
            floor_mm: args.cup_mm.or(cup_mm).or(house.cup_mm),
            px_per_mm: args.px_per_mm,
            dark: args.ground == GroundArg::Dark,
            colour: colours::spec(args.light.as_deref(), house, cup.as_ref())?,
        },
        sex: args.sex.map(|sex| match sex {
            SexArg::Female => Sex::Female,
            SexArg::Male => Sex::Male,
        }),
        juvenile_mm: house.juvenile_mm,
        netted,
        minutes: house.minutes,
    })
}

/// The line said, else that of a single rules file named on the command line, else the house's usual line, else none.
fn ladder_asked(args: &PhotoArgs, house: &House, shelf: &Shelf) -> Result<Option<Ladder>> {
    let of_rules = match args.rules.as_slice() {
        [only] => Some(ladder::load(&file_name(only), &house::read_text(only)?)?.line),
        _ => None,
    };
    let line = args
        .line
        .clone()
        .or(of_rules)
        .or_else(|| house.line.clone());
    let Some(line) = line else { return Ok(None) };
    Ok(Some(
        shelf.ladder(&line).ok_or_else(|| unknown(&line, shelf))?,
    ))
}

fn text_options(args: &GradeArgs, house: &House) -> TextOptions {
    let usual = Rung::from_word(SALE_RUNG).unwrap_or(Rung::BEST);
    TextOptions {
        sale_rung: args.sale_rung.or(house.sale_rung).unwrap_or(usual),
        all: args.all,
    }
}

/// The number of threads asked for.
pub(super) fn set_threads(args: &PhotoArgs) -> Result<()> {
    if let Some(threads) = args.threads {
        rayon::ThreadPoolBuilder::new()
            .num_threads(usize::from(threads))
            .build_global()?;
    }
    Ok(())
}

/// Threads and the folders of pictures.
fn prepare(args: &GradeArgs) -> Result<()> {
    set_threads(&args.shot)?;
    for folder in args.overlay.iter().chain(&args.crops) {
        std::fs::create_dir_all(folder)
            .map_err(|e| Error::io(&folder.display().to_string(), &e))?;
    }
    Ok(())
}

fn print(
    args: &GradeArgs,
    text: &TextOptions,
    path: &Path,
    index: usize,
    graded: &Result<Graded, Error>,
    out: &mut Out,
) -> Result<()> {
    let name = file_name(path);
    if args.json {
        let record = match graded {
            Ok(graded) if args.patches => record_json_with_patches(&graded.scoop),
            Ok(graded) => record_json(&graded.scoop),
            Err(error) => error_json(&name, error),
        };
        out.line(&record)?;
        return Ok(());
    }
    if args.csv {
        match graded {
            Ok(graded) => out.raw(&csv::rows(&graded.scoop))?,
            Err(error) => output::complain_of(&name, error),
        }
        return Ok(());
    }
    if index > 0 {
        out.line("")?;
    }
    match graded {
        Ok(graded) => {
            out.lines(&render(&graded.scoop, text))?;
            if args.patches {
                out.lines(&patch_lines(&graded.scoop))?;
            }
        }
        Err(error) => out.lines(&error_lines(&name, error.note()))?,
    }
    Ok(())
}
