//! Which line a photo or an animal is of, where the user did not say.

use super::analyse::MeasureRequest;
use super::pigment::nearest_in_range;
use super::signature::{Signature, signature};
use super::{LineColour, SolidityModel};
use crate::animals::field::Field;
use crate::animals::find::{Animal, Found};
use crate::colour;
use crate::doubt::Note;
use crate::scene::Ground;
use rayon::prelude::*;

/// The line a photo is graded as.
#[derive(Debug, Clone)]
pub struct Guess<'a> {
    /// Id of the line, `mixed` for several; empty when there was nothing to guess from.
    pub line: String,
    /// Its colour, unless nothing could be guessed or each animal is to be graded as its own line.
    pub colour: Option<&'a LineColour>,
    /// What the guess rests on, where the line was not given.
    pub doubt: Option<Note>,
}

/// Share of the pigment seen that a second colour must hold for the photo to be called mixed.
const MIXED_FROM: f64 = 0.25;
/// Animals that must show a second colour: a single one among others is an off-type, not a mix.
const MIXED_LEAST: usize = 2;
/// Bodies with less pigment than this on average are white ones on white, or clear ones
/// (rendered scenes: 0.03 for white animals, 0.09 for the clearest others).
const HARDLY_PIGMENTED: f64 = 0.05;

/// What the animals of a photo say for one line.
#[derive(Debug, Clone, Copy)]
struct Vote<'a> {
    line: &'a LineColour,
    /// Pigmented pixels.
    pigment: f64,
    animals: usize,
}

/// The asked line, or the one that most of the pigment in the photo looks like. On dark ground clear bodies look black, so colours
/// tell nothing there: white is guessed, as dark cups are for white and banded lines (common practice, no source).
pub fn guess_line<'a>(found: &Found, ground: Ground, request: &MeasureRequest<'a>) -> Guess<'a> {
    if let Some(colour) = request.line {
        let line = colour.line.clone();
        return Guess {
            line,
            colour: Some(colour),
            doubt: None,
        };
    }
    let white = request
        .candidates
        .iter()
        .find(|c| c.model == SolidityModel::White);
    if let Some(white) = white.filter(|_| ground == Ground::Dark) {
        return Guess {
            line: white.line.clone(),
            colour: Some(white),
            doubt: Some(on_dark_ground(&white.line)),
        };
    }
    let signatures: Vec<(f64, Option<Signature>)> = found
        .animals
        .par_iter()
        .map(|a| (a.pixels.area() as f64, signature(a, &found.field)))
        .collect();
    let n = signatures.len();
    let pigment = signatures
        .iter()
        .filter_map(|(_, own)| own.map(|s| s.share))
        .sum::<f64>()
        / n.max(1) as f64;
    if let Some(white) = white.filter(|_| n > 0 && pigment < HARDLY_PIGMENTED) {
        return Guess {
            line: white.line.clone(),
            colour: Some(white),
            doubt: Some(hardly_pigmented(&white.line)),
        };
    }
    decide(&votes(&signatures, request.candidates), n)
}

fn votes<'a>(
    signatures: &[(f64, Option<Signature>)],
    candidates: &'a [LineColour],
) -> Vec<Vote<'a>> {
    let mut votes: Vec<Vote> = Vec::new();
    for (area, own) in signatures {
        let Some(own) = own else { continue };
        let Some(line) = nearest_line(own, candidates) else {
            continue;
        };
        let pigment = own.share * area;
        match votes.iter_mut().find(|v| v.line.line == line.line) {
            Some(vote) => {
                vote.pigment += pigment;
                vote.animals += 1;
            }
            None => votes.push(Vote {
                line,
                pigment,
                animals: 1,
            }),
        }
    }
    votes
}

