//! What several photos say together: how far repeated photos of one scoop agree, and how a scoop fades in the cup.
//!
//! Takes scoops as numbers; never sees a picture, a file or a clock.

pub mod agreement;
pub mod assignment;
pub mod curve;
pub mod fade;
pub mod fading;
pub mod matching;
pub mod placement;
pub mod sighting;
pub mod steady;

pub use fade::{Fade, Proposal, Timed, fade};
pub use matching::{MatchedBy, Matching, match_photos};
pub use sighting::{Sighting, sightings};
pub use steady::{MeasureAgreement, Steady, steady};
