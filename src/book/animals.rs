//! Animals of a scoop: stored rows and domain values.

use rusqlite::types::Value;
use rusqlite::{Connection, Row, params_from_iter};

use super::failed;
use super::rows::{
    height, joined, numbers, rung, sex, sex_from, sex_from_word, sex_word, view, view_word,
};
use crate::error::Error;
use crate::ladder::Measure;
use crate::scoop::KeptAnimal;
use crate::scoop::kept::{KeptColour, Place};
use crate::units::Measured;

/// Measures with an uncertainty, each in a column of its word and one with `u_` before it.
const READINGS: [Measure; 12] = [
    Measure::LengthMm,
    Measure::Coverage,
    Measure::Opacity,
    Measure::Evenness,
    Measure::ClearWindow,
    Measure::Islands,
    Measure::LineDe00,
    Measure::WrongHueShare,
    Measure::BrownShare,
    Measure::Legs,
    Measure::Stripe,
    Measure::ClearMiddle,
];

/// Columns before and after those of the readings.
const BEFORE: [&str; 6] = ["scoop", "no", "sex", "sex_from", "view", "place"];
const AFTER: [&str; 14] = [
    "coverage_head",
    "coverage_middle",
    "coverage_tail",
    "lab",
    "lab_abs",
    "chroma",
    "hue_deg",
    "withheld",
    "flags",
    "rung",
    "between_low",
    "between_high",
    "chances",
    "off_ladder",
];

/// All columns, a comma between.
pub(super) fn columns() -> String {
    let mut names: Vec<String> = BEFORE.iter().map(|name| (*name).to_string()).collect();
    for measure in READINGS {
        names.push(measure.word().to_string());
        names.push(format!("u_{}", measure.word()));
    }
    names.extend(AFTER.iter().map(|name| (*name).to_string()));
    names.join(", ")
}

/// Readings that trends are made from.
const TREND_READINGS: [Measure; 3] = [Measure::LengthMm, Measure::Coverage, Measure::Opacity];

/// Columns that [`measures`] reads, a comma between: every column that is not read makes a long history shorter to wait for.
pub(super) fn columns_of_measures() -> String {
    let mut names: Vec<String> = ["scoop", "no", "sex", "sex_from"].map(String::from).into();
    for measure in TREND_READINGS {
        names.push(measure.word().to_string());
        names.push(format!("u_{}", measure.word()));
    }
    let after = [
        "chroma",
        "hue_deg",
        "rung",
        "between_low",
        "between_high",
        "off_ladder",
    ];
    names.extend(after.map(String::from));
    names.join(", ")
}

/// The animal in a row of [`columns_of_measures`], as far as these tell.
pub(super) fn measures(row: &Row<'_>) -> rusqlite::Result<KeptAnimal> {
    let after = 4 + 2 * TREND_READINGS.len();
    let (chroma, hue_deg): (Option<f64>, Option<f64>) = (row.get(after)?, row.get(after + 1)?);
    let mut kept = KeptAnimal {
        sex: sex(row.get_ref(2)?.as_str()?),
        sex_from: sex_from(row.get_ref(3)?.as_str()?),
        colour: (chroma.is_some() || hue_deg.is_some()).then_some(KeptColour {
            lab: None,
            lab_abs: None,
            chroma,
            hue_deg,
        }),
        rung: rung(row, after + 2)?,
        between: rung(row, after + 3)?.zip(rung(row, after + 4)?),
        off_ladder: row.get(after + 5)?,
        ..KeptAnimal::blank(row.get(1)?)
    };
    for (index, measure) in TREND_READINGS.into_iter().enumerate() {
        let value: Option<f64> = row.get(4 + 2 * index)?;
        let uncertainty: Option<f64> = row.get(5 + 2 * index)?;
        if let Some(slot) = kept.slot(measure) {
            *slot = value.map(|value| Measured::new(value, uncertainty.unwrap_or(0.0)));
        }
    }
    Ok(kept)
}

/// Writes the animals of a scoop.
pub(super) fn write(db: &Connection, scoop: i64, animals: &[KeptAnimal]) -> Result<(), Error> {
    let names = columns();
    let places = vec!["?"; names.split(',').count()].join(", ");
    let sql = format!("INSERT INTO animal ({names}) VALUES ({places})");
    let mut insert = db
        .prepare_cached(&sql)
        .map_err(failed("keeping the animals"))?;
    for animal in animals {
        insert
            .execute(params_from_iter(cells(scoop, animal)))
            .map_err(failed("keeping the animals"))?;
    }
    Ok(())
}

