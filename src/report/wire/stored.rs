//! Stored records read again: the numbers of the animals, to be placed on another ladder.

use std::collections::BTreeMap;

use serde::Deserialize;

use super::SCOOP_SCHEMA;
use crate::error::Error;
use crate::ladder::Rung;
use crate::measures::{AnimalMeasures, BodyColour, Flag, Sex, SexFrom, View};
use crate::report::words;
use crate::scoop::KeptAnimal;
use crate::scoop::kept::Origin;
use crate::units::{Measured, Pixel, Point, Reading};

/// One stored record of a scoop.
#[derive(Debug, Clone)]
pub struct StoredScoop {
    /// File name of the photo.
    pub file: String,
    /// Line it was graded as, where there was one.
    pub line: Option<String>,
    /// How it was photographed and graded.
    pub origin: Origin,
    /// Its animals.
    pub animals: Vec<StoredAnimal>,
}

impl StoredScoop {
    /// Its animals as the book keeps them.
    pub fn kept_animals(&self) -> Vec<KeptAnimal> {
        self.animals.iter().map(StoredAnimal::kept).collect()
    }
}

/// One animal of a stored record.
#[derive(Debug, Clone)]
pub struct StoredAnimal {
    /// Its numbers; the off-type flag is left out, as the ladder sets it.
    pub measures: AnimalMeasures,
    /// The rung it was placed on then.
    pub rung: Option<Rung>,
    /// Why it had none, in the record's word.
    pub off_ladder: Option<String>,
    /// The two likely rungs where it was too close to call, lower first.
    pub between: Option<(Rung, Rung)>,
    /// Chances of G0 to G5.
    pub chances: Option<[f64; 6]>,
    /// All its flags, in the record's words.
    pub flags: Vec<String>,
}

impl StoredAnimal {
    fn kept(&self) -> KeptAnimal {
        KeptAnimal {
            rung: self.rung,
            between: self.between,
            chances: self.chances,
            off_ladder: self.off_ladder.clone(),
            flags: self.flags.clone(),
            ..KeptAnimal::measured(&self.measures)
        }
    }
}

/// The records in `text`, one JSON object a line; error objects and empty lines are left out. `name` is the file's name in
/// complaints.
///
/// # Errors
/// Where a line is no record of a scoop.
pub fn stored_scoops(name: &str, text: &str) -> Result<Vec<StoredScoop>, Error> {
    let mut scoops = Vec::new();
    for (index, line) in text.lines().enumerate() {
        if line.trim().is_empty() {
            continue;
        }
        let kind: Kind = serde_json::from_str(line).map_err(|e| no_record(name, index, &e))?;
        match kind.schema.as_str() {
            SCOOP_SCHEMA => {
                let record = serde_json::from_str(line).map_err(|e| no_record(name, index, &e))?;
                scoops.push(scoop(record));
            }
            super::ERROR_SCHEMA => {}
            other => return Err(wrong_kind(name, index, other)),
        }
    }
    Ok(scoops)
}

fn no_record(name: &str, index: usize, cause: &serde_json::Error) -> Error {
    let message = format!(
        "{name}:{}: this line is no record of a scoop: {cause}",
        index + 1
    );
    Error::rules(
        "not_a_record",
        message,
        "give what `catchcup grade --json` printed, unchanged",
    )
}

fn wrong_kind(name: &str, index: usize, kind: &str) -> Error {
    let message = format!(
        "{name}:{}: the record is of kind \"{kind}\", expected \"{SCOOP_SCHEMA}\"",
        index + 1
    );
    Error::rules(
        "not_a_record",
        message,
        "grade the photos again with this version",
    )
}

#[derive(Deserialize)]
struct Kind {
    schema: String,
}

#[derive(Deserialize)]
struct RecordIn {
    program: ProgramIn,
    photo: PhotoIn,
    doubts: Vec<DoubtIn>,
    scene: SceneIn,
    line: Option<String>,
    ladder: Option<LadderIn>,
    netted_seconds: Option<u32>,
    animals: Vec<AnimalIn>,
}

#[derive(Deserialize)]
struct ProgramIn {
    version: String,
}

#[derive(Deserialize)]
struct PhotoIn {
    file: String,
    sha256: String,
    taken_at: Option<String>,
    camera: Option<String>,
}

#[derive(Deserialize)]
struct DoubtIn {
    code: String,
}

#[derive(Deserialize)]
struct SceneIn {
    ground: String,
    px_per_mm: Option<f64>,
}

#[derive(Deserialize)]
struct LadderIn {
    sha256: String,
}

