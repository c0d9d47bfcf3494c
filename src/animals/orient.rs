//! Which end is the head: eyes, feelers, and the taper of the body.

use super::additive::Additive;
use super::profile::Contrast;
use super::ribbon::{ACROSS, ALONG, Ribbon};

/// Names of the features; each is the first end's sign less the other end's.
pub const NAMES: [&str; 10] = [
    "eye", "eye_depth", "width_front", "width_quarter", "width_tip", "beyond_dark", "beyond_texture", "dark_front",
    "chroma_front", "share_front",
];

/// A ribbon with its ends and flanks (offsets in samples for stations `first..=last`).
#[derive(Debug, Clone)]
pub struct Shaped<'a> {
    /// The unwrapped body.
    pub ribbon: &'a Ribbon,
    /// First station of the body.
    pub first: usize,
    /// Last station of the body.
    pub last: usize,
    /// Offsets of the edge on the side of smaller t.
    pub left: &'a [usize],
    /// Offsets of the edge on the side of larger t.
    pub right: &'a [usize],
}

/// Features for "the first station's end is the head".
pub fn features(body: &Shaped, contrast: &Contrast, scale: f32) -> [f32; 10] {
    let (front, rear) = (signs(body, false, contrast, scale), signs(body, true, contrast, scale));
    std::array::from_fn(|k| front[k] - rear[k])
}

/// Log-odds that the first station's end is the head; swapping the ends changes only the sign.
pub fn first_is_head(body: &Shaped, contrast: &Contrast, scale: f32, model: &Additive) -> f32 {
    let f = features(body, contrast, scale);
    (model.log_odds(&f) - model.log_odds(&f.map(|v| -v))) / 2.0
}

fn signs(body: &Shaped, from_rear: bool, contrast: &Contrast, scale: f32) -> [f32; 10] {
    let n = body.last - body.first;
    let station = |share: f32| {
        let k = (share * n as f32).round() as i32;
        if from_rear { body.last as i32 - k } else { body.first as i32 + k }
    };
    let squash = |v: f32| v.signum() * (1.0 + v.abs() / scale).ln();
    let typical = mean_width(body, 0, n).max(1.0);
    let width = |from: f32, to: f32| {
        let (a, b) = (station(from), station(to));
        let (a, b) = (a.min(b) as usize - body.first, a.max(b) as usize - body.first);
        (mean_width(body, a, b) / typical + 0.05).ln()
    };
    let (eye, eye_depth) = eye(body, from_rear);
    let (dark, texture) = beyond(body, from_rear, contrast);
    let (front_dark, front_chroma, front_share) = strip(body, station(0.04), station(0.2), contrast);
    [
        squash(eye),
        squash(eye_depth),
        width(0.08, 0.2),
        width(0.2, 0.4),
        width(0.0, 0.06),
        squash(dark),
        squash(texture),
        squash(front_dark),
        squash(front_chroma),
        front_share,
    ]
}

fn mean_width(body: &Shaped, from: usize, to: usize) -> f32 {
    let to = to.min(body.left.len() - 1).max(from.min(body.left.len() - 1));
    let from = from.min(to);
    (from..=to).map(|k| (body.left[k] + body.right[k]) as f32).sum::<f32>() / (to - from + 1) as f32
}

/// Darkest small spot against its surroundings near the end: (difference, darkness), L* units.
pub fn eye(body: &Shaped, from_rear: bool) -> (f32, f32) {
    let r = body.ribbon;
    let reach = (1.1 * ALONG) as i32;
    let edge = if from_rear { body.last as i32 } else { body.first as i32 };
    let sign = if from_rear { -1 } else { 1 };
    let mut best = (0.0f32, 0.0f32);
    let wide = (0.55 * ACROSS) as i32;
    for k in -(0.2 * ALONG) as i32..=reach {
        let s = edge + sign * k;
        for t in -wide..=wide {
            let spot = mean_dark(r, s, t, 1, 2);
            let ring = mean_dark(r, s, t, 4, 8);
            if spot - ring > best.0 {
                best = (spot - ring, spot);
            }
        }
    }
    best
}

/// Mean darkness over a box of `2 a + 1` stations by `2 b + 1` samples around (s, axis + t).
fn mean_dark(r: &Ribbon, s: i32, t: i32, a: i32, b: i32) -> f32 {
    let (n, w) = (r.stations() as i32, r.width() as i32);
    let (mut sum, mut count) = (0.0, 0.0f32);
    for i in (s - a).max(0)..=(s + a).min(n - 1) {
        for j in (r.half as i32 + t - b).max(0)..=(r.half as i32 + t + b).min(w - 1) {
            sum += r.channels[0][(i * w + j) as usize];
            count += 1.0;
        }
    }
    sum / count.max(1.0)
}

/// Darkness and texture of the fan ahead of the end: feelers are thin and dark on plain ground.
fn beyond(body: &Shaped, from_rear: bool, contrast: &Contrast) -> (f32, f32) {
    let r = body.ribbon;
    let (n, w) = (r.stations() as i32, r.width() as i32);
    let edge = if from_rear { body.last as i32 } else { body.first as i32 };
    let sign = if from_rear { 1 } else { -1 };
    let (mut sum, mut squares, mut count) = (0.0f32, 0.0f32, 0.0f32);
    for k in (0.25 * ALONG) as i32..=(1.2 * ALONG) as i32 {
        let s = edge + sign * k;
        if s < 0 || s >= n {
            continue;
        }
        for t in 0..w {
            let d = r.channels[0][(s * w + t) as usize] - contrast.ground[0];
            sum += d;
            squares += d * d;
            count += 1.0;
        }
    }
    let mean = sum / count.max(1.0);
    (mean, (squares / count.max(1.0) - mean * mean).max(0.0).sqrt())
}

fn strip(body: &Shaped, a: i32, b: i32, contrast: &Contrast) -> (f32, f32, f32) {
    let r = body.ribbon;
    let w = r.width();
    let reach = (0.2 * ACROSS) as usize;
    let (mut dark, mut chroma, mut share, mut count) = (0.0f32, 0.0f32, 0.0f32, 0.0f32);
    for s in a.min(b)..=a.max(b) {
        for t in r.half - reach..=r.half + reach {
            let i = s as usize * w + t;
            let tone = [r.channels[0][i], r.channels[1][i], r.channels[2][i]];
            dark += tone[0];
            chroma += tone[1].hypot(tone[2]);
            share += contrast.share(tone);
            count += 1.0;
        }
    }
    (dark / count, chroma / count, share / count)
}