fn cells(scoop: i64, animal: &KeptAnimal) -> Vec<Value> {
    let text = |word: &str| Value::Text(word.to_string());
    let mut cells = vec![
        Value::Integer(scoop),
        Value::Integer(animal.no.into()),
        text(sex_word(animal.sex)),
        text(sex_from_word(animal.sex_from)),
        text(view_word(animal.view)),
        animal.place.as_ref().map(place_cell).into(),
    ];
    for measure in READINGS {
        let reading = animal.reading(measure);
        cells.push(reading.map(|m| m.value).into());
        cells.push(reading.map(|m| m.uncertainty).into());
    }
    cells.extend(animal.coverage_thirds.map(Value::from));
    let colour = animal.colour.as_ref();
    cells.push(colour.and_then(|c| c.lab).map(joined).into());
    cells.push(colour.and_then(|c| c.lab_abs).map(joined).into());
    cells.push(colour.and_then(|c| c.chroma).into());
    cells.push(colour.and_then(|c| c.hue_deg).into());
    let withheld = animal
        .withheld
        .iter()
        .map(|(m, code)| format!("{m}={code}"));
    cells.push(Value::Text(joined(withheld)));
    cells.push(Value::Text(joined(&animal.flags)));
    cells.push(animal.rung.map(height).into());
    cells.push(animal.between.map(|(low, _)| height(low)).into());
    cells.push(animal.between.map(|(_, high)| height(high)).into());
    cells.push(animal.chances.map(joined).into());
    cells.push(animal.off_ladder.clone().into());
    cells
}

fn place_cell(place: &Place) -> String {
    let ends = [place.head, place.tail].concat();
    format!("{} {}", joined(place.bbox), joined(ends))
}

fn place(cell: &str) -> rusqlite::Result<Place> {
    let [x, y, w, h, hx, hy, tx, ty]: [f32; 8] = numbers(cell)?;
    Ok(Place {
        bbox: [x, y, w, h].map(|v| v as i32),
        head: [hx, hy],
        tail: [tx, ty],
    })
}

/// The animal in a row whose [`columns`] begin at `first`.
pub(super) fn animal(row: &Row<'_>, first: usize) -> rusqlite::Result<KeptAnimal> {
    let words = |at: usize| -> rusqlite::Result<Vec<String>> {
        let cell = row.get_ref(at)?.as_str()?;
        Ok(cell.split_whitespace().map(str::to_string).collect())
    };
    let after = first + BEFORE.len() + 2 * READINGS.len();
    let optional = |at: usize| -> rusqlite::Result<Option<String>> { row.get(at) };
    let mut kept = KeptAnimal {
        sex: sex(row.get_ref(first + 2)?.as_str()?),
        sex_from: sex_from(row.get_ref(first + 3)?.as_str()?),
        view: view(row.get_ref(first + 4)?.as_str()?),
        place: optional(first + 5)?.as_deref().map(place).transpose()?,
        coverage_thirds: [row.get(after)?, row.get(after + 1)?, row.get(after + 2)?],
        colour: colour(row, after + 3)?,
        flags: words(after + 8)?,
        rung: rung(row, after + 9)?,
        between: rung(row, after + 10)?.zip(rung(row, after + 11)?),
        chances: optional(after + 12)?.as_deref().map(numbers).transpose()?,
        off_ladder: optional(after + 13)?,
        ..KeptAnimal::blank(row.get(first + 1)?)
    };
    for pair in words(after + 7)? {
        if let Some((measure, code)) = pair.split_once('=') {
            kept.withheld.insert(measure.into(), code.into());
        }
    }
    for (index, measure) in READINGS.into_iter().enumerate() {
        let at = first + BEFORE.len() + 2 * index;
        let value: Option<f64> = row.get(at)?;
        let uncertainty: Option<f64> = row.get(at + 1)?;
        if let Some(slot) = kept.slot(measure) {
            *slot = value.map(|value| Measured::new(value, uncertainty.unwrap_or(0.0)));
        }
    }
    Ok(kept)
}

fn colour(row: &Row<'_>, at: usize) -> rusqlite::Result<Option<KeptColour>> {
    let lab = |at: usize| -> rusqlite::Result<Option<[f64; 3]>> {
        let cell: Option<String> = row.get(at)?;
        cell.as_deref().map(numbers).transpose()
    };
    let colour = KeptColour {
        lab: lab(at)?,
        lab_abs: lab(at + 1)?,
        chroma: row.get(at + 2)?,
        hue_deg: row.get(at + 3)?,
    };
    let known = colour.lab.is_some() || colour.chroma.is_some() || colour.hue_deg.is_some();
    Ok(known.then_some(colour))
}