#[derive(Deserialize)]
struct AnimalIn {
    no: u32,
    outline: Vec<Pixel>,
    holes: Vec<Vec<Pixel>>,
    bbox: [i32; 4],
    head: Point,
    tail: Point,
    #[serde(default)]
    head_sure: f64,
    sex: String,
    sex_from: String,
    view: String,
    area_px: f64,
    length_px: f64,
    length_mm: Option<f64>,
    coverage: Option<f64>,
    coverage_thirds: [Option<f64>; 3],
    opacity: Option<f64>,
    evenness: Option<f64>,
    clear_window: Option<f64>,
    islands: Option<f64>,
    colour: Option<ColourIn>,
    line_de00: Option<f64>,
    wrong_hue_share: Option<f64>,
    brown_share: Option<f64>,
    legs: Option<f64>,
    stripe: Option<f64>,
    clear_middle: Option<f64>,
    uncertainty: BTreeMap<String, f64>,
    withheld: BTreeMap<String, String>,
    rung: Option<String>,
    between: Option<[String; 2]>,
    #[serde(default)]
    chances: Option<[f64; 6]>,
    flags: Vec<String>,
    off_ladder: Option<OffLadderIn>,
}

#[derive(Deserialize)]
struct ColourIn {
    lab: [f64; 3],
    lab_abs: Option<[f64; 3]>,
    chroma: f64,
    hue_deg: f64,
}

#[derive(Deserialize)]
struct OffLadderIn {
    reason: String,
}

fn scoop(record: RecordIn) -> StoredScoop {
    let origin = Origin {
        photo_sha256: Some(record.photo.sha256),
        photo_file: Some(record.photo.file.clone()),
        photo_kept: false,
        taken_at: record.photo.taken_at,
        camera: record.photo.camera,
        ladder: record.line.clone(),
        ladder_sha256: record.ladder.map(|ladder| ladder.sha256),
        ground: Some(record.scene.ground),
        px_per_mm: record.scene.px_per_mm,
        netted_seconds: record.netted_seconds,
        doubts: record.doubts.into_iter().map(|doubt| doubt.code).collect(),
        program: Some(record.program.version),
    };
    StoredScoop {
        file: record.photo.file,
        line: record.line,
        origin,
        animals: record.animals.into_iter().map(animal).collect(),
    }
}

fn animal(a: AnimalIn) -> StoredAnimal {
    let stated = |name: &str| a.uncertainty.get(name).copied().unwrap_or(0.0);
    let reading = |name: &str, value: Option<f64>| match value {
        Some(value) => Reading::Value(Measured::new(value, stated(name))),
        None => Reading::Withheld(
            a.withheld
                .get(name)
                .map_or("not_measured", |code| words::known_reason(code)),
        ),
    };
    let measures = AnimalMeasures {
        no: a.no,
        bbox: a.bbox,
        head: a.head,
        tail: a.tail,
        head_sure: a.head_sure,
        sex: sex(&a.sex),
        sex_from: sex_from(&a.sex_from),
        view: view(&a.view),
        area_px: a.area_px,
        length_px: Measured::new(a.length_px, stated("length_px")),
        length_mm: a.length_mm.map(|l| Measured::new(l, stated("length_mm"))),
        coverage: reading("coverage", a.coverage),
        coverage_thirds: a.coverage_thirds,
        opacity: reading("opacity", a.opacity),
        evenness: reading("evenness", a.evenness),
        clear_window: reading("clear_window", a.clear_window),
        islands: reading("islands", a.islands),
        colour: a.colour.as_ref().map(|c| BodyColour {
            lab: c.lab,
            lab_abs: c.lab_abs,
            chroma: c.chroma,
            hue_deg: c.hue_deg,
        }),
        line_de00: reading("line_de00", a.line_de00),
        wrong_hue_share: reading("wrong_hue_share", a.wrong_hue_share),
        brown_share: reading("brown_share", a.brown_share),
        legs: reading("legs", a.legs),
        stripe: reading("stripe", a.stripe),
        clear_middle: reading("clear_middle", a.clear_middle),
        flags: flags(&a.flags),
        doubts: Vec::new(),
        outline: a.outline,
        holes: a.holes,
    };
    StoredAnimal {
        measures,
        rung: a.rung.as_deref().and_then(Rung::from_word),
        off_ladder: a.off_ladder.map(|off| off.reason),
        between: a
            .between
            .and_then(|[low, high]| Rung::from_word(&low).zip(Rung::from_word(&high))),
        chances: a.chances,
        flags: a.flags,
    }
}

fn sex(word: &str) -> Sex {
    match word {
        "female" => Sex::Female,
        "male" => Sex::Male,
        _ => Sex::Unsure,
    }
}

fn sex_from(word: &str) -> SexFrom {
    match word {
        "given" => SexFrom::Given,
        "saddle" => SexFrom::Saddle,
        "eggs" => SexFrom::Eggs,
        _ => SexFrom::None,
    }
}

fn view(word: &str) -> View {
    match word {
        "side" => View::Side,
        "top" => View::Top,
        _ => View::Unsure,
    }
}

/// Flags of the record; those a newer version may have added are left out.
fn flags(codes: &[String]) -> Vec<Flag> {
    let known = [
        Flag::Cut,
        Flag::Touching,
        Flag::Juvenile,
        Flag::Saddle,
        Flag::Berried,
        Flag::Glare,
        Flag::Milky,
    ];
    known
        .into_iter()
        .filter(|flag| codes.iter().any(|code| code == words::flag_code(*flag)))
        .collect()
}
