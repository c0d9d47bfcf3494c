//! Whether a pixel's hue is the line's, and which share of a body carries pigment of another.

use super::line_colour::LineColour;
use super::smooth::Sheet;
use super::spots::Spot;
use crate::animals::raster::Pixels;

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
const BROWN_LIGHTEST: f32 = 70.0;
/// Wrong hues are judged below this lightness only, and above this chroma at the least.
const WRONG_LIGHTEST: f32 = 80.0;
const WRONG_CHROMA: f64 = 12.0;
/// Darker than this with less chroma than that is black pigment, wrong in a line with a hue (eyes and gut are a tenth of a body).
const BLACK_LIGHTEST: f32 = 40.0;
const BLACK_CHROMA: f64 = 8.0;
/// Lines without hue (black): more chroma than this is another pigment.
const NO_HUE_CHROMA: f64 = 22.0;

/// Shares of the body with pigment of a wrong hue, and with wild-type brown. Brown in structures narrower than
/// `2 thin + 1` pixels is gut, not pigment.
pub fn off_shares(line: &LineColour, spots: &[Spot], pixels: &Pixels, thin: usize) -> OffShares {
    let n = spots.len().max(1) as f64;
    let (mut wrong, mut brown) = (0usize, Vec::with_capacity(spots.len()));
    for s in spots {
        let (chroma, hue) = polar(s.lab);
        let is_brown = !line.brown_allowed && is_brown(s.lab[0], chroma, hue);
        wrong += usize::from(!is_brown && is_wrong(line, s.lab[0], chroma, hue));
        brown.push(if is_brown { 1.0 } else { 0.0 });
    }
    let mut sheet = Sheet::new(pixels, brown.into_iter());
    sheet.open(thin);
    OffShares {
        wrong: wrong as f64 / n,
        brown: sheet.values().sum::<f64>() / n,
    }
}

fn is_brown(lightness: f32, chroma: f64, hue: f64) -> bool {
    (BROWN_HUE.0..BROWN_HUE.1).contains(&hue)
        && (BROWN_CHROMA.0..BROWN_CHROMA.1).contains(&chroma)
        && lightness < BROWN_LIGHTEST
}

fn is_wrong(line: &LineColour, lightness: f32, chroma: f64, hue: f64) -> bool {
    let Some(gate) = line.hue else {
        return line.achromatic && lightness < WRONG_LIGHTEST && chroma >= NO_HUE_CHROMA;
    };
    if chroma >= line.chroma_floor.max(WRONG_CHROMA) {
        lightness < WRONG_LIGHTEST && !gate.contains(hue)
    } else {
        !line.brown_allowed
            && lightness < BLACK_LIGHTEST
            && chroma < line.chroma_floor.min(BLACK_CHROMA)
    }
}
