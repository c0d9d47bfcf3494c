//! The record: its schema, its rounding, its mix.

use catchcup::doubt::Note;
use catchcup::error::Error;
use catchcup::ladder::{OffLadder, Placing, Rung};
use catchcup::report::{RECORD_SCHEMA, error_json, record_json};
use catchcup::scoop::{MinutesFrom, mix};
use serde_json::Value;

use crate::record_scoop::{full_scoop, placed, scoop_of};
use crate::support::table;

fn parse(json: &str) -> Value {
    serde_json::from_str(json).expect("JSON")
}

/// Faults of `value` against `schema`, a part of JSON Schema 2020-12. Strict beyond the standard in one way: a field that
/// the schema does not describe is a fault, so that nothing can be added to the record and forgotten in the schema.
pub fn faults(value: &Value, schema: &Value, root: &Value, at: &str) -> Vec<String> {
    let mut found = Vec::new();
    for (word, rule) in schema.as_object().expect("a schema is an object") {
        found.extend(match word.as_str() {
            "$schema" | "$defs" | "title" | "description" | "required" | "additionalProperties" => {
                Vec::new()
            }
            "$ref" => faults(value, resolve(rule, root), root, at),
            "oneOf" => one_of(value, rule, root, at, true),
            "anyOf" => one_of(value, rule, root, at, false),
            "type" => said(
                !types(rule).any(|t| is_type(value, t)),
                at,
                "has the wrong type",
            ),
            "enum" => said(
                !rule.as_array().expect("a list").contains(value),
                at,
                "is not in the list",
            ),
            "const" => said(value != rule, at, "is not the constant"),
            "minimum" => said(
                value.as_f64().is_some_and(|v| v < number(rule)),
                at,
                "is too low",
            ),
            "maximum" => said(
                value.as_f64().is_some_and(|v| v > number(rule)),
                at,
                "is too high",
            ),
            "exclusiveMinimum" => said(
                value.as_f64().is_some_and(|v| v <= number(rule)),
                at,
                "is too low",
            ),
            "minItems" => said(
                value
                    .as_array()
                    .is_some_and(|v| (v.len() as f64) < number(rule)),
                at,
                "is too short",
            ),
            "maxItems" => said(
                value
                    .as_array()
                    .is_some_and(|v| v.len() as f64 > number(rule)),
                at,
                "is too long",
            ),
            "uniqueItems" => said(
                value
                    .as_array()
                    .is_some_and(|v| (1..v.len()).any(|i| v[..i].contains(&v[i]))),
                at,
                "repeats",
            ),
            "pattern" => {
                assert_eq!(
                    rule, "^[0-9a-f]{64}$",
                    "the one pattern that is checked here"
                );
                let digest = |s: &str| {
                    s.len() == 64
                        && s.chars()
                            .all(|c| c.is_ascii_digit() || ('a'..='f').contains(&c))
                };
                said(
                    value.as_str().is_some_and(|s| !digest(s)),
                    at,
                    "is no digest",
                )
            }
            "items" => items(value, rule, root, at),
            "properties" => properties(value, rule, schema, root, at),
            other => panic!("{at}: the schema uses {other}, which is not checked here"),
        });
        if word == "required" {
            let names = rule
                .as_array()
                .expect("a list")
                .iter()
                .filter_map(Value::as_str);
            let missing = names.filter(|name| value.is_object() && value.get(name).is_none());
            found.extend(missing.map(|name| format!("{at}: lacks {name}")));
        }
    }
    if schema.get("properties").is_none()
        && let (Some(rule), Some(object)) = (schema.get("additionalProperties"), value.as_object())
    {
        found.extend(
            object
                .iter()
                .flat_map(|(key, inner)| faults(inner, rule, root, &format!("{at}.{key}"))),
        );
    }
    found
}

