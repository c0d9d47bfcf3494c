//! `catchcup howmany`: what a statement takes, and how a declared one stands.

use anyhow::Result;
use catchcup::book::Book;
use catchcup::error::Error;
use catchcup::ladder::Rung;
use catchcup::proof::plan::{SCOOPS_FOR_ICC, USUAL_ICC, truths};
use catchcup::proof::state::of_scoops;
use catchcup::proof::weakness::{Limits, Weakness, weaknesses};
use catchcup::proof::{Answer, Plan, count};
use catchcup::report::proof::answers;
pub use catchcup::report::proof::answers::holds;
use catchcup::report::wire::proof as wire;
use catchcup::scoop::PastScoop;
use catchcup::stats::beta_binomial::icc_of;

use super::book::Desk;
use super::grade::SALE_RUNG;
use super::house::House;
use super::output::Out;
use super::plans;
use super::proof_args::{HowmanyArgs, Wanted};

/// Tells a plan, declares it, or says how a declared one stands; the exit code.
///
/// # Errors
/// Where the book can't be opened, there is no such tank, or no plan was declared.
pub fn run(args: &HowmanyArgs, out: &mut Out) -> Result<u8> {
    let desk = Desk::new(&args.desk)?;
    if let (Some(tank), None) = (&args.tank, args.wanted.at_least) {
        return stand(tank, &desk, out);
    }
    let Some(permille) = args.wanted.at_least else {
        return Err(Error::rules(
            "no_share",
            "no share was named",
            "say it: --rung G4 --at-least 80",
        )
        .into());
    };
    let mut plan = plan_of(&args.wanted, permille, &desk.house);
    if let Some(code) = &args.tank {
        let book = desk.open()?;
        let tank = book.tank(code)?;
        plan.icc = args
            .wanted
            .alike
            .unwrap_or(own_icc(&book.history_of_tank(code)?, plan.rung));
        plan.tank = Some(tank.code);
    }
    if args.declare {
        plan.declared = Some(desk.stamp.at);
        plans::declare(&desk.path, &plan)?;
    }
    let prospects: Vec<_> = truths(plan.share())
        .into_iter()
        .map(|t| plan.prospect(t))
        .collect();
    desk.answer(out, [wire::plan(&plan, &prospects)], || {
        answers::plan(&plan, &prospects, args.declare, args.detail)
    })?;
    Ok(0)
}

fn plan_of(wanted: &Wanted, permille: u32, house: &House) -> Plan {
    Plan {
        rung: sale_rung(wanted.rung, house),
        permille,
        confidence_permille: wanted.confidence,
        looks: wanted.looks,
        per_look: wanted.scoop,
        icc: wanted.alike.unwrap_or(USUAL_ICC),
        lot: wanted.count,
        tank: None,
        declared: None,
    }
}

/// The rung said, else the one from which the house sells.
pub fn sale_rung(said: Option<Rung>, house: &House) -> Rung {
    let usual = Rung::from_word(SALE_RUNG).unwrap_or(Rung::BEST);
    said.or(house.sale_rung).unwrap_or(usual)
}

/// How alike animals of one scoop are in this tank, from ten scoops on.
pub fn own_icc(scoops: &[PastScoop], rung: Rung) -> f64 {
    let counts: Vec<(u64, u64)> = scoops
        .iter()
        .filter(|s| s.second_of.is_none())
        .map(|s| count::count(&s.animals, rung))
        .filter(|c| c.judged > 1)
        .map(|c| (u64::from(c.plain), u64::from(c.judged)))
        .collect();
    if counts.len() < SCOOPS_FOR_ICC {
        return USUAL_ICC;
    }
    // All animals alike says nothing; the usual figure stands then.
    icc_of(&counts).unwrap_or(USUAL_ICC).min(0.5)
}

fn stand(code: &str, desk: &Desk, out: &mut Out) -> Result<u8> {
    let book = desk.open()?;
    let (plan, scoops, weak) = declared(&book, code, desk)?;
    let (counted, found) = of_scoops(&plan, &scoops, &weak);
    desk.answer(out, [wire::standing(&plan, &found, &weak)], || {
        answers::standing(&plan, &counted, &found, &weak)
    })?;
    Ok(if found.answer == Answer::Supported {
        0
    } else {
        3
    })
}

/// The tank's declared plan, the scoops that count for it, and what speaks against a statement now.
///
/// # Errors
/// Where there is no such tank or plan.
pub fn declared(
    book: &Book,
    code: &str,
    desk: &Desk,
) -> Result<(Plan, Vec<PastScoop>, Vec<Weakness>)> {
    let state = book.tank_state(code, desk.stamp.at.date(), &desk.house.holds)?;
    let tank = state.tank.code.clone();
    let plan = plans::plans(&desk.path)?.remove(&tank.to_lowercase()).ok_or_else(|| {
        Error::rules(
            "no_plan",
            format!("no plan was declared for tank {tank}"),
            format!("declare it before netting: catchcup howmany {tank} --rung G4 --at-least 80 --declare"),
        )
    })?;
    let scoops: Vec<PastScoop> = book
        .history_of_tank(&tank)?
        .into_iter()
        .filter(|s| s.second_of.is_none() && plan.declared.is_none_or(|at| s.at >= at))
        .collect();
    let mut weak = holds(&state);
    if !scoops.is_empty() {
        weak.extend(weaknesses(&scoops, desk.stamp.at, &Limits::default()));
    }
    Ok((plan, scoops, weak))
}
