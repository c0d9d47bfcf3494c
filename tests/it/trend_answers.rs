//! What is said of made-up tanks whose truth is known, and how often ranges of shares hold, counted out exactly.

use std::collections::BTreeMap;

use catchcup::ladder::Rung;
use catchcup::scoop::kept::Origin;
use catchcup::scoop::{ConditionKind, KeptAnimal, MinutesRule, PastScoop};
use catchcup::stats::beta_binomial::{limits, pmf_all, pmf_of_total};
use catchcup::trends::Watched;
use catchcup::trends::month::month;
use catchcup::trends::scatter::{HouseScatter, house_scatter};
use catchcup::trends::series::{Axis, Reading, series};
use catchcup::trends::trial::{Outcome, TrialRule, trial};
use catchcup::trends::verdict::{Judged, Verdict, judge};
use catchcup::trends::whole_tank::{SizeUnused, scoops_needed, whole_tank};
use catchcup::units::Measured;
use jiff::civil::date;

/// Coverages of a scoop of twelve about `mean`, the same scatter every time.
fn animals(mean: f64) -> Vec<KeptAnimal> {
    let away = [
        -1.6, -1.1, -0.8, -0.5, -0.3, -0.1, 0.1, 0.3, 0.5, 0.8, 1.1, 1.6,
    ];
    let animal = |(no, z): (usize, &f64)| {
        let coverage = mean + 0.08 * z;
        KeptAnimal {
            coverage: Some(Measured::new(coverage, 0.03)),
            rung: Rung::from_index(if coverage >= 0.8 { 4 } else { 3 }),
            ..KeptAnimal::blank(no as u32 + 1)
        }
    };
    away.iter().enumerate().map(animal).collect()
}

fn scoop(generation: u32, mean: f64, floor: &str) -> PastScoop {
    PastScoop {
        number: i64::from(generation) + 1,
        tank: "T".into(),
        line: Some("L".into()),
        generation: Some(generation),
        at: date(2020, 1, 1).at(18, 0, 0, 0) + jiff::Span::new().days(100 * i64::from(generation)),
        who: String::new(),
        kept_apart: false,
        second_of: None,
        conditions: [(ConditionKind::Floor, floor.to_string())].into(),
        origin: Origin::default(),
        remark: String::new(),
        animals: animals(mean),
    }
}

fn reading() -> Reading {
    Reading {
        axis: Axis::Generation,
        sale_rung: Rung::from_word("G4").expect("a rung"),
        minutes: MinutesRule::default(),
    }
}

fn scatter() -> HouseScatter {
    HouseScatter {
        sd: BTreeMap::from([(Watched::Coverage, 0.01)]),
        icc: 0.02,
        icc_is_own: true,
    }
}

fn judged(scoops: &[PastScoop]) -> Judged {
    judge(
        &series(Watched::Coverage, scoops, &reading(), &scatter()),
        100.0,
        0.02,
    )
}

/// Small differences that are no change.
fn wobble(generation: u32) -> f64 {
    [0.01, -0.012, 0.004, 0.009, -0.011][generation as usize % 5]
}

#[test]
fn a_line_that_holds_holds_and_one_that_fades_fades() {
    let steady: Vec<PastScoop> = (0..10)
        .map(|g| scoop(g, 0.85 + wobble(g), "black"))
        .collect();
    let Verdict::Holds { would_have_shown } = judged(&steady).verdict else {
        panic!("{:?}", judged(&steady).verdict);
    };
    assert!(
        (0.01..0.05).contains(&would_have_shown),
        "{would_have_shown}"
    );
    let fall = |g: u32| 0.9 - 0.025 * f64::from(g) + wobble(g);
    let fading: Vec<PastScoop> = (0..10).map(|g| scoop(g, fall(g), "black")).collect();
    let Verdict::Moves { per_generation, .. } = judged(&fading).verdict else {
        panic!("{:?}", judged(&fading).verdict);
    };
    assert!(
        per_generation.low < -0.025 && -0.025 < per_generation.high,
        "{per_generation:?}"
    );
    assert!(matches!(judged(&fading[..3]).verdict, Verdict::TooEarly(3)));
}