fn said(fault: bool, at: &str, what: &str) -> Vec<String> {
    if fault {
        vec![format!("{at}: {what}")]
    } else {
        Vec::new()
    }
}

fn number(rule: &Value) -> f64 {
    rule.as_f64().expect("a number in the schema")
}

fn resolve<'a>(reference: &Value, root: &'a Value) -> &'a Value {
    let path = reference
        .as_str()
        .and_then(|r| r.strip_prefix('#'))
        .expect("a reference into this schema");
    root.pointer(path)
        .unwrap_or_else(|| panic!("{path} is not in the schema"))
}

fn one_of(value: &Value, rules: &Value, root: &Value, at: &str, exactly: bool) -> Vec<String> {
    let all: Vec<Vec<String>> = rules
        .as_array()
        .expect("a list")
        .iter()
        .map(|rule| faults(value, rule, root, at))
        .collect();
    let fitting = all.iter().filter(|faults| faults.is_empty()).count();
    if fitting == 1 || (fitting > 1 && !exactly) {
        return Vec::new();
    }
    all.into_iter().min_by_key(Vec::len).unwrap_or_default()
}

fn types(rule: &Value) -> Box<dyn Iterator<Item = &str> + '_> {
    match rule {
        Value::String(one) => Box::new(std::iter::once(one.as_str())),
        other => Box::new(
            other
                .as_array()
                .expect("a list of types")
                .iter()
                .filter_map(Value::as_str),
        ),
    }
}

fn is_type(value: &Value, name: &str) -> bool {
    match name {
        "null" => value.is_null(),
        "boolean" => value.is_boolean(),
        "string" => value.is_string(),
        "number" => value.is_number(),
        "integer" => value.as_f64().is_some_and(|v| v.fract() == 0.0),
        "array" => value.is_array(),
        "object" => value.is_object(),
        other => panic!("no type {other}"),
    }
}

fn items(value: &Value, rule: &Value, root: &Value, at: &str) -> Vec<String> {
    let list = value.as_array().into_iter().flatten().enumerate();
    list.flat_map(|(i, item)| faults(item, rule, root, &format!("{at}[{i}]")))
        .collect()
}

fn properties(value: &Value, rules: &Value, schema: &Value, root: &Value, at: &str) -> Vec<String> {
    assert!(
        schema.get("additionalProperties").is_none(),
        "{at}: either named fields or free ones"
    );
    let Some(object) = value.as_object() else {
        return Vec::new();
    };
    let check = |(key, inner): (&String, &Value)| match rules.get(key) {
        Some(rule) => faults(inner, rule, root, &format!("{at}.{key}")),
        None => vec![format!("{at}: {key} is not described")],
    };
    object.iter().flat_map(check).collect()
}

/// Fails unless the JSON holds to that schema.
pub fn holds_to(schema: &str, json: &str) {
    let schema = parse(schema);
    let faults = faults(&parse(json), &schema, &schema, "object");
    assert_eq!(faults, Vec::<String>::new(), "{json}");
}

fn against_schema(json: &str) -> Vec<String> {
    let schema = parse(RECORD_SCHEMA);
    faults(&parse(json), &schema, &schema, "record")
}

#[test]
fn records_and_errors_hold_to_the_schema() {
    let mut withheld = scoop_of(Vec::new());
    withheld.withheld = vec![Note::new("too_dark", "the photo is too dark", "more light")];
    (withheld.ladder, withheld.scene.cup, withheld.scene.chart) = (None, None, None);
    (
        withheld.scene.px_per_mm,
        withheld.scene.scale_from,
        withheld.in_cup.seconds,
    ) = (None, None, None);
    withheld.in_cup.from = MinutesFrom::Unknown;
    let error = Error::photo("not_a_photo", "no photo", "give a JPEG");
    for json in [
        record_json(&full_scoop()),
        record_json(&withheld),
        record_json(&scoop_of(Vec::new())),
        error_json("a.jpg", &error),
    ] {
        assert_eq!(against_schema(&json), Vec::<String>::new(), "{json}");
        assert!(!json.contains('\n'));
    }
}

