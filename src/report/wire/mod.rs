//! The record: the only shapes that are serialised. Field order and rounding are part of the record.
//!
//! Rounding: shares, sharpness and scale to 4 digits; millimetres, CIELAB and CIEDE2000 to 2; pixels and hue to 1.

mod animal;
pub mod book;
mod chart;
mod check;
pub mod errors;
pub mod eye;
pub mod fade;
mod kept;
mod mix;
pub mod proof;
pub mod selection;
pub mod steady;
pub mod stored;
pub mod trends;
pub mod whole;

use serde::Serialize;

use crate::doubt::Note;
use crate::error::Error;
use crate::measures::TurnedAway;
use crate::scene::{Cup, Ground, ScaleFrom, Scene};
use crate::scoop::{MinutesFrom, Scoop};
use crate::units::Point;
use animal::{AnimalObject, animal};
pub(super) use animal::{sex_word, view_word};
use chart::ChartObject;
use check::{CheckObject, check};
use mix::{MixObject, mix};

/// Kind and version of the record of a scoop.
pub const SCOOP_SCHEMA: &str = "catchcup.scoop/1";
/// Kind and version of the error object.
pub const ERROR_SCHEMA: &str = "catchcup.error/1";

/// The record of one scoop as one line of JSON, without the line's end.
pub fn record_json(scoop: &Scoop) -> String {
    json(&record(scoop))
}

/// The same with what was read from each patch of a chart in view.
pub fn record_json_with_patches(scoop: &Scoop) -> String {
    let mut record = record(scoop);
    if let (Some(object), Some(chart)) = (&mut record.scene.chart, &scoop.scene.chart) {
        object.patches = chart.fit.as_ref().map(chart::patches);
    }
    json(&record)
}

fn json(record: &Record) -> String {
    serde_json::to_string(record).expect("the record has text keys and finite numbers only")
}

/// The error object of a photo that can't be read, as one line of JSON.
pub fn error_json(file: &str, error: &Error) -> String {
    let note = error.note();
    let object = ErrorObject {
        schema: ERROR_SCHEMA,
        photo: ErrorPhoto { file },
        error: NoteObject::of(note),
    };
    serde_json::to_string(&object).expect("the error object has text only")
}

#[derive(Serialize)]
struct ErrorObject<'a> {
    schema: &'a str,
    photo: ErrorPhoto<'a>,
    error: NoteObject<'a>,
}

#[derive(Serialize)]
struct ErrorPhoto<'a> {
    file: &'a str,
}

#[derive(Serialize)]
struct NoteObject<'a> {
    code: &'a str,
    message: &'a str,
    hint: &'a str,
}

impl<'a> NoteObject<'a> {
    fn of(note: &'a Note) -> Self {
        Self {
            code: note.code,
            message: &note.message,
            hint: &note.hint,
        }
    }
}

#[derive(Serialize)]
struct Record<'a> {
    schema: &'static str,
    program: Program,
    photo: PhotoObject<'a>,
    verdict: &'static str,
    withheld: Vec<NoteObject<'a>>,
    doubts: Vec<NoteObject<'a>>,
    scene: SceneObject,
    line: Option<&'a str>,
    line_guessed: bool,
    ladder: Option<LadderObject<'a>>,
    netted_seconds: Option<u32>,
    minutes_in_cup: Option<f64>,
    minutes_from: &'static str,
    animals: Vec<AnimalObject<'a>>,
    turned_away: Vec<TurnedAwayObject>,
    mix: MixObject,
}

#[derive(Serialize)]
struct Program {
    version: &'static str,
}

#[derive(Serialize)]
struct PhotoObject<'a> {
    file: &'a str,
    sha256: &'a str,
    width: usize,
    height: usize,
    taken_at: Option<&'a str>,
    camera: Option<&'a str>,
    profile: &'a str,
    check: CheckObject<'a>,
}

#[derive(Serialize)]
struct SceneObject {
    ground: &'static str,
    cup: Option<CupObject>,
    px_per_mm: Option<f64>,
    scale_from: Option<&'static str>,
    chart: Option<ChartObject>,
    colour_from: Option<&'static str>,
    glare_share: f64,
    sharpness: f64,
    clipped_share: f64,
}

