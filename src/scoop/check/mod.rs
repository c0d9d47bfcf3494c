//! The photo's verdict: good, usable (and what gets worse), or to be taken again.

mod limits;
mod measures;
mod reasons;

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
    verdict(
        measures(photo, scene, animals),
        &scene.withheld,
        &scene.doubts,
    )
}

/// The verdict from the measures: a withheld photo is to be taken again; doubts of the setting that the measures do not
/// speak of make it usable.
pub fn verdict(measures: CheckMeasures, withheld: &[Note], doubts: &[Note]) -> PhotoCheck {
    let plain = |answer| {
        move |note: &Note| Reason {
            answer,
            note: note.clone(),
            coverage_error: None,
        }
    };
    let mut reasons: Vec<Reason> = withheld.iter().map(plain(Answer::ShootAgain)).collect();
    if withheld.is_empty() {
        reasons.extend(reasons::reasons(&measures));
        let told = doubts.iter().filter(|d| OF_THE_PHOTO.contains(&d.code));
        reasons.extend(told.map(plain(Answer::Usable)));
    }
    // Stable: reasons of the same weight stay in their order.
    reasons.sort_by_key(|reason| std::cmp::Reverse(reason.answer));
    PhotoCheck {
        answer: reasons.first().map_or(Answer::Good, |reason| reason.answer),
        reasons,
        measures,
    }
}

/// Doubts of the setting that are about the photo and have no measure of their own here.
const OF_THE_PHOTO: [&str; 3] = ["colour_cast", "uneven_light", "cup_edge_unsure"];
