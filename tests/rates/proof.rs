//! How often statements are supported that are just false, and that are true, against simulated tanks.

use catchcup::ladder::Rung;
use catchcup::measures::calibration::{Row, Rows, fitted, spread};
use catchcup::proof::Plan;
use catchcup::proof::boundary::{Null, needed};
use catchcup::proof::count::weight;
use rayon::prelude::*;
use statrs::distribution::{ContinuousCDF, Normal};

use crate::dice::Normal as Dice;

/// Marsaglia and Tsang's method; shapes below 1 by the usual power of a uniform number.
fn gamma(dice: &mut Dice, shape: f64) -> f64 {
    if shape < 1.0 {
        return gamma(dice, shape + 1.0) * dice.uniform().max(1e-300).powf(1.0 / shape);
    }
    let d = shape - 1.0 / 3.0;
    let c = 1.0 / (9.0 * d).sqrt();
    loop {
        let x = dice.next();
        let v = (1.0 + c * x).powi(3);
        if v > 0.0 && dice.uniform().ln() < 0.5 * x * x + d - d * v + d * v.ln() {
            return d * v;
        }
    }
}

/// The share that a scoop is drawn from: beta about `share` with correlation `icc`.
fn scoop_share(dice: &mut Dice, share: f64, icc: f64) -> f64 {
    if icc <= 0.0 {
        return share;
    }
    let sum = (1.0 - icc) / icc;
    let (a, b) = (gamma(dice, share * sum), gamma(dice, (1.0 - share) * sum));
    a / (a + b)
}

/// Errors of coverage readings on rendered scenes, with the uncertainty stated for each by weights fitted without its photos.
struct Errors(Vec<(f64, f64, f64)>);

impl Errors {
    fn read() -> Self {
        let path = concat!(
            env!("CARGO_MANIFEST_DIR"),
            "/tests/data/uncertainty/readings.csv"
        );
        let text = std::fs::read_to_string(path).expect("readings");
        let rows = Rows::parse(&text).expect("rows").coverage;
        let mut groups: Vec<&str> = rows.iter().map(|r| r.group.as_str()).collect();
        groups.dedup();
        let mut all = Vec::new();
        for group in groups {
            let others: Vec<&Row> = rows.iter().filter(|r| r.group != group).collect();
            let weights = fitted(&others).expect("weights");
            let own = rows.iter().filter(|r| r.group == group);
            all.extend(own.map(|r| (r.coverage, r.error, spread(r, &weights))));
        }
        assert!(all.len() > 100);
        Self(all)
    }

    /// What an animal of this coverage counts, by the chance to meet the limit that is read from it: the error of a random animal of about as
    /// much coverage, and the program's own rule for the chance.
    fn chance(&self, coverage: f64, limit: f64, dice: &mut Dice) -> f64 {
        loop {
            let at = (dice.uniform() * self.0.len() as f64) as usize;
            let (true_one, error, stated) = self.0[at];
            if (true_one - coverage).abs() > 0.15 {
                continue;
            }
            let read = (coverage + error).clamp(0.0, 1.0);
            let normal = Normal::new(read, stated.max(1e-6)).expect("a spread");
            let chance = 1.0 - normal.cdf(limit);
            // Too close to call by the built-in ladders' own limit.
            return weight(chance, (0.25..=0.75).contains(&chance));
        }
    }
}

/// Coverage asked for by the built-in red ladder's G4.
const LIMIT: f64 = 0.85;
/// Spread of coverage between animals of a tank (the invented house's; no figure for this trade was found).
const BETWEEN: f64 = 0.10;

/// A tank: true share at the limit or above, correlation within scoops, and whether readings err.
#[derive(Clone, Copy)]
struct Tank {
    share: f64,
    icc: f64,
    errs: bool,
}

impl Tank {
    /// Sum of the chances of a scoop of `n`.
    fn scoop(&self, n: u32, errors: &Errors, dice: &mut Dice) -> f64 {
        let share = scoop_share(dice, self.share, self.icc);
        let z = Normal::standard();
        let shift = z.inverse_cdf(self.share);
        (0..n)
            .map(|_| {
                let meets = dice.uniform() < share;
                if !self.errs {
                    return if meets { 1.0 } else { 0.0 };
                }
                // Coverage is normal about LIMIT + shift * BETWEEN, given on which side of the limit it lies.
                let below = 1.0 - self.share;
                let u = dice.uniform();
                let p = if meets {
                    below + u * self.share
                } else {
                    u * below
                };
                let coverage = LIMIT + BETWEEN * (shift + z.inverse_cdf(p.clamp(1e-9, 1.0 - 1e-9)));
                errors.chance(coverage.clamp(0.0, 1.0), LIMIT, dice)
            })
            .sum()
    }
}

const RUNS: u64 = 5000;

