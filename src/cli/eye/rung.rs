//! `catchcup rung`: own rungs given, imported, listed; families.

use anyhow::Result;
use catchcup::book::rung_table::read_rung_table;
use catchcup::book::{NewOwnRung, OwnRung};
use catchcup::eye::families::{Coloured, families};
use catchcup::measures::HueGate;
use catchcup::report::eye as text;
use catchcup::report::wire::eye as wire;

use super::{draw, scoops, sheet};
use crate::cli::book::Desk;
use crate::cli::book::rooms::house_shelf;
use crate::cli::eye_args::{RungArgs, RungCommand};
use crate::cli::house::read_text;
use crate::cli::output::Out;
use crate::cli::photos::file_name;

/// Runs the part of `rung` that was asked for.
///
/// # Errors
/// Where the book can't be opened, or what was asked for can't be done.
pub fn run(args: &RungArgs, out: &mut Out) -> Result<bool> {
    let desk = Desk::new(&args.desk)?;
    match &args.command {
        RungCommand::Give {
            scoop,
            rungs,
            blind,
        } => {
            let new: Vec<NewOwnRung> = rungs
                .iter()
                .map(|(no, rung)| NewOwnRung {
                    scoop: *scoop,
                    no: *no,
                    rung: *rung,
                    who: None,
                    at: None,
                    is_blind: *blind,
                    sitting: None,
                })
                .collect();
            keep(&desk, &new, out)?;
        }
        RungCommand::Import { file } => {
            let new = read_rung_table(&file_name(file), &read_text(file)?)?;
            keep(&desk, &new, out)?;
        }
        RungCommand::List { last } => {
            let all = desk.open()?.own_rungs()?;
            told(&desk, &all[all.len().saturating_sub(*last)..], out)?;
        }
        RungCommand::Test(args) => draw::draw_for(&desk, args, false, out)?,
        RungCommand::Quiz(args) => draw::draw_for(&desk, args, true, out)?,
        RungCommand::Answer { sitting, rungs } => draw::answer(&desk, *sitting, rungs, out)?,
        RungCommand::Sheet { line, folder } => sheet::run(&desk, line, folder, out)?,
        RungCommand::Families { detail } => show_families(&desk, *detail, out)?,
    }
    Ok(true)
}

fn keep(desk: &Desk, new: &[NewOwnRung], out: &mut Out) -> Result<()> {
    let given = desk.open()?.give_rungs(new, &desk.stamp)?;
    // A long import is told in one sentence.
    if given.len() > 30 && !desk.json() {
        let what = format!(
            "{} own rungs kept; take them back: catchcup book undo",
            given.len()
        );
        return desk.done(out, &what);
    }
    told(desk, &given, out)
}

fn told(desk: &Desk, rungs: &[OwnRung], out: &mut Out) -> Result<()> {
    desk.answer(out, rungs.iter().map(wire::own_rung), || {
        text::own_rungs(rungs)
    })
}

fn show_families(desk: &Desk, detail: bool, out: &mut Out) -> Result<()> {
    let book = desk.open()?;
    let shelf = house_shelf(&desk.house)?;
    let mut present: Vec<(String, Option<HueGate>)> = Vec::new();
    let mut floors = std::collections::BTreeMap::new();
    for line in book.lines()? {
        let colour = shelf.ladder(&line.ladder).map(|ladder| ladder.colour);
        floors.insert(
            line.code.clone(),
            colour.as_ref().map_or(0.0, |c| c.chroma_floor),
        );
        present.push((line.code, colour.and_then(|c| c.hue)));
    }
    let mut coloured = Vec::new();
    for scoop in scoops(&book, None)? {
        let Some(line) = &scoop.line else { continue };
        let floor = floors.get(line).copied().unwrap_or(0.0);
        for animal in &scoop.animals {
            if let Some(lab) = animal.colour.as_ref().and_then(|c| c.lab) {
                coloured.push(Coloured {
                    animal: (scoop.number, animal.no),
                    line: line.clone(),
                    lab,
                    is_pale: lab[1].hypot(lab[2]) < floor,
                });
            }
        }
    }
    let found = families(&coloured);
    desk.answer(out, [wire::families(&found, &present)], || {
        text::families::family_lines(&found, &present, detail)
    })
}
