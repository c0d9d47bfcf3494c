//! From which side an animal is seen.

use super::View;
use super::spots::Spot;
use crate::animals::body::Body;
use crate::animals::find::Animal;
use crate::animals::ribbon::distance;
use crate::stats;

/// Log-odds of a side view: at none, by spread of the tail fan, by bend of the body, by height of the body, by spread of the eyes.
/// Fitted on the rendered scenes; each photo left out of its fit, 97 of 100 top views and all of 24 side views were right.
const LOG_ODDS: [f64; 5] = [-3.39, -2.42, 21.25, 4.26, -12.78];
/// Calls are made below and above these log-odds only (probability 0.15 and 0.85), else the view is unsure.
const TOP_BELOW: f64 = -1.73;
const SIDE_ABOVE: f64 = 1.73;
/// A body bent further than this is no surer seen from the side.
const MOST_BENT: f64 = 0.25;
/// Eyes are the darkest part of the first third of the body, by this share of its pixels.
const EYES: f64 = 0.03;
/// Fewer pixels in the first third than this show no eyes.
const LEAST: usize = 60;

/// Side view, top view or unsure: from the side the tail fan is narrow, the body bent and high, and one eye is seen;
/// from above the fan is spread, the body straight, and the eyes stand on both sides of the axis.
pub fn view(animal: &Animal, spots: &[Spot]) -> View {
    let body = &animal.body;
    if animal.cut || body.left.len() < 8 {
        return View::Unsure;
    }
    let Some(eyes) = spread_of_eyes(animal, spots) else {
        return View::Unsure;
    };
    let [at_none, fan, bend, height, apart] = LOG_ODDS;
    let log_odds = at_none
        + fan * width_at(body, 0.95)
        + bend * bent(body).min(MOST_BENT)
        + height * width_at(body, 0.5)
        + apart * eyes;
    if log_odds < TOP_BELOW {
        View::Top
    } else if log_odds > SIDE_ABOVE {
        View::Side
    } else {
        View::Unsure
    }
}

/// Width at a share of the length, over the mean width.
fn width_at(body: &Body, share: f64) -> f64 {
    let k = (share * (body.left.len() - 1) as f64).round() as usize;
    let width = (body.left[k] + body.right[k] + 1) as f32 * body.ribbon.across_px;
    f64::from(width / body.mean_width().max(1.0))
}

/// How much shorter the way from head to tail is than the body: 0 for a straight one.
fn bent(body: &Body) -> f64 {
    let axis = &body.ribbon.axis;
    f64::from(1.0 - distance(axis[body.first], axis[body.last]) / body.length().max(1.0)).max(0.0)
}

/// Standard deviation, over the mean width, of how far the darkest pixels of the head stand beside the axis.
fn spread_of_eyes(animal: &Animal, spots: &[Spot]) -> Option<f64> {
    let head: Vec<(f64, f64)> = spots
        .iter()
        .zip(animal.pixels.iter())
        .filter(|(_, p)| f64::from(p.2) <= 0.3 * animal.pixels.stations as f64)
        .map(|(s, p)| {
            (
                s.ratio.iter().copied().fold(0.0, f64::max),
                beside(&animal.body, s, p.2),
            )
        })
        .collect();
    if head.len() < LEAST {
        return None;
    }
    let light: Vec<f64> = head.iter().map(|p| p.0).collect();
    let darkest = stats::quantile(&light, EYES)?;
    let places: Vec<f64> = head
        .iter()
        .filter(|p| p.0 <= darkest)
        .map(|p| p.1)
        .collect();
    let spread = stats::standard_deviation(&places)?;
    Some(spread / f64::from(animal.body.mean_width().max(1.0)))
}

/// Distance of a pixel from the axis, by side, in fine pixels. Stations are counted from 1 at the head.
fn beside(body: &Body, spot: &Spot, station: u16) -> f64 {
    let k = (body.first + usize::from(station).saturating_sub(1)).min(body.last);
    let (at, normal) = (body.ribbon.axis[k], body.ribbon.normals[k]);
    f64::from((spot.x as f32 - at[0]) * normal[0] + (spot.y as f32 - at[1]) * normal[1])
}
