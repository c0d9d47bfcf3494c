//! Why a body or blob is no animal, in plain words for the keeper.

use super::field::Field;

/// Darkness (100 - L*) under which a mark is a stain of the floor, a feeler or a shadow: not named unless it is long.
const FAINT: f32 = 15.0;
/// Darkness of droppings and shells.
const DARK: f32 = 25.0;

/// A box of which a smaller share looks like body holds feelers and legs, which belong to the animals around.
const THIN: f32 = 0.25;

/// The reason for turning a shaped body away: `plant`, `dropping`, `snail`, or `unknown` where none of them is clear;
/// `None` for marks too faint and small to be worth a word.
///
/// Hue tells plants, then darkness and shape the rest. The limits were set by looking at the rendered clutter, and
/// serve the label only: nothing is turned away because of them. Moults and bubbles are not told apart from stains
/// and feelers by these signs (measured: 1 of 26 such names was right), so they stay unknown.
pub fn reason(field: &Field, bbox_full: [i32; 4]) -> Option<&'static str> {
    let step = field.step as f32;
    let [x, y, w, h] = bbox_full.map(|v| v as f32 / step);
    let tone = tone_in(field, [x, y, w, h]);
    let u = field.unit;
    let long = w.max(h);
    let round = w.min(h) / long.max(1.0);
    if tone.green > 0.3 {
        Some("plant")
    } else if tone.dark < FAINT && long < 3.0 * u {
        None
    } else if round > 0.6 && tone.dark > DARK && (1.5 * u..5.0 * u).contains(&long) {
        Some("snail")
    } else if tone.dark > DARK && long < 2.5 * u {
        Some("dropping")
    } else if long < 2.0 * u || tone.filled < THIN {
        None
    } else {
        Some("unknown")
    }
}

struct Tone {
    /// Share of the marked pixels that are green.
    green: f32,
    /// Mean darkness of the marked pixels.
    dark: f32,
    /// Share of the box that is marked.
    filled: f32,
}

/// Tones of the pixels with evidence in a box (fine pixels).
fn tone_in(field: &Field, [x, y, w, h]: [f32; 4]) -> Tone {
    let plane = &field.fine.lightness;
    let (mut green, mut dark, mut count, mut all) = (0.0f32, 0.0f32, 0.0f32, 0.0f32);
    let stride = ((w.max(h) / 60.0) as usize).max(1);
    for py in ((y.max(0.0) as usize)..((y + h) as usize).min(plane.height)).step_by(stride) {
        for px in ((x.max(0.0) as usize)..((x + w) as usize).min(plane.width)).step_by(stride) {
            all += 1.0;
            if field.evidence_at([px as f32, py as f32]) < 0.0 {
                continue;
            }
            let i = py * plane.width + px;
            let (a, b) = (field.fine.a.values[i], field.fine.b.values[i]);
            green += f32::from(u8::from(a < -6.0 && b > 0.0));
            dark += 100.0 - plane.values[i];
            count += 1.0;
        }
    }
    Tone {
        green: green / count.max(1.0),
        dark: dark / count.max(1.0),
        filled: count / all.max(1.0),
    }
}
