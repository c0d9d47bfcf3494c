//! One scoop photographed several times: its fading by measure, and what the house may allow.

use super::fading::{Fading, TooFew, fading};
use super::matching::{Matching, match_photos};
use super::sighting::Sighting;
use crate::scoop::MinutesRule;

/// One photo of the scoop.
#[derive(Debug, Clone, PartialEq)]
pub struct Timed {
    /// Minutes in the cup, or since the first photo.
    pub minutes: f64,
    /// Its animals.
    pub animals: Vec<Sighting>,
}

/// What photos some minutes apart say.
#[derive(Debug, Clone, PartialEq)]
pub struct Fade {
    /// Who is who.
    pub matching: Matching,
    /// By measure its fading, or why it can't be told.
    pub measures: Vec<(&'static str, Result<Fading, TooFew>)>,
    /// Loss of mean coverage that is accepted, 0..=1.
    pub tolerated: f64,
    /// What the house may allow.
    pub proposal: Proposal,
}

/// What the house may allow.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Proposal {
    /// Too few animals or photos.
    Unknown,
    /// These limits.
    Limits(MinutesRule),
    /// The loss stays below what is accepted, for sure, until the last photo's minutes.
    NoneNeeded(f64),
    /// The loss itself stays below, but its interval does not: take more photos or animals.
    Unsure(f64),
}

/// Fading of the scoop; `tolerated` is the loss of mean coverage that is accepted, 0..=1.
pub fn fade(photos: &[Timed], tolerated: f64) -> Fade {
    let seen: Vec<Vec<Sighting>> = photos.iter().map(|p| p.animals.clone()).collect();
    let matching = match_photos(&seen);
    let minutes: Vec<f64> = photos.iter().map(|p| p.minutes).collect();
    let measures: Vec<(&'static str, Result<Fading, TooFew>)> = MEASURES
        .iter()
        .map(|(name, read)| (*name, fading(&minutes, &table(&matching, photos, *read))))
        .collect();
    let proposal = measures[0]
        .1
        .as_ref()
        .map_or(Proposal::Unknown, |f| propose(f, tolerated));
    Fade {
        matching,
        measures,
        tolerated,
        proposal,
    }
}

/// Reads a measure of a sighting.
type Read = fn(&Sighting) -> Option<f64>;

/// Measures that fade; the first one sets the limit.
const MEASURES: [(&str, Read); 3] = [
    ("coverage", |s| s.coverage),
    ("opacity", |s| s.opacity),
    ("chroma", |s| s.lab.map(|lab| lab[1].hypot(lab[2]))),
];

/// Values of the animals that have one in every photo.
fn table(matching: &Matching, photos: &[Timed], read: Read) -> Vec<Vec<f64>> {
    let of = |row: &Vec<Option<usize>>| -> Option<Vec<f64>> {
        row.iter()
            .zip(photos)
            .map(|(at, photo)| read(&photo.animals[(*at)?]))
            .collect()
    };
    matching.animals.iter().filter_map(of).collect()
}

/// Limits are given in half minutes, from half a minute on.
const HALF: f64 = 0.5;

/// Stop where the expected loss is no longer accepted, warn where it may be so already, aim at half of that.
fn propose(fading: &Fading, tolerated: f64) -> Proposal {
    let down = |minutes: f64| ((minutes / HALF).floor() * HALF).max(HALF);
    match fading.reaches(tolerated) {
        (Some(stop), upper) => {
            let warn = down(upper.unwrap_or(stop).min(stop));
            Proposal::Limits(MinutesRule {
                aim: down(warn / 2.0),
                warn,
                stop: down(stop).max(warn),
            })
        }
        (None, Some(from)) => Proposal::Unsure(from),
        (None, None) => Proposal::NoneNeeded(fading.until()),
    }
}
