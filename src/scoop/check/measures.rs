//! The measures on which a photo is judged, and where each comes from.

use crate::animals::settle::adult_length_px;
use crate::measures::{AnimalMeasures, Flag};
use crate::photo::Photo;
use crate::scene::edges::edge_widths;
use crate::scene::{Ground, Scene};
use crate::units::Pixel;

/// Body units to a body length: the length over this is about the width of the body.
const UNITS: f64 = 8.0;

/// What a photo is judged by. `None` where it can't be told.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct CheckMeasures {
    /// Width of the edges in body units (an eighth of the median body length).
    pub blur: Option<f64>,
    /// Widest over narrowest edges by direction, 1 and up: large where the phone was moved.
    pub shake: Option<f64>,
    /// Width of the steepest edges on the floor in body units of an adult, also where no animal was found.
    pub soft: Option<f64>,
    /// The same by direction, widest over narrowest.
    pub soft_shake: Option<f64>,
    /// Pixels to the median body length.
    pub body_px: Option<f64>,
    /// Grain of the ground, share of its light.
    pub noise: f64,
    /// The grain averaged over a body's width, where that is known and the ground is white.
    pub grain: Option<f64>,
    /// Luminance of the ground, 0..=1; `None` on dark ground.
    pub ground_light: Option<f64>,
    /// Weakest over strongest channel of the ground, 0..=1; `None` on dark ground.
    pub neutrality: Option<f64>,
    /// Share of the ground with a clipped channel.
    pub clipped: f64,
    /// Brightest over darkest part of the ground.
    pub unevenness: f64,
    /// Share of the ground under glare.
    pub glare: f64,
    /// Share of the animals with glare on them.
    pub glare_on: Option<f64>,
    /// Share of the animals that touch another.
    pub touching: Option<f64>,
    /// How crowded the cup is: the share that touches, of four animals or more, more on a full floor and less on a roomy one.
    pub crowding: Option<f64>,
    /// Share of the floor that is animals; `None` without a cup.
    pub filled: Option<f64>,
    /// Shorter over longer axis of the cup's floor.
    pub slant: Option<f64>,
    /// Mean step of the JPEG's luminance quantiser.
    pub jpeg_step: Option<f64>,
    /// A second cup is in view.
    pub second_cup: bool,
    /// Share of the floor under a hand, a net or the like.
    pub obstacle: f64,
}

/// All measures of one photo.
pub fn measures(photo: &Photo, scene: &Scene, animals: &[AnimalMeasures]) -> CheckMeasures {
    let body_px = median_length(animals);
    let edges = body_px.and_then(|length| {
        let outlines: Vec<&[Pixel]> = animals.iter().map(|a| a.outline.as_slice()).collect();
        edge_widths(photo, &outlines, (length / UNITS) as f32)
    });
    let white = scene.ground == Ground::White;
    let quality = &scene.quality;
    let touching = share(animals, Flag::Touching);
    let floor = floor_area(scene);
    let filled = floor.map(|floor| animals.iter().map(|a| a.area_px).sum::<f64>() / floor);
    CheckMeasures {
        blur: edges
            .zip(body_px)
            .map(|(e, length)| e.width_px * UNITS / length),
        shake: edges.map(|e| e.ratio),
        soft: quality.soft.map(|s| s[0]),
        soft_shake: quality.soft.map(|s| s[1]),
        body_px,
        noise: quality.noise,
        // Where all animals drown in grain, it is told for the size that they would have.
        grain: body_px
            .or_else(|| adult_length_px(scene))
            .filter(|_| white)
            .map(|length| grain(quality.noise, length, scene.searched_step)),
        ground_light: white.then_some(quality.ground_light),
        neutrality: white.then_some(quality.neutrality),
        clipped: scene.clipped_share,
        unevenness: quality.unevenness,
        glare: scene.glare_share,
        glare_on: edges.map(|e| e.burnt_share),
        touching,
        crowding: touching
            .filter(|_| animals.len() >= CROWD)
            .map(|t| crowding(t, filled)),
        filled,
        slant: scene
            .cup
            .map(|cup| f64::from(cup.axes[1] / cup.axes[0].max(1.0)))
            .or(quality.flattened),
        jpeg_step: photo.jpeg_step,
        second_cup: quality.second_cup,
        obstacle: obstacle(scene, animals),
    }
}

/// Pixels of the reduced picture to a body unit for which the grain is told.
const GRAIN_PIXELS: f64 = 12.0;

/// Grain for a body length in full-size pixels: over more pixels it averages out.
fn grain(noise: f64, length: f64, step: usize) -> f64 {
    noise * GRAIN_PIXELS * UNITS * step as f64 / length
}

/// Fewest animals that make a crowd, and the share of the floor from which they do.
const CROWD: usize = 4;
const FILLED: f64 = 0.11;

/// Touching animals on a roomy floor are told apart; on a full one, or where the floor is not known, they hide each other.
fn crowding(touching: f64, filled: Option<f64>) -> f64 {
    let full = filled.is_none_or(|share| share >= FILLED);
    if full && filled.is_some() {
        touching.max(0.4) + 0.1
    } else if full {
        touching
    } else {
        0.75 * touching
    }
}

/// Median length in pixels of the animals that are whole.
fn median_length(animals: &[AnimalMeasures]) -> Option<f64> {
    let whole = animals.iter().filter(|a| !a.flags.contains(&Flag::Cut));
    let lengths: Vec<f64> = whole.map(|a| a.length_px.value).collect();
    crate::stats::median(&lengths).filter(|length| *length > 1.0)
}

fn share(animals: &[AnimalMeasures], flag: Flag) -> Option<f64> {
    let n = animals.iter().filter(|a| a.flags.contains(&flag)).count();
    (!animals.is_empty()).then(|| n as f64 / animals.len() as f64)
}

/// Area of the cup's floor in full-size pixels, as an ellipse.
fn floor_area(scene: &Scene) -> Option<f64> {
    let [a, b] = scene.cup?.axes.map(f64::from);
    Some(std::f64::consts::PI * a * b)
}

/// Share of the floor under something large from outside, without the animals that lie there.
fn obstacle(scene: &Scene, animals: &[AnimalMeasures]) -> f64 {
    let (Some(thing), Some(floor)) = (scene.quality.obstacle, floor_area(scene)) else {
        return 0.0;
    };
    let [x, y, w, h] = thing.bbox.map(f64::from);
    let inside = |a: &&AnimalMeasures| {
        let [ax, ay, aw, ah] = a.bbox.map(f64::from);
        let (cx, cy) = (ax + aw / 2.0, ay + ah / 2.0);
        (x..x + w).contains(&cx) && (y..y + h).contains(&cy)
    };
    let animals: f64 = animals.iter().filter(inside).map(|a| a.area_px).sum();
    (thing.share - animals / floor).max(0.0)
}
