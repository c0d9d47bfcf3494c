//! Why a body or blob is no animal, in plain words for the keeper.

use super::body::Body;
use super::field::Field;

/// The likeliest reason for turning a shaped body away.
///
/// One of `plant moult dropping snail bubble too_small unknown`. The order matters: hue tells plants, then size,
/// then darkness and shape. Limits were set by looking at the rendered clutter and are guesses for a label only:
/// nothing is turned away because of them.
pub fn reason(field: &Field, bbox_full: [i32; 4], body: Option<&Body>) -> &'static str {
    let step = field.step as f32;
    let [x, y, w, h] = bbox_full.map(|v| v as f32 / step);
    let tone = tone_in(field, [x, y, w, h]);
    let u = field.unit;
    let long = w.max(h);
    let round = w.min(h) / long.max(1.0);
    if tone.green > 0.3 {
        "plant"
    } else if long < 1.2 * u {
        if tone.dark > 15.0 {
            "dropping"
        } else {
            "bubble"
        }
    } else if body.is_some_and(|b| b.contrast.size < 9.0) && tone.dark < 12.0 {
        "moult"
    } else if round > 0.6 && tone.dark > 25.0 && long < 5.0 * u {
        "snail"
    } else if tone.dark > 30.0 && long < 2.5 * u {
        "dropping"
    } else if long < 2.0 * u {
        "too_small"
    } else {
        "unknown"
    }
}

struct Tone {
    /// Share of the marked pixels that are green.
    green: f32,
    /// Mean darkness of the marked pixels.
    dark: f32,
}

/// Tones of the pixels with evidence in a box (fine pixels).
fn tone_in(field: &Field, [x, y, w, h]: [f32; 4]) -> Tone {
    let plane = &field.fine.lightness;
    let (mut green, mut dark, mut count) = (0.0f32, 0.0f32, 0.0f32);
    let stride = ((w.max(h) / 60.0) as usize).max(1);
    for py in ((y.max(0.0) as usize)..((y + h) as usize).min(plane.height)).step_by(stride) {
        for px in ((x.max(0.0) as usize)..((x + w) as usize).min(plane.width)).step_by(stride) {
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
    }
}
