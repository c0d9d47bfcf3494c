//! `catchcup plan`: coming generations of a line under one or two policies.

use anyhow::Result;
use catchcup::book::{Book, Generation};
use catchcup::error::Error;
use catchcup::ladder::Rung;
use catchcup::report::plot::plan_svg;
use catchcup::report::selection::forecast::{self as text, PlanTold, Planned};
use catchcup::report::wire::selection as wire;
use catchcup::scoop::{KeptAnimal, PastScoop};
use catchcup::selection::forecast::PLAUSIBLE;
use catchcup::selection::inbreeding::accumulated;
use catchcup::selection::plan::{Policy, Runs, Stock, plan};
use catchcup::selection::sorting::begin::earlier_animals;
use catchcup::selection::worth::Yardstick;
use catchcup::stats;

use super::forecast::past_sizes;
use crate::cli::book::Desk;
use crate::cli::book::rooms::house_shelf;
use crate::cli::output::Out;
use crate::cli::select_args::{PlanArgs, Wanted, wanted};

/// Days from one generation to the next where the book shows fewer than two: three to five months are usual (common
/// practice, no source).
const GENERATION_DAYS: f64 = 120.0;
/// Fewest animals on a rung from which present shares are taken (house rule).
const FEWEST: usize = 30;
/// Least share that is reckoned with for a rung, so that one not seen among few may still come.
const UNSEEN: f64 = 0.5;

/// Runs the command.
///
/// # Errors
/// Where the book can't be opened, the line is unknown or has too few animals on record, or the output can't be written.
pub fn run(args: &PlanArgs, out: &mut Out) -> Result<bool> {
    let desk = Desk::new(&args.desk)?;
    let book = desk.open()?;
    let line = book.line(&args.line)?;
    let past = book.history_of_line(&line.code)?;
    let animals = earlier_animals(&past);
    let (rungs, judged) = shares(&animals);
    if judged < FEWEST {
        return Err(Error::book(
            "too_few_animals",
            format!("line {} has {judged} animals on a rung in its latest generation, {FEWEST} are needed", line.code),
            "file more scoops of it: catchcup scoop add TANK PHOTO",
        )
        .into());
    }
    let ladder = house_shelf(&desk.house)?.ladder(&line.ladder);
    let error = ladder.map_or(0.1, |ladder| {
        reading_error(&Yardstick::new(&ladder.wish, &animals), &animals)
    });
    let generations = book.generations()?;
    let told = told(
        args,
        &desk,
        &book,
        &line.code,
        Present {
            rungs,
            judged,
            error,
            past: &past,
            generations: &generations,
        },
    );
    desk.answer(out, [wire::plan(&told)], || text::plan(&told))?;
    if let Some(path) = &args.plot {
        crate::cli::trends::write(path, &plan_svg(&told))?;
        if !desk.json() {
            out.line(&format!("Picture: {}", path.display()))?;
        }
    }
    Ok(true)
}

/// The line as it is.
struct Present<'a> {
    rungs: [f64; 6],
    judged: usize,
    error: f64,
    past: &'a [PastScoop],
    generations: &'a [Generation],
}

fn told(args: &PlanArgs, desk: &Desk, _book: &Book, line: &str, now: Present<'_>) -> PlanTold {
    let policies: Vec<&[Wanted]> = [args.keep.as_slice(), args.or.as_slice()]
        .into_iter()
        .filter(|said| !said.is_empty())
        .collect();
    // Two policies are told at one heritability, so that they can be compared; one at three, so that its range is seen.
    let inherited = match (args.inherited, policies.len()) {
        (Some(h2), _) => vec![h2.clamp(0.05, 0.95)],
        (None, 1) => PLAUSIBLE.to_vec(),
        (None, _) => vec![PLAUSIBLE[1]],
    };
    let tank = now
        .past
        .last()
        .map(|scoop| scoop.tank.clone())
        .unwrap_or_default();
    let inbreeding = accumulated(&past_sizes(now.generations, &tank));
    let mut planned = Vec::new();
    for said in policies {
        for h2 in &inherited {
            let stock = Stock {
                animals: args.animals as usize,
                heritability: *h2,
                reading_error: now.error.min(1.0 - h2),
                rungs: now.rungs,
                inbreeding,
            };
            let policy = Policy {
                keep: wanted(said).map(|count| count.max(1)),
                measured: (args.measured / 100.0).min(1.0),
            };
            let runs = Runs {
                replicates: args.times as usize,
                generations: args.generations as usize,
                seed: args.seed,
            };
            planned.push(Planned {
                keep: policy.keep,
                heritability: *h2,
                coming: plan(&stock, &policy, &runs),
            });
        }
    }
    PlanTold {
        line: line.to_string(),
        policies: planned,
        sale_rung: desk
            .house
            .sale_rung
            .or(Rung::from_index(4))
            .unwrap_or(Rung::BEST),
        generation_days: generation_days(now.generations, line),
        times: args.times,
        animals: args.animals,
        judged: now.judged,
        reading_error: now.error,
    }
}

/// Shares of the rungs today, and the animals they were taken from. A rung on which none was seen gets half an animal.
fn shares(animals: &[&KeptAnimal]) -> ([f64; 6], usize) {
    let mut counts = [UNSEEN; 6];
    let mut judged = 0;
    for rung in animals.iter().filter_map(|animal| animal.rung) {
        counts[rung.index()] += 1.0;
        judged += 1;
    }
    let all: f64 = counts.iter().sum();
    (counts.map(|count| count / all), judged)
}

/// Share of the differences between readings that is error of the single reading: what the readings say of themselves.
fn reading_error(stick: &Yardstick, animals: &[&KeptAnimal]) -> f64 {
    let read: Vec<_> = animals
        .iter()
        .filter_map(|animal| stick.worth(animal).ok())
        .collect();
    let values: Vec<f64> = read.iter().map(|worth| worth.value).collect();
    let errors: Vec<f64> = read.iter().map(|worth| worth.uncertainty.powi(2)).collect();
    let all = stats::standard_deviation(&values).map_or(0.0, |sd| sd * sd);
    let error = stats::mean(&errors).unwrap_or(0.0);
    if all > 0.0 {
        (error / all).clamp(0.0, 0.9)
    } else {
        0.0
    }
}

/// Median days between generations of the line's tanks.
fn generation_days(generations: &[Generation], line: &str) -> f64 {
    let mut days: Vec<f64> = Vec::new();
    for one in generations.iter().filter(|g| g.line == line) {
        let next = generations
            .iter()
            .find(|g| g.tank == one.tank && g.line == one.line && g.number == one.number + 1);
        days.extend(next.map(|next| f64::from((next.since - one.since).get_days())));
    }
    stats::median(&days)
        .filter(|d| *d > 20.0)
        .unwrap_or(GENERATION_DAYS)
}