#[test]
fn the_check_against_the_schema_can_fail() {
    let json = record_json(&full_scoop());
    let spoilt = [
        ("\"verdict\":\"graded\"", "\"verdict\":\"fine\""),
        ("\"no\":1,", ""),
        ("\"no\":1,", "\"no\":0,"),
        ("\"no\":1,", "\"no\":1,\"extra\":1,"),
        ("\"ground\":\"white\"", "\"ground\":null"),
        ("\"bbox\":[100,40,61,21]", "\"bbox\":[100,40,61]"),
        ("\"coverage\":0.99", "\"coverage\":1.99"),
        ("\"rung\":\"G5\"", "\"rung\":\"G7\""),
        ("\"sha256\":\"0", "\"sha256\":\"x"),
        ("\"juvenile\":1", "\"juvenile\":0.5"),
    ];
    for (from, to) in spoilt {
        assert!(json.contains(from), "{from}");
        assert!(
            !against_schema(&json.replacen(from, to, 1)).is_empty(),
            "{from} -> {to}"
        );
    }
}

#[test]
fn fields_come_in_the_order_of_the_description() {
    let json = record_json(&full_scoop());
    let top = [
        "schema",
        "program",
        "photo",
        "verdict",
        "withheld",
        "doubts",
        "scene",
        "line",
        "line_guessed",
        "ladder",
        "netted_seconds",
        "minutes_in_cup",
        "minutes_from",
        "animals",
        "turned_away",
        "mix",
    ];
    let schema = parse(RECORD_SCHEMA);
    let required = schema
        .pointer("/$defs/scoop/required")
        .and_then(Value::as_array)
        .expect("a list");
    assert_eq!(
        required
            .iter()
            .filter_map(Value::as_str)
            .collect::<Vec<_>>(),
        top
    );
    // None of these words followed by a colon stands earlier in the line than its place, for the first animal's are nested.
    let order = [
        "{\"schema\":",
        ",\"program\":",
        ",\"photo\":",
        ",\"verdict\":",
        ",\"withheld\":[",
        ",\"doubts\":[",
        ",\"scene\":",
        ",\"line\":",
        ",\"line_guessed\":",
        ",\"ladder\":{",
        ",\"netted_seconds\":",
        ",\"minutes_in_cup\":",
        ",\"minutes_from\":",
        ",\"animals\":[",
        ",\"outline\":",
        ",\"holes\":",
        ",\"bbox\":",
        ",\"head\":",
        ",\"tail\":",
        ",\"sex\":",
        ",\"sex_from\":",
        ",\"view\":",
        ",\"area_px\":",
        ",\"length_px\":",
        ",\"length_mm\":",
        ",\"coverage\":",
        ",\"coverage_thirds\":",
        ",\"opacity\":",
        ",\"evenness\":",
        ",\"clear_window\":",
        ",\"islands\":",
        ",\"colour\":",
        ",\"line_de00\":",
        ",\"legs\":",
        ",\"stripe\":",
        ",\"clear_middle\":",
        ",\"uncertainty\":",
    ];
    let mut from = 0;
    for word in order {
        let at = json[from..]
            .find(word)
            .unwrap_or_else(|| panic!("{word} is missing or stands too early"));
        from += at;
    }
}

#[test]
fn numbers_are_rounded_as_stated() {
    let record = parse(&record_json(&full_scoop()));
    assert_eq!(record["scene"]["px_per_mm"], 8.3333);
    assert_eq!(
        record["scene"]["cup"]["axes"],
        serde_json::json!([250.5, 249.3])
    );
    let first = &record["animals"][0];
    assert_eq!(
        (&first["coverage"], &first["length_mm"], &first["islands"]),
        (&0.99.into(), &24.0.into(), &2.into())
    );
    assert_eq!(
        record["animals"][9]["withheld"]["opacity"],
        "too_few_covered"
    );
    assert_eq!(
        record["animals"][4]["flags"],
        serde_json::json!(["off_type"])
    );
    assert_eq!(
        record["animals"][4]["off_ladder"]["because"][0]["value"],
        0.31
    );
}

