//! `catchcup steady`: how far repeated photos of one scoop agree.

use anyhow::Result;
use catchcup::error::Error;
use catchcup::report::steady::steady_lines;
use catchcup::report::text::error_lines;
use catchcup::report::{error_json, steady_json};
use catchcup::scoop::{Netted, Scoop};
use catchcup::trends::{sightings, steady};

use super::args::{PhotoArgs, SteadyArgs};
use super::grade::{grade_one, order, set_threads, shelf};
use super::house;
use super::in_order::in_order;
use super::output::Out;
use super::photos::{self, file_name};

/// Compares the photos; true where all could be read.
///
/// # Errors
/// Where fewer than two photos were named, options, house or rules are wrong, or the output can't be written.
pub fn run(args: &SteadyArgs, out: &mut Out) -> Result<bool> {
    let (scoops, all_read) = scoops_of(&args.shot, args.json, out)?;
    let files: Vec<&str> = scoops.iter().map(|s| s.photo.file.as_str()).collect();
    let photos: Vec<_> = scoops.iter().map(sightings).collect();
    let found = steady(&photos);
    if args.json {
        out.line(&steady_json(&files, &photos, &found))?;
    } else {
        out.lines(&steady_lines(&files, &photos, &found, args.detail))?;
    }
    Ok(all_read)
}

/// The photos graded alike, in the order named; those that can't be read are told and left out. True where there are none
/// of them.
///
/// # Errors
/// Where fewer than two photos were named or could be read, options, house or rules are wrong, or the output can't be
/// written.
pub(super) fn scoops_of(args: &PhotoArgs, json: bool, out: &mut Out) -> Result<(Vec<Scoop>, bool)> {
    let house = house::read(args.house.as_deref())?;
    let shelf = shelf(args, &house)?;
    let order = order(args, Netted::Unknown, &house, &shelf)?;
    let photos = photos::listed(&args.photos);
    two_at_least(photos.len(), "named")?;
    set_threads(args)?;
    let mut scoops = Vec::new();
    in_order(
        photos.len(),
        |index| grade_one(&photos[index], &order, &shelf).map(|graded| graded.scoop),
        |index, scoop| {
            match scoop {
                Ok(scoop) => scoops.push(scoop),
                Err(error) if json => out.line(&error_json(&file_name(&photos[index]), &error))?,
                Err(error) => out.lines(&error_lines(&file_name(&photos[index]), error.note()))?,
            }
            Ok(())
        },
    )?;
    two_at_least(scoops.len(), "could be read")?;
    all_different(&scoops)?;
    let all_read = scoops.len() == photos.len();
    Ok((scoops, all_read))
}

/// The same picture twice agrees with itself, which says nothing.
fn all_different(scoops: &[Scoop]) -> Result<()> {
    for (at, scoop) in scoops.iter().enumerate() {
        let twin = scoops[..at]
            .iter()
            .find(|s| s.photo.sha256 == scoop.photo.sha256);
        let Some(twin) = twin else { continue };
        let names = if twin.photo.file == scoop.photo.file {
            format!("{} is named twice", scoop.photo.file)
        } else {
            format!(
                "{} and {} are the same picture",
                twin.photo.file, scoop.photo.file
            )
        };
        return Err(Error::photo(
            "same_photo_twice",
            format!("{names}: a picture always agrees with itself"),
            "name different photos of the same scoop, taken one after the other",
        )
        .into());
    }
    Ok(())
}

/// One photo alone can't be compared.
fn two_at_least(count: usize, how: &str) -> Result<()> {
    if count >= 2 {
        return Ok(());
    }
    let what = if count == 1 {
        "only one photo"
    } else {
        "no photo"
    };
    let error = Error::photo(
        "too_few_photos",
        format!("{what} {how}, two or more of the same scoop were expected"),
        "name all photos of the scoop in one command",
    );
    Err(error.into())
}
