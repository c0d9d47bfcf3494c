//! `catchcup tank`.

use std::path::{Path, PathBuf};

use anyhow::Result;
use catchcup::book::{Book, NewTank, TankChange};
use catchcup::error::Error;
use catchcup::ladder::Ladder;
use catchcup::report::book::tanks as text;
use catchcup::report::tags;
use catchcup::report::wire::book as wire;

use super::Desk;
use super::rooms::{house_shelf, line_or_ladder};
use crate::cli::book_args::{TankArgs, TankCommand};
use crate::cli::output::Out;

/// Runs the part of `tank` that was asked for.
///
/// # Errors
/// Where the book can't be opened, or the entry can't be made.
pub fn run(args: &TankArgs, out: &mut Out) -> Result<bool> {
    let desk = Desk::new(&args.desk)?;
    match &args.command {
        TankCommand::Add { tank, facts } => {
            let mut book = desk.open_or_begin()?;
            if let Some(line) = &facts.line {
                line_or_ladder(&mut book, line, &desk)?;
            }
            let new = NewTank {
                code: tank.clone(),
                line: facts.line.clone(),
                place: facts.place.clone().unwrap_or_default(),
                litres: facts.litres,
                since: facts.since,
            };
            let tank = book.add_tank(&new, &desk.stamp)?;
            show(&book, &tank.code, &desk, out)?;
        }
        TankCommand::List { all } => {
            let book = desk.open()?;
            let today = desk.stamp.at.date();
            let states = book.tank_states(today, &desk.house.holds, *all)?;
            desk.answer(out, states.iter().map(wire::tank), || {
                text::list(&states, today)
            })?;
        }
        TankCommand::Show { tank } => show(&desk.open()?, tank, &desk, out)?,
        TankCommand::Edit { tank, code, facts } => {
            let mut book = desk.open()?;
            if let Some(line) = &facts.line {
                line_or_ladder(&mut book, line, &desk)?;
            }
            let change = TankChange {
                code: code.clone(),
                line: facts.line.clone(),
                place: facts.place.clone(),
                litres: facts.litres,
                since: facts.since,
                retired: None,
            };
            let tank = book.edit_tank(tank, &change, &desk.stamp)?;
            show(&book, &tank.code, &desk, out)?;
        }
        TankCommand::Retire { tank, on, again } => {
            let mut book = desk.open()?;
            let day = on.unwrap_or(desk.stamp.at.date());
            let change = TankChange {
                retired: Some((!again).then_some(day)),
                ..TankChange::default()
            };
            let tank = book.edit_tank(tank, &change, &desk.stamp)?;
            show(&book, &tank.code, &desk, out)?;
        }
        TankCommand::Tags { file, tanks } => write_tags(&desk, file, tanks, out)?,
    }
    Ok(true)
}

fn show(book: &Book, code: &str, desk: &Desk, out: &mut Out) -> Result<()> {
    let today = desk.stamp.at.date();
    let state = book.tank_state(code, today, &desk.house.holds)?;
    let scoops = book.history_of_tank(code)?;
    let notes = book.notes(Some(code))?;
    desk.answer(out, [wire::tank(&state)], || {
        text::page(&state, &scoops, &notes, today)
    })
}

fn write_tags(desk: &Desk, file: &Path, tanks: &[String], out: &mut Out) -> Result<()> {
    let book = desk.open()?;
    let shelf = house_shelf(&desk.house)?;
    let chosen = if tanks.is_empty() {
        let all = book.tanks()?.into_iter();
        all.filter(|tank| tank.retired.is_none()).collect()
    } else {
        let named: Result<Vec<_>, Error> = tanks.iter().map(|code| book.tank(code)).collect();
        named?
    };
    let colour = |id: &Option<String>| {
        let ladder: Option<Ladder> = id.as_deref().and_then(|id| shelf.ladder(id));
        // A mixed line has no colour of its own: the deepest one on its ladder would pass for a black line's.
        let ladder = ladder.filter(|ladder| ladder.line != "mixed");
        ladder.and_then(|ladder| catchcup::report::card::swatches(&ladder).last().copied())
    };
    let tags: Vec<tags::Tag> = chosen
        .iter()
        .map(|tank| tags::Tag {
            code: tank.code.clone(),
            line: tank.line.clone().unwrap_or_default(),
            colour: colour(&tank.ladder),
        })
        .collect();
    for (index, page) in tags::pages(&tags)?.iter().enumerate() {
        let path = page_name(file, index);
        let name = path.display().to_string();
        std::fs::write(&path, page).map_err(|e| Error::io(&name, &e))?;
        desk.done(
            out,
            &format!("wrote {name}: print it at its true size (100 %), a tag lies beside the cup in each photo"),
        )?;
    }
    Ok(())
}

/// `FILE.svg`, then `FILE-2.svg` and so on.
fn page_name(file: &Path, index: usize) -> PathBuf {
    if index == 0 {
        return file.to_path_buf();
    }
    let stem = file.file_stem().unwrap_or_default().to_string_lossy();
    file.with_file_name(format!("{stem}-{}.svg", index + 1))
}
