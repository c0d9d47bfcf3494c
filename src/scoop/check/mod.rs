//! The photo's verdict: good, usable (and what gets worse), or to be taken again.

mod measures;

pub use measures::{CheckMeasures, measures};

use crate::doubt::Note;
use crate::measures::AnimalMeasures;
use crate::photo::Photo;
use crate::scene::Scene;

/// The three answers about a photo.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Answer {
    /// Nothing about the photo makes the numbers worse.
    Good,
    /// The numbers stand, but something makes them worse.
    Usable,
    /// The numbers can't be trusted: take it again while the animals are in the cup.
    ShootAgain,
}

/// One thing that is wrong with a photo.
#[derive(Debug, Clone, PartialEq)]
pub struct Reason {
    /// How bad it is.
    pub answer: Answer,
    /// What was found and the cure.
    pub note: Note,
    /// Mean coverage error to be expected with it, 0..=1, where it was measured.
    pub coverage_error: Option<f64>,
}

/// The verdict with its reasons, worst first.
#[derive(Debug, Clone, PartialEq)]
pub struct PhotoCheck {
    /// The answer.
    pub answer: Answer,
    /// Reasons, worst first; empty for a good photo.
    pub reasons: Vec<Reason>,
    /// What it was judged by.
    pub measures: CheckMeasures,
}

/// The verdict about a photo.
pub fn check(photo: &Photo, scene: &Scene, animals: &[AnimalMeasures]) -> PhotoCheck {
    let measures = measures(photo, scene, animals);
    PhotoCheck {
        answer: Answer::Good,
        reasons: Vec::new(),
        measures,
    }
}
