//! `catchcup proof check` and `compare`: reads folders, calls the library, prints.

use std::fs;
use std::path::Path;

use anyhow::Result;
use catchcup::error::Error;
use catchcup::ladder::{self, Ladder, Shelf};
use catchcup::proof::compare::{beside, same_picture};
use catchcup::proof::key::Handover;
use catchcup::proof::manifest::{FILES, MANIFEST, Manifest, RECORD, RULES};
use catchcup::proof::verify::{self, Asked, Files, Verdict};
use catchcup::report::proof::lots::Dispute;
use catchcup::report::proof::{FORMATS, answers, lots};
use catchcup::report::wire::proof as wire;
use catchcup::scoop::{KeptAnimal, Order, Scoop, grade_photo};

use crate::cli::output::Out;
use crate::cli::photos::{self, file_name};
use crate::cli::proof_args::CheckArgs;

/// Largest file of a proof that is read, bytes; pages carry a photo.
const LARGEST: u64 = 400 << 20;

/// Checks a proof; the exit code says the answer.
///
/// # Errors
/// Where the folder can't be read.
pub fn run(args: &CheckArgs, out: &mut Out) -> Result<u8> {
    catchcup::lanes::set_plain(args.plain);
    let (files, odd) = read(&args.folder)?;
    let handover = args.handover.as_deref().map(handover).transpose()?;
    let original = args.original.as_deref().map(photos::read).transpose()?;
    let asked = Asked {
        fingerprint: args.key.clone(),
        handover,
        original,
    };
    let found = verify::check(&files, &odd, &asked, env!("CARGO_PKG_VERSION"), FORMATS);
    if args.json {
        out.line(&wire::checked(&found))?;
    } else {
        out.lines(&answers::checked(&found))?;
    }
    Ok(match found.verdict {
        Verdict::Unchanged => 0,
        Verdict::UnknownKey => 3,
        Verdict::Changed => 4,
        Verdict::OtherKey => 5,
        Verdict::OtherProgram => 6,
    })
}

/// The files of a proof, and the names of all else in its folder: other files, folders, links.
fn read(folder: &Path) -> Result<(Files, Vec<String>), Error> {
    let shown = folder.display().to_string();
    let (mut files, mut odd) = (Files::new(), Vec::new());
    for entry in fs::read_dir(folder).map_err(|e| Error::io(&shown, &e))? {
        let entry = entry.map_err(|e| Error::io(&shown, &e))?;
        let name = entry.file_name().to_string_lossy().into_owned();
        // Links are not followed: they could lead anywhere.
        let about = fs::symlink_metadata(entry.path()).map_err(|e| Error::io(&name, &e))?;
        if !about.is_file() || about.len() > LARGEST || !FILES.contains(&name.as_str()) {
            odd.push(name);
            continue;
        }
        files.insert(
            name.clone(),
            fs::read(entry.path()).map_err(|e| Error::io(&name, &e))?,
        );
    }
    odd.sort();
    Ok((files, odd))
}

fn handover(path: &Path) -> Result<Handover, Error> {
    let name = file_name(path);
    let bytes = fs::read(path).map_err(|e| Error::io(&name, &e))?;
    Handover::read(&bytes).map_err(|why| {
        Error::rules(
            "handover",
            format!("{name} is no handover: {why}"),
            "ask the seller for it again",
        )
    })
}

/// A buyer's photo beside the page's; the exit code, 3 where the animals are plainly of another colour.
///
/// # Errors
/// Where the proof or the photo can't be read.
pub fn compare(
    folder: &Path,
    photo: &Path,
    cup_mm: Option<f64>,
    json: bool,
    out: &mut Out,
) -> Result<u8> {
    let (files, _) = read(folder)?;
    let file = |name: &str| {
        files.get(name).ok_or_else(|| {
            Error::photo(
                "missing_file",
                format!("{name} is missing"),
                "give the whole folder of the proof",
            )
        })
    };
    let no_manifest =
        |why| Error::photo("manifest", why, "ask the seller for the whole folder again");
    let manifest = Manifest::read(file(MANIFEST)?).map_err(no_manifest)?;
    let seller = (FORMATS.animals)(&String::from_utf8_lossy(file(RECORD)?))?;
    let ladder = ladder::load(RULES, &String::from_utf8_lossy(file(RULES)?))?;
    let bytes = photos::read(photo)?;
    let same = same_picture(&manifest, &bytes);
    let mut order = verify::order(&manifest.graded, ladder.clone()).map_err(Error::Photo)?;
    if !same {
        order.cup.floor_mm = cup_mm;
        order.cup.px_per_mm = None;
        order.netted = catchcup::scoop::Netted::Unknown;
    }
    let graded = graded(photo, &bytes, &order)?;
    let buyer: Vec<KeptAnimal> = graded.animals.iter().map(KeptAnimal::of).collect();
    let found = beside(&seller, &buyer);
    // Of what line they are is asked only where they are not of the page's.
    let looks_like = match found.other_line() {
        true => guessed(photo, &bytes, order)?.filter(|guess| guess.line != ladder.line),
        false => None,
    };
    let shown = Dispute {
        found: &found,
        same_picture: same,
        ladder: &ladder,
        looks_like: looks_like.as_ref(),
        scale_known: graded.scene.px_per_mm.is_some(),
    };
    if json {
        out.line(&wire::beside(&shown))?;
    } else {
        out.lines(&lots::beside(&shown))?;
    }
    Ok(if found.other_line() { 3 } else { 0 })
}

/// The photo graded as ordered.
fn graded(photo: &Path, bytes: &[u8], order: &Order) -> Result<Scoop> {
    let graded = grade_photo(&file_name(photo), bytes, order, &Shelf::default())?;
    match graded.scoop.withheld.first() {
        Some(why) => Err(Error::Photo(why.clone()).into()),
        None => Ok(graded.scoop),
    }
}

/// The line that the photo looks like where none is said.
fn guessed(photo: &Path, bytes: &[u8], order: Order) -> Result<Option<Ladder>> {
    let open = Order {
        ladder: None,
        ..order
    };
    Ok(graded(photo, bytes, &open)?.ladder)
}