/// Shares of runs in which "at least `wanted`" was supported by each look, and the mean number of animals netted.
fn supported(
    wanted: f64,
    sizes: &[u32],
    plan_icc: f64,
    tank: Tank,
    errors: &Errors,
) -> (Vec<f64>, f64) {
    let null = Null {
        share: wanted,
        icc: plan_icc,
        lot: None,
    };
    let planned = sizes.iter().sum();
    let needs = needed(sizes, planned, &null, 0.05);
    let at: Vec<usize> = (0..RUNS)
        .into_par_iter()
        .map(|run| {
            let mut dice = Dice(run.wrapping_mul(0x2545_F491_4F6C_DD1D) ^ 7);
            let mut sum = 0.0;
            sizes
                .iter()
                .zip(&needs)
                .position(|(&n, &need)| {
                    sum += tank.scoop(n, errors, &mut dice);
                    sum + 1e-6 >= f64::from(need)
                })
                .unwrap_or(sizes.len())
        })
        .collect();
    let by = |look: usize| at.iter().filter(|a| **a <= look).count() as f64 / RUNS as f64;
    let animals: u64 = at
        .iter()
        .map(|a| sizes.iter().take(a + 1).map(|n| u64::from(*n)).sum::<u64>())
        .sum();
    (
        (0..sizes.len()).map(by).collect(),
        animals as f64 / RUNS as f64,
    )
}

/// 99 % limit of what 5000 runs of a true 5 % may show.
fn most(rate: f64) -> f64 {
    rate + 2.326 * (rate * (1.0 - rate) / RUNS as f64).sqrt()
}

/// False statements at the boundary: at most 5 %, looked at once or ten times, with and without errors of measurement.
#[test]
#[ignore = "5000 runs for each case; release mode"]
fn false_statements_are_rare() {
    let errors = Errors::read();
    let ten = [20; 10];
    let mut faults = Vec::new();
    for wanted in [0.5, 0.8, 0.9] {
        for icc in [0.0, 0.05, 0.1] {
            for errs in [false, true] {
                for sizes in [
                    &ten[..],
                    &[60][..],
                    &[17, 23, 20, 9, 20, 31, 20, 20, 20, 20],
                ] {
                    let tank = Tank {
                        share: wanted,
                        icc,
                        errs,
                    };
                    let (by_look, _) = supported(wanted, sizes, icc, tank, &errors);
                    let rate = by_look[by_look.len() - 1];
                    println!(
                        "wanted {wanted}, icc {icc}, errors {errs}, {} looks: {:.2} %",
                        sizes.len(),
                        100.0 * rate
                    );
                    if rate > most(0.05) {
                        faults.push(format!("{wanted} {icc} {errs} {}: {rate}", sizes.len()));
                    }
                }
            }
        }
    }
    assert!(faults.is_empty(), "{faults:#?}");
}

/// True statements are found: "80 %" with 95 % within five scoops of 20 at least 85 times in 100, with 90 % within ten at least
/// 80 times, animals of a scoop alike by the usual 0.05; and what more alike animals and errors of measurement make of it.
#[test]
#[ignore = "5000 runs for each case; release mode"]
fn true_statements_are_found() {
    let errors = Errors::read();
    let ten = [20; 10];
    let mut faults = Vec::new();
    for icc in [0.0, 0.05, 0.1] {
        for errs in [false, true] {
            for (share, look, least) in [(0.95, 4, 0.85), (0.90, 9, 0.80)] {
                let tank = Tank { share, icc, errs };
                let (by_look, animals) = supported(0.8, &ten, icc, tank, &errors);
                println!(
                    "80 % wanted, {share} true, icc {icc}, errors {errs}: {:.3} by scoop {}, {animals:.0} animals on average",
                    by_look[look],
                    look + 1
                );
                if icc <= 0.05 && !errs && by_look[look] < least {
                    faults.push(format!("{share} {icc} {errs}: {}", by_look[look]));
                }
            }
        }
    }
    assert!(faults.is_empty(), "{faults:#?}");
}

/// The prospects that a plan tells are those that come.
#[test]
#[ignore = "5000 runs for each case; release mode"]
fn prospects_are_as_told() {
    let errors = Errors(vec![(0.9, 0.0, 0.01)]);
    let plan = Plan {
        rung: Rung::BEST,
        permille: 800,
        confidence_permille: 950,
        looks: 10,
        per_look: 20,
        icc: 0.05,
        lot: None,
        tank: None,
        declared: None,
    };
    for truth in [0.85, 0.9, 0.95] {
        let told = plan.prospect(truth);
        let tank = Tank {
            share: truth,
            icc: 0.05,
            errs: false,
        };
        let (by_look, animals) = supported(0.8, &[20; 10], 0.05, tank, &errors);
        for (a, b) in told.by_look.iter().zip(&by_look) {
            assert!(
                (a - b).abs() < 3.0 * (0.25 / RUNS as f64).sqrt(),
                "{truth}: {a} {b}"
            );
        }
        assert!(
            (told.expected_animals - animals).abs() < 3.0,
            "{truth}: {} {animals}",
            told.expected_animals
        );
    }
}
