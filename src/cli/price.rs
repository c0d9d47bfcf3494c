//! `catchcup price`: the house's price list, values, and lots like an earlier one.

use std::path::{Path, PathBuf};

use anyhow::Result;
use catchcup::error::Error;
use catchcup::ladder::{self, Ladder, place};
use catchcup::proof::price::{Prices, load, tank_value, value};
use catchcup::proof::similar::nearest;
use catchcup::report::proof::prices as text;
use catchcup::report::wire::proof as wire;
use catchcup::report::wire::stored::{StoredScoop, stored_scoops};
use catchcup::scoop::{GradedAnimal, KeptAnimal, last_day};

use super::book::Desk;
use super::book::rooms::house_shelf;
use super::house::read_text;
use super::howmany::own_icc;
use super::howmany::sale_rung;
use super::output::Out;
use super::photos::file_name;
use super::proof_args::{PriceArgs, PriceCommand};

/// A price list to begin with; its numbers are invented.
pub const START: &str = "\
# The house's price list. Amounts stand between quotes, with a point, and are exact. Leave a rung out where you don't sell it.
schema = \"catchcup.prices/1\"
currency = \"coins\"
unknown_size = \"small\"       # the class of animals whose length is not known

[[size]]
name = \"small\"
from_mm = 15
G2 = \"0.60\"
G3 = \"1.00\"
G4 = \"1.80\"
G5 = \"3.20\"

[[size]]
name = \"large\"
from_mm = 22
G2 = \"0.80\"
G3 = \"1.40\"
G4 = \"2.50\"
G5 = \"4.50\"
";

/// Runs the part of `price` that was asked for.
///
/// # Errors
/// Where the price list, the book or a record can't be read.
pub fn run(args: &PriceArgs, out: &mut Out) -> Result<bool> {
    let desk = Desk::new(&args.desk)?;
    match &args.command {
        PriceCommand::Start => out.raw(START)?,
        PriceCommand::List => list(&prices(args, &desk)?, &desk, out)?,
        PriceCommand::Tank { tank, count } => {
            let prices = prices(args, &desk)?;
            let scoops = last_day(&desk.open()?.history_of_tank(tank)?);
            let animals: Vec<&[KeptAnimal]> = scoops.iter().map(|s| s.animals.as_slice()).collect();
            let icc = own_icc(&scoops, sale_rung(None, &desk.house));
            let found = tank_value(&prices, &animals, icc, *count).ok_or_else(|| {
                Error::book(
                    "no_value",
                    format!("the last scoops of tank {tank} have no priced animals"),
                    "file a scoop first, and see that the price list has its rungs",
                )
            })?;
            desk.answer(
                out,
                [wire::tank_worth(tank, &found, &prices.currency)],
                || text::tank(tank, &found, &prices.currency),
            )?;
        }
        PriceCommand::Lot { records } => {
            let prices = prices(args, &desk)?;
            for scoop in read(records)? {
                let found = value(&prices, &scoop.kept_animals());
                desk.answer(
                    out,
                    [wire::worth(&scoop.file, &found, &prices.currency)],
                    || text::lot(&scoop.file, &found, &prices.currency),
                )?;
            }
        }
        PriceCommand::Try { file, records } => {
            moved(&prices(args, &desk)?, file, records, &desk, out)?
        }
        PriceCommand::Like { scoop, most } => {
            let book = desk.open()?;
            let wanted = book.scoop(*scoop)?;
            let mut found = nearest(&wanted, &book.history_of_all()?);
            found.truncate(*most);
            desk.answer(out, found.iter().map(wire::near), || {
                text::like(*scoop, &found)
            })?;
        }
    }
    Ok(true)
}

/// The price list named, else prices.toml beside the house file, which may be here.
fn prices(args: &PriceArgs, desk: &Desk) -> Result<Prices> {
    prices_in(args.prices.as_deref(), &desk.house.folder)
}

/// The price list in that file, else in prices.toml of the folder.
///
/// # Errors
/// Where there is none, or it is wrong.
pub fn prices_in(named: Option<&Path>, folder: &Path) -> Result<Prices> {
    let path = named.map_or_else(|| folder.join("prices.toml"), Path::to_path_buf);
    if !path.exists() {
        let hint = "start one: catchcup price start > prices.toml";
        let found = format!("there is no price list {}", path.display());
        return Err(Error::rules("no_prices", found, hint).into());
    }
    Ok(load(&file_name(&path), &read_text(&path)?)?)
}

fn list(prices: &Prices, desk: &Desk, out: &mut Out) -> Result<()> {
    let book = desk.open()?;
    let mut rows = Vec::new();
    for state in book.tank_states(desk.stamp.at.date(), &desk.house.holds, false)? {
        let scoops = last_day(&book.history_of_tank(&state.tank.code)?);
        let animals: Vec<KeptAnimal> = scoops.iter().flat_map(|s| s.animals.clone()).collect();
        rows.push(text::Row::of(&state, &scoops, value(prices, &animals)));
    }
    let objects: Vec<String> = rows
        .iter()
        .map(|r| wire::worth(&r.tank, &r.value, &prices.currency))
        .collect();
    desk.answer(out, objects, || text::list(&rows, &prices.currency))
}

fn read(records: &[PathBuf]) -> Result<Vec<StoredScoop>> {
    let mut all = Vec::new();
    for path in records {
        all.extend(stored_scoops(&file_name(path), &read_text(path)?)?);
    }
    Ok(all)
}

/// Values of the records by the present ladder of the line and by the changed one.
fn moved(
    prices: &Prices,
    file: &Path,
    records: &[PathBuf],
    desk: &Desk,
    out: &mut Out,
) -> Result<()> {
    let new = ladder::load(&file_name(file), &read_text(file)?)?;
    let shelf = house_shelf(&desk.house)?;
    let old = shelf
        .ladder(&new.line)
        .ok_or_else(|| super::rules::unknown(&new.line, &shelf))?;
    let scoops = read(records)?;
    let of_line = scoops
        .iter()
        .filter(|s| s.line.as_deref() == Some(new.line.as_str()));
    let measures: Vec<_> = of_line
        .flat_map(|s| s.animals.iter().map(|a| a.measures.clone()))
        .collect();
    let worth = |ladder: &Ladder| {
        let placed: Vec<KeptAnimal> = measures
            .iter()
            .map(|m| {
                let placing = place(ladder, m);
                KeptAnimal::of(&GradedAnimal {
                    measures: m.clone(),
                    placing,
                })
            })
            .collect();
        value(prices, &placed)
    };
    let (before, after) = (worth(&old), worth(&new));
    let objects = [
        wire::worth("present ladder", &before, &prices.currency),
        wire::worth("changed ladder", &after, &prices.currency),
    ];
    desk.answer(out, objects, || {
        text::moved(&before, &after, &prices.currency)
    })
}
