//! `catchcup mixed`: a tank of mixed colours.

use anyhow::Result;
use catchcup::report::plot::wheel_svg;
use catchcup::report::trend::tank::mixed_lines;
use catchcup::report::wire::whole as wire;
use catchcup::trends::mixed::mixed;
use catchcup::trends::tank_trend::USUAL_GENERATION_DAYS;

use super::{house, no_scoops, present, sale_rung, tank_title, write};
use crate::cli::book::Desk;
use crate::cli::output::Out;
use crate::cli::trend_args::MixedArgs;

/// Answers, and draws where asked.
///
/// # Errors
/// Where the book can't be read, no animal has a colour, or the picture can't be written.
pub fn run(args: &MixedArgs, out: &mut Out) -> Result<bool> {
    let desk = Desk::new(&args.desk)?;
    let book = desk.open()?;
    let tank = book.tank(&args.tank)?;
    let title = tank_title(&tank);
    let house = house(&book, sale_rung(None, &desk), &desk)?;
    let scoops = book.history_of_tank(&tank.code)?;
    let recent = present(&scoops, args.weeks);
    let found = mixed(&recent, &scoops, house.scatter.icc, USUAL_GENERATION_DAYS)
        .ok_or_else(|| no_scoops(&title))?;
    if let Some(path) = &args.plot {
        write(path, &wheel_svg(&found, &title))?;
    }
    desk.answer(out, [wire::mixed(&found, &tank.code)], || {
        mixed_lines(&found, &title, args.detail)
    })?;
    Ok(true)
}
