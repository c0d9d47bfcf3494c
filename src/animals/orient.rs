//! Which end is the head: eyes, feelers, and the taper of the body.

use super::additive::Additive;
use super::profile::Contrast;
use super::ribbon::{ACROSS, ALONG, Ribbon};

/// Names of the features; each is the first end's sign less the other end's.
pub const NAMES: [&str; 10] = [
    "eye",
    "eye_depth",
    "width_front",
    "width_quarter",
    "width_tip",
    "beyond_dark",
    "beyond_texture",
    "dark_front",
    "chroma_front",
    "share_front",
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
    let (front, rear) = (
        signs(body, false, contrast, scale),
        signs(body, true, contrast, scale),
    );
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
        if from_rear {
            body.last as i32 - k
        } else {
            body.first as i32 + k
        }
    };
    let squash = |v: f32| v.signum() * (1.0 + v.abs() / scale).ln();
    let typical = mean_width(body, 0, n).max(1.0);
    let width = |from: f32, to: f32| {
        let (a, b) = (station(from), station(to));
        let (a, b) = (
            a.min(b) as usize - body.first,
            a.max(b) as usize - body.first,
        );
        (mean_width(body, a, b) / typical + 0.05).ln()
    };
    let (eye, eye_depth) = eye(body, from_rear);
    let (dark, texture) = beyond(body, from_rear, contrast);
    let (front_dark, front_chroma, front_share) =
        strip(body, station(0.04), station(0.2), contrast);
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
    let to = to
        .min(body.left.len() - 1)
        .max(from.min(body.left.len() - 1));
    let from = from.min(to);
    (from..=to)
        .map(|k| (body.left[k] + body.right[k]) as f32)
        .sum::<f32>()
        / (to - from + 1) as f32
}

/// Darkest small spot against its surroundings near the end: (difference, darkness), L* units.
pub fn eye(body: &Shaped, from_rear: bool) -> (f32, f32) {
    let r = body.ribbon;
    let edge = if from_rear {
        body.last as i32
    } else {
        body.first as i32
    };
    let (inside, outside) = ((1.1 * ALONG) as i32, (0.2 * ALONG) as i32);
    let (from, to) = if from_rear {
        (edge - inside, edge + outside)
    } else {
        (edge - outside, edge + inside)
    };
    let sums = Sums::of(r, from - RING.0, to + RING.0);
    let (half, wide) = (r.half as i32, (0.55 * ACROSS) as i32);
    let mut best = (0.0f32, 0.0f32);
    // From the end inward, so that of equal spots the outermost counts.
    for k in 0..=to - from {
        let s = if from_rear { to - k } else { from + k };
        for t in half - wide..=half + wide {
            let spot = sums.mean(s, t, SPOT);
            let ring = sums.mean(s, t, RING);
            if spot - ring > best.0 {
                best = (spot - ring, spot);
            }
        }
    }
    best
}

/// Half-sizes of the boxes of an eye and of its surroundings: stations, samples.
const SPOT: (i32, i32) = (1, 2);
const RING: (i32, i32) = (4, 8);

/// Sums of darkness over all samples before a station and a sample, from station `first` on.
struct Sums {
    first: i32,
    /// Stations and samples.
    size: (i32, i32),
    values: Vec<f64>,
}

impl Sums {
    fn of(r: &Ribbon, from: i32, to: i32) -> Self {
        let (n, w) = (r.stations() as i32, r.width());
        let (first, last) = (from.clamp(0, n - 1), to.clamp(0, n - 1));
        let rows = &r.channels[0][first as usize * w..(last + 1) as usize * w];
        let mut values = vec![0.0; w + 1];
        for (s, row) in rows.chunks_exact(w).enumerate() {
            let mut sum = 0.0;
            values.push(0.0);
            for (t, v) in row.iter().enumerate() {
                sum += f64::from(*v);
                values.push(values[s * (w + 1) + t + 1] + sum);
            }
        }
        Self {
            first,
            size: (last - first + 1, w as i32),
            values,
        }
    }

    /// Mean over `2 a + 1` stations by `2 b + 1` samples around station `s` and sample `t`, as far as they are there; 0 for none.
    fn mean(&self, s: i32, t: i32, (a, b): (i32, i32)) -> f32 {
        let (n, w) = self.size;
        let (s0, s1) = (
            (s - self.first - a).clamp(0, n),
            (s - self.first + a + 1).clamp(0, n),
        );
        let (t0, t1) = ((t - b).clamp(0, w), (t + b + 1).clamp(0, w));
        let at = |s: i32, t: i32| self.values[(s * (w + 1) + t) as usize];
        let sum = at(s1, t1) - at(s0, t1) - at(s1, t0) + at(s0, t0);
        let count = (s1 - s0) * (t1 - t0);
        (sum / f64::from(count.max(1))) as f32
    }
}

/// Darkness and texture of the fan ahead of the end: feelers are thin and dark on plain ground.
fn beyond(body: &Shaped, from_rear: bool, contrast: &Contrast) -> (f32, f32) {
    let r = body.ribbon;
    let (n, w) = (r.stations() as i32, r.width() as i32);
    let edge = if from_rear {
        body.last as i32
    } else {
        body.first as i32
    };
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
    (
        mean,
        (squares / count.max(1.0) - mean * mean).max(0.0).sqrt(),
    )
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
