//! Which line a photo or an animal is of, where the user did not say.

use super::LineColour;
use super::analyse::MeasureRequest;
use super::animal::fit_of_line;
use crate::animals::field::Field;
use crate::animals::find::{Animal, Found};

/// The line a photo is graded as.
#[derive(Debug, Clone)]
pub struct Guess<'a> {
    /// Id of the line; empty when there was nothing to guess from.
    pub line: String,
    /// Its colour, unless nothing could be guessed.
    pub colour: Option<&'a LineColour>,
}

/// The asked line, or the one that most of the animals' area looks like.
pub fn guess_line<'a>(found: &Found, request: &MeasureRequest<'a>) -> Guess<'a> {
    if let Some(colour) = request.line {
        return Guess {
            line: colour.line.clone(),
            colour: Some(colour),
        };
    }
    let mut votes: Vec<(f64, &LineColour)> = Vec::new();
    for animal in &found.animals {
        if let Some(best) = best_line(animal, &found.field, request.candidates) {
            let area = animal.pixels.area() as f64;
            match votes.iter_mut().find(|v| v.1.line == best.line) {
                Some(vote) => vote.0 += area,
                None => votes.push((area, best)),
            }
        }
    }
    let best = votes
        .into_iter()
        .max_by(|p, q| p.0.total_cmp(&q.0))
        .map(|v| v.1);
    Guess {
        line: best.map_or_else(String::new, |c| c.line.clone()),
        colour: best,
    }
}

/// The candidate whose paint leaves the least unexplained of the animal.
pub fn best_line<'a>(
    animal: &Animal,
    field: &Field,
    candidates: &'a [LineColour],
) -> Option<&'a LineColour> {
    candidates
        .iter()
        .filter(|c| c.line != "mixed" && !c.full.is_empty())
        .map(|c| (fit_of_line(animal, field, c).0, c))
        .min_by(|p, q| p.0.total_cmp(&q.0))
        .map(|best| best.1)
}
