//! What colour a line is: read from its rules file by `ladder::load`, used by the measuring.
//!
//! Colours here are linear-light R, G, B (sRGB primaries) as a ratio to the floor beside the animal (floor = 1, 1, 1).

use crate::scene::Ground;

/// How the line carries its colour.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum SolidityModel {
    /// Pigment in the shell hides what lies under it (red, orange, yellow, blue, black...).
    Shell,
    /// Colour in the tissue under a glassy shell, judged by depth and evenness.
    Tissue,
    /// White pigment: needs a dark cup.
    White,
}

/// A range of hues, degrees [0, 360), counted upward from `from_deg` to `to_deg` (may run through 0).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct HueGate {
    /// Start of the range.
    pub from_deg: f64,
    /// End of the range.
    pub to_deg: f64,
}

impl HueGate {
    /// True when `hue_deg` lies in the range, ends included.
    ///
    /// ```
    /// use catchcup::measures::HueGate;
    /// let red = HueGate { from_deg: 340.0, to_deg: 50.0 };
    /// assert!(red.contains(355.0) && red.contains(20.0) && !red.contains(120.0));
    /// ```
    pub fn contains(&self, hue_deg: f64) -> bool {
        let h = hue_deg.rem_euclid(360.0);
        let (from, to) = (
            self.from_deg.rem_euclid(360.0),
            self.to_deg.rem_euclid(360.0),
        );
        if from <= to {
            h >= from && h <= to
        } else {
            h >= from || h <= to
        }
    }
}

/// The colour of a line as the measuring needs it.
#[derive(Debug, Clone, PartialEq)]
pub struct LineColour {
    /// Id of the line, for example `red` or `rili-red`; `mixed` takes any pigment.
    pub line: String,
    /// How the line carries its colour.
    pub model: SolidityModel,
    /// Hues that count as the line's; `None` = any (mixed) or without hue (black, white).
    pub hue: Option<HueGate>,
    /// CIELAB chroma (relative to the floor) below which hue is not judged.
    pub chroma_floor: f64,
    /// True for lines without hue that are judged by lightness and warmth (black).
    pub achromatic: bool,
    /// True when brown pigment is the line's own (chocolate, wild).
    pub brown_allowed: bool,
    /// Full-pigment colours, palest first, deepest last; one at least.
    pub full: Vec<[f64; 3]>,
    /// What an unpigmented body of this line shows by default.
    pub clear: [f64; 3],
}

/// What an unpigmented body shows on dark ground, relative to white (rendered scenes: 0.07 to 0.11).
pub const CLEAR_ON_DARK: [f64; 3] = [0.08, 0.08, 0.08];

impl LineColour {
    /// The line as it looks on that ground: on dark ground clear parts are dark.
    pub fn on(&self, ground: Ground) -> Self {
        let mut line = self.clone();
        if ground == Ground::Dark {
            line.clear = CLEAR_ON_DARK;
        }
        line
    }
}
