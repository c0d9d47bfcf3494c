//! The measures on which a photo is judged, and where each comes from.

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
    /// Pixels to the median body length.
    pub body_px: Option<f64>,
    /// Grain of the ground, share of its light.
    pub noise: f64,
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
    CheckMeasures {
        blur: edges
            .zip(body_px)
            .map(|(e, length)| e.width_px * UNITS / length),
        shake: edges.map(|e| e.ratio),
        body_px,
        noise: quality.noise,
        ground_light: white.then_some(quality.ground_light),
        neutrality: white.then_some(quality.neutrality),
        clipped: scene.clipped_share,
        unevenness: quality.unevenness,
        glare: scene.glare_share,
        glare_on: edges.map(|e| e.burnt_share),
        touching: share(animals, Flag::Touching),
        filled: floor_area(scene)
            .map(|floor| animals.iter().map(|a| a.area_px).sum::<f64>() / floor),
        slant: scene
            .cup
            .map(|cup| f64::from(cup.axes[1] / cup.axes[0].max(1.0)))
            .or(quality.flattened),
        jpeg_step: photo.jpeg_step,
        second_cup: quality.second_cup,
        obstacle: obstacle(scene, animals),
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
