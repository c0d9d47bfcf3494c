//! `catchcup grade`: photos in, records or text out.

use std::path::Path;

use anyhow::Result;
use catchcup::error::Error;
use catchcup::ladder::{self, Ladder, Rung, Shelf};
use catchcup::measures::Sex;
use catchcup::report::text::{TextOptions, closing, error_lines, render};
use catchcup::report::{error_json, record_json};
use catchcup::scene::CupSpec;
use catchcup::scoop::{Graded, Order, grade_photo};

use super::args::{GradeArgs, GroundArg, SexArg};
use super::house::{self, House};
use super::lines::unknown;
use super::output::Out;

/// Rung from which a house sells that has not said so (house rule).
const SALE_RUNG: &str = "G4";

/// Largest photo file that is read, bytes: no phone writes larger ones, and memory stays bounded.
const LARGEST_FILE: u64 = 200 << 20;

/// Grades every photo in turn; true where all could be read.
///
/// # Errors
/// Where options, house or rules are wrong, or the output can't be written.
pub fn run(args: &GradeArgs, out: &mut Out) -> Result<bool> {
    let house = house::read(args.house.as_deref())?;
    let shelf = shelf(args, &house)?;
    let order = order(args, &house, &shelf)?;
    let text = text_options(args, &house);
    prepare(args)?;
    let mut all_read = true;
    for (index, path) in args.photos.iter().enumerate() {
        let graded = read_photo(path)
            .and_then(|bytes| on_pool(|| grade_photo(&file_name(path), &bytes, &order, &shelf)));
        all_read &= graded.is_ok();
        print(args, &text, path, index, &graded, out)?;
        if let (Ok(graded), Some(folder)) = (&graded, &args.overlay) {
            super::overlay::write(graded, folder, index, &args.photos)?;
        }
    }
    if !args.json {
        out.lines(&closing())?;
    }
    Ok(all_read)
}

/// Runs `work` on one of the pool's own threads: from outside, every parallel step would put this thread to sleep and wake it.
fn on_pool<T: Send>(work: impl FnOnce() -> T + Send) -> T {
    rayon::scope(|_| work())
}

fn shelf(args: &GradeArgs, house: &House) -> Result<Shelf> {
    let files = house.rules.iter().chain(&args.rules);
    let own = files.map(|path| Ok(ladder::load(&file_name(path), &house::read_text(path)?)?));
    Ok(Shelf::with_own(own.collect::<Result<Vec<Ladder>>>()?))
}

fn order(args: &GradeArgs, house: &House, shelf: &Shelf) -> Result<Order> {
    Ok(Order {
        ladder: ladder_asked(args, house, shelf)?,
        cup: CupSpec {
            floor_mm: args.cup_mm.or(house.cup_mm),
            px_per_mm: args.px_per_mm,
            dark: args.ground == GroundArg::Dark,
        },
        sex: args.sex.map(|sex| match sex {
            SexArg::Female => Sex::Female,
            SexArg::Male => Sex::Male,
        }),
        juvenile_mm: house.juvenile_mm,
        netted_seconds: args.netted,
    })
}

/// The line said, else that of a single rules file named on the command line, else the house's usual line, else none.
fn ladder_asked(args: &GradeArgs, house: &House, shelf: &Shelf) -> Result<Option<Ladder>> {
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

/// Threads and the overlay's folder.
fn prepare(args: &GradeArgs) -> Result<()> {
    if let Some(threads) = args.threads {
        rayon::ThreadPoolBuilder::new()
            .num_threads(usize::from(threads))
            .build_global()?;
    }
    if let Some(folder) = &args.overlay {
        std::fs::create_dir_all(folder)
            .map_err(|e| Error::io(&folder.display().to_string(), &e))?;
    }
    Ok(())
}

fn read_photo(path: &Path) -> Result<Vec<u8>, Error> {
    let name = file_name(path);
    let size = std::fs::metadata(path).map_err(|e| Error::io(&name, &e))?;
    if size.is_dir() {
        return Err(Error::photo(
            "is_folder",
            format!("{name} is a folder"),
            "name the photos in it",
        ));
    }
    if size.len() > LARGEST_FILE {
        let message = format!(
            "the file has {} MB, expected {} at most",
            size.len() >> 20,
            LARGEST_FILE >> 20
        );
        return Err(Error::photo(
            "file_too_large",
            message,
            "give the photo as the phone saved it",
        ));
    }
    std::fs::read(path).map_err(|e| Error::io(&name, &e))
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
        out.line(
            &graded
                .as_ref()
                .map_or_else(|error| error_json(&name, error), |g| record_json(&g.scoop)),
        )?;
        return Ok(());
    }
    if index > 0 {
        out.line("")?;
    }
    match graded {
        Ok(graded) => out.lines(&render(&graded.scoop, text))?,
        Err(error) => out.lines(&error_lines(&name, error.note()))?,
    }
    Ok(())
}

/// The file's name without folders: paths say more about the user than a record should.
pub fn file_name(path: &Path) -> String {
    path.file_name().map_or_else(
        || path.display().to_string(),
        |name| name.to_string_lossy().into_owned(),
    )
}
