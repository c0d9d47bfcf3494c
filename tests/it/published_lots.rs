//! Several categories at once, and sampling plans against published tables.

use catchcup::proof::inspection::{self, Cell, Inspection, Level};
use catchcup::proof::lot_plan::{LotPlan, lot_plan};
use catchcup::stats::multinomial::sison_glaz;

use statrs::distribution::{DiscreteCDF, Hypergeometric};

use crate::support::table::{close, read};

/// Sison and Glaz 1995, example 1 by way of an R package (to 1.5e-4), and exact probabilities (to 1e-8).
#[test]
fn simultaneous_intervals_by_sison_and_glaz() {
    let table = read("c_sison_glaz_exact");
    for case in ["SG1", "grade5", "small4", "withzero"] {
        let rows: Vec<_> = table.rows().filter(|r| r.text("case") == case).collect();
        let counts: Vec<u64> = rows.iter().map(|r| r.number("count") as u64).collect();
        assert_eq!(
            counts.iter().sum::<u64>() as f64,
            rows[0].number("n"),
            "{case} is whole"
        );
        for (row, found) in rows.iter().zip(sison_glaz(&counts, 0.95)) {
            close(found.low, row.number("lo_exact").max(0.0), 1e-8, case);
            close(found.high, row.number("hi_exact").min(1.0), 1e-8, case);
            if case == "SG1" {
                close(found.high, row.number("hi_statsmodels"), 1.5e-4, case);
            }
        }
    }
}

/// Letters of lot sizes, all three levels.
#[test]
fn letters_of_lots() {
    let mut checked = 0;
    for row in read("c_iso2859_code_letters").rows() {
        for (name, level) in [
            ("I", Level::Reduced),
            ("II", Level::Usual),
            ("III", Level::Increased),
        ] {
            for end in ["lot_lo", "lot_hi"] {
                let Some(lot) = row.maybe(end) else { continue };
                let letter = inspection::letter_of(lot as u32, level).expect("a letter");
                assert_eq!(letter.to_string(), row.text(name), "{lot} {name}");
                checked += 1;
            }
        }
    }
    assert_eq!(checked, 15 * 6 - 3);
    assert_eq!(inspection::letter_of(1, Level::Usual), None);
}

/// All 256 cells of single sampling, normal inspection, and what lots come to when the arrows are followed.
#[test]
fn plans_of_single_sampling() {
    let per_mille = |text: &str| (text.parse::<f64>().expect("a limit") * 1000.0).round() as u32;
    let mut cells = 0;
    for row in read("c_iso2859_single_normal").rows() {
        let letter = row.text("letter").chars().next().expect("a letter");
        let found = inspection::cell(letter, per_mille(row.text("AQL")));
        let expected = match row.text("arrow") {
            "up" => Cell::Up,
            "down" => Cell::Down,
            _ => Cell::Accept(row.number("Ac") as u32),
        };
        assert_eq!(found, Some(expected), "{letter} {}", row.text("AQL"));
        let size = inspection::letters()
            .find(|(l, _)| *l == letter)
            .expect("a size")
            .1;
        assert_eq!(f64::from(size), row.number("n"));
        cells += 1;
    }
    assert_eq!(cells, 256);
    for row in read("c_iso2859_lookup_level2").rows() {
        let lot = row.number("lot") as u32;
        let found =
            inspection::inspection(lot, Level::Usual, per_mille(row.text("AQL"))).expect("a plan");
        let what = format!("lot {lot} at {}", row.text("AQL"));
        assert_eq!(
            found.letter_of_lot.to_string(),
            row.text("letter_by_lot"),
            "{what}"
        );
        assert_eq!(found.letter.to_string(), row.text("letter_used"), "{what}");
        assert_eq!(f64::from(found.accept), row.number("Ac"), "{what}");
        assert_eq!(found.whole_lot, row.text("note") == "100%", "{what}");
        assert_eq!(
            f64::from(found.sample),
            row.number("n").min(f64::from(lot)),
            "{what}"
        );
    }
}

