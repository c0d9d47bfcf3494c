//! The animal's part of the record.

use std::collections::BTreeMap;

use serde::Serialize;

use super::super::words;
use super::{point, round};
use crate::ladder::{NextRung, OffLadder, Placing, ShortOf};
use crate::measures::{AnimalMeasures, BodyColour, Sex, SexFrom, View};
use crate::scoop::GradedAnimal;
use crate::units::{Measured, Reading};

#[derive(Serialize)]
pub(super) struct AnimalObject<'a> {
    no: u32,
    outline: &'a [[i32; 2]],
    holes: &'a [Vec<[i32; 2]>],
    bbox: [i32; 4],
    head: [f64; 2],
    tail: [f64; 2],
    head_sure: f64,
    sex: &'static str,
    sex_from: &'static str,
    view: &'static str,
    area_px: f64,
    length_px: f64,
    length_mm: Option<f64>,
    coverage: Option<f64>,
    coverage_thirds: [Option<f64>; 3],
    opacity: Option<f64>,
    evenness: Option<f64>,
    clear_window: Option<f64>,
    islands: Option<i64>,
    colour: Option<ColourObject>,
    line_de00: Option<f64>,
    wrong_hue_share: Option<f64>,
    brown_share: Option<f64>,
    legs: Option<f64>,
    stripe: Option<f64>,
    clear_middle: Option<f64>,
    uncertainty: Uncertainty,
    withheld: BTreeMap<&'static str, &'static str>,
    doubts: &'a [&'static str],
    rung: Option<String>,
    between: Option<[String; 2]>,
    chances: Option<[f64; 6]>,
    next: Option<NextObject>,
    flags: Vec<&'static str>,
    off_ladder: Option<OffLadderObject>,
}

#[derive(Serialize)]
struct ColourObject {
    lab: [f64; 3],
    lab_abs: Option<[f64; 3]>,
    chroma: f64,
    hue_deg: f64,
}

/// Standard uncertainty of each measure that has a value.
#[derive(Serialize)]
struct Uncertainty {
    length_px: f64,
    #[serde(skip_serializing_if = "Option::is_none")]
    length_mm: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    coverage: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    opacity: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    evenness: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    clear_window: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    islands: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    line_de00: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    wrong_hue_share: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    brown_share: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    legs: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    stripe: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    clear_middle: Option<f64>,
}

#[derive(Serialize)]
struct NextObject {
    rung: String,
    short_of: Vec<ShortObject>,
    sentence: String,
}

#[derive(Serialize)]
struct ShortObject {
    measure: &'static str,
    value: f64,
    needs: f64,
}

#[derive(Serialize)]
struct OffLadderObject {
    reason: &'static str,
    because: Vec<BecauseObject>,
}

#[derive(Serialize)]
struct BecauseObject {
    measure: &'static str,
    value: Option<f64>,
    limit: Option<f64>,
}

pub(super) fn animal(animal: &GradedAnimal) -> AnimalObject<'_> {
    let (m, placing) = (&animal.measures, &animal.placing);
    AnimalObject {
        no: m.no,
        outline: &m.outline,
        holes: &m.holes,
        bbox: m.bbox,
        head: point(m.head),
        tail: point(m.tail),
        head_sure: round(m.head_sure, 3),
        sex: sex_word(m.sex),
        sex_from: sex_from(m.sex_from),
        view: view_word(m.view),
        area_px: round(m.area_px, 0),
        length_px: round(m.length_px.value, 1),
        length_mm: m.length_mm.map(|l| round(l.value, 2)),
        coverage: value(m.coverage, 4),
        coverage_thirds: m.coverage_thirds.map(|third| third.map(|v| round(v, 4))),
        opacity: value(m.opacity, 4),
        evenness: value(m.evenness, 4),
        clear_window: value(m.clear_window, 4),
        islands: m.islands.value().map(|v| v.round() as i64),
        colour: m.colour.as_ref().map(colour),
        line_de00: value(m.line_de00, 2),
        wrong_hue_share: value(m.wrong_hue_share, 4),
        brown_share: value(m.brown_share, 4),
        legs: value(m.legs, 4),
        stripe: value(m.stripe, 4),
        clear_middle: value(m.clear_middle, 4),
        uncertainty: uncertainty(m),
        withheld: withheld(m),
        doubts: &m.doubts,
        rung: placing.rung.map(|rung| rung.to_string()),
        between: placing
            .between
            .map(|(low, high)| [low.to_string(), high.to_string()]),
        chances: placing.chances.map(|chances| chances.map(|c| round(c, 3))),
        next: placing.next.as_ref().map(next),
        flags: m.flags.iter().map(|flag| words::flag_code(*flag)).collect(),
        off_ladder: off_ladder(placing),
    }
}