/// The line with most pigment, or `mixed` where two animals at least show other colours that hold a good part;
/// off-types of wild-type brown make no mix. `n` animals were looked at.
fn decide<'a>(votes: &[Vote<'a>], n: usize) -> Guess<'a> {
    let Some(lead) = votes.iter().max_by(|p, q| p.pigment.total_cmp(&q.pigment)) else {
        return Guess {
            line: String::new(),
            colour: None,
            doubt: None,
        };
    };
    let (own, others): (Vec<Vote>, Vec<Vote>) = votes
        .iter()
        .partition(|v| base(&v.line.line) == base(&lead.line.line));
    let others: Vec<&Vote> = others.iter().filter(|v| !v.line.brown_allowed).collect();
    let other = others.iter().map(|v| v.pigment).sum::<f64>();
    let all = other + own.iter().map(|v| v.pigment).sum::<f64>();
    let several = others.iter().map(|v| v.animals).sum::<usize>() >= MIXED_LEAST;
    if lead.line.line != "wild" && several && other >= MIXED_FROM * all {
        return Guess {
            line: "mixed".into(),
            colour: None,
            doubt: Some(several_colours()),
        };
    }
    let alike = own.iter().map(|v| v.animals).sum();
    let line = lead.line.line.clone();
    Guess {
        doubt: Some(looks_like(&line, alike, n)),
        line,
        colour: Some(lead.line),
    }
}

/// Code of the doubt about a guessed line.
const GUESSED: &str = "line_guessed";

fn looks_like(line: &str, alike: usize, n: usize) -> Note {
    let message = format!(
        "no line was given; {line} was guessed, as {alike} of {n} animals show that colour"
    );
    Note::new(
        GUESSED,
        message,
        format!("say it: --line {line}, or line = \"{line}\" in house.toml"),
    )
}

fn several_colours() -> Note {
    let message =
        "no line was given; the animals show several colours, so each is graded by its own";
    Note::new(
        GUESSED,
        message,
        "say it: --line with the line you keep, or --line mixed",
    )
}

fn on_dark_ground(white: &str) -> Note {
    let message =
        format!("no line was given; {white} was guessed, as colours can't be told on dark ground");
    Note::new(
        GUESSED,
        message,
        format!("say it: --line {white}, or the banded line you keep, such as --line rili-red"),
    )
}

fn hardly_pigmented(white: &str) -> Note {
    let message = "no line was given and hardly any pigment shows: white animals on white, or clear ones of a coloured line";
    let hint = format!(
        "clear animals: give their --line; white ones: photograph in a dark cup with --line {white} --ground dark"
    );
    Note::new(GUESSED, message, hint)
}

/// The colour a line belongs to: `red` for red-tissue and rili-red.
fn base(line: &str) -> &str {
    let plain = line.strip_prefix("rili-").unwrap_or(line);
    plain.split('-').next().unwrap_or(plain)
}

/// For each animal the candidate whose colour is nearest to its own; one of wild colour for an animal that shows none.
/// An animal with little pigment is rather of a colour that others of the scoop show plainly.
pub fn best_lines<'a>(
    animals: &[Animal],
    field: &Field,
    candidates: &'a [LineColour],
) -> Vec<Option<&'a LineColour>> {
    let own: Vec<Option<Signature>> = animals.par_iter().map(|a| signature(a, field)).collect();
    own.iter()
        .enumerate()
        .map(|(k, signature)| {
            let Some(signature) = signature else {
                return candidates.iter().find(|c| c.line == "wild");
            };
            let plain = plain_colours(&own, k, candidates);
            nearest(signature, candidates, &|line| {
                if signature.share < THIN_SHARE && plain.contains(&base(line)) {
                    SHOWN_BY_OTHERS
                } else {
                    1.0
                }
            })
        })
        .collect()
}

/// Colours that animals other than `k` show plainly.
fn plain_colours<'a>(
    own: &[Option<Signature>],
    k: usize,
    candidates: &'a [LineColour],
) -> Vec<&'a str> {
    own.iter()
        .enumerate()
        .filter(|(j, _)| *j != k)
        .filter_map(|(_, s)| s.filter(|s| s.share >= PLAIN_SHARE))
        .filter_map(|s| nearest_line(&s, candidates))
        .map(|c| base(&c.line))
        .collect()
}

