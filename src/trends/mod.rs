//! What several photos say together: how far repeated photos of one scoop agree, how a scoop fades in the cup, and whether a tank or a
//! line holds over generations.
//!
//! Takes scoops as numbers; never sees a picture, a file or a clock.

pub mod again;
pub mod agreement;
pub mod assignment;
pub mod change_point;
pub mod curve;
pub mod cusum;
pub mod drift;
pub mod ewma;
pub mod fade;
pub mod fading;
pub mod likeness;
pub mod looks;
pub mod matching;
pub mod mixed;
pub mod month;
pub mod over_time;
pub mod placement;
pub mod proportions;
pub mod rank_trend;
pub mod scatter;
pub mod series;
pub mod sighting;
pub mod slope;
pub mod steady;
pub mod tank_trend;
pub mod trial;
pub mod verdict;
pub mod watched;
pub mod whole_tank;

pub use again::{Again, photographed_again};
pub use fade::{Fade, Proposal, Timed, fade};
pub use matching::{MatchedBy, Matching, match_photos};
pub use sighting::{Sighting, sightings, sightings_of_kept};
pub use steady::{MeasureAgreement, Steady, steady};
pub use watched::Watched;