fn colour(colour: &BodyColour) -> ColourObject {
    ColourObject {
        lab: colour.lab.map(|v| round(v, 2)),
        lab_abs: colour.lab_abs.map(|lab| lab.map(|v| round(v, 2))),
        chroma: round(colour.chroma, 2),
        hue_deg: round(colour.hue_deg, 1).rem_euclid(360.0),
    }
}

fn uncertainty(m: &AnimalMeasures) -> Uncertainty {
    let of = |reading: Reading, digits| {
        reading
            .measured()
            .map(|m: Measured| round(m.uncertainty, digits))
    };
    Uncertainty {
        length_px: round(m.length_px.uncertainty, 1),
        length_mm: m.length_mm.map(|l| round(l.uncertainty, 2)),
        coverage: of(m.coverage, 4),
        opacity: of(m.opacity, 4),
        evenness: of(m.evenness, 4),
        clear_window: of(m.clear_window, 4),
        islands: of(m.islands, 2),
        line_de00: of(m.line_de00, 2),
        wrong_hue_share: of(m.wrong_hue_share, 4),
        brown_share: of(m.brown_share, 4),
        legs: of(m.legs, 4),
        stripe: of(m.stripe, 4),
        clear_middle: of(m.clear_middle, 4),
    }
}

fn withheld(m: &AnimalMeasures) -> BTreeMap<&'static str, &'static str> {
    let readings = [
        ("coverage", m.coverage),
        ("opacity", m.opacity),
        ("evenness", m.evenness),
        ("clear_window", m.clear_window),
        ("islands", m.islands),
        ("line_de00", m.line_de00),
        ("wrong_hue_share", m.wrong_hue_share),
        ("brown_share", m.brown_share),
        ("legs", m.legs),
        ("stripe", m.stripe),
        ("clear_middle", m.clear_middle),
    ];
    readings
        .into_iter()
        .filter_map(|(name, reading)| Some((name, reading.withheld()?)))
        .collect()
}

fn next(next: &NextRung) -> NextObject {
    let short = |s: &ShortOf| ShortObject {
        measure: s.measure.word(),
        value: round(s.value, 4),
        needs: round(s.needs, 4),
    };
    NextObject {
        rung: next.rung.to_string(),
        short_of: next.short_of.iter().map(short).collect(),
        sentence: words::next_sentence(next),
    }
}

fn off_ladder(placing: &Placing) -> Option<OffLadderObject> {
    let off = placing.off.as_ref()?;
    let because = match off {
        OffLadder::OffType(reasons) => reasons
            .iter()
            .map(|r| BecauseObject {
                measure: r.measure.word(),
                value: Some(round(r.value, 4)),
                limit: Some(round(r.limit, 4)),
            })
            .collect(),
        OffLadder::Withheld { measure, .. } => {
            vec![BecauseObject {
                measure: measure.word(),
                value: None,
                limit: None,
            }]
        }
        OffLadder::Cut | OffLadder::Juvenile | OffLadder::Milky => Vec::new(),
    };
    Some(OffLadderObject {
        reason: off.word(),
        because,
    })
}

/// The word for the sex in the record.
pub(in crate::report) fn sex_word(sex: Sex) -> &'static str {
    match sex {
        Sex::Female => "female",
        Sex::Male => "male",
        Sex::Unsure => "unsure",
    }
}

fn sex_from(from: SexFrom) -> &'static str {
    match from {
        SexFrom::Given => "given",
        SexFrom::Saddle => "saddle",
        SexFrom::Eggs => "eggs",
        SexFrom::None => "none",
    }
}

/// The word for the view in the record.
pub(in crate::report) fn view_word(view: View) -> &'static str {
    match view {
        View::Side => "side",
        View::Top => "top",
        View::Unsure => "unsure",
    }
}

fn value(reading: Reading, digits: i32) -> Option<f64> {
    reading.value().map(|v| round(v, digits))
}