#[test]
fn new_sand_is_no_fading_and_a_step_without_a_note_is_asked_about() {
    let drop = |g: u32| if g >= 5 { 0.1 } else { 0.0 };
    let noted = |g: u32| if g >= 5 { "white" } else { "black" };
    let sand: Vec<PastScoop> = (0..10)
        .map(|g| scoop(g, 0.85 + wobble(g) - drop(g), noted(g)))
        .collect();
    assert!(
        matches!(judged(&sand).verdict, Verdict::Holds { .. }),
        "{:?}",
        judged(&sand).verdict
    );
    let unnoted: Vec<PastScoop> = (0..10)
        .map(|g| scoop(g, 0.85 + wobble(g) - drop(g), "black"))
        .collect();
    let Verdict::Stepped { since, by } = judged(&unnoted).verdict else {
        panic!("{:?}", judged(&unnoted).verdict);
    };
    assert_eq!(since, unnoted[5].at.date());
    assert!(by.low < -0.1 && -0.1 < by.high, "{by:?}");
}

#[test]
fn scoops_that_stood_too_long_and_second_photos_are_left_out() {
    let mut scoops: Vec<PastScoop> = (0..8)
        .map(|g| scoop(g, 0.85 + wobble(g), "black"))
        .collect();
    scoops[6].origin.netted_seconds = Some(600);
    scoops[6].animals = animals(0.5);
    scoops[7].second_of = Some(1);
    scoops[7].animals = animals(0.2);
    let found = series(Watched::Coverage, &scoops, &reading(), &scatter());
    assert_eq!((found.points.len(), found.left_out.len()), (6, 1));
}

#[test]
fn the_house_learns_how_its_scoops_scatter() {
    let of_shift = |sd: f64| {
        let scoops: Vec<PastScoop> = (0..40)
            .map(|i| {
                let shift = if i % 2 == 0 { sd } else { -sd };
                let at = date(2024, 1, 1).at(18, 0, 0, 0) + jiff::Span::new().days(7 * i);
                PastScoop {
                    number: i + 1,
                    at,
                    ..scoop(1, 0.8 + shift, "black")
                }
            })
            .collect();
        house_scatter(&scoops, &reading())
    };
    // Alternating by plus and minus s: differences of 2 s, so a variance between scoops of 2 s^2 less what animals explain.
    let within: f64 =
        0.08 * (2.0 * (1.6f64.powi(2) + 1.1f64.powi(2) + 0.64 + 0.25 + 0.09 + 0.01) / 11.0).sqrt();
    let want = (2.0 * 0.06f64.powi(2) - within * within / 12.0).sqrt();
    let found = of_shift(0.06);
    assert!(
        (found.sd[&Watched::Coverage] - want).abs() < 1e-9,
        "{found:?}"
    );
    assert!(found.icc_is_own && found.icc > 0.1);
    assert_eq!(of_shift(0.0).sd[&Watched::Coverage], 0.0);
}

#[test]
fn a_trial_needs_its_weeks_and_finds_a_difference() {
    let side = |mean: f64, days: i64| -> Vec<PastScoop> {
        (0..5)
            .map(|i| PastScoop {
                at: date(2024, 1, 1).at(18, 0, 0, 0) + jiff::Span::new().days(days * i),
                number: i + 1,
                ..scoop(1, mean, "black")
            })
            .collect()
    };
    let rule = TrialRule {
        weeks: 6.0,
        worth: 0.05,
        changed: None,
    };
    let run = |a: &[PastScoop], b: &[PastScoop]| {
        trial(Watched::Coverage, [a, b], &reading(), &scatter(), &rule)
    };
    let early = run(&side(0.9, 7), &side(0.7, 7));
    assert!(
        matches!(early.outcome, Outcome::TooEarly { .. }),
        "{early:?}"
    );
    let late = run(&side(0.9, 14), &side(0.7, 14));
    assert_eq!(late.outcome, Outcome::Differs);
    let difference = late.difference.expect("both sides");
    assert!((difference.value + 0.2).abs() < 1e-9);
    let same = run(&side(0.8, 14), &side(0.8, 14));
    assert!(
        matches!(same.outcome, Outcome::NoDifference { .. }),
        "{same:?}"
    );
}