#[test]
fn one_scoop_gives_one_record() {
    assert_eq!(record_json(&full_scoop()), record_json(&full_scoop()));
}

/// Published Clopper-Pearson limits of `x` of `n`.
fn published(x: u32, n: u32) -> (f64, f64) {
    let table = table::read("c_binomial_intervals");
    let row = table.rows().find(|r| {
        r.text("method") == "cp" && r.text("x") == x.to_string() && r.text("n") == n.to_string()
    });
    let row = row.expect("a row of the table");
    (row.number("lo"), row.number("hi"))
}

#[test]
fn the_mix_has_the_published_limits() {
    // 29 animals, one of them on G5 for sure; none on G3.
    let placings: Vec<Placing> = (0..29)
        .map(|i| placed(if i == 0 { 5 } else { 1 }, None))
        .collect();
    let mix = mix(placings.iter());
    let top = &mix.rungs[0];
    let (low, high) = published(1, 29);
    assert!(
        (top.low - low).abs() < 1e-8 && (top.high - high).abs() < 1e-8,
        "{top:?}"
    );
    assert_eq!(
        (top.count, top.share, mix.rungs.len()),
        (1, Some(1.0 / 29.0), 6)
    );

    let none: Vec<Placing> = (0..20).map(|_| placed(1, None)).collect();
    let (low, high) = published(0, 20);
    let seen = catchcup::scoop::mix(none.iter()).at_or_above(Rung::BEST);
    assert!(
        (seen.low - low).abs() < 1e-8 && (seen.high - high).abs() < 1e-8,
        "{seen:?}"
    );
}

#[test]
fn undecided_animals_widen_the_range_upward_only() {
    let mut placings: Vec<Placing> = (0..148)
        .map(|i| placed(if i < 15 { 4 } else { 2 }, None))
        .collect();
    let before =
        mix(placings.iter()).at_or_above(Rung::BEST.min(placed(4, None).rung.expect("a rung")));
    let (low, high) = published(15, 148);
    assert!((before.low - low).abs() < 1e-8 && (before.high - high).abs() < 1e-8);
    // Ten of the low ones turn out too close to call at the edge of G4, five others at the edge of G2.
    placings[20..30].fill(placed(3, Some((3, 4))));
    placings[30..35].fill(placed(2, Some((1, 2))));
    let mix = mix(placings.iter());
    let after = mix.at_or_above(placed(4, None).rung.expect("a rung"));
    assert_eq!(
        (after.sure, after.undecided, after.low),
        (15, 10, before.low)
    );
    assert!(after.high > before.high);
    assert_eq!(mix.rungs.iter().map(|r| r.between).sum::<u32>(), 15);
}

#[test]
fn off_types_count_against_the_tank_and_left_out_animals_do_not() {
    let off = |off: OffLadder| Placing {
        rung: None,
        off: Some(off),
        between: None,
        chances: None,
        next: None,
    };
    let mut placings = vec![
        placed(5, None),
        placed(5, None),
        placed(5, None),
        placed(3, None),
        placed(2, None),
        placed(2, None),
        placed(1, None),
    ];
    placings.push(off(OffLadder::OffType(Vec::new())));
    placings.push(off(OffLadder::Juvenile));
    placings.push(off(OffLadder::Cut));
    placings.push(off(OffLadder::Cut));
    let mix = mix(placings.iter());
    assert_eq!((mix.n, mix.off_type, mix.judged()), (7, 1, 8));
    assert_eq!(
        mix.left_out
            .iter()
            .map(|(k, v)| (*k, *v))
            .collect::<Vec<_>>(),
        [("cut", 2), ("juvenile", 1)]
    );
    assert_eq!(mix.rungs[0].share, Some(0.375));
    let empty = catchcup::scoop::mix(std::iter::empty());
    assert_eq!(
        (
            empty.rungs[0].share,
            empty.rungs[0].low,
            empty.rungs[0].high
        ),
        (None, 0.0, 1.0)
    );
}

