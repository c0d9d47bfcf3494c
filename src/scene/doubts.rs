//! Doubts about a whole photo, each with its cure.
//!
//! All limits here are house numbers, provisional: chosen so that the rendered scenes without the fault stay silent.

use super::casts::Casts;
use super::colour::{ColourFrom, ColourSpec, SceneColour};
use super::facts::Facts;
use super::ground::GroundLight;
use super::{Cup, Ground};
use crate::colour::{ciede2000, lab};
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

/// Change of the ground's colour across it (natural log of red or blue over green) above which there are two lights:
/// 0.1 is seen as about 4 CIEDE2000 on white. Measured: rendered scenes under one lamp stay below 0.06.
const MOST_CHANGE: f64 = 0.12;
/// Share of the ground that may lie under coloured reflections.
const MOST_REFLECTED: f64 = 0.02;
/// Difference between the floor and its record (CIEDE2000, both by the chart) above which it is another or a stained cup.
const MOST_OFF_RECORD: f64 = 5.0;

/// Doubts about the colour of the light.
pub(super) fn colour_doubts(
    casts: &Casts,
    ground: Ground,
    known: &ColourSpec,
    colour: &SceneColour,
) -> Vec<Note> {
    let mut out = Vec::new();
    if ground != Ground::White {
        return out;
    }
    if casts.change > MOST_CHANGE {
        out.push(Note::new(
            "two_lights",
            format!(
                "the ground's colour changes by {:.0} % from one side to the other, {:.0} % at most was expected: two lights of different colour",
                100.0 * casts.change,
                100.0 * MOST_CHANGE
            ),
            "switch one of the lights off or shade the window, and photograph again",
        ));
    }
    if casts.reflected > MOST_REFLECTED {
        out.push(Note::new(
            "coloured_reflection",
            format!(
                "{:.1} % of the ground is under coloured reflections, at most {:.1} % was expected",
                100.0 * casts.reflected,
                100.0 * MOST_REFLECTED
            ),
            "take coloured things (sleeves, nets, walls) away from the cup and photograph again",
        ));
    }
    out.extend(off_record(known, colour));
    out
}

/// A floor that the chart shows to be unlike its record.
fn off_record(known: &ColourSpec, colour: &SceneColour) -> Option<Note> {
    let (correction, ColourFrom::Chart) = colour.correction? else {
        return None;
    };
    // Lightness is left out: the chart need not be lit as brightly as the floor.
    let seen = lab(correction.apply(colour.floor));
    let recorded = lab(known.cup_floor?);
    let off = ciede2000([recorded[0], seen[1], seen[2]], recorded);
    (off > MOST_OFF_RECORD).then(|| {
        Note::new(
            "cup_unlike_record",
            format!("the cup's floor is {off:.1} CIEDE2000 off its record, at most {MOST_OFF_RECORD:.0} was expected"),
            "clean the cup, name the right one with --cup, or measure it again: catchcup cup add",
        )
    })
}

/// Weakest over strongest channel of the ground, 0..=1.
fn neutrality(light: &GroundLight) -> f32 {
    let most = light.rgb.iter().copied().fold(1e-6, f32::max);
    (light.rgb.iter().copied().fold(f32::INFINITY, f32::min) / most).max(0.0)
}