#[test]
fn the_size_of_a_tank_is_used_only_where_it_may() {
    let (one, two) = (scoop(1, 0.85, "black"), scoop(1, 0.85, "black"));
    let alone = whole_tank(&[&one], 0.05, Some(60)).expect("animals");
    assert!(alone.rungs[1].of_tank.is_some() && alone.size_unused.is_none());
    let back = whole_tank(&[&one, &two], 0.05, Some(60)).expect("animals");
    assert_eq!(back.size_unused, Some(SizeUnused::PutBack));
    let apart = PastScoop {
        kept_apart: true,
        ..one.clone()
    };
    let kept = whole_tank(&[&apart, &two], 0.05, Some(60)).expect("animals");
    assert!(kept.rungs[1].of_tank.is_some());
    let small = whole_tank(&[&one], 0.05, Some(5)).expect("animals");
    assert_eq!(small.size_unused, Some(SizeUnused::TooSmall));
    assert_eq!(whole_tank(&[], 0.05, None), None);
    // More scoops, never fewer, for a narrower range; and what was asked for is reached.
    let wide = scoops_needed((9, 0), &[12], 12, 0.05, 0.15).expect("within reach");
    let narrow = scoops_needed((9, 0), &[12], 12, 0.05, 0.10).expect("within reach");
    assert!(0 < wide && wide < narrow, "{wide} {narrow}");
    assert_eq!(scoops_needed((9, 0), &[12], 12, 0.05, 0.01), None);
}

/// 48 animals, 2 of them on G4 by their point values, 1 of these and 4 below it too close to call: one truth in every place
/// that tells it. Limits by the beta distribution of statrs (Clopper and Pearson) and, for none seen, by its closed form.
#[test]
fn one_range_for_one_share() {
    use statrs::distribution::{Beta, ContinuousCDF};
    let at = |rung: usize| Rung::from_index(rung).expect("a rung");
    let animal = |no: u32, rung: usize, open: bool| KeptAnimal {
        rung: Some(at(rung)),
        between: open.then(|| (at(3), at(4))),
        ..KeptAnimal::blank(no)
    };
    let mut past = scoop(1, 0.8, "black");
    past.animals = (1..=48)
        .map(|no| match no {
            1 => animal(no, 4, false),
            2 => animal(no, 4, true),
            3..=6 => animal(no, 3, true),
            _ => animal(no, 2, false),
        })
        .collect();
    let found = whole_tank(&[&past], 0.0, None).expect("animals");
    let [best, sale] = [&found.rungs[0], &found.rungs[1]];
    assert_eq!((sale.on, sale.above.count), (2, 2), "table and headline");
    assert_eq!((sale.above.sure, sale.above.undecided), (1, 5));
    let beta = |a: f64, b: f64, p: f64| Beta::new(a, b).expect("a distribution").inverse_cdf(p);
    let close =
        |found: f64, expected: f64| assert!((found - expected).abs() < 1e-4, "{found} {expected}");
    close(sale.above.range.low, beta(1.0, 48.0, 0.025));
    close(sale.above.range.high, beta(7.0, 42.0, 0.975));
    close(best.on_range.high, 1.0 - 0.025f64.powf(1.0 / 48.0));
    assert_eq!(
        best.on_range, best.above.range,
        "on the best rung is at or above it"
    );
    let first = past.at.date().first_of_month();
    let told = month(std::slice::from_ref(&past), &[], first, at(4), 0.05);
    let alike = whole_tank(&[&past], 0.05, None).expect("animals");
    assert_eq!(
        told[0].above, alike.rungs[1].above,
        "the month's range is the tank's"
    );
    assert!(
        told[0].above.range.high > sale.above.range.high,
        "animals alike make it wider"
    );
}

/// Coverage of the ranges of a share over all true shares, counted out: on average and at worst.
#[test]
fn ranges_of_shares_hold_what_they_promise() {
    for (sizes, icc) in [
        (vec![5], 0.0),
        (vec![20], 0.0),
        (vec![49], 0.0),
        (vec![20], 0.05),
        (vec![12, 8, 15], 0.05),
        (vec![20, 20], 0.2),
    ] {
        let n: u64 = sizes.iter().sum();
        let ranges: Vec<_> = (0..=n).map(|x| limits(x, &sizes, icc, 0.95)).collect();
        let (mut sum, mut worst) = (0.0, 1.0f64);
        let steps = 199;
        for step in 1..=steps {
            let share = f64::from(step) / f64::from(steps + 1);
            let chances = if sizes.len() == 1 {
                pmf_all(n, share, icc)
            } else {
                pmf_of_total(&sizes, share, icc)
            };
            let held: f64 = chances
                .iter()
                .zip(&ranges)
                .filter(|(_, r)| r.low <= share && share <= r.high)
                .map(|(p, _)| p)
                .sum();
            sum += held;
            worst = worst.min(held);
        }
        let mean = sum / f64::from(steps);
        println!("{sizes:?} icc {icc}: mean {mean:.4}, least {worst:.4}");
        assert!(
            mean >= 0.95 && worst >= 0.95 - 1e-6,
            "{sizes:?}: {mean} {worst}"
        );
    }
}
