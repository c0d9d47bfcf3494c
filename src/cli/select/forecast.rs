//! `catchcup forecast`: what the next generation should gain, and what it costs.

use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;

use anyhow::Result;
use catchcup::book::{Book, Generation, SortingEntry};
use catchcup::error::Error;
use catchcup::ladder::Ladder;
use catchcup::measures::Sex;
use catchcup::report::plot::{Trade, trade_svg};
use catchcup::report::selection::forecast::{self as text, Forecast};
use catchcup::report::wire::selection as wire;
use catchcup::scoop::PastScoop;
use catchcup::selection::forecast::{
    PLAUSIBLE, SexPlan, WITH_SIZE, above_middle, correlated_response, differential, response,
};
use catchcup::selection::inbreeding::{
    accumulated, effective_size, generations_until, harmonic_mean, rate,
};
use catchcup::selection::realised::{Realised, Step, TooLittle, realised};
use catchcup::selection::sorting::begin::earlier_animals;
use catchcup::selection::sorting::outcome::outcome;
use catchcup::stats;

use super::tank_and_ladder;
use crate::cli::book::Desk;
use crate::cli::house::read_text;
use crate::cli::output::Out;
use crate::cli::select_args::{ForecastArgs, wanted};

/// Inbreeding above the founders' from which fresh blood is advised: that of young of half sibs (house rule; signs of
/// depression count more).
const OUTCROSS_FROM: f64 = 0.125;
/// So many more males are drawn in the trade of gain against inbreeding.
const MOST_MALES: usize = 40;

/// Runs the command.
///
/// # Errors
/// Where the book can't be opened, the tank is unknown or holds fewer animals than are to be kept, or the output can't be
/// written.
pub fn run(args: &ForecastArgs, out: &mut Out) -> Result<bool> {
    let desk = Desk::new(&args.desk)?;
    let book = desk.open()?;
    let (tank, ladder) = tank_and_ladder(&book, &args.tank, &desk)?;
    let past = book.history_of_tank(&tank.code)?;
    let keep = wanted(&args.keep);
    let there = sexes_there(&past, args.animals as usize);
    let plans = [0, 1].map(|sex| SexPlan {
        there: there[sex],
        keep: keep[sex],
        sd: 1.0,
    });
    let (Some(females), Some(males)) = (differential(&plans[0]), differential(&plans[1])) else {
        return Err(too_few(keep, there).into());
    };
    let generations = book.generations()?;
    let line = tank.line.clone().unwrap_or_default();
    let steps = match &args.table {
        Some(path) => read_steps(path)?,
        None => own_steps(&book, &generations, &line)?,
    };
    let found = realised(&steps.0, steps.1, 0.0);
    let h2 = heritabilities(&found);
    let gains: Vec<text::Gain> = h2.iter().map(|h2| gain(*h2, females, males)).collect();
    let middle = (females + males) / 2.0;
    let size = |h2: f64, r: f64| correlated_response(middle, h2, h2, r);
    let least = size(PLAUSIBLE[0], WITH_SIZE[0]);
    let most = size(PLAUSIBLE[2], WITH_SIZE[1]);
    let ne = effective_size(keep[1] as f64, keep[0] as f64);
    let more = effective_size(keep[1] as f64 + 1.0, keep[0] as f64);
    let sizes = past_sizes(&generations, &tank.code);
    let so_far = accumulated(&sizes);
    let told = Forecast {
        tank: tank.code.clone(),
        keep,
        there,
        intensity: [females, males],
        coverage_sd: coverage_sd(&past, &ladder),
        gains,
        size: (least, most),
        longer: (above_middle(least), above_middle(most)),
        realised: found,
        effective_size: ne,
        rate: rate(ne),
        one_more_male: (more, rate(more)),
        harmonic: harmonic_mean(&sizes),
        past: sizes,
        accumulated: so_far,
        outcross_in: generations_until(OUTCROSS_FROM, so_far, ne),
        limit: OUTCROSS_FROM,
        sources: sources(&book, &generations, &tank.code, &line)?,
    };
    desk.answer(out, [wire::forecast(&told)], || {
        text::forecast(&told, args.detail)
    })?;
    if let Some(path) = &args.plot {
        let h2 = h2.get(h2.len() / 2).copied().unwrap_or(PLAUSIBLE[1]);
        let picture = trade_svg(
            &format!(
                "Tank {}: {} females and more or fewer males",
                tank.code, keep[0]
            ),
            &trades(there, keep, females, h2),
        );
        crate::cli::trends::write(path, &picture)?;
        if !desk.json() {
            out.line(&format!("Picture: {}", path.display()))?;
        }
    }
    Ok(true)
}

