//! From counts and records to the statement that is signed, and back again when it is checked.

use super::count::{Count, chance, count, meets_plainly, total};
use super::manifest::{Basis, StatedScoop, Statement};
use super::plan::Plan;
use super::statement::{Answer, Standing, stand, whole};
use super::weakness::Weakness;
use crate::ladder::Rung;
use crate::scoop::{KeptAnimal, PastScoop};

/// Thousandths, rounded.
fn milli(value: f64) -> u32 {
    (value * 1000.0).round().max(0.0) as u32
}

/// Ten-thousandths, rounded down: a limit is not to be made better by rounding.
fn e4_down(value: f64) -> u32 {
    (value * 10_000.0 + 1e-6).floor().clamp(0.0, 10_000.0) as u32
}

/// Chances as the record states them, to three digits, so that a check of the record finds the same.
fn recorded(chance: f64) -> f64 {
    (chance * 1000.0).round() / 1000.0
}

/// The statement on a lot photographed whole.
pub fn of_whole(
    animals: &[KeptAnimal],
    rung: Rung,
    permille: u32,
    confidence_permille: u32,
    weaknesses: &[Weakness],
) -> Statement {
    let chances: Vec<Option<f64>> = animals
        .iter()
        .map(|a| chance(a, rung).map(recorded))
        .collect();
    let plain = animals.iter().filter(|a| meets_plainly(a, rung)).count() as u32;
    let confidence = f64::from(confidence_permille) / 1000.0;
    let found = whole(&chances, plain, permille, confidence, weaknesses);
    let held = count(animals, rung);
    Statement {
        basis: Basis::Whole,
        rung,
        permille,
        confidence_permille,
        supported: found.answer == Answer::Supported,
        animals: found.animals,
        by_chance_milli: milli(found.by_chance),
        plain: found.plain,
        lower: found.sure,
        upper: None,
        icc_e4: 0,
        plan: None,
        lot: None,
        sexes: held.sexes,
        lengths: lengths(&held),
        scoops: Vec::new(),
    }
}

/// The statement on scoops of a tank.
pub fn of_scoops(
    plan: &Plan,
    scoops: &[PastScoop],
    weaknesses: &[Weakness],
) -> (Statement, Standing) {
    let kept = &scoops[..scoops.len().min(plan.looks as usize)];
    let counts: Vec<Count> = kept
        .iter()
        .map(|s| {
            let mut found = count(&s.animals, plan.rung);
            found.by_chance = f64::from(milli(found.by_chance)) / 1000.0;
            found
        })
        .collect();
    let standing = stand(plan, &counts, weaknesses);
    let all = total(&counts);
    let stated = kept.iter().zip(&counts).map(|(s, c)| StatedScoop {
        on: s.at.date(),
        photo_sha256: s.origin.photo_sha256.clone(),
        judged: c.judged,
        by_chance_milli: milli(c.by_chance),
        plain: c.plain,
        undecided: c.undecided,
    });
    let statement = Statement {
        basis: Basis::Scoops,
        rung: plan.rung,
        permille: plan.permille,
        confidence_permille: plan.confidence_permille,
        supported: standing.answer == Answer::Supported,
        animals: all.judged,
        by_chance_milli: milli(all.by_chance),
        plain: all.plain,
        lower: e4_down(standing.lower),
        upper: Some(10_000 - e4_down(1.0 - standing.upper)),
        icc_e4: e4_down(plan.icc),
        plan: Some([plan.looks, plan.per_look]),
        lot: plan.lot,
        sexes: all.sexes,
        lengths: lengths(&all),
        scoops: stated.collect(),
    };
    (statement, standing)
}

fn lengths(count: &Count) -> Option<[u32; 2]> {
    count
        .lengths_mm
        .map(|(low, high)| [low, high].map(|mm| (mm * 10.0).round() as u32))
}

/// What is wrong with a signed statement, held against the animals of the record (a whole lot) or against its own scoops.
/// Weaknesses may forbid a statement, never support one.
pub fn faults(stated: &Statement, animals: &[KeptAnimal]) -> Option<String> {
    let again = match stated.basis {
        Basis::Whole => {
            let found = of_whole(
                animals,
                stated.rung,
                stated.permille,
                stated.confidence_permille,
                &[],
            );
            Statement {
                supported: found.supported && stated.supported,
                ..found
            }
        }
        Basis::Scoops => match of_own_scoops(stated) {
            Some(again) => again,
            None => return Some("the statement names no plan".into()),
        },
    };
    (again != *stated).then(|| "the statement does not follow from its counts".to_string())
}

fn of_own_scoops(stated: &Statement) -> Option<Statement> {
    let [looks, per_look] = stated.plan?;
    let plan = Plan {
        rung: stated.rung,
        permille: stated.permille,
        confidence_permille: stated.confidence_permille,
        looks,
        per_look,
        icc: f64::from(stated.icc_e4) / 10_000.0,
        lot: stated.lot,
        tank: None,
        declared: None,
    };
    let counts: Vec<Count> = stated
        .scoops
        .iter()
        .map(|s| Count {
            judged: s.judged,
            by_chance: f64::from(s.by_chance_milli) / 1000.0,
            plain: s.plain,
            undecided: s.undecided,
            ..Count::default()
        })
        .collect();
    let standing = stand(&plan, &counts, &[]);
    let all = total(&counts);
    Some(Statement {
        supported: standing.answer == Answer::Supported && stated.supported,
        animals: all.judged,
        by_chance_milli: milli(all.by_chance),
        plain: all.plain,
        lower: e4_down(standing.lower),
        upper: Some(10_000 - e4_down(1.0 - standing.upper)),
        ..stated.clone()
    })
}
