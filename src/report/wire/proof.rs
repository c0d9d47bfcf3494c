//! Statements, packing, prices and checks of proofs as JSON.

use serde_json::{Value, json};

use super::round;
use crate::doubt::Note;
use crate::proof::arrival::{Claim, Look};
use crate::proof::lot_plan::LotPlan;
use crate::proof::packing::{Packed, Swap};
use crate::proof::plan::Prospect;
use crate::proof::price::{TankValue, Value as Worth};
use crate::proof::similar::Near;
use crate::proof::statement::{Answer, Standing};
use crate::proof::verify::{Checked, Verdict};
use crate::proof::weakness::Weakness;
use crate::proof::{Money, Plan};
use crate::report::proof::lots::Dispute;

fn answer(answer: Answer) -> (&'static str, Option<u32>) {
    match answer {
        Answer::Supported => ("supported", None),
        Answer::NotSupported => ("not_supported", None),
        Answer::More(n) => ("more", Some(n)),
        Answer::Blocked => ("blocked", None),
    }
}

fn wanted(plan: &Plan) -> Value {
    json!({
        "rung": plan.rung.to_string(),
        "share": round(plan.share(), 4),
        "confidence": round(1.0 - plan.alpha(), 4),
        "looks": plan.looks,
        "animals_each": plan.per_look,
        "icc": round(plan.icc, 4),
        "lot": plan.lot,
        "tank": plan.tank,
        "declared": plan.declared.map(|at| at.to_string()),
    })
}

/// A plan before netting.
pub fn plan(plan: &Plan, prospects: &[Prospect]) -> String {
    let prospects: Vec<Value> = prospects
        .iter()
        .map(|p| {
            json!({
                "truth": round(p.truth, 4),
                "supported_by_look": p.by_look.iter().map(|s| round(*s, 4)).collect::<Vec<f64>>(),
                "expected_animals": round(p.expected_animals, 1),
                "at_once": p.at_once,
            })
        })
        .collect();
    json!({"schema": "catchcup.plan/1", "wanted": wanted(plan), "needed": plan.needed(), "prospects": prospects}).to_string()
}

/// How a plan stands.
pub fn standing(plan: &Plan, found: &Standing, weak: &[Weakness]) -> String {
    let (word, more) = answer(found.answer);
    let looks: Vec<Value> = found
        .looks
        .iter()
        .map(|l| json!({"judged": l.judged, "by_chance": round(l.by_chance, 3), "plain": l.plain, "needed": l.needed}))
        .collect();
    json!({
        "schema": "catchcup.standing/1",
        "wanted": wanted(plan),
        "answer": word,
        "more": more,
        "looks": looks,
        "supported_at": found.supported_at.map(|i| i + 1),
        "low": round(found.lower, 4),
        "high": round(found.upper, 4),
        "beyond": found.beyond,
        "weaknesses": weaknesses(weak),
    })
    .to_string()
}

fn weaknesses(all: &[Weakness]) -> Vec<Value> {
    let one = |w: &Weakness| json!({"code": w.code, "message": w.message, "hint": w.hint, "blocks": w.blocks});
    all.iter().map(one).collect()
}

/// A packing check.
pub fn packed(file: &str, found: &Packed, confidence: f64) -> String {
    let swaps: Vec<Value> = found
        .swaps
        .iter()
        .map(|(no, swap)| {
            let why = match swap {
                Swap::OffType => "off_type",
                Swap::Below => "below",
                Swap::NotJudged => "not_judged",
                Swap::Undecided => "undecided",
            };
            json!({"no": no, "why": why})
        })
        .collect();
    let w = &found.whole;
    json!({
        "schema": "catchcup.packed/1",
        "photo": file,
        "rung": found.rung.to_string(),
        "animals": w.animals,
        "plain": w.plain,
        "by_chance": round(w.by_chance, 3),
        "sure": w.sure,
        "confidence": round(confidence, 4),
        "promised": found.promised,
        "missing": found.missing(),
        "ready": found.ready(),
        "swaps": swaps,
    })
    .to_string()
}

fn note(note: &Note) -> Value {
    json!({"code": note.code, "message": note.message, "hint": note.hint})
}