/// Lightness says less of a line than hue and chroma do: it goes with depth of pigment and shade.
const LIGHTNESS_WEIGHT: f64 = 0.5;
/// The rarer lines must be this much nearer than the common one of their colour.
const RARER: f64 = 1.2;
/// Added to every distance: below this a colour difference says nothing.
const ALIKE: f64 = 1.0;
/// A body with less pigment than this shows its pigment thinly too, over clear body by these shares.
const THIN_SHARE: f64 = 0.6;
const THIN: [f64; 5] = [0.35, 0.5, 0.65, 0.8, 1.0];
/// Unpigmented body under thin pigment (as in the rules files).
const UNDER: [f64; 3] = [0.72, 0.69, 0.66];
/// A body with as much pigment as this shows its colour plainly...
const PLAIN_SHARE: f64 = 0.45;
/// ...and brings that colour nearer for the pale ones of the scoop (0.5 to 1 measure alike on the rendered scenes).
const SHOWN_BY_OTHERS: f64 = 0.6;
/// Colour in the tissue is even all over; a body with less pigment than this is a patchy one of a shell-coloured line.
const TISSUE_SHARE: f64 = 0.85;

/// The line whose range of full colours is nearest to an animal's colour and whose pattern is the animal's.
pub fn nearest_line<'a>(own: &Signature, candidates: &'a [LineColour]) -> Option<&'a LineColour> {
    nearest(own, candidates, &|_| 1.0)
}

/// The same with each line's distance times `weight`.
fn nearest<'a>(
    own: &Signature,
    candidates: &'a [LineColour],
    weight: &dyn Fn(&str) -> f64,
) -> Option<&'a LineColour> {
    let fits = |c: &&LineColour| {
        let patchy = c.model == SolidityModel::Tissue && own.share < TISSUE_SHARE;
        c.line != "mixed" && c.line != "white" && !c.full.is_empty() && !patchy
    };
    let banded_known = candidates.iter().any(|c| c.line.starts_with("rili-"));
    let distance = |c: &LineColour| {
        let pattern = banded_known && c.line.starts_with("rili-") != own.banded;
        let rare = matches!(c.line.as_str(), "red-tissue" | "chocolate" | "green");
        let thin: &[f64] = if own.share < THIN_SHARE {
            &THIN
        } else {
            &[1.0]
        };
        let tone = thin
            .iter()
            .map(|o| tone_distance(own.lab, &over_clear(&c.full, *o)));
        (tone.fold(f64::INFINITY, f64::min) + ALIKE)
            * if pattern || rare { RARER } else { 1.0 }
            * weight(&c.line)
    };
    candidates
        .iter()
        .filter(fits)
        .map(|c| (distance(c), c))
        .min_by(|p, q| p.0.total_cmp(&q.0))
        .map(|best| best.1)
}

/// A range of full colours with only a share of their pigment, over clear body.
fn over_clear(full: &[[f64; 3]], share: f64) -> Vec<[f64; 3]> {
    full.iter()
        .map(|f| std::array::from_fn(|c| share * f[c] + (1.0 - share) * UNDER[c]))
        .collect()
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
        let pale = Signature {
            share: 0.2,
            ..own([0.58, 0.46, 0.44], false) // red over clear body, a good third of it
        };
        assert_eq!(id(&pale), Some("red"));
    }

    #[test]
    fn two_colours_make_a_mix_but_brown_ones_and_a_single_animal_do_not() {
        let mut lines = [
            line("red", [0.4, 0.0, 0.0]),
            line("yellow", [0.7, 0.5, 0.1]),
            line("wild", [0.1, 0.1, 0.1]),
            line("rili-red", [0.4, 0.0, 0.0]),
        ];
        for (k, line) in lines.iter_mut().enumerate() {
            line.brown_allowed = k == 2;
        }
        let said = |second: usize, pigment, animals| {
            let lead = Vote {
                line: &lines[0],
                pigment: 5.0,
                animals: 4,
            };
            decide(
                &[
                    lead,
                    Vote {
                        line: &lines[second],
                        pigment,
                        animals,
                    },
                ],
                8,
            )
            .line
        };
        assert_eq!(said(1, 3.0, 2), "mixed");
        assert_eq!(said(1, 1.0, 2), "red"); // too little of it
        assert_eq!(said(1, 3.0, 1), "red"); // one odd animal
        assert_eq!(said(2, 3.0, 2), "red"); // wild off-types
        assert_eq!(said(3, 3.0, 2), "red"); // banded ones of the same colour
        assert_eq!(decide(&[], 0).line, "");
    }
}
