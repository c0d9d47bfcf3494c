//! `catchcup book`: taking back, trail, import and export, check, copies.

use std::path::Path;

use anyhow::Result;
use catchcup::book::table::read_table;
use catchcup::book::{self, Book, PhotoStore};
use catchcup::error::Error;
use catchcup::report::book as text;
use catchcup::report::book::tables::{WholeBook, tables};
use catchcup::report::wire::book as wire;
use catchcup::selection::sorting::Sorting;

use super::Desk;
use super::rooms::house_shelf;
use crate::cli::book_args::{BookArgs, BookCommand};
use crate::cli::house::read_text;
use crate::cli::output::Out;
use crate::cli::photos::file_name;

/// Runs the part of `book` that was asked for; false where a check found faults.
///
/// # Errors
/// Where the book can't be opened, or what was asked for can't be done.
pub fn run(args: &BookArgs, out: &mut Out) -> Result<bool> {
    let desk = Desk::new(&args.desk)?;
    match &args.command {
        BookCommand::Schema => out.raw(catchcup::report::BOOK_SCHEMA)?,
        BookCommand::Undo => {
            let undone = desk.open()?.undo(&desk.stamp)?;
            let what = undone.ok_or_else(|| nothing_to("take back"))?;
            desk.done(out, &format!("took back: {what}"))?;
        }
        BookCommand::Redo => {
            let redone = desk.open()?.redo(&desk.stamp)?;
            let what = redone.ok_or_else(|| nothing_to("bring back"))?;
            desk.done(out, &format!("brought back: {what}"))?;
        }
        BookCommand::Trail { last } => {
            let entries = desk.open()?.trail(*last)?;
            desk.answer(out, entries.iter().map(wire::change), || {
                text::trail(&entries)
            })?;
        }
        BookCommand::Import {
            file,
            leave_out_unknown,
        } => {
            import_file(&desk, file, *leave_out_unknown, out)?;
        }
        BookCommand::Export { folder } => export(&desk, folder, out)?,
        BookCommand::Check => {
            let found = desk.open()?.check(Some(&desk.photos))?;
            desk.answer(out, [wire::checked(&found)], || text::checked(&found))?;
            return Ok(found.faults.is_empty());
        }
        BookCommand::Backup { to, without_photos } => {
            desk.open()?.backup(to)?;
            let mut what = format!("copied the book to {}", to.display());
            if !without_photos {
                let photos = desk.photos.copy_to(&PhotoStore::beside(to))?;
                what += &format!(", and {photos} new photos beside it");
            }
            desk.done(out, &what)?;
        }
        BookCommand::Restore { from } => restore(&desk, from, out)?,
    }
    Ok(true)
}

fn nothing_to(what: &str) -> Error {
    Error::book(
        "nothing_left",
        format!("there is nothing to {what}"),
        "see what was done: catchcup book trail",
    )
}

fn import_file(desk: &Desk, file: &Path, leave_out: bool, out: &mut Out) -> Result<()> {
    let name = file_name(file);
    let table = read_table(&name, &read_text(file)?, leave_out)?;
    let ladders = house_shelf(&desk.house)?.lines();
    let mut book = desk.open_or_begin()?;
    let done = book.import(&name, &table, &ladders, &desk.stamp)?;
    desk.answer(out, [wire::imported(&done, &table.unknown)], || {
        let mut lines = text::imported(&name, &done);
        if !table.unknown.is_empty() {
            let left = format!("columns left out: {}", table.unknown.join(", "));
            lines.extend(text::sentences(&[left], ""));
        }
        lines
    })
}

/// Everything that a book holds.
///
/// # Errors
/// Where it can't be read.
pub fn whole(book: &Book) -> Result<WholeBook> {
    Ok(WholeBook {
        tanks: book.tanks()?,
        lines: book.lines()?,
        generations: book.generations()?,
        conditions: book.conditions()?,
        notes: book.notes(None)?,
        scoops: book.history_of_all()?,
        trail: book.trail(usize::MAX >> 1)?,
    })
}

/// Every sorting as an object: what it began with and what it came to.
fn sortings(book: &Book, tanks: &[catchcup::book::Tank]) -> Result<Vec<String>> {
    let mut objects = Vec::new();
    for tank in tanks {
        for entry in book.sortings(&tank.code)? {
            let sorting = Sorting::resumed(entry.setup.clone(), &entry.decided());
            objects.push(catchcup::report::wire::selection::standing(
                &entry, &sorting,
            ));
        }
    }
    Ok(objects)
}

fn export(desk: &Desk, folder: &Path, out: &mut Out) -> Result<()> {
    let book = desk.open()?;
    let all = whole(&book)?;
    let states = book.tank_states(desk.stamp.at.date(), &desk.house.holds, true)?;
    let own = book.own_rungs()?;
    let corrections = book.corrections()?;
    std::fs::create_dir_all(folder).map_err(|e| Error::io(&folder.display().to_string(), &e))?;
    let mut json = String::new();
    let objects = states
        .iter()
        .map(wire::tank)
        .chain(
            all.lines
                .iter()
                .map(|line| wire::line(line, &all.generations)),
        )
        .chain(all.conditions.iter().map(wire::condition))
        .chain(all.notes.iter().map(wire::note))
        .chain(all.scoops.iter().map(wire::scoop))
        .chain(sortings(&book, &all.tanks)?)
        .chain(own.iter().map(catchcup::report::wire::eye::own_rung))
        .chain(
            corrections
                .iter()
                .map(catchcup::report::wire::errors::correction),
        )
        .chain(all.trail.iter().map(wire::change));
    for object in objects {
        json += &object;
        json.push('\n');
    }
    let mut files = tables(&all);
    files.push(("book.jsonl", json));
    for (name, content) in &files {
        let path = folder.join(name);
        std::fs::write(&path, content).map_err(|e| Error::io(&path.display().to_string(), &e))?;
    }
    let animals: usize = all.scoops.iter().map(|scoop| scoop.animals.len()).sum();
    let what = format!(
        "wrote {} files into {}: {} scoops with {animals} animals",
        files.len(),
        folder.display(),
        all.scoops.len()
    );
    desk.done(out, &what)
}

fn restore(desk: &Desk, from: &Path, out: &mut Out) -> Result<()> {
    let kept = book::care::restore(&desk.path, from, desk.stamp.at)?;
    let photos = PhotoStore::beside(from).copy_to(&desk.photos)?;
    let mut what = format!("went back to {}", from.display());
    if photos > 0 {
        what += &format!(", with {photos} photos that were missing");
    }
    if let Some(kept) = kept {
        what += &format!("; the book as it was is kept as {}", kept.display());
    }
    desk.done(out, &what)
}
