//! `catchcup room`: all tanks side by side.

use anyhow::Result;
use catchcup::book::Generation;
use catchcup::report::plot::room::{RoomTank, room_svg};
use catchcup::report::trend::name;
use catchcup::report::trend::tank::room_lines;
use catchcup::report::wire::trends as wire;
use catchcup::trends::tank_trend::{MeasureTrend, TankTrend, tank_trend};

use super::{house, ladder_of, question, sale_rung, write};
use crate::cli::book::Desk;
use crate::cli::output::Out;
use crate::cli::trend_args::RoomArgs;

/// Answers, and draws where asked.
///
/// # Errors
/// Where the book or the house's files can't be read, or the picture can't be written.
pub fn run(args: &RoomArgs, out: &mut Out) -> Result<bool> {
    let desk = Desk::new(&args.desk)?;
    let book = desk.open()?;
    let sale = sale_rung(args.sale_rung, &desk);
    let house = house(&book, sale, &desk)?;
    let generations = book.generations()?;
    let mut found: Vec<(String, Option<String>, TankTrend)> = Vec::new();
    for tank in book.tanks()?.into_iter().filter(|t| t.retired.is_none()) {
        let scoops = book.measures_of_tank(&tank.code)?;
        if scoops.is_empty() {
            continue;
        }
        let own: Vec<&Generation> = generations.iter().filter(|g| g.tank == tank.code).collect();
        let ladder = ladder_of(&book, tank.line.as_deref(), &desk)?;
        let question = question(&house, &[args.measure], &own, ladder.as_ref());
        found.push((tank.code, tank.line, tank_trend(&scoops, &question)));
    }
    let titled: Vec<(String, &MeasureTrend)> = found
        .iter()
        .filter_map(|(tank, line, trend)| {
            let line = line.as_ref().map_or(String::new(), |l| format!(" {l}"));
            Some((format!("{tank}{line}"), trend.measures.first()?))
        })
        .collect();
    if let Some(path) = &args.plot {
        let tanks: Vec<RoomTank<'_>> = titled
            .iter()
            .map(|(title, trend)| RoomTank {
                title: title.clone(),
                trend,
            })
            .collect();
        write(path, &room_svg(&tanks, &name(args.measure, sale)))?;
    }
    let objects = found
        .iter()
        .map(|(tank, line, trend)| wire::trend(trend, Some(tank), line.as_deref(), sale));
    desk.answer(out, objects, || room_lines(&titled, sale))?;
    Ok(true)
}
