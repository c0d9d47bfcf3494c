//! Stated uncertainties against errors: readings of rendered animals with truth, each group of photos left out of the fit that
//! is tried on it (and the finding fitted on other photos than those it was tried on).

use catchcup::measures::calibration::{Row, Rows, fitted, spread, weights};
use catchcup::measures::uncertain::Weights;

use crate::support::root;
use crate::support::truth::{graded, matches, sample, truth};

/// What is asked of a measure: shares of errors within one and within two standard uncertainties are checked for all, widened by
/// the binomial error; the rest stands here.
struct Asked {
    measure: &'static str,
    /// Rank correlation of the size of the error with the uncertainty, at least.
    rank: f64,
    /// Mean uncertainty over root mean square error, at most.
    ratio: f64,
}

#[rustfmt::skip]
const ASKED: [Asked; 3] = [
    Asked { measure: "coverage", rank: 0.3, ratio: 1.25 },
    Asked { measure: "opacity", rank: 0.15, ratio: 1.25 },
    Asked { measure: "length", rank: 0.3, ratio: 1.25 },
];

/// Shares of errors within one and within two standard uncertainties (a normal distribution has 0.683 and 0.954).
const WITHIN_ONE: (f64, f64) = (0.60, 0.76);
const WITHIN_TWO: (f64, f64) = (0.90, 0.99);

fn readings() -> Rows {
    let path = root().join("tests/data/uncertainty/readings.csv");
    Rows::parse(&std::fs::read_to_string(path).expect("readings")).expect("rows")
}

#[test]
fn errors_are_as_large_as_stated_on_photos_left_out() {
    let rows = readings();
    let faults: Vec<String> = ASKED
        .iter()
        .zip([&rows.coverage, &rows.opacity, &rows.length])
        .flat_map(|(asked, rows)| faults_of(asked, rows))
        .collect();
    assert!(faults.is_empty(), "{}", faults.join("\n"));
}

fn faults_of(asked: &Asked, rows: &[Row]) -> Vec<String> {
    assert!(
        rows.len() >= 100,
        "{}: {} readings",
        asked.measure,
        rows.len()
    );
    let stated = stated_left_out(rows);
    let mut faults = Vec::new();
    let groups: [(&str, &dyn Fn(f64) -> bool); 4] = [
        ("all", &|_| true),
        ("mostly clear", &|c| c < 0.3),
        ("middle", &|c| (0.3..0.7).contains(&c)),
        ("solid", &|c| c >= 0.7),
    ];
    for (name, belongs) in groups {
        let some: Vec<f64> = (rows.iter().zip(&stated))
            .filter(|(r, _)| belongs(r.coverage))
            .map(|(r, u)| r.error.abs() / u)
            .collect();
        let n = some.len() as f64;
        for (times, (low, high)) in [(1.0, WITHIN_ONE), (2.0, WITHIN_TWO)] {
            let share = some.iter().filter(|o| **o <= times).count() as f64 / n;
            let slack = |p: f64| 2.0 * (p * (1.0 - p) / n).sqrt();
            println!("{}, {name} ({n}): {share:.2} within {times}", asked.measure);
            if share < low - slack(low) || share > high + slack(high) {
                faults.push(format!(
                    "{}, {name} ({n}): {share:.2} within {times}",
                    asked.measure
                ));
            }
        }
    }
    let errors: Vec<f64> = rows.iter().map(|r| r.error.abs()).collect();
    let rank = correlation(&ranks(&errors), &ranks(&stated));
    let root_mean_square = mean(&errors.iter().map(|e| e * e).collect::<Vec<_>>()).sqrt();
    let ratio = mean(&stated) / root_mean_square;
    println!(
        "{}: rank correlation {rank:.2}, mean over rms {ratio:.2}",
        asked.measure
    );
    if rank < asked.rank || ratio > asked.ratio {
        faults.push(format!(
            "{}: rank correlation {rank:.2}, mean over rms {ratio:.2}",
            asked.measure
        ));
    }
    faults
}

/// The uncertainty of each reading by weights fitted without its group.
fn stated_left_out(rows: &[Row]) -> Vec<f64> {
    let mut stated = vec![0.0; rows.len()];
    let mut groups: Vec<&str> = rows.iter().map(|r| r.group.as_str()).collect();
    groups.sort_unstable();
    groups.dedup();
    for group in groups {
        let others: Vec<&Row> = rows.iter().filter(|r| r.group != group).collect();
        let weights = fitted(&others).expect("weights");
        for (u, r) in stated
            .iter_mut()
            .zip(rows)
            .filter(|(_, r)| r.group == group)
        {
            *u = spread(r, &weights);
        }
    }
    stated
}

#[test]
fn the_weights_in_use_are_those_of_the_readings() {
    let text = std::fs::read_to_string(root().join("src/measures/weights/uncertainty.txt"))
        .expect("weights");
    let fitted = weights(&readings()).expect("weights");
    assert_eq!(Weights::parse(&text), Weights::parse(&fitted.to_text()));
}

/// Errors of coverage on the sample images as the program reads them now, over the stated uncertainty.
#[test]
fn the_samples_bear_the_stated_uncertainty_out() {
    let names = [
        "red-clear-to-solid",
        "red-mostly-clear",
        "orange-beside-chart",
        "blue-dark-and-light",
        "mixed-banded",
    ];
    let mut off = Vec::new();
    for name in names {
        let sample = sample(name);
        for pair in &matches(graded(&sample), &truth(&sample)).pairs {
            if let Some(m) = pair.found.coverage.measured() {
                off.push((m.value - pair.true_one.coverage).abs() / m.uncertainty);
            }
        }
    }
    let within = |times: f64| off.iter().filter(|o| **o <= times).count() as f64 / off.len() as f64;
    println!(
        "{} animals: {:.2} within one, {:.2} within two",
        off.len(),
        within(1.0),
        within(2.0)
    );
    // The bounds of all readings, widened by twice the binomial error of some thirty animals.
    assert!(off.len() >= 30 && (0.45..=0.92).contains(&within(1.0)) && within(2.0) >= 0.8);
}

fn mean(values: &[f64]) -> f64 {
    values.iter().sum::<f64>() / values.len() as f64
}

/// Rank of each value; equal values share the mean of their ranks.
fn ranks(values: &[f64]) -> Vec<f64> {
    let rank = |v: f64| {
        let below = values.iter().filter(|w| **w < v).count() as f64;
        let equal = values.iter().filter(|w| **w == v).count() as f64;
        below + 0.5 * (equal - 1.0)
    };
    values.iter().map(|v| rank(*v)).collect()
}

fn correlation(p: &[f64], q: &[f64]) -> f64 {
    let (mp, mq) = (mean(p), mean(q));
    let sum =
        |f: &dyn Fn(f64, f64) -> f64| p.iter().zip(q).map(|(a, b)| f(a - mp, b - mq)).sum::<f64>();
    sum(&|a, b| a * b) / (sum(&|a, _| a * a) * sum(&|_, b| b * b)).sqrt()
}
