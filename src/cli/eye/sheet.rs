//! Sheets for the wall: one a rung, with the house's typical and edge animals.

use std::collections::BTreeMap;
use std::path::Path;

use anyhow::Result;
use catchcup::eye::examples::{Example, Kind, examples};
use catchcup::ladder::Rung;
use catchcup::report::eye::sheet::{FEWEST, MOST, Shown, rung_sheet};
use catchcup::report::words::join;
use catchcup::scoop::PastScoop;

use super::draw::photo_of;
use super::{animals, ladder, make_folder, ratings, scoops, write};
use crate::cli::book::Desk;
use crate::cli::book::rooms::house_shelf;
use crate::cli::output::Out;

/// Writes the sheets.
///
/// # Errors
/// Where the line is unknown or the folder can't be written.
pub fn run(desk: &Desk, line: &str, folder: &Path, out: &mut Out) -> Result<()> {
    let book = desk.open()?;
    let ladder = ladder(&book, &house_shelf(&desk.house)?, line)?;
    let scoops = scoops(&book, Some(&ladder.line))?;
    let ratings = ratings(&book, &animals(&scoops))?;
    let with_photo: Vec<&PastScoop> = scoops.iter().filter(|s| s.origin.photo_kept).collect();
    make_folder(folder)?;
    let mut photos = BTreeMap::new();
    for scoop in &with_photo {
        if let Some(photo) = photo_of(desk, scoop)? {
            photos.insert(scoop.number, photo);
        }
    }
    let mut few = Vec::new();
    for rung in Rung::all() {
        let chosen = examples(&with_photo, &ratings, rung, MOST);
        let shown: Vec<Shown<'_>> = chosen
            .iter()
            .filter_map(|example| {
                Some(Shown {
                    photo: photos.get(&example.scoop)?,
                    animal: example.animal,
                    scoop: example.scoop,
                    caption: caption(example),
                })
            })
            .collect();
        if shown.len() < FEWEST {
            few.push(rung.to_string());
        }
        write(
            &folder.join(format!("{}-{rung}.jpg", ladder.line)),
            &rung_sheet(&ladder, rung, &shown)?,
        )?;
    }
    let lacks = if few.is_empty() {
        String::new()
    } else {
        format!(
            "; fewer than {FEWEST} animals for {}: file more scoops with their photos",
            join(&few)
        )
    };
    let folder = folder.display();
    desk.done(
        out,
        &format!("wrote six sheets of {} into {folder}{lacks}", ladder.line),
    )
}

/// What stands below an animal.
fn caption(example: &Example<'_>) -> String {
    let own = if example.is_own { ", your rung" } else { "" };
    match example.kind {
        Kind::Typical => format!("typical{own}"),
        Kind::Edge(low, high) => format!("edge: {low}/{high}{own}"),
        Kind::Against(Some(ladder)) => format!("your rung; by the ladder {ladder}"),
        Kind::Against(None) => "your rung; none by the ladder".into(),
    }
}