#[test]
fn advice_is_the_most_pressing_thing() {
    use catchcup::ladder::Rung;
    use catchcup::scoop::{Advice, advise};
    let sale = Rung::from_word("G4").expect("a rung");
    assert_eq!(advise(&full_scoop(), sale), Advice::LookAtOffTypes(vec![5]));
    assert_eq!(advise(&scoop_of(Vec::new()), sale), Advice::NoAnimals);
    let low = |n: u32| {
        scoop_of(
            (1..=n)
                .map(|no| crate::ladder_animals::animal(no, 0.1, 0.9))
                .collect(),
        )
    };
    // None of n: the exact upper limit is 1 - 0.025^(1/n) (Clopper and Pearson 1934), under 0.30 from n = 11 on.
    assert_eq!(
        advise(&low(7), sale),
        Advice::NetMore {
            more: 4,
            rung: sale
        }
    );
    assert_eq!(advise(&low(11), sale), Advice::Enough { rung: sale });
    // Half of them at the very edge: no number of animals makes that range narrow.
    let edge = scoop_of(
        (1..=8)
            .map(|no| crate::ladder_animals::animal(no, if no > 4 { 0.855 } else { 0.1 }, 0.9))
            .collect(),
    );
    assert_eq!(
        advise(&edge, sale),
        Advice::LookAtUndecided(vec![5, 6, 7, 8])
    );
    let brown = |no: u32| {
        let mut brown = crate::ladder_animals::animal(no, 0.5, 0.9);
        brown.brown_share = crate::ladder_animals::read(0.5, 0.02);
        brown
    };
    let wrong_line = scoop_of(
        (1..=5)
            .map(|no| {
                if no < 5 {
                    brown(no)
                } else {
                    crate::ladder_animals::animal(no, 0.9, 0.9)
                }
            })
            .collect(),
    );
    assert_eq!(
        advise(&wrong_line, sale),
        Advice::CheckLine {
            off_type: 4,
            judged: 5
        }
    );
    let cut = crate::ladder_animals::flagged(
        crate::ladder_animals::animal(1, 0.9, 0.9),
        catchcup::measures::Flag::Cut,
    );
    assert_eq!(advise(&scoop_of(vec![cut]), sale), Advice::NothingPlaced);
}

/// Counted out over all counts: no seed, no chance. The floor of 0.92 is what a range of discrete counts may fall to at worst; the
/// exact one never falls below its level [Clopper and Pearson 1934].
#[test]
fn the_ranges_of_the_mix_hold_for_every_share_and_number() {
    for n in [1u32, 4, 8, 12, 20, 35, 49] {
        let ranges: Vec<(f64, f64)> = (0..=n)
            .map(|x| {
                let placings: Vec<Placing> = (0..n)
                    .map(|i| placed(if i < x { 5 } else { 1 }, None))
                    .collect();
                let top = mix(placings.iter()).rungs[0];
                (top.low, top.high)
            })
            .collect();
        for step in 1..200 {
            let p = f64::from(step) / 200.0;
            let mut chance = (1.0 - p).powi(n as i32);
            let mut held = 0.0;
            for (x, (low, high)) in (0u32..).zip(&ranges) {
                if (*low..=*high).contains(&p) {
                    held += chance;
                }
                chance *= f64::from(n - x) / f64::from(x + 1) * p / (1.0 - p);
            }
            assert!(held >= 0.95 - 1e-9, "{n} animals, share {p}: {held}");
        }
    }
}