/// Points of operating curves (1e-9) and the lots passed with given probability (1e-4 per cent; J at 1.0 printed as 1.03, 3.33,
/// 6.52).
#[test]
fn operating_curves() {
    let plan = |n: f64, accept: f64| Inspection {
        letter_of_lot: 'H',
        letter: 'H',
        sample: n as u32,
        accept: accept as u32,
        whole_lot: false,
    };
    let mut points = 0;
    for row in read("c_oc_points").rows() {
        let found = inspection::passes(&plan(row.number("n"), row.number("Ac")), row.number("p"));
        close(found, row.number("Pa"), 1e-9, row.text("letter"));
        points += 1;
    }
    assert!(points > 100, "{points}");
    for row in read("c_oc_quantiles").rows() {
        let plan = plan(row.number("n"), row.number("Ac"));
        for (column, probability) in [("p_Pa95", 0.95), ("p_Pa50", 0.50), ("p_Pa10", 0.10)] {
            let found = 100.0 * inspection::failing_at(&plan, probability);
            close(found, row.number(column), 1e-4, column);
        }
    }
}

/// Chances of lots of known size against the hypergeometric distribution of statrs (to 1e-9), and the plan by them: as few
/// animals as hold both risks of the table.
#[test]
fn chances_of_a_lot_are_those_of_its_animals() {
    let exact = |plan: &LotPlan, sample: u32, accept: u32, failing: u32| {
        let [lot, failing, sample] = [plan.lot, failing, sample].map(u64::from);
        let law = Hypergeometric::new(lot, failing, sample).expect("a distribution");
        law.cdf(u64::from(accept))
    };
    for (lot, limit) in [
        (2, 6500),
        (9, 6500),
        (10, 6500),
        (20, 6500),
        (60, 6500),
        (60, 1000),
        (500, 2500),
        (3000, 150),
    ] {
        let what = format!("lot {lot}, limit {limit}");
        let plan = lot_plan(lot, Level::Usual, limit).expect("a plan");
        for failing in 0..=lot {
            let found = plan.passes(failing);
            close(
                found,
                exact(&plan, plan.sample, plan.accept, failing),
                1e-9,
                &what,
            );
        }
        let table = inspection::inspection(lot, Level::Usual, limit).expect("a plan");
        let (mut good, mut bad) = (plan.usual, plan.bad);
        assert_eq!(good, lot * limit / 100_000, "{what}");
        assert!(
            exact(&plan, plan.sample, plan.accept, bad) <= 0.10 + 1e-9,
            "{what}"
        );
        assert!(
            plan.sample <= table.sample.max(lot.min(5)),
            "{what}: {plan:?} {table:?}"
        );
        // No smaller sample holds both risks, whatever number may fail in it.
        let usual = exact(&plan, plan.sample, plan.accept, good);
        let asked = usual
            .min(0.95)
            .min(inspection::passes(&table, f64::from(limit) / 1e5));
        for sample in 1..plan.sample {
            let held = (0..=sample.min(good)).any(|accept| {
                exact(&plan, sample, accept, good) >= asked
                    && exact(&plan, sample, accept, bad) <= 0.10 + 1e-9
            });
            assert!(!held, "{what}: {sample} would do");
        }
        // The two lots that the answer names.
        (good, bad) = (plan.mostly_passed(), plan.rarely_passed());
        assert!(
            plan.passes(good) >= 0.95 && plan.passes(good + 1) < 0.95,
            "{what}"
        );
        assert!(
            plan.passes(bad) <= 0.10 + 1e-9 && plan.passes(bad - 1) > 0.10 + 1e-9,
            "{what}"
        );
        assert_eq!(plan.accept_of(lot), plan.usual, "{what}: all looked at");
    }
    // A twentieth of twenty is one animal: two of eight can't fail.
    let twenty = lot_plan(20, Level::Usual, 6500).expect("a plan");
    assert_eq!((twenty.sample, twenty.accept), (8, 1));
    assert_eq!(twenty.passes(1).to_bits(), 1f64.to_bits());
}
