//! Sheets for the wall: one a rung, with the house's typical and edge animals.

use std::collections::BTreeMap;
use std::path::Path;

use anyhow::Result;
use catchcup::eye::raters::{AnimalId, house_rungs};
use catchcup::ladder::Rung;
use catchcup::report::eye::sheet::{MOST, Shown, rung_sheet};
use catchcup::scoop::{KeptAnimal, PastScoop};

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
    let own = house_rungs(&ratings(&book, &animals(&scoops))?, None);
    let with_photo: Vec<&PastScoop> = scoops.iter().filter(|s| s.origin.photo_kept).collect();
    make_folder(folder)?;
    let mut photos = BTreeMap::new();
    for scoop in &with_photo {
        if let Some(photo) = photo_of(desk, scoop)? {
            photos.insert(scoop.number, photo);
        }
    }
    for rung in Rung::all() {
        let chosen = chosen(&with_photo, &own, rung);
        let shown: Vec<Shown<'_>> = chosen
            .into_iter()
            .filter_map(|(scoop, animal, caption)| {
                Some(Shown {
                    photo: photos.get(&scoop)?,
                    animal,
                    scoop,
                    caption,
                })
            })
            .collect();
        write(
            &folder.join(format!("{}-{rung}.jpg", ladder.line)),
            &rung_sheet(&ladder, rung, &shown)?,
        )?;
    }
    desk.done(
        out,
        &format!(
            "wrote six sheets of {} into {}",
            ladder.line,
            folder.display()
        ),
    )
}

/// Typical animals of a rung (likeliest first) and those near its edges. The house's own rung goes before the program's.
fn chosen<'a>(
    scoops: &[&'a PastScoop],
    own: &BTreeMap<AnimalId, Rung>,
    rung: Rung,
) -> Vec<(i64, &'a KeptAnimal, String)> {
    let mut all: Vec<(i64, &KeptAnimal, bool)> = scoops
        .iter()
        .flat_map(|scoop| scoop.animals.iter().map(|animal| (scoop.number, animal)))
        .filter_map(|(scoop, animal)| {
            let said = own.get(&(scoop, animal.no));
            let here = said.copied().or(animal.rung)?;
            (here == rung).then_some((scoop, animal, said.is_some()))
        })
        .collect();
    let sure = |animal: &KeptAnimal| animal.chances.map_or(0.0, |chances| chances[rung.index()]);
    all.sort_by(|a, b| b.2.cmp(&a.2).then(sure(b.1).total_cmp(&sure(a.1))));
    let (clear, edge): (Vec<_>, Vec<_>) =
        all.into_iter().partition(|(_, a, _)| a.between.is_none());
    let edges = edge.len().min(MOST / 2);
    let caption = |animal: &KeptAnimal, own: bool| {
        let what = match animal.between {
            Some((low, high)) => format!("edge: {low}/{high}"),
            None => "typical".to_string(),
        };
        if own {
            format!("{what}, your rung")
        } else {
            what
        }
    };
    clear
        .into_iter()
        .take(MOST - edges)
        .chain(edge.into_iter().take(edges))
        .map(|(scoop, animal, own)| (scoop, animal, caption(animal, own)))
        .collect()
}