/// A check of a proof.
pub fn checked(found: &Checked) -> String {
    let verdict = match found.verdict {
        Verdict::Unchanged => "unchanged",
        Verdict::UnknownKey => "unknown_key",
        Verdict::OtherKey => "other_key",
        Verdict::Changed => "changed",
        Verdict::OtherProgram => "other_program",
    };
    let signed = found.manifest.as_ref().filter(|_| found.faults.is_empty());
    json!({
        "schema": "catchcup.checked/1",
        "verdict": verdict,
        "faults": found.faults.iter().map(note).collect::<Vec<Value>>(),
        "remarks": found.remarks.iter().map(note).collect::<Vec<Value>>(),
        "key": found.key.map(|k| k.fingerprint()),
        "lot": signed.map(|m| m.lot.clone()),
        "signed_on": signed.map(|m| m.signed_on.to_string()),
        "program": signed.map(|m| m.program.clone()),
    })
    .to_string()
}

fn money(amount: Option<Money>) -> Option<String> {
    amount.map(|m| m.to_string())
}

/// What a lot is worth; amounts are decimal words.
pub fn worth(what: &str, found: &Worth, currency: &str) -> String {
    json!({
        "schema": "catchcup.value/1",
        "of": what,
        "currency": currency,
        "priced": found.priced,
        "unpriced": found.unpriced,
        "value": money(found.at_rung),
        "low": money(found.low),
        "high": money(found.high),
        "animals": found.priced + found.unpriced,
    })
    .to_string()
}

/// What a tank is worth.
pub fn tank_worth(tank: &str, found: &TankValue, currency: &str) -> String {
    json!({
        "schema": "catchcup.value/1",
        "of": tank,
        "currency": currency,
        "priced": null,
        "unpriced": null,
        "value": found.value.to_string(),
        "low": found.range.0.to_string(),
        "high": found.range.1.to_string(),
        "animals": found.animals,
    })
    .to_string()
}

/// A lot like an earlier one.
pub fn near(near: &Near) -> String {
    json!({
        "schema": "catchcup.like/1",
        "scoop": near.scoop,
        "tank": near.tank,
        "de00": near.de00.map(|d| round(d, 2)),
        "absolute": near.absolute,
        "rungs_apart": round(near.rungs, 4),
        "length_apart_mm": near.length_mm.map(|d| round(d, 2)),
        "unlike": near.unlike,
    })
    .to_string()
}

/// A plan for a bought-in lot, with the looks at it.
pub fn arrival(limit: &str, plan: &LotPlan, looks: &[Look], claim: Claim) -> String {
    let looks: Vec<Value> = looks
        .iter()
        .map(|l| json!({"day": l.day, "judged": l.count.judged, "failing": l.failing, "may_fail": l.may_fail, "plain": l.count.plain, "passes": l.passes}))
        .collect();
    let of_lot = |animals: u32| round(f64::from(animals) / f64::from(plan.lot), 4);
    json!({
        "schema": "catchcup.arrival/1",
        "lot": plan.lot,
        "limit_per_cent": limit,
        "limit_animals": plan.usual,
        "letter": plan.letter.to_string(),
        "sample": plan.sample,
        "accept": plan.accept,
        "whole_lot": plan.whole_lot(),
        "failing_passed_at_95": of_lot(plan.mostly_passed()),
        "failing_passed_at_10": of_lot(plan.rarely_passed()),
        "animals_passed_at_95": plan.mostly_passed(),
        "animals_passed_at_10": plan.rarely_passed(),
        "looks": looks,
        "claim": match claim { Claim::None => "none", Claim::Wait => "wait", Claim::Yes => "yes", Claim::TooFew => "too_few" },
    })
    .to_string()
}

/// Two photos of a dispute.
pub fn beside(shown: &Dispute<'_>) -> String {
    let found = shown.found;
    let share = |v: Option<f64>| v.map(|v| round(v, 4));
    json!({
        "schema": "catchcup.beside/1",
        "same_picture": shown.same_picture,
        "line": shown.ladder.line,
        "other_line": found.other_line(),
        "off_type": found.off_type,
        "looks_like": shown.looks_like.map(|l| &l.line),
        "animals": found.animals,
        "chart_de00": found.same_chart_de00.map(|d| round(d, 2)),
        "scatter_de00": found.spread_de00.map(|d| round(d, 2)),
        "coverage": found.coverage.map(share),
        "length_mm": found.length_mm.map(|v| v.map(|v| round(v, 2))),
    })
    .to_string()
}
