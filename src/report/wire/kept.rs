//! A scoop of the past as an object.

use std::collections::BTreeMap;

use serde::Serialize;

use super::animal::{sex_word, view_word};
use super::book::json;
use super::round;
use crate::ladder::Measure;
use crate::measures::SexFrom;
use crate::scoop::{KeptAnimal, PastScoop};
use crate::units::Measured;

#[derive(Serialize)]
struct ScoopObject<'a> {
    schema: &'static str,
    scoop: i64,
    tank: &'a str,
    line: Option<&'a str>,
    generation: Option<u32>,
    at: String,
    who: &'a str,
    kept_apart: bool,
    second_of: Option<i64>,
    conditions: BTreeMap<&'static str, &'a str>,
    remark: &'a str,
    photo: Option<&'a str>,
    photo_sha256: Option<&'a str>,
    photo_kept: bool,
    taken_at: Option<&'a str>,
    camera: Option<&'a str>,
    ladder: Option<&'a str>,
    ladder_sha256: Option<&'a str>,
    ground: Option<&'a str>,
    px_per_mm: Option<f64>,
    netted_seconds: Option<u32>,
    doubts: &'a [String],
    program: Option<&'a str>,
    animals: Vec<AnimalObject<'a>>,
}

#[derive(Serialize)]
struct AnimalObject<'a> {
    no: u32,
    sex: &'static str,
    sex_from: &'static str,
    view: &'static str,
    bbox: Option<[i32; 4]>,
    head: Option<[f64; 2]>,
    tail: Option<[f64; 2]>,
    measures: BTreeMap<&'static str, MeasuredObject>,
    coverage_thirds: [Option<f64>; 3],
    lab: Option<[f64; 3]>,
    lab_abs: Option<[f64; 3]>,
    chroma: Option<f64>,
    hue_deg: Option<f64>,
    withheld: &'a BTreeMap<String, String>,
    flags: &'a [String],
    rung: Option<String>,
    between: Option<[String; 2]>,
    chances: Option<[f64; 6]>,
    off_ladder: Option<&'a str>,
}

#[derive(Serialize)]
struct MeasuredObject {
    value: f64,
    uncertainty: f64,
}

/// A scoop of the past with its animals.
pub fn scoop(scoop: &PastScoop) -> String {
    let o = &scoop.origin;
    json(&ScoopObject {
        schema: "catchcup.kept/1",
        scoop: scoop.number,
        tank: &scoop.tank,
        line: scoop.line.as_deref(),
        generation: scoop.generation,
        at: scoop.at.to_string(),
        who: &scoop.who,
        kept_apart: scoop.kept_apart,
        second_of: scoop.second_of,
        conditions: scoop
            .conditions
            .iter()
            .map(|(kind, value)| (kind.word(), value.as_str()))
            .collect(),
        remark: &scoop.remark,
        photo: o.photo_file.as_deref(),
        photo_sha256: o.photo_sha256.as_deref(),
        photo_kept: o.photo_kept,
        taken_at: o.taken_at.as_deref(),
        camera: o.camera.as_deref(),
        ladder: o.ladder.as_deref(),
        ladder_sha256: o.ladder_sha256.as_deref(),
        ground: o.ground.as_deref(),
        px_per_mm: o.px_per_mm.map(|v| round(v, 4)),
        netted_seconds: o.netted_seconds,
        doubts: &o.doubts,
        program: o.program.as_deref(),
        animals: scoop.animals.iter().map(animal).collect(),
    })
}

/// Measures with an uncertainty and the digits they are rounded to.
const MEASURES: [(Measure, i32); 12] = [
    (Measure::LengthMm, 2),
    (Measure::Coverage, 4),
    (Measure::Opacity, 4),
    (Measure::Evenness, 4),
    (Measure::ClearWindow, 4),
    (Measure::Islands, 2),
    (Measure::LineDe00, 2),
    (Measure::WrongHueShare, 4),
    (Measure::BrownShare, 4),
    (Measure::Legs, 4),
    (Measure::Stripe, 4),
    (Measure::ClearMiddle, 4),
];

fn animal(animal: &KeptAnimal) -> AnimalObject<'_> {
    let measured = |(measure, digits): (Measure, i32)| {
        let Measured { value, uncertainty } = animal.reading(measure)?;
        let object = MeasuredObject {
            value: round(value, digits),
            uncertainty: round(uncertainty, digits),
        };
        Some((measure.word(), object))
    };
    let ends = |end: [f32; 2]| end.map(|v| round(f64::from(v), 1));
    let lab = |lab: [f64; 3]| lab.map(|v| round(v, 2));
    AnimalObject {
        no: animal.no,
        sex: sex_word(animal.sex),
        sex_from: match animal.sex_from {
            SexFrom::Given => "given",
            SexFrom::Saddle => "saddle",
            SexFrom::Eggs => "eggs",
            SexFrom::None => "none",
        },
        view: view_word(animal.view),
        bbox: animal.place.map(|p| p.bbox),
        head: animal.place.map(|p| ends(p.head)),
        tail: animal.place.map(|p| ends(p.tail)),
        measures: MEASURES.into_iter().filter_map(measured).collect(),
        coverage_thirds: animal.coverage_thirds.map(|t| t.map(|v| round(v, 4))),
        lab: animal.colour.and_then(|c| c.lab).map(lab),
        lab_abs: animal.colour.and_then(|c| c.lab_abs).map(lab),
        chroma: animal.colour.and_then(|c| c.chroma).map(|v| round(v, 2)),
        hue_deg: animal
            .colour
            .and_then(|c| c.hue_deg)
            .map(|v| round(v, 1).rem_euclid(360.0)),
        withheld: &animal.withheld,
        flags: &animal.flags,
        rung: animal.rung.map(|rung| rung.to_string()),
        between: animal
            .between
            .map(|(low, high)| [low.to_string(), high.to_string()]),
        chances: animal.chances.map(|all| all.map(|c| round(c, 3))),
        off_ladder: animal.off_ladder.as_deref(),
    }
}
