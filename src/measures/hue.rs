//! Whether a pixel's hue is the line's, and which share of a body carries pigment of another.

use super::line_colour::LineColour;
use super::smooth::Sheet;
use super::spots::Spot;
use crate::animals::raster::Pixels;

/// Chroma and hue (degrees) of a CIELAB colour.
pub(super) fn polar(lab: [f32; 3]) -> (f64, f64) {
    let (a, b) = (f64::from(lab[1]), f64::from(lab[2]));
    (a.hypot(b), b.atan2(a).to_degrees().rem_euclid(360.0))
}

/// True when the pixel's hue is the line's, or too weak to be judged.
pub fn fits(line: &LineColour, spot: &Spot) -> bool {
    let (chroma, hue) = spot.polar;
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
/// `2 thin + 1` pixels is gut, not pigment. On dark ground (`dark`) clear bodies are dark: brown and black are not judged there.
pub fn off_shares(
    line: &LineColour,
    spots: &[Spot],
    pixels: &Pixels,
    thin: usize,
    dark: bool,
) -> OffShares {
    let n = spots.len().max(1) as f64;
    let (mut wrong, mut brown) = (0usize, Vec::with_capacity(spots.len()));
    for s in spots {
        let (chroma, hue) = s.polar;
        let is_brown = !dark && !line.brown_allowed && is_brown(s.lab[0], chroma, hue);
        let black = dark && chroma < line.chroma_floor.max(WRONG_CHROMA);
        wrong += usize::from(!is_brown && !black && is_wrong(line, s.lab[0], chroma, hue));
        brown.push(if is_brown { 1.0 } else { 0.0 });
    }
    let mut sheet = Sheet::new(pixels, brown.into_iter());
    sheet.open(thin);
    OffShares {
        wrong: wrong as f64 / n,
        brown: sheet.values().sum::<f64>() / n,
    }
}

/// A saddle (ripening ovary) and eggs show yellow to green: hue, chroma and lightness of those of the rendered females.
const SADDLE_HUE: (f64, f64) = (70.0, 135.0);
const SADDLE_CHROMA: f64 = 18.0;
const SADDLE_LIGHTEST: f32 = 75.0;

/// True for the colour of a saddle or of eggs.
pub fn is_roe(lab: [f32; 3]) -> bool {
    is_roe_at(lab[0], polar(lab))
}

fn is_roe_at(lightness: f32, (chroma, hue): (f64, f64)) -> bool {
    (SADDLE_HUE.0..SADDLE_HUE.1).contains(&hue)
        && chroma >= SADDLE_CHROMA
        && lightness < SADDLE_LIGHTEST
}

/// Marks the pixels where a saddle or eggs show, in patches wider than gut; none in lines of that colour.
pub fn mark_roe(line: &LineColour, spots: &mut [Spot], pixels: &Pixels, thin: usize) {
    let middle = 0.5 * (SADDLE_HUE.0 + SADDLE_HUE.1);
    if line
        .hue
        .is_some_and(|g| g.contains(middle) || g.contains(SADDLE_HUE.0 + 10.0))
    {
        return;
    }
    let looks = spots
        .iter()
        .map(|s| f64::from(u8::from(is_roe_at(s.lab[0], s.polar))));
    let mut sheet = Sheet::new(pixels, looks);
    sheet.open(thin / 2);
    for (s, roe) in spots.iter_mut().zip(sheet.values()) {
        s.roe = roe > 0.5;
    }
}

/// Share of the body that is saddle: it lies in the head and middle thirds.
pub fn saddle_share(spots: &[Spot]) -> f64 {
    let saddle = spots.iter().filter(|s| s.roe && s.third < 2).count();
    saddle as f64 / spots.len().max(1) as f64
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::colour;
    use crate::measures::{HueGate, SolidityModel};

    fn red() -> LineColour {
        LineColour {
            line: "red".into(),
            model: SolidityModel::Shell,
            hue: Some(HueGate {
                from_deg: 340.0,
                to_deg: 48.0,
            }),
            chroma_floor: 12.0,
            achromatic: false,
            brown_allowed: false,
            full: vec![[0.36, 0.03, 0.03]],
            clear: [0.72, 0.69, 0.66],
        }
    }

    /// A body of 40 x 20 pixels whose rows from 0 to `rows` show one colour, the rest a clear body.
    fn shares(line: &LineColour, shown: [f32; 3], rows: i32) -> OffShares {
        let pixels = Pixels {
            origin: [0, 0],
            width: 40,
            height: 20,
            station: vec![1; 800],
            stations: 1,
        };
        let spots: Vec<Spot> = (0..800)
            .map(|i| {
                let seen = if i / 40 < rows {
                    shown
                } else {
                    [0.72, 0.69, 0.66]
                };
                Spot {
                    x: i % 40,
                    y: i / 40,
                    third: 0,
                    ratio: seen.map(f64::from),
                    lab: colour::lab_of_ratio_fast(seen),
                    polar: polar(colour::lab_of_ratio_fast(seen)),
                    opacity: 0.0,
                    broad: 0.0,
                    covered: false,
                    unread: false,
                    roe: false,
                }
            })
            .collect();
        off_shares(line, &spots, &pixels, 3, false)
    }

    #[test]
    fn pigment_of_other_lines_is_wrong_and_paleness_is_not() {
        let wrong = |shown| shares(&red(), shown, 10).wrong;
        assert_eq!(wrong([0.36, 0.04, 0.03]), 0.0); // red itself
        assert_eq!(wrong([0.05, 0.20, 0.50]), 0.5); // blue
        assert_eq!(wrong([0.70, 0.45, 0.08]), 0.5); // yellow
        assert_eq!(wrong([0.03, 0.03, 0.03]), 0.5); // black
        assert_eq!(wrong([0.80, 0.78, 0.74]), 0.0); // paler
    }

    #[test]
    fn broad_brown_counts_and_a_gut_line_does_not() {
        let brown = [0.30, 0.24, 0.14];
        assert!(shares(&red(), brown, 10).brown > 0.45);
        assert_eq!(shares(&red(), brown, 3).brown, 0.0);
        let mut wild = red();
        wild.brown_allowed = true;
        assert_eq!(shares(&wild, brown, 10).brown, 0.0);
    }
}
