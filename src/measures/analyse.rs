//! One photo and its setting to the measures of every animal.

use super::animal::{Measurement, measure};
use super::guess::{Guess, best_lines, guess_line};
use super::uncertain::Parts;
use super::{AnimalMeasures, LineColour, Sex};
use crate::animals::field::Field;
use crate::animals::find::{Animal, Found, Refused, find};
use crate::animals::models::Models;
use crate::doubt::Note;
use crate::photo::Photo;
use crate::scene::Scene;
use crate::units::Point;
use rayon::prelude::*;

/// What is asked of the measuring.
#[derive(Debug, Clone)]
pub struct MeasureRequest<'a> {
    /// The line's colour; `None` = guess it from the photo.
    pub line: Option<&'a LineColour>,
    /// Lines to guess from, and for `mixed` the colours to choose from for each animal.
    pub candidates: &'a [LineColour],
    /// The sex of all animals where the user said it.
    pub given_sex: Option<Sex>,
}

/// Something on the ground that is no gradable animal.
#[derive(Debug, Clone, PartialEq)]
pub struct TurnedAway {
    /// x, y, width, height in pixels of the upright full-size photo.
    pub bbox: [i32; 4],
    /// One of `plant snail bubble moult dropping chart too_small unknown`.
    pub reason: &'static str,
}

/// What the overlay needs of one animal beside its measures.
#[derive(Debug, Clone, PartialEq)]
pub struct AnimalPicture {
    /// Number of the animal.
    pub no: u32,
    /// Covered runs: y, first x, last x (inclusive), pixels of the upright full-size photo; none where coverage is withheld.
    pub covered: Vec<(i32, i32, i32)>,
    /// Body axis, head first.
    pub axis: Vec<Point>,
}

/// Everything measured in one photo.
#[derive(Debug, Clone)]
pub struct Analysis {
    /// Animals in reading order.
    pub animals: Vec<AnimalMeasures>,
    /// What was turned away.
    pub turned_away: Vec<TurnedAway>,
    /// For the overlay, by animal.
    pub pictures: Vec<AnimalPicture>,
    /// Id of the line used; empty where it was to be guessed and nothing could be.
    pub line: String,
    /// True when the line was guessed.
    pub line_guessed: bool,
    /// What the stated uncertainties are made of, by animal.
    pub parts: Vec<Parts>,
    /// Doubts about the measuring, costliest first.
    pub doubts: Vec<Note>,
}

/// Measures every animal of the photo.
pub fn analyse(photo: &Photo, scene: &Scene, request: &MeasureRequest) -> Analysis {
    analyse_with(photo, scene, request, &Models::built_in())
}

/// The same with other models of the finding: to try the program on photos that they were not fitted to.
pub fn analyse_with(
    photo: &Photo,
    scene: &Scene,
    request: &MeasureRequest,
    models: &Models,
) -> Analysis {
    let found = find(photo, scene, models);
    let guess = guess_line(&found, scene.ground, request);
    let lines = lines_for(&found, request, &guess);
    let size = (photo.width(), photo.height());
    let measured: Vec<Measurement> = found
        .animals
        .par_iter()
        .zip(&lines)
        .enumerate()
        .map(|(k, (animal, line))| {
            measure(
                k as u32 + 1,
                animal,
                &found.field,
                scene,
                line,
                request.given_sex,
                size,
            )
        })
        .collect();
    let pictures = measured
        .iter()
        .zip(&found.animals)
        .map(|(m, a)| picture(m, a, &found.field))
        .collect();
    Analysis {
        parts: measured.iter().map(|m| m.parts).collect(),
        animals: measured.into_iter().map(|m| m.measures).collect(),
        turned_away: chart(scene)
            .into_iter()
            .chain(found.refused.iter().map(turned_away))
            .collect(),
        pictures,
        line: guess.line.clone(),
        line_guessed: request.line.is_none() && !guess.line.is_empty(),
        doubts: guess.doubt.into_iter().collect(),
    }
}

/// The line's colour for each animal: the asked or guessed line, for `mixed` the colour that explains the animal best.
fn lines_for<'a>(
    found: &Found,
    request: &MeasureRequest<'a>,
    guess: &Guess<'a>,
) -> Vec<&'a LineColour> {
    match guess.colour {
        Some(colour) if colour.line != "mixed" || request.candidates.is_empty() => {
            vec![colour; found.animals.len()]
        }
        _ => best_lines(&found.animals, &found.field, request.candidates)
            .into_iter()
            .map(|line| line.unwrap_or(fallback(request)))
            .collect(),
    }
}

fn fallback<'a>(request: &MeasureRequest<'a>) -> &'a LineColour {
    request
        .line
        .or(request.candidates.first())
        .unwrap_or(&NO_LINE)
}

/// Stands in where neither a line nor candidates are given.
static NO_LINE: LineColour = LineColour {
    line: String::new(),
    model: super::SolidityModel::Shell,
    hue: None,
    chroma_floor: 12.0,
    achromatic: true,
    brown_allowed: true,
    full: Vec::new(),
    clear: [0.72, 0.69, 0.66],
};

/// The chart in view, as something that is no animal.
fn chart(scene: &Scene) -> Option<TurnedAway> {
    let corners = scene.chart.as_ref()?.corners;
    let low = |c: usize| corners.iter().map(|p| p[c]).fold(f32::INFINITY, f32::min) as i32;
    let high = |c: usize| {
        corners
            .iter()
            .map(|p| p[c])
            .fold(f32::NEG_INFINITY, f32::max) as i32
    };
    Some(TurnedAway {
        bbox: [low(0), low(1), high(0) - low(0) + 1, high(1) - low(1) + 1],
        reason: "chart",
    })
}

fn turned_away(refused: &Refused) -> TurnedAway {
    TurnedAway {
        bbox: refused.bbox,
        reason: refused.reason,
    }
}

fn picture(m: &Measurement, animal: &Animal, field: &Field) -> AnimalPicture {
    let step = field.step as i32;
    let told = m.measures.coverage.measured().is_some();
    let mut covered = if told { m.covered.clone() } else { Vec::new() };
    covered.sort_by_key(|&(x, y)| (y, x));
    let mut runs: Vec<(i32, i32, i32)> = Vec::new();
    for (x, y) in covered {
        match runs.last_mut() {
            Some(run) if run.0 == y && run.2 + 1 == x => run.2 = x,
            _ => runs.push((y, x, x)),
        }
    }
    let covered = runs
        .into_iter()
        .flat_map(|(y, a, b)| (0..step).map(move |k| (y * step + k, a * step, b * step + step - 1)))
        .collect();
    let axis = animal.body.ribbon.axis[animal.body.first..=animal.body.last]
        .iter()
        .map(|p| field.full_of_fine(*p))
        .collect();
    AnimalPicture {
        no: m.measures.no,
        covered,
        axis,
    }
}
