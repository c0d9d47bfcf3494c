//! What the animals lie on: white or dark, and whether it is a ground at all.

use super::Ground;
use crate::doubt::Note;
use crate::photo::LinearImage;
use crate::scene::grid::LUMINANCE;

/// Typical light of the ground and of the brightest things in view, linear.
#[derive(Debug, Clone, Copy)]
pub(super) struct GroundLight {
    /// Median of the ground, one a channel.
    pub rgb: [f32; 3],
    /// Luminance of that.
    pub luminance: f32,
    /// Luminance of the brightest two hundredths of the whole frame.
    pub brightest: f32,
}

/// House rules, provisional (fixed on rendered cups and photographs on white slate, wood and black cups):
/// the least ratio of weakest to strongest channel of a white ground, however strong the cast; the luminance below which
/// a ground is dark unless nothing in view is brighter; and how much brighter that must be.
const LEAST_NEUTRAL: f32 = 0.40;
const DARK_BELOW: f32 = 0.12;
const DARK_SHARE: f32 = 0.3;
/// A ground less than this share of the brightest neutral patch of a chart in view is not white.
const LEAST_OF_CHART_WHITE: f32 = 0.45;

/// Median light over the pixels marked, and the brightest of the frame.
pub(super) fn ground_light(image: &LinearImage, on_ground: &[u8]) -> GroundLight {
    let rgb = std::array::from_fn(|c| {
        let mut v: Vec<f32> = image.planes[c]
            .iter()
            .zip(on_ground)
            .filter(|(_, on)| **on > 0)
            .map(|(v, _)| *v)
            .step_by(11)
            .collect();
        quantile(&mut v, 0.6)
    });
    let [r, g, b] = &image.planes;
    let mut all: Vec<f32> = (0..r.len())
        .step_by(7)
        .map(|i| LUMINANCE[0] * r[i] + LUMINANCE[1] * g[i] + LUMINANCE[2] * b[i])
        .collect();
    let luminance = rgb.iter().zip(LUMINANCE).map(|(v, l)| v * l).sum();
    GroundLight {
        rgb,
        luminance,
        brightest: quantile(&mut all, 0.98),
    }
}

/// A quantile by rank; 0 for no values.
pub(super) fn quantile(values: &mut [f32], q: f32) -> f32 {
    if values.is_empty() {
        return 0.0;
    }
    let k = ((values.len() - 1) as f32 * q) as usize;
    *values.select_nth_unstable_by(k, f32::total_cmp).1
}

/// White or dark, or why nothing can be searched. `chart_white` is the luminance of a chart's brightest patch.
pub(super) fn judge(
    light: &GroundLight,
    said_dark: bool,
    chart_white: Option<f32>,
) -> Result<Ground, Note> {
    let is_dark = light.luminance < DARK_BELOW
        && light.luminance < DARK_SHARE * light.brightest.max(DARK_BELOW);
    match (is_dark, said_dark) {
        (true, true) => Ok(Ground::Dark),
        (true, false) => Err(Note::new(
            "ground_dark",
            "the ground is dark, a white cup or surface was expected",
            "grade with --ground dark, or photograph the scoop in a white cup",
        )),
        (false, true) => Err(Note::new(
            "ground_not_dark",
            "a dark cup was expected (--ground dark), but the ground is light",
            "leave --ground dark out, or photograph the scoop in a dark cup",
        )),
        (false, false) if is_white(light, chart_white) => Ok(Ground::White),
        (false, false) => Err(Note::new(
            "no_white_ground",
            format!(
                "the ground is coloured (weakest to strongest channel {:.2}, white needs {LEAST_NEUTRAL:.2}), a white cup or surface was expected",
                neutrality(light)
            ),
            "photograph the scoop from above in a white cup that fills most of the frame",
        )),
    }
}

/// Weakest over strongest channel, 0..=1.
fn neutrality(light: &GroundLight) -> f32 {
    let most = light.rgb.iter().copied().fold(0.0, f32::max);
    let least = light.rgb.iter().copied().fold(f32::INFINITY, f32::min);
    if most > 0.0 {
        (least / most).max(0.0)
    } else {
        0.0
    }
}

fn is_white(light: &GroundLight, chart_white: Option<f32>) -> bool {
    neutrality(light) >= LEAST_NEUTRAL
        && chart_white.is_none_or(|w| light.luminance >= LEAST_OF_CHART_WHITE * w)
}

/// The pixels that can be ground when no cup is seen: not barred, and among the brighter half of the rest.
pub(super) fn brighter_half(image: &LinearImage, barred: &[bool]) -> Vec<u8> {
    let [r, g, b] = &image.planes;
    let light = |i: usize| LUMINANCE[0] * r[i] + LUMINANCE[1] * g[i] + LUMINANCE[2] * b[i];
    let mut open: Vec<f32> = (0..r.len())
        .filter(|i| !barred[*i])
        .step_by(7)
        .map(light)
        .collect();
    let middle = quantile(&mut open, 0.5);
    (0..r.len())
        .map(|i| u8::from(!barred[i] && light(i) >= middle))
        .collect()
}
