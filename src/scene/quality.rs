//! What the ground says about the photo itself: light, cast, noise, a second cup, something large in the way.

use super::Ground;
use super::cup::{self, CupSeen};
use super::facts::Facts;
use super::grid::Grid;
use super::ground::{GroundLight, quantile};
use super::obstacle::{Obstacle, largest_obstacle};
use super::searched::searched;
use super::slant::flattened_floor;
use super::softness::softness;
use crate::photo::LinearImage;

/// What is measured of a photo without knowing its animals.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Quality {
    /// Luminance of the ground, 0..=1 (1 = full light).
    pub ground_light: f64,
    /// Weakest over strongest channel of the ground, 0..=1.
    pub neutrality: f64,
    /// Brightest over darkest part of the ground, 1 and up.
    pub unevenness: f64,
    /// Standard deviation of the ground's grain from pixel to pixel of the reduced picture (longer side 350 to 700 pixels),
    /// as a share of its light.
    pub noise: f64,
    /// Shorter over longer axis of a round floor that is seen so much from the side that it was not found as it is.
    pub flattened: Option<f64>,
    /// Width of the steepest edges on the floor in body units of an adult, and its ratio by direction.
    pub soft: Option<[f64; 2]>,
    /// True where a second cup stands beside the one that is graded.
    pub second_cup: bool,
    /// Something large that reaches into the cup from outside.
    pub obstacle: Option<Obstacle>,
}

/// What the measures are taken from.
pub(super) struct Sources<'a> {
    pub small: &'a LinearImage,
    pub light: &'a Grid,
    pub barred: &'a [bool],
    pub searched: &'a [u8],
    pub cup: Option<&'a CupSeen>,
    pub ground: Ground,
    pub coarser: usize,
    pub step: usize,
    /// Full-size pixels to the millimetre.
    pub px_per_mm: Option<f64>,
}

/// Measures of the whole photo.
pub(super) fn quality(from: &Sources<'_>, tone: &GroundLight, facts: &Facts) -> Quality {
    let most = tone.rgb.iter().copied().fold(1e-6, f32::max);
    let least = tone.rgb.iter().copied().fold(f32::INFINITY, f32::min);
    let floor = from.cup.map(|cup| {
        let inner = cup.outline.scaled(INNER);
        searched(Some(&inner), from.barred, from.light.w)
    });
    let white = floor.as_ref().filter(|_| from.ground == Ground::White);
    let scale = from.px_per_mm.map(|s| s / from.step as f64);
    let around = floor.as_deref().unwrap_or(from.searched);
    let (soft, (obstacle, noise)) = rayon::join(
        || softness(from.light, around, from.coarser, scale),
        || {
            let seen = |floor: &Vec<u8>| largest_obstacle(from.small, floor, tone.rgb, from.step);
            (white.and_then(seen), noise(from.light, from.searched))
        },
    );
    Quality {
        ground_light: f64::from(tone.luminance),
        neutrality: f64::from((least / most).max(0.0)),
        unevenness: facts.unevenness,
        noise,
        flattened: flattened(from),
        soft: soft.map(|s| [s.width_px, s.ratio]),
        second_cup: from.cup.is_some_and(|cup| second_cup(from, cup)),
        obstacle,
    }
}

/// Looked for only where no floor was found, in a white cup.
fn flattened(from: &Sources<'_>) -> Option<f64> {
    let missing = from.cup.is_none_or(|cup| !cup.is_floor) && from.ground == Ground::White;
    let flat = missing.then(|| flattened_floor(from.light, from.barred, from.coarser));
    flat.flatten().map(f64::from)
}

/// Share of the floor's size inside which obstacles are looked for: the wall's own shade stays out.
const INNER: f32 = 0.9;

/// Median of the absolute value of a normal distribution, in standard deviations.
const MEDIAN_TO_SD: f32 = 0.674_49;
/// The second difference both ways of white noise has this many times its standard deviation.
const SECOND_DIFFERENCE: f32 = 6.0;
/// Every so many pixels is looked at.
const NOISE_STRIDE: usize = 3;

/// Grain of the searched ground as a share of its light: from second differences taken both ways, in which shading and
/// straight edges vanish; the median leaves animals out.
///
/// # Source
/// [Immerkaer1996], with a median instead of the mean.
fn noise(light: &Grid, searched: &[u8]) -> f64 {
    let (w, h) = (light.w, light.h);
    let mut away = Vec::new();
    for y in (1..h.saturating_sub(1)).step_by(NOISE_STRIDE) {
        for x in (1..w.saturating_sub(1)).step_by(NOISE_STRIDE) {
            let i = y * w + x;
            if searched[i] == 0 || searched[i - w] == 0 || searched[i + w] == 0 {
                continue;
            }
            let px = &light.px;
            let cross = px[i - 1] + px[i + 1] + px[i - w] + px[i + w];
            let corners = px[i - w - 1] + px[i - w + 1] + px[i + w - 1] + px[i + w + 1];
            away.push((4.0 * px[i] - 2.0 * cross + corners).abs() / px[i].max(1e-3));
        }
    }
    f64::from(quantile(&mut away, 0.5) / (MEDIAN_TO_SD * SECOND_DIFFERENCE))
}

/// Least size of a second cup beside the first.
const LEAST_SECOND: f32 = 0.5;
/// Pixels about the first cup that its rims and shadow take.
const FIRST_TAKES: f32 = 1.3;

/// True where another cup of like size stands in the frame beside `first`.
fn second_cup(from: &Sources<'_>, first: &CupSeen) -> bool {
    let (w, h) = (from.light.w as f32, from.light.h as f32);
    let o = &first.outline;
    let size = o.a.max(o.b);
    let room = [o.cx - size, w - o.cx - size, o.cy - size, h - o.cy - size];
    if room.iter().all(|r| *r < 2.0 * LEAST_SECOND * size) {
        return false;
    }
    let taken = searched(
        Some(&o.scaled(FIRST_TAKES / 1.06)),
        &vec![false; from.barred.len()],
        from.light.w,
    );
    let barred: Vec<bool> = from
        .barred
        .iter()
        .zip(&taken)
        .map(|(b, t)| *b || *t > 0)
        .collect();
    cup::find(from.light, &barred, from.coarser).is_some_and(|second| {
        let s = &second.outline;
        let apart = (s.cx - o.cx).hypot(s.cy - o.cy);
        let like = s.a.max(s.b) / size;
        second.is_floor
            && (LEAST_SECOND..=1.0 / LEAST_SECOND).contains(&like)
            && apart > 0.9 * (size + s.a.max(s.b))
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Noise of known strength is found again, a slope in the light is none.
    #[test]
    fn grain_is_told_from_shading() {
        let (w, h) = (120, 90);
        let mut state = 1u32;
        let mut next = || {
            state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            (state >> 8) as f32 / 16_777_216.0 - 0.5
        };
        for (sd, low, high) in [(0.0, 0.0, 0.001), (0.02, 0.017, 0.023)] {
            // A sum of twelve uniform numbers has variance 1.
            let px = (0..w * h)
                .map(|i| {
                    let grain: f32 = (0..12).map(|_| next()).sum();
                    (0.5 + 0.3 * (i % w) as f32 / w as f32) * (1.0 + sd * grain)
                })
                .collect();
            let found = noise(&Grid { w, h, px }, &vec![1; w * h]);
            assert!((low..high).contains(&found), "{sd}: {found}");
        }
    }
}
