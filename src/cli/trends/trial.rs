//! `catchcup trial`: two tanks side by side, or one before and after a change.

use anyhow::Result;
use catchcup::error::Error;
use catchcup::report::trend::tank::trial_lines;
use catchcup::report::wire::whole as wire;
use catchcup::scoop::PastScoop;
use catchcup::trends::Watched;
use catchcup::trends::trial::{Trial, TrialRule, trial};

use super::{house, no_scoops, sale_rung};
use crate::cli::book::Desk;
use crate::cli::output::Out;
use crate::cli::trend_args::TrialArgs;

/// Weeks before a change that stand for "before": as long as three usual trials.
const BEFORE_WEEKS: i64 = 18;

/// Answers.
///
/// # Errors
/// Where the book can't be read, or a tank was never netted.
pub fn run(args: &TrialArgs, out: &mut Out) -> Result<bool> {
    let desk = Desk::new(&args.desk)?;
    let book = desk.open()?;
    let sale = sale_rung(args.sale_rung, &desk);
    let house = house(&book, sale, &desk)?;
    let read = |code: &str| -> Result<Vec<PastScoop>> {
        let tank = book.tank(code)?;
        let scoops = book.measures_of_tank(&tank.code)?;
        if scoops.is_empty() {
            return Err(no_scoops(&format!("tank {}", tank.code)).into());
        }
        Ok(scoops)
    };
    if let Some(other) = &args.other
        && book.tank(other)?.code == book.tank(&args.tank)?.code
    {
        return Err(itself(other).into());
    }
    let (sides, names, changed) = match &args.other {
        Some(other) => {
            let since = |mut scoops: Vec<PastScoop>| {
                scoops.retain(|s| args.since.is_none_or(|day| s.at.date() >= day));
                scoops
            };
            let (mut first, mut second) = (since(read(&args.tank)?), since(read(other)?));
            same_span(&mut first, &mut second);
            ([first, second], [args.tank.clone(), other.clone()], None)
        }
        None => {
            let day = args.since.unwrap_or(desk.stamp.at.date());
            let from = day.saturating_sub(jiff::Span::new().weeks(BEFORE_WEEKS));
            let scoops = read(&args.tank)?
                .into_iter()
                .filter(|s| s.at.date() >= from);
            let (before, after): (Vec<_>, Vec<_>) = scoops.partition(|s| s.at.date() < day);
            let names = [format!("before {day}"), "after it".to_string()];
            ([before, after], names, Some(day.at(0, 0, 0, 0)))
        }
    };
    let rule = TrialRule {
        weeks: args.weeks.unwrap_or(desk.house.trial_weeks),
        worth: args.worth,
        changed,
    };
    let measures = if args.measure.is_empty() {
        vec![Watched::Coverage, Watched::SaleShare]
    } else {
        args.measure.clone()
    };
    let found: Vec<Trial> = measures
        .into_iter()
        .map(|measure| {
            trial(
                measure,
                [&sides[0], &sides[1]],
                &house.reading,
                &house.scatter,
                &rule,
            )
        })
        .collect();
    let names = [names[0].as_str(), names[1].as_str()];
    let objects = found.iter().map(|t| wire::trial(t, names));
    desk.answer(out, objects, || {
        trial_lines(&found, names, args.worth, sale)
    })?;
    Ok(true)
}

fn itself(tank: &str) -> Error {
    Error::book(
        "trial_with_itself",
        format!("tank {tank} against itself tells nothing"),
        format!(
            "name another tank, or hold {tank} before a change against after it: catchcup trial {tank} --since YYYY-MM-DD"
        ),
    )
}

/// Leaves what both tanks have in common: from the later of their first scoops on.
fn same_span(first: &mut Vec<PastScoop>, second: &mut Vec<PastScoop>) {
    let begun = first
        .first()
        .map(|s| s.at.date())
        .max(second.first().map(|s| s.at.date()));
    for side in [first, second] {
        side.retain(|s| Some(s.at.date()) >= begun);
    }
}
