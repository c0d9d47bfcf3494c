//! The house's own eye as JSON: one object a line.

use serde::Serialize;
use serde_json::{Value, json};

use super::round;
use crate::book::{OwnRung, Sitting};
use crate::eye::agreement::Bias;
use crate::eye::families::Families;
use crate::eye::raters::{Comparison, Rater};
use crate::eye::teach::{Answer, NoRange};
use crate::ladder::{Ladder, Rung};
use crate::measures::HueGate;
use crate::proof::{Answer as Said, Standing};
use crate::report::eye::teach::Past;
use crate::stats::Interval;

#[derive(Serialize)]
struct OwnRungObject<'a> {
    schema: &'static str,
    scoop: i64,
    animal: u32,
    rung: String,
    who: &'a str,
    at: String,
    blind: bool,
    program: Option<String>,
    sitting: Option<i64>,
}

/// A rung that a person gave.
pub fn own_rung(one: &OwnRung) -> String {
    super::book::json(&OwnRungObject {
        schema: "catchcup.own_rung/1",
        scoop: one.scoop,
        animal: one.no,
        rung: one.rung.to_string(),
        who: &one.who,
        at: one.at.strftime("%Y-%m-%dT%H:%M:%S").to_string(),
        blind: one.is_blind,
        program: one.program.map(|rung| rung.to_string()),
        sitting: one.sitting,
    })
}

/// A test or quiz just drawn, for which `asked` animals were wanted.
pub fn sitting(one: &Sitting, asked: usize) -> String {
    json!({
        "schema": "catchcup.sitting/1",
        "sitting": one.number,
        "kind": if one.is_quiz { "quiz" } else { "test" },
        "ladder": one.ladder,
        "who": one.who,
        "at": one.at.strftime("%Y-%m-%dT%H:%M:%S").to_string(),
        "asked": asked,
        "animals": one.animals.iter().map(|(scoop, no)| json!({"scoop": scoop, "animal": no})).collect::<Vec<_>>(),
    })
    .to_string()
}

fn range(interval: Interval) -> Value {
    let end = |v: f64| {
        if v.is_finite() {
            json!(round(v, 4))
        } else {
            Value::Null
        }
    };
    json!({"low": end(interval.low), "high": end(interval.high)})
}

fn rater(rater: &Rater) -> Value {
    match rater {
        Rater::Program => json!({"program": true, "who": null, "again": false}),
        Rater::Person(who) => json!({"program": false, "who": who, "again": false}),
        Rater::Again(who) => json!({"program": false, "who": who, "again": true}),
    }
}

fn bias(b: &Bias) -> Value {
    json!({
        "animals": round(b.animals, 1),
        "photos": b.photos,
        "shift": round(b.shift, 4),
        "range": b.interval.map(range),
        "judged": b.is_judged,
        "called": b.is_called,
    })
}

/// Agreement of two raters.
pub fn comparison(one: &Comparison) -> String {
    let a = &one.agreement;
    let by_rung: Vec<Value> = Rung::all()
        .filter_map(|rung| {
            let mut object = bias(a.by_rung[rung.index()].as_ref()?);
            object["rung"] = json!(rung.to_string());
            Some(object)
        })
        .collect();
    json!({
        "schema": "catchcup.agree/1",
        "first": rater(&one.first),
        "second": rater(&one.second),
        "animals": a.animals,
        "photos": a.photos,
        "kappa": a.kappa.map(|k| json!({
            "weights": "quadratic",
            "value": round(k.value, 4),
            "range": a.kappa_interval.map(range),
        })),
        "exact": {"share": round(a.exact.0, 4), "range": range(a.exact.1)},
        "within_one": {"share": round(a.within_one.0, 4), "range": range(a.within_one.1)},
        "rank_correlation": a.rank.map(|r| round(r, 4)),
        "bias": bias(&a.bias),
        "by_rung": by_rung,
        "table": a.table,
        "months": one.months.iter().map(|m| json!({
            "month": m.month, "animals": m.animals, "exact": round(m.exact, 4), "shift": round(m.shift, 4),
        })).collect::<Vec<_>>(),
    })
    .to_string()
}

/// How a declared statement reads.
fn reading(standing: &Standing) -> Value {
    let last = standing.looks.last();
    json!({
        "judged": last.map_or(0, |look| look.judged),
        "counts": last.map_or(0.0, |look| round(look.by_chance, 3)),
        "lower": round(standing.lower, 4),
        "supported": standing.answer == Said::Supported,
    })
}