fn gain(h2: f64, females: f64, males: f64) -> text::Gain {
    let sd = response(h2, females, males);
    text::Gain {
        h2,
        sd,
        better: above_middle(sd),
    }
}

/// Heritabilities for the forecast: the house's own range where its generations tell it from zero, else plausible ones.
pub fn heritabilities(found: &Result<Realised, TooLittle>) -> Vec<f64> {
    match found {
        Ok(own) if own.is_told_from_zero() && own.value > 0.0 => {
            [own.interval.low, own.value, own.interval.high]
                .map(|h2| h2.clamp(0.02, 0.95))
                .to_vec()
        }
        _ => PLAUSIBLE.to_vec(),
    }
}

/// Females and males among so many animals, by their share in the scoops; half each where none is known.
fn sexes_there(past: &[PastScoop], animals: usize) -> [usize; 2] {
    let seen = earlier_animals(past);
    let count = |sex: Sex| seen.iter().filter(|a| a.sex == sex).count() as f64;
    let (f, m) = (count(Sex::Female) + 1.0, count(Sex::Male) + 1.0);
    let females = (animals as f64 * f / (f + m)).round() as usize;
    [females, animals - females.min(animals)]
}

fn too_few(keep: [usize; 2], there: [usize; 2]) -> Error {
    Error::book(
        "too_few_animals",
        format!(
            "{} females and {} males can't be kept of {} and {}",
            keep[0], keep[1], there[0], there[1]
        ),
        "keep fewer, or say how many animals there are: --animals N",
    )
}

/// Standard deviation of coverage between females of the tank, where the line is judged by coverage alone: of several measures
/// together it can't be said how much of a gain is coverage.
fn coverage_sd(past: &[PastScoop], ladder: &Ladder) -> Option<f64> {
    let weights = &ladder.wish.weights;
    let weighed = weights.len() == 1 && weights[0].0.word() == "coverage";
    let values: Vec<f64> = earlier_animals(past)
        .into_iter()
        .filter(|animal| animal.sex == Sex::Female)
        .filter_map(|animal| Some(animal.coverage?.value))
        .collect();
    stats::standard_deviation(&values).filter(|_| weighed && values.len() >= 8)
}

/// The line's latest unbroken run of generations for which a sorting recorded what was selected, in worth by the yardstick
/// of the first of them, with the standard deviation between animals.
fn own_steps(
    book: &Book,
    generations: &[Generation],
    line: &str,
) -> Result<(Vec<Step>, f64), Error> {
    let mut sorted: BTreeMap<u32, SortingEntry> = BTreeMap::new();
    let tanks: BTreeSet<&str> = generations
        .iter()
        .filter(|g| g.line == line)
        .map(|g| g.tank.as_str())
        .collect();
    for tank in tanks {
        for entry in book
            .sortings(tank)?
            .into_iter()
            .filter(|e| e.ended.is_some())
        {
            let day = entry.since.date();
            let there = generations
                .iter()
                .filter(|g| g.tank == tank && g.since <= day);
            // The latest sorting of a generation is the one whose animals became parents.
            if let Some(now) = there
                .max_by_key(|g| (g.since, g.number))
                .filter(|g| g.line == line)
            {
                sorted.insert(now.number, entry);
            }
        }
    }
    let mut run: Vec<(u32, SortingEntry)> = Vec::new();
    for (number, entry) in sorted {
        if run.last().is_some_and(|(before, _)| before + 1 != number) {
            run.clear();
        }
        run.push((number, entry));
    }
    let mut spread = 1.0;
    let mut steps = Vec::new();
    for (_, entry) in &run {
        let found = outcome(&entry.decided());
        if steps.is_empty() {
            spread = stats::standard_deviation(&found.all[0]).unwrap_or(1.0);
        }
        steps.extend(found.step(&entry.stick, &run[0].1.stick));
    }
    Ok((steps, spread))
}

