//! Which line a photo or an animal is of, where the user did not say.

use super::analyse::MeasureRequest;
use super::pigment::nearest_in_range;
use super::signature::{Signature, signature};
use super::{LineColour, SolidityModel};
use crate::animals::field::Field;
use crate::animals::find::{Animal, Found};
use crate::colour;

/// The line a photo is graded as.
#[derive(Debug, Clone)]
pub struct Guess<'a> {
    /// Id of the line, `mixed` for several; empty when there was nothing to guess from.
    pub line: String,
    /// Its colour, unless nothing could be guessed or each animal is to be graded as its own line.
    pub colour: Option<&'a LineColour>,
}

/// Share of the pigment seen that a second colour must hold for the photo to be called mixed.
const MIXED_FROM: f64 = 0.25;

/// The asked line, or the one that most of the pigment in the photo looks like.
pub fn guess_line<'a>(found: &Found, request: &MeasureRequest<'a>) -> Guess<'a> {
    if let Some(colour) = request.line {
        return Guess {
            line: colour.line.clone(),
            colour: Some(colour),
        };
    }
    let mut votes: Vec<(f64, &LineColour)> = Vec::new();
    for animal in &found.animals {
        let Some(own) = signature(animal, &found.field) else {
            continue;
        };
        if let Some(line) = nearest_line(&own, request.candidates) {
            let weight = own.share * animal.pixels.area() as f64;
            match votes.iter_mut().find(|v| v.1.line == line.line) {
                Some(vote) => vote.0 += weight,
                None => votes.push((weight, line)),
            }
        }
    }
    decide(&votes)
}

/// The line with most votes, or `mixed` where two colours hold a good part each; off-types of wild colour make no mix.
fn decide<'a>(votes: &[(f64, &'a LineColour)]) -> Guess<'a> {
    let Some((_, lead)) = votes.iter().max_by(|p, q| p.0.total_cmp(&q.0)) else {
        return Guess {
            line: String::new(),
            colour: None,
        };
    };
    let of = |other: bool| {
        let chosen = votes.iter().filter(|v| {
            (base(&v.1.line) != base(&lead.line)) == other && (!other || v.1.line != "wild")
        });
        chosen.map(|v| v.0).sum::<f64>()
    };
    if lead.line != "wild" && of(true) >= MIXED_FROM * (of(false) + of(true)) {
        return Guess {
            line: "mixed".into(),
            colour: None,
        };
    }
    Guess {
        line: lead.line.clone(),
        colour: Some(lead),
    }
}

/// The colour a line belongs to: `red` for red-tissue and rili-red.
fn base(line: &str) -> &str {
    let plain = line.strip_prefix("rili-").unwrap_or(line);
    plain.split('-').next().unwrap_or(plain)
}

/// The candidate whose full colour is nearest to the animal's own; one of wild colour for an animal that shows none.
pub fn best_line<'a>(
    animal: &Animal,
    field: &Field,
    candidates: &'a [LineColour],
) -> Option<&'a LineColour> {
    match signature(animal, field) {
        Some(own) => nearest_line(&own, candidates),
        None => candidates.iter().find(|c| c.line == "wild"),
    }
}

/// Lightness says less of a line than hue and chroma do: it goes with depth of pigment and shade.
const LIGHTNESS_WEIGHT: f64 = 0.5;
/// The rarer lines must be this much nearer than the common one of their colour.
const RARER: f64 = 1.2;
/// Colour in the tissue is even all over; a body with less pigment than this is a patchy one of a shell-coloured line.
const TISSUE_SHARE: f64 = 0.85;

/// The line whose range of full colours is nearest to an animal's colour and whose pattern is the animal's.
pub fn nearest_line<'a>(own: &Signature, candidates: &'a [LineColour]) -> Option<&'a LineColour> {
    let fits = |c: &&LineColour| {
        let patchy = c.model == SolidityModel::Tissue && own.share < TISSUE_SHARE;
        c.line != "mixed" && c.line != "white" && !c.full.is_empty() && !patchy
    };
    let banded_known = candidates.iter().any(|c| c.line.starts_with("rili-"));
    let distance = |c: &LineColour| {
        let pattern = banded_known && c.line.starts_with("rili-") != own.banded;
        let rare = matches!(c.line.as_str(), "red-tissue" | "chocolate" | "green");
        tone_distance(own.lab, &c.full) * if pattern || rare { RARER } else { 1.0 }
    };
    candidates
        .iter()
        .filter(fits)
        .map(|c| (distance(c), c))
        .min_by(|p, q| p.0.total_cmp(&q.0))
        .map(|best| best.1)
}

/// CIEDE2000 to the nearest colour of a range, lightness brought nearer first.
fn tone_distance(lab: [f64; 3], range: &[[f64; 3]]) -> f64 {
    let nearest = colour::lab(nearest_in_range(range, colour::linear_from_lab(lab)));
    let lightness = nearest[0] + LIGHTNESS_WEIGHT * (lab[0] - nearest[0]);
    colour::ciede2000([lightness, lab[1], lab[2]], nearest)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn line(id: &str, full: [f64; 3]) -> LineColour {
        LineColour {
            line: id.into(),
            model: SolidityModel::Shell,
            hue: None,
            chroma_floor: 12.0,
            achromatic: false,
            brown_allowed: true,
            full: vec![full],
            clear: [0.72, 0.69, 0.66],
        }
    }

    #[test]
    fn hue_decides_between_lines_and_pattern_between_plain_and_banded() {
        let lines = [
            line("red", [0.36, 0.03, 0.03]),
            line("rili-red", [0.36, 0.03, 0.03]),
            line("orange", [0.88, 0.22, 0.02]),
            line("wild", [0.14, 0.12, 0.08]),
        ];
        let own = |linear: [f64; 3], banded| Signature {
            lab: colour::lab(linear),
            share: 0.8,
            banded,
        };
        let id = |s: &Signature| nearest_line(s, &lines).map(|l| l.line.as_str());
        assert_eq!(id(&own([0.42, 0.08, 0.06], false)), Some("red"));
        assert_eq!(id(&own([0.42, 0.08, 0.06], true)), Some("rili-red"));
        assert_eq!(id(&own([0.80, 0.25, 0.06], false)), Some("orange"));
        assert_eq!(id(&own([0.28, 0.26, 0.20], false)), Some("wild"));
    }

    #[test]
    fn two_colours_make_a_mix_but_wild_off_types_do_not() {
        let lines = [
            line("red", [0.4, 0.0, 0.0]),
            line("yellow", [0.7, 0.5, 0.1]),
            line("wild", [0.1, 0.1, 0.1]),
            line("rili-red", [0.4, 0.0, 0.0]),
        ];
        assert_eq!(decide(&[(5.0, &lines[0]), (3.0, &lines[1])]).line, "mixed");
        assert_eq!(decide(&[(5.0, &lines[0]), (1.0, &lines[1])]).line, "red");
        assert_eq!(decide(&[(5.0, &lines[0]), (3.0, &lines[2])]).line, "red");
        assert_eq!(decide(&[(5.0, &lines[0]), (3.0, &lines[3])]).line, "red");
        assert_eq!(decide(&[]).line, "");
    }
}
