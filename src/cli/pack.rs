//! `catchcup pack`: is a packed lot what it is sold as, and which animals are to be swapped?

use anyhow::Result;
use catchcup::error::Error;
use catchcup::proof::packing::check;
use catchcup::report::error_json;
use catchcup::report::overlay_with_rings;
use catchcup::report::proof::packing::packed;
use catchcup::report::text::error_lines;
use catchcup::report::wire::proof as wire;
use catchcup::scoop::{KeptAnimal, Netted};

use super::grade::{grade_one, order, set_threads, shelf};
use super::house;
use super::howmany::sale_rung;
use super::output::Out;
use super::photos::{self, file_name, picture_name};
use super::proof_args::PackArgs;

/// Confidence of "at least so many do", thousandths.
const CONFIDENCE: u32 = 950;

/// Checks each photo as a packed lot; the exit code.
///
/// # Errors
/// Where options, house or rules are wrong, or a picture can't be written.
pub fn run(args: &PackArgs, out: &mut Out) -> Result<u8> {
    let house = house::read(args.shot.house.as_deref())?;
    let shelf = shelf(&args.shot, &house)?;
    let order = order(&args.shot, Netted::Unknown, &house, &shelf)?;
    set_threads(&args.shot)?;
    let rung = sale_rung(args.rung, &house);
    if let Some(folder) = &args.rings {
        std::fs::create_dir_all(folder)
            .map_err(|e| Error::io(&folder.display().to_string(), &e))?;
    }
    let photos = photos::listed(&args.shot.photos);
    let mut code = 0;
    for (index, path) in photos.iter().enumerate() {
        let name = file_name(path);
        let graded = grade_one(path, &order, &shelf).and_then(|graded| {
            match graded.scoop.withheld.first() {
                Some(why) => Err(Error::Photo(why.clone())),
                None => Ok(graded),
            }
        });
        let graded = match graded {
            Ok(graded) => graded,
            Err(error) => {
                code = code.max(1);
                if args.json {
                    out.line(&error_json(&name, &error))?;
                } else {
                    out.lines(&error_lines(&name, error.note()))?;
                }
                continue;
            }
        };
        let animals: Vec<KeptAnimal> = graded.scoop.animals.iter().map(KeptAnimal::of).collect();
        let confidence = f64::from(CONFIDENCE) / 1000.0;
        let found = check(&animals, rung, args.promised, 1000, confidence, &[]);
        if !found.ready() {
            code = 3;
        }
        let picture = match &args.rings {
            Some(folder) => {
                let numbers: Vec<u32> = found.swaps.iter().map(|(no, _)| *no).collect();
                let file = folder.join(picture_name(index, &photos, "swap.jpg"));
                let shown = file.display().to_string();
                std::fs::write(&file, overlay_with_rings(&graded, &numbers)?)
                    .map_err(|e| Error::io(&shown, &e))?;
                Some(shown)
            }
            None => None,
        };
        if args.json {
            out.line(&wire::packed(&name, &found, confidence))?;
        } else {
            if photos.len() > 1 {
                out.line(&name)?;
            }
            out.lines(&packed(&found, CONFIDENCE, picture.as_deref()))?;
        }
    }
    Ok(code)
}
