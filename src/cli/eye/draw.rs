//! Blind tests and quizzes: drawn from the book, answered on the command line.

use std::collections::btree_map::Entry;
use std::collections::{BTreeMap, BTreeSet};

use anyhow::Result;
use catchcup::book::{Book, NewOwnRung, OwnRung, Sitting};
use catchcup::error::Error;
use catchcup::eye::dice::seed_of;
use catchcup::eye::draw::{Candidate, draw};
use catchcup::eye::raters::AnimalId;
use catchcup::ladder::Rung;
use catchcup::photo::Photo;
use catchcup::report::eye as text;
use catchcup::report::eye::sheet::blind_jpeg;
use catchcup::report::wire::eye as wire;
use catchcup::scoop::PastScoop;
use image::RgbImage;

use super::{ladder, make_folder, scoops, write};
use crate::cli::book::Desk;
use crate::cli::book::rooms::house_shelf;
use crate::cli::eye_args::DrawArgs;
use crate::cli::output::Out;

const TEST: usize = 20;
const QUIZ: usize = 10;

/// The upright photo of a scoop; `None` where it is not kept.
pub fn photo_of(desk: &Desk, scoop: &PastScoop) -> Result<Option<RgbImage>> {
    let (Some(sha256), Some(file)) = (&scoop.origin.photo_sha256, &scoop.origin.photo_file) else {
        return Ok(None);
    };
    let Some(bytes) = desk.photos.read(sha256, file)? else {
        return Ok(None);
    };
    Ok(Some(Photo::from_bytes(file, &bytes)?.rgb8_upright()))
}

/// Draws animals for who writes, and writes their pictures into the folder. Animals that the person graded before come
/// last; the same month draws the same.
///
/// # Errors
/// Where the line is unknown, no photo is kept, or the folder can't be written.
pub fn draw_for(desk: &Desk, args: &DrawArgs, is_quiz: bool, out: &mut Out) -> Result<()> {
    let mut book = desk.open()?;
    let ladder = ladder(&book, &house_shelf(&desk.house)?, &args.line)?;
    let scoops = scoops(&book, Some(&ladder.line))?;
    let known = graded_by(&book, &desk.stamp.who)?;
    let month = desk.stamp.at.strftime("%Y-%m").to_string();
    let kind = if is_quiz { "quiz" } else { "test" };
    let seed = seed_of(&[kind, &month, &ladder.line, &desk.stamp.who]);
    let count = args.animals.unwrap_or(if is_quiz { QUIZ } else { TEST });
    let (old, new): (Vec<Candidate>, Vec<Candidate>) = candidates(&scoops)
        .into_iter()
        .partition(|c| known.contains(&c.animal));
    let mut drawn = draw(&new, count, seed);
    drawn.extend(draw(&old, count - drawn.len(), seed));
    if drawn.is_empty() {
        return Err(Error::book(
            "no_pictures",
            format!(
                "no animal of {} on a rung has its photo in the book",
                ladder.line
            ),
            "file scoops with their photos: catchcup scoop add TANK PHOTO",
        )
        .into());
    }
    make_folder(&args.folder)?;
    let by_number: BTreeMap<i64, &PastScoop> = scoops.iter().map(|s| (s.number, s)).collect();
    let mut photos: BTreeMap<i64, Option<RgbImage>> = BTreeMap::new();
    let mut shown = Vec::new();
    for candidate in drawn {
        let scoop = by_number[&candidate.animal.0];
        if let Entry::Vacant(place) = photos.entry(scoop.number) {
            place.insert(photo_of(desk, scoop)?);
        }
        let animal = scoop
            .animals
            .iter()
            .find(|animal| animal.no == candidate.animal.1);
        if let (Some(Some(photo)), Some(animal)) = (photos.get(&scoop.number), animal)
            && let Some(picture) = blind_jpeg(photo, animal, shown.len() + 1)?
        {
            shown.push(candidate.animal);
            write(
                &args.folder.join(format!("{kind}-{:02}.jpg", shown.len())),
                &picture,
            )?;
        }
    }
    let new = Sitting {
        number: 0,
        is_quiz,
        ladder: ladder.line,
        who: desk.stamp.who.clone(),
        at: desk.stamp.at,
        animals: shown,
    };
    let sitting = book.begin_sitting(&new, &desk.stamp)?;
    desk.answer(out, [wire::sitting(&sitting, count)], || {
        text::drawn(&sitting, count, &args.folder.display().to_string())
    })
}

fn graded_by(book: &Book, who: &str) -> Result<BTreeSet<AnimalId>> {
    let all = book.own_rungs()?.into_iter().filter(|one| one.who == who);
    Ok(all.map(|one| (one.scoop, one.no)).collect())
}

/// Animals on a rung whose photo is kept.
fn candidates(scoops: &[PastScoop]) -> Vec<Candidate> {
    scoops
        .iter()
        .filter(|scoop| scoop.origin.photo_kept)
        .flat_map(|scoop| scoop.animals.iter().map(|animal| (scoop.number, animal)))
        .filter(|(_, animal)| animal.place.is_some())
        .filter_map(|(scoop, animal)| {
            Some(Candidate {
                animal: (scoop, animal.no),
                rung: animal.rung?,
                is_doubtful: animal.between.is_some(),
            })
        })
        .collect()
}

/// Keeps the answers as blind rungs and tells how they compare.
///
/// # Errors
/// Where there is no such sitting or picture.
pub fn answer(desk: &Desk, number: i64, rungs: &[(u32, Rung)], out: &mut Out) -> Result<()> {
    let mut book = desk.open()?;
    let sitting = book.sitting(number)?;
    let mut new = Vec::new();
    for (picture, rung) in rungs {
        let at = (*picture as usize)
            .checked_sub(1)
            .and_then(|at| sitting.animals.get(at));
        let Some((scoop, no)) = at else {
            return Err(Error::book(
                "unknown_picture",
                format!("{number} has no picture {picture}; nothing was kept"),
                format!("its pictures are 1 to {}", sitting.animals.len()),
            )
            .into());
        };
        new.push(NewOwnRung {
            scoop: *scoop,
            no: *no,
            rung: *rung,
            who: Some(sitting.who.clone()),
            at: None,
            is_blind: true,
            sitting: Some(number),
        });
    }
    let given = book.give_rungs(&new, &desk.stamp)?;
    let rows: Vec<(usize, OwnRung)> = rungs
        .iter()
        .map(|(picture, _)| *picture as usize)
        .zip(given)
        .collect();
    desk.answer(out, rows.iter().map(|(_, one)| wire::own_rung(one)), || {
        text::answered(&sitting, &rows)
    })
}