#[derive(Serialize)]
struct CupObject {
    centre: [f64; 2],
    axes: [f64; 2],
    angle_deg: f64,
}

#[derive(Serialize)]
struct LadderObject<'a> {
    name: &'a str,
    sha256: &'a str,
}

#[derive(Serialize)]
struct TurnedAwayObject {
    bbox: [i32; 4],
    reason: &'static str,
}

fn record(scoop: &Scoop) -> Record<'_> {
    Record {
        schema: SCOOP_SCHEMA,
        program: Program {
            version: env!("CARGO_PKG_VERSION"),
        },
        photo: photo(scoop),
        verdict: if scoop.withheld.is_empty() {
            "graded"
        } else {
            "withheld"
        },
        withheld: scoop.withheld.iter().map(NoteObject::of).collect(),
        doubts: scoop.doubts.iter().map(NoteObject::of).collect(),
        scene: scene(&scoop.scene),
        line: scoop.ladder.as_ref().map(|ladder| ladder.line.as_str()),
        line_guessed: scoop.line_guessed,
        ladder: scoop.ladder.as_ref().map(|l| LadderObject {
            name: &l.title,
            sha256: &l.sha256,
        }),
        netted_seconds: scoop.in_cup.seconds,
        minutes_in_cup: scoop.in_cup.seconds.map(|s| round(f64::from(s) / 60.0, 2)),
        minutes_from: match scoop.in_cup.from {
            MinutesFrom::Given => "given",
            MinutesFrom::Clock => "clock",
            MinutesFrom::Unknown => "unknown",
        },
        animals: scoop.animals.iter().map(animal).collect(),
        turned_away: scoop.turned_away.iter().map(turned_away).collect(),
        mix: mix(&scoop.mix),
    }
}

fn photo(scoop: &Scoop) -> PhotoObject<'_> {
    let photo = &scoop.photo;
    PhotoObject {
        file: &photo.file,
        sha256: &photo.sha256,
        width: photo.width,
        height: photo.height,
        taken_at: photo.capture.taken_at.as_deref(),
        camera: photo.capture.camera.as_deref(),
        profile: &photo.profile,
        check: check(&scoop.check),
    }
}

fn scene(scene: &Scene) -> SceneObject {
    SceneObject {
        ground: match scene.ground {
            Ground::White => "white",
            Ground::Dark => "dark",
        },
        cup: scene.cup.as_ref().map(cup),
        px_per_mm: scene.px_per_mm.map(|m| round(m.value, 4)),
        scale_from: scene.scale_from.map(|from| match from {
            ScaleFrom::Cup => "cup",
            ScaleFrom::Chart => "chart",
            ScaleFrom::Given => "given",
        }),
        chart: scene.chart.as_ref().map(chart::chart),
        colour_from: chart::colour_from(&scene.colour),
        glare_share: round(scene.glare_share, 4),
        sharpness: round(scene.sharpness, 4),
        clipped_share: round(scene.clipped_share, 4),
    }
}

fn cup(cup: &Cup) -> CupObject {
    CupObject {
        centre: point(cup.centre),
        axes: point(cup.axes),
        angle_deg: round(f64::from(cup.angle_deg), 1),
    }
}

fn turned_away(thing: &TurnedAway) -> TurnedAwayObject {
    TurnedAwayObject {
        bbox: thing.bbox,
        reason: thing.reason,
    }
}

fn point(point: Point) -> [f64; 2] {
    point.map(|v| round(f64::from(v), 1))
}

/// `value` to `digits` after the point; never minus zero, and 0 for what is no number, so that JSON stays valid.
pub(in crate::report) fn round(value: f64, digits: i32) -> f64 {
    let scale = 10f64.powi(digits);
    let rounded = (value * scale).round() / scale;
    if rounded.is_finite() {
        rounded + 0.0
    } else {
        0.0
    }
}

#[cfg(test)]
mod tests {
    use super::round;

    #[test]
    fn rounding_keeps_json_valid() {
        assert_eq!(round(0.123_46, 4), 0.1235);
        assert_eq!(round(f64::NAN, 2), 0.0);
        assert!(round(-0.000_01, 2).is_sign_positive());
    }
}
