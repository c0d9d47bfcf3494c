//! Agreement of repeated photos as JSON.

use serde::Serialize;

use super::round;
use crate::trends::steady::{MeasureAgreement, Steady};
use crate::trends::{MatchedBy, Matching, Sighting};

/// Kind and version of the object.
pub const STEADY_KIND: &str = "catchcup.steady/1";

#[derive(Serialize)]
struct SteadyObject<'a> {
    schema: &'static str,
    photos: Vec<PhotoObject<'a>>,
    animals: Vec<Vec<Option<u32>>>,
    measures: Vec<MeasureObject<'a>>,
    colour: Option<ColourObject>,
    rungs: RungsObject,
}

/// One of the photos compared.
#[derive(Serialize)]
pub(super) struct PhotoObject<'a> {
    file: &'a str,
    animals: usize,
    matched_by: &'static str,
    unmatched: &'a [u32],
}

#[derive(Serialize)]
struct MeasureObject<'a> {
    measure: &'static str,
    animals: usize,
    icc: Option<IccObject>,
    within_sd: f64,
    believable: f64,
    mean_sd: Option<f64>,
    mean_believable: Option<f64>,
    worst_pair: Option<PairObject<'a>>,
}

#[derive(Serialize)]
struct IccObject {
    kind: &'static str,
    value: f64,
    low: f64,
    high: f64,
}

#[derive(Serialize)]
struct PairObject<'a> {
    first: &'a str,
    second: &'a str,
    animals: usize,
    shift: f64,
    sd: f64,
    low: f64,
    high: f64,
}

#[derive(Serialize)]
struct ColourObject {
    pairs: usize,
    de00_median: f64,
    de00_nine_in_ten: f64,
}

#[derive(Serialize)]
struct RungsObject {
    pairs: usize,
    agree: usize,
}

/// Agreement as one line of JSON: `files` and `photos` in the same order.
pub fn steady_json(files: &[&str], photos: &[Vec<Sighting>], found: &Steady) -> String {
    let object = SteadyObject {
        schema: STEADY_KIND,
        photos: photo_objects(files, photos, &found.matching),
        animals: numbers(photos, &found.matching),
        measures: found.measures.iter().map(|m| measure(files, m)).collect(),
        colour: found.colour.map(|c| ColourObject {
            pairs: c.pairs,
            de00_median: round(c.median, 2),
            de00_nine_in_ten: round(c.nine_in_ten, 2),
        }),
        rungs: RungsObject {
            pairs: found.rungs.0,
            agree: found.rungs.1,
        },
    };
    serde_json::to_string(&object).expect("the object has text keys and finite numbers only")
}

pub(super) fn photo_objects<'a>(
    files: &[&'a str],
    photos: &[Vec<Sighting>],
    matching: &'a Matching,
) -> Vec<PhotoObject<'a>> {
    let word = |by| match by {
        MatchedBy::Reference => "reference",
        MatchedBy::Place => "place",
        MatchedBy::Looks => "looks",
    };
    files
        .iter()
        .enumerate()
        .map(|(at, file)| PhotoObject {
            file,
            animals: photos[at].len(),
            matched_by: word(matching.by[at]),
            unmatched: &matching.unmatched[at],
        })
        .collect()
}

/// For each animal its number in every photo.
pub(super) fn numbers(photos: &[Vec<Sighting>], matching: &Matching) -> Vec<Vec<Option<u32>>> {
    let row = |row: &Vec<Option<usize>>| {
        row.iter()
            .zip(photos)
            .map(|(at, photo)| at.map(|i| photo[i].no))
            .collect()
    };
    matching.animals.iter().map(row).collect()
}

fn measure<'a>(files: &[&'a str], m: &MeasureAgreement) -> MeasureObject<'a> {
    MeasureObject {
        measure: m.measure,
        animals: m.animals,
        icc: m.icc.map(|icc| IccObject {
            kind: "ICC(2,1)",
            value: round(icc.value, 4),
            low: round(icc.interval.low, 4),
            high: round(icc.interval.high, 4),
        }),
        within_sd: round(m.within_sd, 4),
        believable: round(m.believable, 4),
        mean_sd: m.mean_sd.map(|v| round(v, 4)),
        mean_believable: m.mean_believable.map(|v| round(v, 4)),
        worst_pair: m.worst_pair.map(|(a, b, l)| PairObject {
            first: files[a],
            second: files[b],
            animals: l.n,
            shift: round(l.shift, 4),
            sd: round(l.sd, 4),
            low: round(l.low, 4),
            high: round(l.high, 4),
        }),
    }
}
