//! `catchcup rank`: animals of a tank in the order of their worth.

use anyhow::Result;
use catchcup::book::Book;
use catchcup::error::Error;
use catchcup::report::selection::rank as text;
use catchcup::report::wire::selection as wire;
use catchcup::scoop::PastScoop;
use catchcup::selection::ranking::{Entrant, FirstPass, first_pass, rank};
use catchcup::selection::sorting::begin::earlier_animals;
use catchcup::selection::worth::Yardstick;

use super::tank_and_ladder;
use crate::cli::book::Desk;
use crate::cli::output::Out;
use crate::cli::select_args::{RankArgs, wanted};

/// Runs the command.
///
/// # Errors
/// Where the book can't be opened, tank or scoop are unknown, or the output can't be written.
pub fn run(args: &RankArgs, out: &mut Out) -> Result<bool> {
    let desk = Desk::new(&args.desk)?;
    let book = desk.open()?;
    let (tank, ladder) = tank_and_ladder(&book, &args.tank, &desk)?;
    let past = book.history_of_tank(&tank.code)?;
    let chosen = scoops(&book, &past, &args.scoop, &tank.code)?;
    let entrants: Vec<Entrant<'_>> = chosen
        .iter()
        .flat_map(|scoop| {
            scoop.animals.iter().map(|animal| Entrant {
                scoop: scoop.number,
                animal,
            })
        })
        .collect();
    if args.young {
        let calls: Vec<(i64, u32, FirstPass)> = entrants
            .iter()
            .map(|one| (one.scoop, one.animal.no, first_pass(one.animal)))
            .collect();
        desk.answer(out, [wire::young(&tank.code, &calls)], || {
            text::young(&tank.code, &calls)
        })?;
        return Ok(true);
    }
    let stick = Yardstick::new(&ladder.wish, &earlier_animals(&past));
    let keep = wanted(&args.keep);
    let found = rank(&entrants, &stick, keep);
    desk.answer(
        out,
        [wire::ranking(&tank.code, &found, &stick, keep)],
        || text::ranking(&tank.code, &found, &stick, keep),
    )?;
    Ok(true)
}

/// The scoops named, else the tank's latest; another photo of the same animals is no further scoop.
fn scoops(
    book: &Book,
    past: &[PastScoop],
    named: &[i64],
    tank: &str,
) -> Result<Vec<PastScoop>, Error> {
    if named.is_empty() {
        let last = past.iter().rev().find(|scoop| scoop.second_of.is_none());
        return last.cloned().map(|scoop| vec![scoop]).ok_or_else(|| {
            Error::book(
                "no_scoop",
                format!("tank {tank} has no scoop to rank"),
                format!("file one: catchcup scoop add {tank} PHOTO"),
            )
        });
    }
    let mut found = Vec::new();
    for number in named {
        let scoop = book.scoop(*number)?;
        if !scoop.tank.eq_ignore_ascii_case(tank) {
            return Err(Error::book(
                "other_tank",
                format!("scoop {number} is of tank {}, not {tank}", scoop.tank),
                "rank the scoops of one tank at a time",
            ));
        }
        found.push(scoop);
    }
    Ok(found)
}
