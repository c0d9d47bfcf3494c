//! Colour of the covered pixels: relative to the ground or to a white in view, and absolute where that can be told.

use super::BodyColour;
use super::spots::Spot;
use crate::animals::field::Field;
use crate::animals::find::Animal;
use crate::colour;
use crate::scene::{Correction, Ground, Scene};
use crate::stats;

/// Fewer pixels than this within the rim: the rim counts too.
const LEAST_INNER: usize = 12;

/// Colour of the covered pixels of one animal; `None` on dark ground without a white in view.
///
/// With a correction (chart, remembered light, cup's record) the animal and the ground are both corrected before their ratio
/// is taken. The light at the animal is that of the ground beside it, so a shadow over the cup does not darken `lab_abs`.
pub(super) fn seen_colour(
    covered: &[&Spot],
    animal: &Animal,
    field: &Field,
    scene: &Scene,
) -> Option<BodyColour> {
    let ratio = match scene.ground {
        Ground::White => ratio_to_ground_beside(covered, animal, field),
        Ground::Dark => mean_over(&within_rim(covered, animal, field), |s| s.ratio),
    };
    let correction = scene.colour.correction.map(|(correction, _)| correction);
    match scene.ground {
        Ground::White => Some(on_white(ratio, scene.colour.floor, correction)),
        Ground::Dark => {
            let light = ratio.map(|v| v * f64::from(field.flat.white.unwrap_or(1.0)));
            on_dark(light, correction, scene.colour.white.map(|w| w.0))
        }
    }
}

fn on_white(ratio: [f64; 3], floor: [f64; 3], correction: Option<Correction>) -> BodyColour {
    let light = std::array::from_fn(|c| ratio[c] * floor[c]);
    match correction {
        Some(correction) => body_colour(
            correction.ratio(ratio, floor),
            Some(correction.apply(light)),
        ),
        None => body_colour(ratio, None),
    }
}

fn on_dark(
    light: [f64; 3],
    correction: Option<Correction>,
    white: Option<[f64; 3]>,
) -> Option<BodyColour> {
    match (correction, white) {
        (Some(correction), _) => {
            let seen = correction.apply(light);
            Some(body_colour(seen, Some(seen)))
        }
        (None, Some(white)) => Some(body_colour(
            std::array::from_fn(|c| light[c] / white[c].max(1e-4)),
            None,
        )),
        (None, None) => None,
    }
}

fn body_colour(relative: [f64; 3], absolute: Option<[f64; 3]>) -> BodyColour {
    let lab = colour::lab(relative);
    BodyColour {
        lab,
        lab_abs: absolute.map(colour::lab),
        chroma: colour::chroma(lab),
        hue_deg: colour::hue_deg(lab),
    }
}

/// How far from the body the ground beside it begins and ends, in body units: legs and the body's own shade lie nearer.
const BESIDE: [f32; 2] = [0.5, 1.5];
/// The ground's light is this quantile of what lies there: other animals, legs and shade are darker than ground.
/// Measured on the rendered scenes: mean difference of colour 2.5 with 0.85, 2.4 with 0.7, 2.8 without all this.
const GROUND_QUANTILE: f64 = 0.7;
/// Fewer looked-at places than this are no ground.
const LEAST_PLACES: usize = 30;
/// Every so many fine pixels each way are looked at, as the mean of a square of that side, so that noise does not shine.
const STRIDE: i32 = 3;
/// The floor that the picture was divided by is trusted to within these factors.
const FLOOR_OFF: [f64; 2] = [0.9, 1.5];

/// Mean light of the covered pixels over the light of the ground beside the animal.
///
/// The floor that the picture was divided by is drawn down by the animal's own shade, and under touching animals, which are
/// wider than what it closes over: both are made good here.
fn ratio_to_ground_beside(covered: &[&Spot], animal: &Animal, field: &Field) -> [f64; 3] {
    let pixels = within_rim(covered, animal, field);
    let plain = mean_over(&pixels, |s| s.ratio);
    let Some(ground) = ground_beside(animal, field) else {
        return plain;
    };
    let (under, light) = floor_and_light(&pixels, field);
    std::array::from_fn(|c| {
        let off = (ground[c] / under[c].max(1e-6)).clamp(FLOOR_OFF[0], FLOOR_OFF[1]);
        light[c] / (off * under[c].max(1e-6))
    })
}

/// Mean light of the floor under the pixels, and of the pixels themselves.
fn floor_and_light(pixels: &[&Spot], field: &Field) -> ([f64; 3], [f64; 3]) {
    let (mut floors, mut lights) = ([0.0; 3], [0.0; 3]);
    for s in pixels {
        let floor = field.flat.floor_at(s.x as usize, s.y as usize);
        for c in 0..3 {
            floors[c] += floor[c];
            lights[c] += s.ratio[c] * floor[c];
        }
    }
    let n = pixels.len().max(1) as f64;
    (floors.map(|sum| sum / n), lights.map(|sum| sum / n))
}

/// Light of the ground beside an animal; `None` where none is seen.
fn ground_beside(animal: &Animal, field: &Field) -> Option<[f64; 3]> {
    let px = &animal.pixels;
    let [near, far] = BESIDE.map(|units| (units * field.unit) as i32);
    let (w, h) = (field.flat.width() as i32, field.flat.height() as i32);
    let body_within = |x: i32, y: i32, d: i32| {
        let s = d * 7 / 10;
        let around = [
            (d, 0),
            (-d, 0),
            (0, d),
            (0, -d),
            (s, s),
            (s, -s),
            (-s, s),
            (-s, -s),
        ];
        around.iter().any(|(dx, dy)| px.at(x + dx, y + dy) > 0)
    };
    let across = (px.origin[0] - far).max(1)..(px.origin[0] + px.width as i32 + far).min(w - 1);
    let down = (px.origin[1] - far).max(1)..(px.origin[1] + px.height as i32 + far).min(h - 1);
    let mut light: [Vec<f64>; 3] = Default::default();
    for y in down.step_by(STRIDE as usize) {
        for x in across.clone().step_by(STRIDE as usize) {
            let beside = px.at(x, y) == 0
                && !body_within(x, y, near)
                && (body_within(x, y, far) || body_within(x, y, (near + far) / 2));
            if beside {
                let seen = field.flat.light_about(x as usize, y as usize);
                light.iter_mut().zip(seen).for_each(|(all, v)| all.push(v));
            }
        }
    }
    (light[0].len() >= LEAST_PLACES)
        .then(|| light.map(|v| stats::quantile(&v, GROUND_QUANTILE).unwrap_or(1.0)))
}

/// The covered pixels without those at the rim, where the lens mixes in the floor, if enough are left.
fn within_rim<'a>(covered: &[&'a Spot], animal: &Animal, field: &Field) -> Vec<&'a Spot> {
    let rim = ((field.unit / 24.0) as i32).max(1);
    let inner = |s: &&&Spot| {
        [(rim, 0), (-rim, 0), (0, rim), (0, -rim)]
            .iter()
            .all(|(dx, dy)| animal.pixels.at(s.x + dx, s.y + dy) > 0)
    };
    let within: Vec<&Spot> = covered.iter().filter(inner).copied().collect();
    if within.len() < LEAST_INNER {
        covered.to_vec()
    } else {
        within
    }
}

fn mean_over(pixels: &[&Spot], value: impl Fn(&Spot) -> [f64; 3]) -> [f64; 3] {
    let mut sums = [0.0; 3];
    for s in pixels {
        let value = value(s);
        sums = std::array::from_fn(|c| sums[c] + value[c]);
    }
    sums.map(|sum| sum / pixels.len().max(1) as f64)
}
