//! The commands of the house's own eye: own rungs, tests, agreement, learned ladders, families, sheets.

pub mod agree;
pub mod draw;
pub mod rung;
pub mod sheet;
pub mod teach;

use std::collections::BTreeMap;

use anyhow::Result;
use catchcup::book::Book;
use catchcup::error::Error;
use catchcup::eye::raters::{AnimalId, Rating};
use catchcup::ladder::{Ladder, Shelf};
use catchcup::scoop::{KeptAnimal, PastScoop};

use crate::cli::rules::unknown;

/// The ladder meant: of a line of the house, or of that id.
fn ladder(book: &Book, shelf: &Shelf, named: &str) -> Result<Ladder> {
    let id = book
        .find_line(named)?
        .map_or_else(|| named.to_lowercase(), |line| line.ladder);
    Ok(shelf.ladder(&id).ok_or_else(|| unknown(named, shelf))?)
}

/// Scoops of the lines with that ladder, or all; second photos of a scoop left out.
fn scoops(book: &Book, ladder: Option<&str>) -> Result<Vec<PastScoop>> {
    let ladders: BTreeMap<String, String> = book
        .lines()?
        .into_iter()
        .map(|line| (line.code, line.ladder))
        .collect();
    let mut all = book.history_of_all()?;
    all.retain(|scoop| {
        let own = scoop.line.as_ref().and_then(|line| ladders.get(line));
        let of = own.or(scoop.origin.ladder.as_ref());
        scoop.second_of.is_none() && ladder.is_none_or(|ladder| of.is_some_and(|own| own == ladder))
    });
    Ok(all)
}

/// Animals of scoops by scoop and number.
fn animals(scoops: &[PastScoop]) -> BTreeMap<AnimalId, &KeptAnimal> {
    let of = |scoop: &'_ PastScoop| scoop.number;
    scoops
        .iter()
        .flat_map(|scoop| {
            scoop
                .animals
                .iter()
                .map(move |animal| ((of(scoop), animal.no), animal))
        })
        .collect()
}

/// Rungs that people gave the animals in `animals`.
fn ratings(book: &Book, animals: &BTreeMap<AnimalId, &KeptAnimal>) -> Result<Vec<Rating>> {
    let all = book.own_rungs()?.into_iter().map(|one| Rating {
        animal: (one.scoop, one.no),
        who: one.who,
        at: one.at,
        rung: one.rung,
        is_blind: one.is_blind,
    });
    Ok(all
        .filter(|rating| animals.contains_key(&rating.animal))
        .collect())
}

/// Makes a folder; files in it are left alone.
fn make_folder(folder: &std::path::Path) -> Result<()> {
    std::fs::create_dir_all(folder).map_err(|e| Error::io(&folder.display().to_string(), &e))?;
    Ok(())
}

/// Writes a file.
fn write(path: &std::path::Path, bytes: &[u8]) -> Result<()> {
    std::fs::write(path, bytes).map_err(|e| Error::io(&path.display().to_string(), &e))?;
    Ok(())
}