/// What was learned of a ladder.
pub fn taught(ladder: &Ladder, answer: &Answer, past: &Past) -> String {
    let lesson = answer.lesson.as_ref().map(|lesson| {
        json!({
            "measures": lesson.learned.scales.iter().map(|s| s.measure.word()).collect::<Vec<_>>(),
            "limits": lesson.limits.iter().map(|l| json!({
                "rung": l.rung.to_string(),
                "measure": l.measure.word(),
                "old": l.old.map(|v| round(v, 4)),
                "new": round(l.new, 4),
                "range": l.interval.map(range),
                "too_few_beside": l.no_range == Some(NoRange::TooFew),
                "no_range": l.no_range.map(|why| match why {
                    NoRange::TooFew => "too_few_beside",
                    NoRange::Together => "several_measures",
                    NoRange::NotLearned => "not_learned",
                }),
            })).collect::<Vec<_>>(),
            "dropped": lesson.learned.translation.dropped.iter().map(|(rung, measure)| json!({
                "rung": rung.to_string(), "measure": measure.word(),
            })).collect::<Vec<_>>(),
            "agreement": {
                "animals": lesson.gain.animals,
                "old": round(lesson.gain.old, 4),
                "new": round(lesson.gain.new, 4),
                "error": round(lesson.gain.error, 4),
            },
            "penalty": lesson.learned.penalty,
            "rank_correlation": round(lesson.rank, 4),
            "unmeasured": lesson.unmeasured.map(|r| round(r, 4)),
            "proposed": lesson.is_proposed,
            "past": {"now": past.now, "then": past.then},
            "moves": past.moves.iter().map(|(scoop, no, from, to, own)| json!({
                "scoop": scoop, "animal": no, "from": from.to_string(), "to": to.to_string(),
                "own": own.map(|rung| rung.to_string()),
            })).collect::<Vec<_>>(),
            "claims": past.claims.iter().map(|claim| json!({
                "tank": claim.plan.tank,
                "rung": claim.plan.rung.to_string(),
                "permille": claim.plan.permille,
                "now": reading(&claim.now),
                "then": reading(&claim.then),
            })).collect::<Vec<_>>(),
        })
    });
    json!({
        "schema": "catchcup.teach/1",
        "ladder": {"line": ladder.line, "sha256": ladder.sha256},
        "animals": answer.animals,
        "left_out": answer.left_out,
        "counts": answer.counts,
        "needs": answer.needs.iter().map(|n| json!({
            "rung": n.rung.to_string(), "has": n.has, "needs": n.needs,
        })).collect::<Vec<_>>(),
        "refused": answer.refused.iter().map(|n| json!({
            "code": n.code, "message": n.message, "hint": n.hint,
        })).collect::<Vec<_>>(),
        "lesson": lesson,
    })
    .to_string()
}

fn gate(gate: HueGate) -> Value {
    json!({"from_deg": round(gate.from_deg, 1), "to_deg": round(gate.to_deg, 1)})
}

/// Families of colour.
pub fn families(found: &Families, present: &[(String, Option<HueGate>)]) -> String {
    json!({
        "schema": "catchcup.families/1",
        "families": found.families.iter().map(|f| json!({
            "lab": f.lab.map(|v| round(v, 2)),
            "hue_deg": round(f.hue_deg, 1),
            "spread": round(f.spread, 2),
            "animals": f.animals,
            "lines": f.lines.iter().map(|(line, n)| json!({"line": line, "animals": n})).collect::<Vec<_>>(),
        })).collect::<Vec<_>>(),
        "lines": found.lines.iter().map(|l| json!({
            "line": l.line,
            "animals": l.animals,
            "gate": l.gate.map(gate),
            "present": present.iter().find(|(code, _)| *code == l.line).and_then(|(_, g)| *g).map(gate),
        })).collect::<Vec<_>>(),
        "overlaps": found.overlaps.iter().map(|o| json!({
            "first": o.first, "second": o.second,
            "first_in_second": round(o.first_in_second, 4), "second_in_first": round(o.second_in_first, 4),
        })).collect::<Vec<_>>(),
        "strange": found.strange.iter().map(|(scoop, no)| json!({"scoop": scoop, "animal": no})).collect::<Vec<_>>(),
    })
    .to_string()
}
