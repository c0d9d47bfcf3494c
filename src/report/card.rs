//! A ladder in plain words.

use super::text::{Page, TextLine, Tone, wrap};
use super::words;
use crate::colour;
use crate::ladder::{Bounds, Condition, Ladder, Measure, Rung};
use crate::measures::{HueGate, Sex, SolidityModel};

/// The ladder in plain words, best rung first, 80 columns wide.
pub fn ladder_card(ladder: &Ladder) -> Vec<TextLine> {
    let mut out = Page::default();
    let title = format!("{} (line: {})", ladder.title, ladder.line);
    out.wrapped(Tone::Heading, "  ", &title);
    out.wrapped(Tone::Plain, "  ", &carried(ladder));
    out.blank();
    for rung in Rung::all().rev() {
        rung_lines(ladder, rung, &mut out);
    }
    out.blank();
    let off = off_types(ladder);
    if !off.is_empty() {
        out.wrapped(
            Tone::Plain,
            "  ",
            &format!("Off-type: {}", off.join(", or ")),
        );
    }
    let close = format!(
        "Too close to call: when another rung has a chance of {} or more",
        words::per_cent(ladder.between_from)
    );
    out.wrapped(Tone::Plain, "  ", &close);
    out.lines
}

/// The line's colours as they look on a white cup, encoded sRGB: an unpigmented body first, then full pigment from palest
/// to deepest.
pub fn swatches(ladder: &Ladder) -> Vec<[u8; 3]> {
    let encoded = |ratio: &[f64; 3]| {
        ratio.map(|v| (255.0 * colour::srgb_encode(v.clamp(0.0, 1.0))).round() as u8)
    };
    std::iter::once(&ladder.colour.clear)
        .chain(&ladder.colour.full)
        .map(encoded)
        .collect()
}

fn carried(ladder: &Ladder) -> String {
    let how = match ladder.colour.model {
        SolidityModel::Shell => "colour in the shell, which hides what lies under it",
        SolidityModel::Tissue => "colour in the tissue under a glassy shell",
        SolidityModel::White => "white pigment: needs a dark cup and --ground dark",
    };
    let hue = match (&ladder.colour.hue, ladder.colour.achromatic) {
        (Some(gate), _) => format!("; hue {}", hue(*gate)),
        (None, true) => "; without hue".to_string(),
        (None, false) => "; any hue".to_string(),
    };
    format!("{how}{hue}")
}

fn hue(gate: HueGate) -> String {
    format!("{:.0} to {:.0} degrees", gate.from_deg, gate.to_deg)
}

/// Columns before the words of a rung.
const INDENT: &str = "           ";

fn rung_lines(ladder: &Ladder, rung: Rung, out: &mut Page) {
    let text = format!("{INDENT}{}", asked(ladder, rung));
    for (i, line) in wrap(&text, INDENT).into_iter().enumerate() {
        let line = match i {
            0 => format!("{:<11}{}", words::rung(rung), line.trim_start()),
            _ => line,
        };
        out.line(Tone::Plain, line);
    }
    let softer = fresh(ladder.asks(rung, Sex::Male), ladder.asks(rung, Sex::Unsure));
    if !softer.is_empty() {
        let text = format!("{INDENT}males: {}", words::join(&softer));
        out.wrapped(Tone::Plain, INDENT, &text);
    }
}

/// The house's label and what the rung asks beyond the rungs below it.
fn asked(ladder: &Ladder, rung: Rung) -> String {
    let below = rung.index().checked_sub(1).and_then(Rung::from_index);
    let below = below.map_or(&[][..], |below| ladder.asks(below, Sex::Unsure));
    let asks = fresh(ladder.asks(rung, Sex::Unsure), below);
    let asked = if rung == Rung::G0 {
        "all others".to_string()
    } else {
        words::join(&asks)
    };
    match ladder.label(rung) {
        "" => asked,
        label => format!("{label}: {asked}"),
    }
}

/// The conditions that are not in `other`, in words.
fn fresh(conditions: &[Condition], other: &[Condition]) -> Vec<String> {
    conditions
        .iter()
        .filter(|condition| !other.contains(condition))
        .map(condition_words)
        .collect()
}

fn condition_words(condition: &Condition) -> String {
    let (noun, amount) = (words::noun(condition.measure), |v| {
        words::amount(condition.measure, v)
    });
    match condition.bounds {
        Bounds::Range {
            at_least: Some(low),
            at_most: Some(high),
        } => {
            format!("{noun} {} to {}", amount(low), amount(high))
        }
        Bounds::Range {
            at_least: Some(low),
            at_most: None,
        } => {
            format!("{noun} at least {}", amount(low))
        }
        Bounds::Range {
            at_least: None,
            at_most: Some(high),
        } => {
            format!("{noun} at most {}", amount(high))
        }
        Bounds::Range { .. } => format!("any {noun}"),
        Bounds::Hue(gate) => format!("{noun} {}", hue(gate)),
    }
}

fn off_types(ladder: &Ladder) -> Vec<String> {
    let limits = [
        (Measure::WrongHueShare, ladder.off_type.wrong_hue_share),
        (Measure::BrownShare, ladder.off_type.brown_share),
    ];
    let over = |(measure, limit): (Measure, Option<f64>)| {
        limit.map(|limit| {
            format!(
                "{} over more than {} of the body",
                words::noun(measure),
                words::per_cent(limit)
            )
        })
    };
    limits.into_iter().filter_map(over).collect()
}
