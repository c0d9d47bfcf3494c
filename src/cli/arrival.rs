//! `catchcup arrival`: how many of a bought-in lot to look at, and what the looks say.

use anyhow::Result;
use catchcup::error::Error;
use catchcup::proof::arrival::{Claim, Look, claim, look};
use catchcup::proof::inspection::Level;
use catchcup::proof::lot_plan::{LotPlan, lot_plan};
use catchcup::report::proof::lots as text;
use catchcup::report::wire::proof as wire;
use catchcup::scoop::KeptAnimal;
use std::collections::BTreeMap;

use super::book::Desk;
use super::howmany::sale_rung;
use super::output::Out;
use super::proof_args::ArrivalArgs;

/// Tells the plan, or what the looks since arrival say; the exit code.
///
/// # Errors
/// Where the table has no plan, or the book can't be read.
pub fn run(args: &ArrivalArgs, out: &mut Out) -> Result<u8> {
    let desk = Desk::new(&args.desk)?;
    let level = match args.level.as_str() {
        "I" => Level::Reduced,
        "III" => Level::Increased,
        _ => Level::Usual,
    };
    let plan = lot_plan(args.lot, level, args.limit).ok_or_else(|| {
        Error::rules(
            "no_plan",
            "the table has no plan for this lot and limit",
            "take another limit, or look at the whole lot",
        )
    })?;
    let limit = (f64::from(args.limit) / 1000.0).to_string();
    let (Some(tank), Some(on)) = (&args.tank, args.on) else {
        let object = wire::arrival(&limit, &plan, &[], Claim::Wait);
        desk.answer(out, [object], || text::plan(&limit, &plan))?;
        return Ok(0);
    };
    let looks = looks(tank, on, args, &plan, &desk)?;
    let claim = claim(&looks);
    let object = wire::arrival(&limit, &plan, &looks, claim);
    desk.answer(out, [object], || text::arrival(&looks, &plan, claim))?;
    Ok(if matches!(claim, Claim::Yes | Claim::TooFew) {
        3
    } else {
        0
    })
}

/// One look for each day on which the tank was netted since arrival.
fn looks(
    tank: &str,
    on: jiff::civil::Date,
    args: &ArrivalArgs,
    plan: &LotPlan,
    desk: &Desk,
) -> Result<Vec<Look>> {
    let mut days: BTreeMap<i64, Vec<KeptAnimal>> = BTreeMap::new();
    for scoop in desk.open()?.history_of_tank(tank)? {
        let day = i64::from((scoop.at.date() - on).get_days());
        if scoop.second_of.is_none() && scoop.at.date() >= on {
            days.entry(day).or_default().extend(scoop.animals);
        }
    }
    let rung = sale_rung(args.rung, &desk.house);
    Ok(days
        .iter()
        .map(|(day, animals)| look(*day, animals, rung, plan))
        .collect())
}
