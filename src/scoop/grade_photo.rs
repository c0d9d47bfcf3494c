//! The whole flow: photo, scene, measures, ladder, scoop. Start reading here.

use std::borrow::Cow;

use super::check::check;
use super::minutes::{InCup, MinutesRule, Netted, in_cup, long_in_cup};
use super::mix::mix;
use super::size::size_doubt;
use super::{GradedAnimal, PhotoFacts, Scoop};
use crate::doubt::Note;
use crate::error::Error;
use crate::ladder::{Ladder, Shelf, place};
use crate::measures::{
    Analysis, AnimalMeasures, AnimalPicture, Flag, LineColour, MeasureRequest, Sex, analyse,
};
use crate::photo::Photo;
use crate::scene::{ColourFrom, CupSpec, Scene, day_number, read_scene_from};

/// What the user asks of a photo.
#[derive(Debug, Clone)]
pub struct Order {
    /// Ladder of the line; `None` = guess the line from the photo.
    pub ladder: Option<Ladder>,
    /// Cup, scale and ground as far as the user knows them.
    pub cup: CupSpec,
    /// Sex of all animals, where the user sorted them.
    pub sex: Option<Sex>,
    /// Animals shorter than this are juveniles, millimetres.
    pub juvenile_mm: f64,
    /// When the animals were netted.
    pub netted: Netted,
    /// The house's limits for the minutes in the cup.
    pub minutes: MinutesRule,
}

/// A graded photo: what is told of it, and what is needed to draw on it.
#[derive(Debug)]
pub struct Graded {
    /// Everything told of the photo.
    pub scoop: Scoop,
    /// The photo.
    pub photo: Photo,
    /// Covered areas and axes for the overlay.
    pub pictures: Vec<AnimalPicture>,
}

/// The photo in `bytes`, named `file`, with every animal measured and placed on the ladder.
///
/// # Errors
/// Where the file can't be read as a photo. A photo that can't be graded is no error: its scoop says why.
pub fn grade_photo<'a>(
    file: &str,
    bytes: impl Into<Cow<'a, [u8]>>,
    order: &Order,
    shelf: &Shelf,
) -> Result<Graded, Error> {
    let photo = Photo::from_bytes(file, bytes)?;
    let scene = setting(&photo, &order.cup);
    let analysis = measure(&photo, &scene, order, shelf);
    let ladder = order
        .ladder
        .clone()
        .or_else(|| shelf.ladder(&analysis.line));
    let in_cup = in_cup(order.netted, &photo.capture);
    let mut doubts = doubts(&photo, &scene, &analysis, (&in_cup, &order.minutes));
    doubts.extend(size_doubt(
        order.cup.floor_mm.filter(|_| scene.cup.is_some()),
        &analysis.animals,
        order.juvenile_mm,
    ));
    doubts.extend(light_doubts(&photo, &scene, order));
    let check = check(&photo, &scene, &analysis.animals);
    let animals = place_all(analysis.animals, ladder.as_ref(), order.juvenile_mm);
    let scoop = Scoop {
        photo: facts(&photo),
        check,
        line_guessed: analysis.line_guessed && ladder.is_some(),
        ladder,
        in_cup,
        mix: mix(animals.iter().map(|animal| &animal.placing)),
        animals,
        turned_away: analysis.turned_away,
        doubts,
        withheld: scene.withheld.clone(),
        scene,
    };
    Ok(Graded {
        scoop,
        photo,
        pictures: analysis.pictures,
    })
}

/// Longer side of the picture on which the setting is read, at most.
const SETTING_SIDE: usize = 700;

/// The setting, read on the photo made smaller.
fn setting(photo: &Photo, cup: &CupSpec) -> Scene {
    let step = photo
        .width()
        .max(photo.height())
        .div_ceil(SETTING_SIDE)
        .next_multiple_of(photo.finest_step())
        .clamp(1, 14);
    read_scene_from(&photo.reduced(step), step, cup)
}

