//! The record: the only shapes that are serialised. Field order and rounding are part of the record.
//!
//! Rounding: shares, sharpness and scale to 4 digits; millimetres, CIELAB and CIEDE2000 to 2; pixels and hue to 1.

use std::collections::BTreeMap;

use serde::Serialize;

use super::words;
use crate::doubt::Note;
use crate::error::Error;
use crate::ladder::{NextRung, OffLadder, Placing};
use crate::measures::{AnimalMeasures, BodyColour, Sex, SexFrom, TurnedAway, View};
use crate::scene::{Cup, Ground, ScaleFrom, Scene};
use crate::scoop::mix::{AtOrAbove, GradeMix, LEVEL, METHOD, RungShare};
use crate::scoop::{GradedAnimal, Scoop};
use crate::units::{Measured, Point, Reading};

/// Kind and version of the record of a scoop.
pub const SCOOP_SCHEMA: &str = "catchcup.scoop/1";
/// Kind and version of the error object.
pub const ERROR_SCHEMA: &str = "catchcup.error/1";

/// The record of one scoop as one line of JSON, without the line's end.
pub fn record_json(scoop: &Scoop) -> String {
    serde_json::to_string(&record(scoop)).expect("the record has text keys and finite numbers only")
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
}

#[derive(Serialize)]
struct SceneObject {
    ground: &'static str,
    cup: Option<CupObject>,
    px_per_mm: Option<f64>,
    scale_from: Option<&'static str>,
    chart: Option<ChartObject>,
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
struct ChartObject {
    corners: [[f64; 2]; 4],
    de00_before: Option<f64>,
    de00_after: Option<f64>,
}

#[derive(Serialize)]
struct LadderObject<'a> {
    name: &'a str,
    sha256: &'a str,
}

#[derive(Serialize)]
struct AnimalObject<'a> {
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

#[derive(Serialize)]
struct TurnedAwayObject {
    bbox: [i32; 4],
    reason: &'static str,
}

#[derive(Serialize)]
struct MixObject {
    n: u32,
    left_out: BTreeMap<&'static str, u32>,
    off_type: u32,
    judged: u32,
    method: &'static str,
    level: f64,
    rungs: Vec<RungObject>,
}

#[derive(Serialize)]
struct RungObject {
    rung: String,
    count: u32,
    between: u32,
    share: Option<f64>,
    low: f64,
    high: f64,
    at_or_above: AtOrAboveObject,
}

#[derive(Serialize)]
struct AtOrAboveObject {
    sure: u32,
    undecided: u32,
    low: f64,
    high: f64,
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
        netted_seconds: scoop.netted_seconds,
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
        chart: scene.chart.as_ref().map(|chart| ChartObject {
            corners: chart.corners.map(point),
            de00_before: None,
            de00_after: None,
        }),
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

fn animal(animal: &GradedAnimal) -> AnimalObject<'_> {
    let (m, placing) = (&animal.measures, &animal.placing);
    AnimalObject {
        no: m.no,
        outline: &m.outline,
        holes: &m.holes,
        bbox: m.bbox,
        head: point(m.head),
        tail: point(m.tail),
        head_sure: round(m.head_sure, 3),
        sex: sex(m.sex),
        sex_from: sex_from(m.sex_from),
        view: view(m.view),
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
    let short = |s: &crate::ladder::ShortOf| ShortObject {
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

fn turned_away(thing: &TurnedAway) -> TurnedAwayObject {
    TurnedAwayObject {
        bbox: thing.bbox,
        reason: thing.reason,
    }
}

fn mix(mix: &GradeMix) -> MixObject {
    MixObject {
        n: mix.n,
        left_out: mix.left_out.clone(),
        off_type: mix.off_type,
        judged: mix.judged(),
        method: METHOD,
        level: LEVEL,
        rungs: mix.rungs.iter().map(rung).collect(),
    }
}

fn rung(row: &RungShare) -> RungObject {
    let AtOrAbove {
        sure,
        undecided,
        low,
        high,
    } = row.at_or_above;
    RungObject {
        rung: row.rung.to_string(),
        count: row.count,
        between: row.between,
        share: row.share.map(|share| round(share, 4)),
        low: round(row.low, 4),
        high: round(row.high, 4),
        at_or_above: AtOrAboveObject {
            sure,
            undecided,
            low: round(low, 4),
            high: round(high, 4),
        },
    }
}

fn sex(sex: Sex) -> &'static str {
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

fn view(view: View) -> &'static str {
    match view {
        View::Side => "side",
        View::Top => "top",
        View::Unsure => "unsure",
    }
}

fn value(reading: Reading, digits: i32) -> Option<f64> {
    reading.value().map(|v| round(v, digits))
}

fn point(point: Point) -> [f64; 2] {
    point.map(|v| round(f64::from(v), 1))
}

/// `value` to `digits` after the point; never minus zero, and 0 for what is no number, so that JSON stays valid.
fn round(value: f64, digits: i32) -> f64 {
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
