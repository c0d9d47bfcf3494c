//! `catchcup share`: what the scoops say of the whole tank.

use anyhow::Result;
use catchcup::error::Error;
use catchcup::report::trend::tank::share_lines;
use catchcup::report::wire::whole as wire;
use catchcup::trends::whole_tank::{scoops_needed, whole_tank};

use super::{house, no_scoops, present, sale_rung, tank_title};
use crate::cli::book::Desk;
use crate::cli::output::Out;
use crate::cli::trend_args::{ShareArgs, points};

/// Animals of a scoop where the tank has none to go by.
const USUAL_SCOOP: u64 = 20;

/// Answers.
///
/// # Errors
/// Where the book can't be read, or no animal of the tank was judged.
pub fn run(args: &ShareArgs, out: &mut Out) -> Result<bool> {
    let desk = Desk::new(&args.desk)?;
    let book = desk.open()?;
    let tank = book.tank(&args.tank)?;
    let sale = sale_rung(args.sale_rung, &desk);
    let within = points(args.within).map_err(|what| {
        Error::book(
            "range_wanted",
            format!("--within {}: {what}", args.within),
            "name points of a hundred, for example --within 10",
        )
    })?;
    let house = house(&book, sale, &desk)?;
    let scoops = book.measures_of_tank(&tank.code)?;
    let recent = present(&scoops, args.weeks);
    let title = tank_title(&tank);
    let found =
        whole_tank(&recent, house.scatter.icc, args.animals).ok_or_else(|| no_scoops(&title))?;
    let sizes: Vec<u64> = recent
        .iter()
        .filter(|s| s.second_of.is_none())
        .map(|s| s.judged().count() as u64)
        .filter(|n| *n > 0)
        .collect();
    let size = sizes
        .iter()
        .sum::<u64>()
        .checked_div(sizes.len() as u64)
        .unwrap_or(USUAL_SCOOP)
        .max(1);
    let at_sale = found.rungs.iter().find(|r| r.rung == sale);
    let count = at_sale.map_or((0, 0), |r| (r.above.sure, r.above.undecided));
    let more = (
        scoops_needed(count, &sizes, size, house.scatter.icc, within),
        within,
        size,
    );
    let object = wire::whole(&found, &tank.code, sale, more);
    desk.answer(out, [object], || {
        share_lines(&found, &title, sale, more, args.detail)
    })?;
    Ok(true)
}
