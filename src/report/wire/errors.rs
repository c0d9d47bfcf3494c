//! Corrections and the program's errors as JSON: one object a line.

use serde_json::{Value, json};

use super::round;
use crate::eye::errors::{Correction, Errors};

/// A correction.
pub fn correction(one: &Correction) -> String {
    json!({
        "schema": "catchcup.correction/1",
        "scoop": one.scoop,
        "animal": one.no,
        "kind": one.right.kind(),
        "value": one.right.value(),
        "program": one.program,
        "who": one.who,
        "at": one.at.strftime("%Y-%m-%dT%H:%M:%S").to_string(),
    })
    .to_string()
}

/// How often the program errs.
pub fn errors(found: &Errors) -> String {
    let kinds: Vec<Value> = found
        .rates
        .iter()
        .map(|rate| {
            json!({
                "kind": rate.kind,
                "everywhere": rate.everywhere,
                "looked_through": rate.looked_through,
                "low": round(rate.range.low, 4),
                "high": round(rate.range.high, 4),
            })
        })
        .collect();
    let [same, one, more] = found.rungs;
    json!({
        "schema": "catchcup.errors/1",
        "scoops_looked_through": found.scoops,
        "animals_looked_through": found.animals,
        "kinds": kinds,
        "own_rungs": {"same": same, "one_apart": one, "further": more},
    })
    .to_string()
}
