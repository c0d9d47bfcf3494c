//! Whether a pixel's hue is the line's, and which share of a body carries pigment of another.

use super::line_colour::LineColour;
use super::spots::Spot;

/// Chroma and hue (degrees) of a CIELAB colour.
fn polar(lab: [f32; 3]) -> (f64, f64) {
    let (a, b) = (f64::from(lab[1]), f64::from(lab[2]));
    (a.hypot(b), b.atan2(a).to_degrees().rem_euclid(360.0))
}

/// True when the colour's hue is the line's, or too weak to be judged.
pub fn fits(line: &LineColour, lab: [f32; 3]) -> bool {
    let (chroma, hue) = polar(lab);
    match line.hue {
        Some(gate) => chroma < line.chroma_floor || gate.contains(hue),
        None => true,
    }
}

/// Shares of a body with pigment that is not the line's.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct OffShares {
    /// Of a wrong hue.
    pub wrong: f64,
    /// Wild-type brown.
    pub brown: f64,
}

/// Wild-type brown: hue, chroma and lightness of the brown and olive pigment of the rendered wild animals; paler is no pigment,
/// more chroma is yellow or orange.
const BROWN_HUE: (f64, f64) = (45.0, 110.0);
const BROWN_CHROMA: (f64, f64) = (8.0, 32.0);
const BROWN_LIGHTEST: f32 = 62.0;
/// Wrong hues are judged below this lightness only, and above this chroma at the least.
const WRONG_LIGHTEST: f32 = 80.0;
const WRONG_CHROMA: f64 = 12.0;
/// Lines without hue (black): more chroma than this is another pigment.
const NO_HUE_CHROMA: f64 = 22.0;

/// Shares of the body with pigment of a wrong hue, and with wild-type brown.
pub fn off_shares(line: &LineColour, spots: &[Spot]) -> OffShares {
    let n = spots.len().max(1) as f64;
    let (mut wrong, mut brown) = (0usize, 0usize);
    for s in spots {
        let (chroma, hue) = polar(s.lab);
        if !line.brown_allowed && is_brown(s.lab[0], chroma, hue) {
            brown += 1;
        } else if s.lab[0] < WRONG_LIGHTEST && is_wrong(line, chroma, hue) {
            wrong += 1;
        }
    }
    OffShares {
        wrong: wrong as f64 / n,
        brown: brown as f64 / n,
    }
}

fn is_brown(lightness: f32, chroma: f64, hue: f64) -> bool {
    (BROWN_HUE.0..BROWN_HUE.1).contains(&hue)
        && (BROWN_CHROMA.0..BROWN_CHROMA.1).contains(&chroma)
        && lightness < BROWN_LIGHTEST
}

fn is_wrong(line: &LineColour, chroma: f64, hue: f64) -> bool {
    match line.hue {
        Some(gate) => chroma >= line.chroma_floor.max(WRONG_CHROMA) && !gate.contains(hue),
        None => line.achromatic && chroma >= NO_HUE_CHROMA,
    }
}
