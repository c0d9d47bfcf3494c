//! `catchcup agree`: who agrees with whom on rungs.

use std::collections::BTreeMap;

use anyhow::Result;
use catchcup::eye::raters::comparisons;
use catchcup::report::eye::agree::agree_lines;
use catchcup::report::wire::eye as wire;

use super::{animals, ladder, ratings, scoops};
use crate::cli::book::Desk;
use crate::cli::book::rooms::house_shelf;
use crate::cli::eye_args::AgreeArgs;
use crate::cli::output::Out;

/// Compares all raters that graded the same animals.
///
/// # Errors
/// Where the book can't be opened or the line is unknown.
pub fn run(args: &AgreeArgs, out: &mut Out) -> Result<bool> {
    let desk = Desk::new(&args.desk)?;
    let book = desk.open()?;
    let shelf = house_shelf(&desk.house)?;
    let of = args
        .line
        .as_deref()
        .map(|line| ladder(&book, &shelf, line))
        .transpose()?;
    let scoops = scoops(&book, of.as_ref().map(|ladder| ladder.line.as_str()))?;
    let animals = animals(&scoops);
    let program = animals
        .iter()
        .filter_map(|(id, animal)| Some((*id, animal.rung?)));
    let program: BTreeMap<_, _> = program.collect();
    let found = comparisons(&ratings(&book, &animals)?, &program, args.seen_too);
    let title = of.map_or("all lines".to_string(), |ladder| {
        format!("ladder {}", ladder.line)
    });
    desk.answer(out, found.iter().map(wire::comparison), || {
        agree_lines(&title, &found, args.detail)
    })?;
    Ok(true)
}