/// A table of generations: mean, sd, measured, differential, females, males.
fn read_steps(path: &Path) -> Result<(Vec<Step>, f64)> {
    let text = read_text(path)?;
    let wrong = |line: usize, what: &str| {
        Error::rules(
            "generations_table",
            format!("{}, line {line}: {what}", path.display()),
            "write a first line mean,sd,measured,differential,females,males and a line of numbers for each generation, the founders first",
        )
    };
    let mut lines = text
        .lines()
        .enumerate()
        .filter(|(_, l)| !l.trim().is_empty() && !l.starts_with('#'));
    let head: Vec<&str> = lines
        .next()
        .map(|(_, l)| l.split(',').map(str::trim).collect())
        .unwrap_or_default();
    let column = |name: &str| head.iter().position(|h| *h == name);
    let names = ["mean", "sd", "measured", "differential", "females", "males"];
    let places: Option<Vec<usize>> = names.iter().map(|name| column(name)).collect();
    let places = places.ok_or_else(|| wrong(1, "a column is missing"))?;
    let (mut steps, mut sds) = (Vec::new(), Vec::new());
    for (at, line) in lines {
        let cells: Vec<&str> = line.split(',').map(str::trim).collect();
        let numbers: Option<Vec<f64>> = places
            .iter()
            .map(|p| cells.get(*p)?.parse().ok().filter(|v: &f64| v.is_finite()))
            .collect();
        let n = numbers.ok_or_else(|| wrong(at + 1, "a cell is no number"))?;
        if n[1] <= 0.0 || n[2] < 1.0 || n[4] < 1.0 || n[5] < 1.0 {
            return Err(wrong(at + 1, "sd, measured, females and males must be above 0").into());
        }
        sds.push(n[1]);
        steps.push(Step {
            mean: n[0],
            measured: n[2] as usize,
            differential: n[3],
            effective_size: effective_size(n[5], n[4]),
        });
    }
    let sd = stats::mean(&sds).ok_or_else(|| wrong(2, "there is no generation"))?;
    Ok((steps, sd))
}

/// Effective sizes of the generations behind a tank, earliest first, as far as females and males are on record: its own and,
/// before them, those of the tank it came from.
pub fn past_sizes(generations: &[Generation], tank: &str) -> Vec<f64> {
    let mut found: Vec<&Generation> = Vec::new();
    let mut next = generations
        .iter()
        .filter(|g| g.tank == tank)
        .max_by_key(|g| g.number);
    while let Some(now) = next {
        found.push(now);
        let earlier = |parent: &str| {
            let of = generations
                .iter()
                .filter(|g| g.tank == parent && g.line == now.line);
            of.filter(|g| g.number < now.number)
                .max_by_key(|g| g.number)
        };
        let parents: Vec<&str> = if now.parents.is_empty() {
            vec![tank]
        } else {
            now.parents.iter().map(String::as_str).collect()
        };
        next = parents
            .into_iter()
            .filter_map(earlier)
            .max_by_key(|g| g.number);
    }
    found
        .iter()
        .rev()
        .filter_map(|g| Some(effective_size(f64::from(g.males?), f64::from(g.females?))))
        .filter(|ne| *ne > 0.0)
        .collect()
}

/// Other tanks of the line, with their generation and since when they live apart.
fn sources(
    book: &Book,
    generations: &[Generation],
    tank: &str,
    line: &str,
) -> Result<Vec<String>, Error> {
    let others = book.tanks()?;
    let others = others.iter().filter(|other| {
        other.retired.is_none() && other.code != tank && other.line.as_deref() == Some(line)
    });
    Ok(others
        .map(|other| {
            let own = generations.iter().filter(|g| g.tank == other.code);
            let apart = own.clone().min_by_key(|g| g.since).map(|g| g.since);
            match (own.max_by_key(|g| g.number), apart) {
                (Some(now), Some(since)) => format!(
                    "{} ({}, a tank of its own since {since})",
                    other.code,
                    catchcup::book::lines::generation_name(now.number)
                ),
                _ => other.code.clone(),
            }
        })
        .collect())
}

fn trades(there: [usize; 2], keep: [usize; 2], females: f64, h2: f64) -> Vec<Trade> {
    (1..=MOST_MALES.min(there[1]).max(keep[1]))
        .filter_map(|count| {
            let males = differential(&SexPlan {
                there: there[1],
                keep: count,
                sd: 1.0,
            })?;
            Some(Trade {
                males: count,
                rate: rate(effective_size(count as f64, keep[0] as f64)),
                better: gain(h2, females, males).better,
                chosen: count == keep[1],
            })
        })
        .collect()
}
