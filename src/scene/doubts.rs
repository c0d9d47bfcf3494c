//! Doubts about a whole photo, each with its cure.
//!
//! All limits here are house numbers, provisional: chosen so that the rendered scenes without the fault stay silent.

use super::facts::Facts;
use super::ground::GroundLight;
use super::{Cup, Ground};
use crate::doubt::Note;

/// Luminance of a white ground outside which the exposure is doubted.
const TOO_DARK: f32 = 0.12;
const TOO_BRIGHT: f32 = 0.92;
/// Share of the ground that may be clipped, and under glare.
const MOST_CLIPPED: f64 = 0.03;
const MOST_GLARE: f64 = 0.05;
/// Weakest over strongest channel of a white ground below which the light is too coloured: the ratio to the floor takes
/// care of the cast itself, but one channel with so little light is too noisy.
const LEAST_NEUTRAL: f32 = 0.42;
/// Brightest over darkest part of the ground: the ratio to the floor takes care of gradients, but what is so dark is noisy.
const MOST_UNEVEN: f64 = 6.0;
/// Least sharpness (edges as sharp as pixels allow 0.9, blurred over six of them 0.4) of the reduced picture: a blur that is
/// seen there, at some hundred pixels to the cup, is one at the animals' scale.
const LEAST_SHARP: f64 = 0.36;
/// Least full-size pixels across the floor.
const LEAST_ACROSS: f32 = 450.0;

/// The doubts about a photo, costliest first.
pub(super) fn doubts(
    facts: &Facts,
    light: &GroundLight,
    ground: Ground,
    cup: Option<&Cup>,
    edge_unsure: bool,
) -> Vec<Note> {
    let mut out = Vec::new();
    let mut doubt = |when: bool, code, message: String, hint: &str| {
        if when {
            out.push(Note::new(code, message, hint));
        }
    };
    let white = ground == Ground::White;
    doubt(
        facts.sharpness < LEAST_SHARP,
        "out_of_focus",
        format!(
            "edges are blurred (sharpness {:.2}, at least {LEAST_SHARP:.2} was expected)",
            facts.sharpness
        ),
        "wipe the lens, tap on an animal to focus and photograph again",
    );
    doubt(
        edge_unsure,
        "cup_edge_unsure",
        "a cup was seen, but not plainly which of its rings is the edge of the floor; the scale was not taken from it".to_string(),
        "photograph the cup straight from above with its whole floor in the frame, or give the scale",
    );
    doubt(
        white && light.luminance < TOO_DARK,
        "too_dark",
        format!(
            "the ground has {:.0} % of full light, {:.0} % was expected",
            100.0 * light.luminance,
            100.0 * TOO_DARK
        ),
        "use more light or raise the exposure and photograph again",
    );
    doubt(
        facts.clipped_share > MOST_CLIPPED,
        "clipped",
        format!(
            "{:.0} % of the ground is burnt out, at most {:.0} % was expected",
            100.0 * facts.clipped_share,
            100.0 * MOST_CLIPPED
        ),
        "lower the exposure and photograph again",
    );
    doubt(
        white && light.luminance > TOO_BRIGHT,
        "too_bright",
        format!(
            "the ground has {:.0} % of full light, at most {:.0} % was expected",
            100.0 * light.luminance,
            100.0 * TOO_BRIGHT
        ),
        "lower the exposure and photograph again",
    );
    doubt(
        facts.glare_share > MOST_GLARE,
        "glare",
        format!(
            "{:.0} % of the ground is under reflections, at most {:.0} % was expected",
            100.0 * facts.glare_share,
            100.0 * MOST_GLARE
        ),
        "move the lamp aside or shade the water and photograph again",
    );
    doubt(
        white && neutrality(light) < LEAST_NEUTRAL,
        "colour_cast",
        format!(
            "the white ground is strongly coloured (weakest to strongest channel {:.2}, at least {LEAST_NEUTRAL:.2} was expected)",
            neutrality(light)
        ),
        "use white light or set the white balance on the empty cup",
    );
    doubt(
        white && facts.unevenness > MOST_UNEVEN,
        "uneven_light",
        format!(
            "the brightest part of the ground has {:.1} times the light of the darkest, at most {MOST_UNEVEN:.1} was expected",
            facts.unevenness
        ),
        "light the cup from two sides and keep your shadow off it",
    );
    if let Some(cup) = cup {
        let across = 2.0 * (cup.axes[0] * cup.axes[1]).sqrt();
        doubt(
            across < LEAST_ACROSS,
            "small",
            format!(
                "the cup's floor is {across:.0} pixels across, at least {LEAST_ACROSS:.0} were expected"
            ),
            "go nearer, so that the cup fills the frame",
        );
    }
    out
}

/// Weakest over strongest channel of the ground, 0..=1.
fn neutrality(light: &GroundLight) -> f32 {
    let most = light.rgb.iter().copied().fold(1e-6, f32::max);
    (light.rgb.iter().copied().fold(f32::INFINITY, f32::min) / most).max(0.0)
}
