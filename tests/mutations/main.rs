//! What comes from outside, changed at random: photos, capture data, colour profiles, rules, records.
//!
//! Nothing may panic, take two seconds, or take memory beyond what the limits on photos allow. Runs are seeded; changes know
//! the files' parts, entries and words, and a case that gives a new kind of answer becomes a seed for more.
//!
//! A short run is part of the ordinary tests. The long one:
//! `CATCHCUP_RUNS=20000000 cargo test --release --locked --test mutations -- --ignored --nocapture`
//! (`CATCHCUP_SEED`, `CATCHCUP_TARGET` and `CATCHCUP_THREADS` where wanted; cases that fail are kept in the folder `mutations` of cargo's scratch folder).

mod bytes;
mod draw;
mod entries;
mod paint;
mod parts;
mod runner;
mod seeds;
mod targets;
mod tokens;

#[path = "../it/ladder_animals.rs"]
#[allow(dead_code)]
mod ladder_animals;
#[path = "../it/support/picture.rs"]
mod picture;
#[path = "../it/record_scoop.rs"]
#[allow(dead_code)]
mod record_scoop;

use std::time::Instant;

use runner::Tally;
use targets::{Target, targets};

/// The whole of [`Target::share`].
const SHARES: usize = 100_000;
/// Runs of the ordinary test.
const SHORT: usize = 20_000;
/// Runs of the long test between two reports.
const ROUND: usize = 500_000;
/// Most memory in megabytes that any of this may take: the largest photo as bytes, three times (file's form, bytes, light).
const MOST_MB: usize = 1_500;

fn number(name: &str) -> Option<u64> {
    std::env::var(name)
        .ok()
        .map(|text| text.parse().expect(name))
}

/// Runs each target its share of `runs`, and fails with all that went wrong.
fn run_all(runs: usize, seed: u64) {
    runner::quiet();
    let only = std::env::var("CATCHCUP_TARGET").ok();
    let threads = number("CATCHCUP_THREADS").unwrap_or(2) as usize;
    let mut faults = Vec::new();
    for (index, target) in targets().iter().enumerate() {
        if only.as_ref().is_some_and(|name| name != target.name) {
            continue;
        }
        let runs = if only.is_some() {
            runs
        } else {
            (runs * target.share).div_ceil(SHARES)
        };
        let start = Instant::now();
        let tally = runner::run(target, runs, seed ^ (index as u64 + 1) << 56, threads);
        report(target, &tally, start);
        faults.extend(tally.faults.into_iter().map(|(what, (count, case))| {
            let file = runner::keep(target.name, &what, &case);
            format!("{}: {count} times {what}: {}", target.name, file.display())
        }));
    }
    let _ = std::panic::take_hook();
    assert!(faults.is_empty(), "\n{}", faults.join("\n"));
    if let Some(peak) = runner::peak_mb() {
        println!("peak {peak} MB");
        assert!(peak <= MOST_MB, "{peak} MB");
    }
}

fn report(target: &Target, tally: &Tally, start: Instant) {
    println!(
        "{:12} {:9} runs, {:5.1} % read, {:7.1} us each, longest {:.2} s, {} faults",
        target.name,
        tally.runs,
        100.0 * tally.read as f64 / tally.runs.max(1) as f64,
        start.elapsed().as_micros() as f64 / tally.runs.max(1) as f64,
        tally.longest.as_secs_f64(),
        tally.faults.values().map(|(count, _)| count).sum::<usize>(),
    );
}

#[test]
fn shares_add_up_and_seeds_are_read() {
    let targets = targets();
    assert_eq!(targets.iter().map(|t| t.share).sum::<usize>(), SHARES);
    for target in targets.iter().filter(|t| t.name != "full-limits") {
        let read = |seed: &&Vec<u8>| matches!((target.run)(seed), targets::Outcome::Read(_));
        let read = target.seeds.iter().filter(read).count();
        assert!(
            2 * read >= target.seeds.len(),
            "{}: {read} seeds are read",
            target.name
        );
    }
}

#[test]
fn changed_bytes_never_panic_or_hang() {
    run_all(SHORT, 1);
}

/// Found in ten million runs: three marks that are no code's corners, on a plane that runs to infinity.
#[test]
fn marks_without_a_code_are_no_tag() {
    let tag = targets().into_iter().find(|target| target.name == "tag");
    let strokes = [0xEA, 0x96, 0x0C, 0xAA, 0x2B, 0xAA, 0x7C, 0xF0];
    let outcome = (tag.expect("a target").run)(&strokes);
    assert!(
        matches!(outcome, targets::Outcome::Refused(_)),
        "{outcome:?}"
    );
}

#[test]
#[ignore = "about an hour; see the head of this file"]
fn changed_bytes_long_run() {
    let runs = number("CATCHCUP_RUNS").unwrap_or(1_000_000) as usize;
    let seed = number("CATCHCUP_SEED").unwrap_or(2);
    let mut done = 0;
    while done < runs {
        let round = ROUND.min(runs - done);
        run_all(round, seed.wrapping_add(done as u64));
        done += round;
        println!("{done} runs in all");
    }
}
