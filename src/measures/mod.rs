//! The narrow waist: above it pixels, below it numbers. [`AnimalMeasures`] is the last type that came from pixels.

pub mod analyse;
pub mod animal;
mod borders;
pub mod calibration;
pub mod guess;
pub mod hue;
pub mod line_colour;
pub mod milky;
pub mod outline;
pub mod patches;
pub mod pigment;
mod seen_colour;
pub mod signature;
pub mod smooth;
pub mod spots;
pub mod stripe;
pub mod uncertain;
pub mod veil;
pub mod view;

pub use analyse::{Analysis, AnimalPicture, MeasureRequest, TurnedAway, analyse};
pub use line_colour::{HueGate, LineColour, SolidityModel};

use crate::units::{Measured, Pixel, Point, Reading};

/// Sex as far as the photo or the user tells.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Sex {
    /// Female.
    Female,
    /// Male.
    Male,
    /// Not known.
    Unsure,
}

/// What the sex was read from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum SexFrom {
    /// Said by the user.
    Given,
    /// A saddle (ripening ovary) shows.
    Saddle,
    /// Eggs under the belly show.
    Eggs,
    /// Nothing.
    None,
}

/// From which side the animal is seen.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum View {
    /// From the side: flank and one line of legs.
    Side,
    /// From above: flanks are not seen.
    Top,
    /// Not known.
    Unsure,
}

/// A condition of the animal or of its picture. Names in the record are the lower-case words of DESIGN section 5.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Flag {
    /// Cut by the frame or hidden by the cup's edge.
    Cut,
    /// Touches or overlaps another animal.
    Touching,
    /// Shorter than the house's juvenile length; measured, not graded.
    Juvenile,
    /// A saddle shows.
    Saddle,
    /// Carries eggs.
    Berried,
    /// Glare lies over part of the body.
    Glare,
    /// Milky or stiff white body: look at it.
    Milky,
    /// Stands off the line's ladder (set by the ladder, never by the measuring).
    OffType,
}

/// Colour of the covered pixels relative to the ground beside the animal.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BodyColour {
    /// CIELAB (D65) of the mean linear-light ratio to the floor (floor = 100, 0, 0); on dark ground to a white in view.
    pub lab: [f64; 3],
    /// Absolute CIELAB (D65), only where a chart was read: in this photo, or before for this light or cup.
    pub lab_abs: Option<[f64; 3]>,
    /// Chroma of `lab`.
    pub chroma: f64,
    /// Hue of `lab` in degrees [0, 360), circular mean.
    pub hue_deg: f64,
}

/// All numbers of one animal. Plain, cloneable, no picture in it.
#[derive(Debug, Clone)]
pub struct AnimalMeasures {
    /// 1-based number in reading order, as drawn on the overlay.
    pub no: u32,
    /// Chain of integer border pixels of the body, inclusive.
    pub outline: Vec<Pixel>,
    /// Border chains of holes in the body.
    pub holes: Vec<Vec<Pixel>>,
    /// x, y, width, height of the body in pixels.
    pub bbox: [i32; 4],
    /// Rostrum tip.
    pub head: Point,
    /// End of the tail fan.
    pub tail: Point,
    /// Probability that head and tail are the right way round, 0.5..=1.
    pub head_sure: f64,
    /// Sex.
    pub sex: Sex,
    /// What the sex was read from.
    pub sex_from: SexFrom,
    /// Side or top view.
    pub view: View,
    /// Body area in pixels.
    pub area_px: f64,
    /// Length along the body axis, rostrum tip to end of tail fan, in pixels.
    pub length_px: Measured,
    /// The same in millimetres, where the scale is known.
    pub length_mm: Option<Measured>,
    /// Share of body pixels covered by the line's pigment, 0..=1.
    pub coverage: Reading,
    /// Coverage by thirds of the axis, head first; `None` where the third has too few readable pixels or coverage is withheld.
    pub coverage_thirds: [Option<f64>; 3],
    /// Mean opacity of the covered pixels, 0..=1.
    pub opacity: Reading,
    /// 1 - 2 * standard deviation of opacity over covered pixels, 0..=1.
    pub evenness: Reading,
    /// Largest connected clear area as a share of the body, 0..=1.
    pub clear_window: Reading,
    /// Count of separate covered islands.
    pub islands: Reading,
    /// Colour of the covered pixels; `None` where there are too few or it is withheld.
    pub colour: Option<BodyColour>,
    /// CIEDE2000 between `colour.lab` and the nearest colour of the line's target range.
    pub line_de00: Reading,
    /// Share of the body with pigment of a hue that is not the line's, 0..=1.
    pub wrong_hue_share: Reading,
    /// Share of the body with wild-type brown pigment, 0..=1.
    pub brown_share: Reading,
    /// Coloured share of the legs, 0..=1; withheld: at a phone's resolution legs and their shade can't be told apart
    /// (tried on the rendered scenes).
    pub legs: Reading,
    /// Unbroken share of a dorsal stripe, 0..=1; unverified on photographs.
    pub stripe: Reading,
    /// Clear share of the middle third, 0..=1 (banded lines).
    pub clear_middle: Reading,
    /// Conditions, sorted, each once. `Juvenile` and `OffType` are set later, by `scoop` and `ladder`.
    pub flags: Vec<Flag>,
    /// Codes of doubts about this animal.
    pub doubts: Vec<&'static str>,
}
