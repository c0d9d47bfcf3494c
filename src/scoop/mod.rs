//! All of one photo: measures, places on the ladder, grade mix with intervals, and the next action.
//!
//! [`grade_photo()`] reads as the whole flow.

pub mod advice;
pub mod alarms;
pub mod check;
pub mod grade_photo;
pub mod history;
pub mod kept;
pub mod minutes;
pub mod mix;
pub mod replay;
mod size;

pub use advice::{Advice, advise};
pub use check::{Answer, PhotoCheck};
pub use grade_photo::{Graded, Order, grade_photo};
pub use history::{ConditionKind, PastScoop, last_day};
pub use kept::KeptAnimal;
pub use minutes::{InCup, MinutesFrom, MinutesRule, Netted};
pub use mix::{GradeMix, mix};

use crate::doubt::Note;
use crate::ladder::{Ladder, Placing};
use crate::measures::{AnimalMeasures, TurnedAway};
use crate::photo::CaptureInfo;
use crate::scene::Scene;

/// What the record says of the photo file.
#[derive(Debug, Clone, PartialEq)]
pub struct PhotoFacts {
    /// File name without folders.
    pub file: String,
    /// SHA-256 of the file's bytes, lower-case hexadecimal.
    pub sha256: String,
    /// Width of the upright photo in pixels.
    pub width: usize,
    /// Height of the upright photo in pixels.
    pub height: usize,
    /// Colour profile in words.
    pub profile: String,
    /// What the camera noted.
    pub capture: CaptureInfo,
}

/// One animal: measures and place.
#[derive(Debug, Clone)]
pub struct GradedAnimal {
    /// The numbers.
    pub measures: AnimalMeasures,
    /// Where it stands.
    pub placing: Placing,
}

/// Everything known of one photo of a scoop, without its pixels.
#[derive(Debug, Clone)]
pub struct Scoop {
    /// The photo file.
    pub photo: PhotoFacts,
    /// The setting.
    pub scene: Scene,
    /// The photo's verdict.
    pub check: PhotoCheck,
    /// The ladder used; `None` where the photo was withheld before the line was known, or no line could be guessed.
    pub ladder: Option<Ladder>,
    /// True when the line was guessed from the photo.
    pub line_guessed: bool,
    /// Time between netting and photo.
    pub in_cup: InCup,
    /// Animals by number.
    pub animals: Vec<GradedAnimal>,
    /// What is no gradable animal.
    pub turned_away: Vec<TurnedAway>,
    /// Shares of the rungs.
    pub mix: GradeMix,
    /// Doubts, costliest first.
    pub doubts: Vec<Note>,
    /// Reasons why nothing is graded; empty for a graded photo.
    pub withheld: Vec<Note>,
}

impl Scoop {
    /// The doubt that the animals were in the cup longer than the house ever allows; `None` within the limit, and where the
    /// minutes are unknown.
    pub fn past_the_stop(&self) -> Option<&Note> {
        self.doubts
            .iter()
            .find(|note| note.code == minutes::PAST_THE_STOP)
    }
}