/// The measures of all animals; none where the setting can't be read.
fn measure(photo: &Photo, scene: &Scene, order: &Order, shelf: &Shelf) -> Analysis {
    let line = order.ladder.as_ref().map(|ladder| &ladder.colour);
    if !scene.withheld.is_empty() {
        return Analysis {
            animals: Vec::new(),
            turned_away: Vec::new(),
            pictures: Vec::new(),
            parts: Vec::new(),
            line: line.map_or_else(String::new, |colour| colour.line.clone()),
            line_guessed: false,
            doubts: Vec::new(),
        };
    }
    let candidates = candidates(line, shelf);
    analyse(
        photo,
        scene,
        &MeasureRequest {
            line,
            candidates: &candidates,
            given_sex: order.sex,
        },
    )
}

/// Colours to choose from: none where one line is given, all but `mixed` otherwise.
fn candidates(line: Option<&LineColour>, shelf: &Shelf) -> Vec<LineColour> {
    if line.is_some_and(|colour| colour.line != "mixed") {
        return Vec::new();
    }
    let others = shelf
        .ladders()
        .into_iter()
        .filter(|ladder| ladder.line != "mixed");
    others.map(|ladder| ladder.colour).collect()
}

fn place_all(
    animals: Vec<AnimalMeasures>,
    ladder: Option<&Ladder>,
    juvenile_mm: f64,
) -> Vec<GradedAnimal> {
    let Some(ladder) = ladder else {
        return Vec::new();
    };
    animals
        .into_iter()
        .map(|mut measures| {
            if measures
                .length_mm
                .is_some_and(|length| length.value < juvenile_mm)
            {
                set_flag(&mut measures, Flag::Juvenile);
            }
            let placing = place(ladder, &measures);
            if placing.is_off_type() {
                set_flag(&mut measures, Flag::OffType);
            }
            GradedAnimal { measures, placing }
        })
        .collect()
}

fn set_flag(measures: &mut AnimalMeasures, flag: Flag) {
    if let Err(at) = measures.flags.binary_search(&flag) {
        measures.flags.insert(at, flag);
    }
}

fn facts(photo: &Photo) -> PhotoFacts {
    PhotoFacts {
        file: photo.file.clone(),
        sha256: photo.sha256.clone(),
        width: photo.width(),
        height: photo.height(),
        profile: photo.profile.clone(),
        capture: photo.capture.clone(),
    }
}

/// All doubts, costliest first: a wrong line spoils every number, a missing scale only hides juveniles.
fn doubts(
    photo: &Photo,
    scene: &Scene,
    analysis: &Analysis,
    (in_cup, minutes): (&InCup, &MinutesRule),
) -> Vec<Note> {
    let mut doubts: Vec<Note> = Vec::new();
    let mut add = |note: Note| {
        if doubts.iter().all(|known| known.code != note.code) {
            doubts.push(note);
        }
    };
    if analysis.line_guessed && !analysis.line.is_empty() {
        let measured = analysis
            .doubts
            .iter()
            .find(|note| note.code == "line_guessed");
        add(measured
            .cloned()
            .unwrap_or_else(|| line_guessed(&analysis.line)));
    }
    scene
        .doubts
        .iter()
        .chain(&analysis.doubts)
        .chain(&photo.doubts)
        .cloned()
        .for_each(&mut add);
    let long = in_cup
        .seconds
        .and_then(|seconds| long_in_cup(seconds, minutes));
    long.into_iter()
        .chain(in_cup.doubt.clone())
        .for_each(&mut add);
    if scene.px_per_mm.is_none() && !analysis.animals.is_empty() {
        add(scale_unknown());
    }
    doubts
}

/// Doubts about a remembered light, where it was used.
fn light_doubts(photo: &Photo, scene: &Scene, order: &Order) -> Vec<Note> {
    let day = photo.capture.taken_at.as_deref().and_then(day_number);
    match (scene.colour.correction, order.cup.colour.light) {
        (Some((_, ColourFrom::RememberedLight)), Some(light)) => {
            light.doubts(scene.colour.floor, day)
        }
        _ => Vec::new(),
    }
}

fn line_guessed(line: &str) -> Note {
    Note::new(
        "line_guessed",
        format!("no line was given; {line} was guessed from the photo"),
        format!("say it: --line {line}, or line = \"{line}\" in house.toml"),
    )
}

fn scale_unknown() -> Note {
    Note::new(
        "scale_unknown",
        "the scale is unknown, so juveniles were not told from adults",
        "give the inner floor diameter once: --cup-mm, or cup_mm in house.toml",
    )
}
