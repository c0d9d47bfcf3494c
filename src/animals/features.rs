//! Local signs of a body at each pixel, blind to which colour the line has.
//!
//! Every distance is tied to the body unit `u` (about a fifth less than an adult's greatest width),
//! every contrast to the noise of the ground, so that the same weights serve near and far, clean and noisy photos.

use super::tones::Tones;
use crate::plane::Plane;

/// Names of the first-stage features, in the order of [`first_stage`].
pub const FIRST_STAGE: [&str; 22] = [
    "dark_fine", "dark_small", "dark_mid", "dark_wide", "chroma_fine", "chroma_small", "chroma_mid", "edge_fine",
    "edge_mid", "texture_small", "texture_mid", "between_edges_best", "between_edges_mean", "between_edges_all",
    "dark_opened", "chroma_opened", "bar_narrow", "bar_wide", "contrast", "bright", "between_dark_best",
    "between_dark_all",
];

/// The four axes of the pixel grid along which both sides are compared.
const AXES: [(i32, i32); 4] = [(1, 0), (0, 1), (1, 1), (1, -1)];

/// Spread of the ground's own lightness at the pixel scale: 1.4826 x median absolute deviation of L* against its
/// neighbourhood, over the searched pixels; L* units, at least 0.2.
pub fn ground_noise(tones: &Tones, searched: &[u8]) -> f32 {
    let rough = tones.lightness.zip(&tones.lightness.box_mean(2), |l, m| (l - m).abs());
    let mut spread: Vec<f32> =
        rough.values.iter().zip(searched).step_by(7).filter(|(_, m)| **m > 0).map(|(v, _)| *v).collect();
    if spread.is_empty() {
        return 0.2;
    }
    let mid = spread.len() / 2;
    let (_, median, _) = spread.select_nth_unstable_by(mid, f32::total_cmp);
    (1.4826 * *median).max(0.2)
}

/// Pixels for a length given in body units, at least `least`.
pub(super) fn reach(units: f32, u: f32, least: usize) -> usize {
    ((units * u).round() as usize).max(least)
}

/// The first-stage feature planes in the order of [`FIRST_STAGE`].
///
/// `u` is the body unit in pixels. Values are compressed (signed logarithm of multiples of a small contrast).
pub fn first_stage(tones: &Tones, u: f32, noise: f32) -> Vec<Plane> {
    let dark = tones.lightness.map(|l| 100.0 - l);
    let r = |units: f32| reach(units, u, 0);
    let scale = 1.0 + noise;
    let squash = |p: Plane, s: f32| p.map(|v| v.signum() * (1.0 + v.abs() / s).ln());

    let fine = dark.box_mean(r(0.06));
    let small = fine.box_mean(r(0.15).max(1));
    let mid = small.box_mean(r(0.4));
    let wide = mid.box_mean(r(1.0));
    let (a, b) = (tones.a.box_mean(r(0.06).max(1)), tones.b.box_mean(r(0.06).max(1)));
    let chroma = a.zip(&b, |a, b| (a * a + b * b).sqrt());
    let chroma_small = chroma.box_mean(r(0.15).max(1));
    let chroma_mid = chroma_small.box_mean(r(0.4));

    let edge_fine = gradient(&[&fine, &a, &b], 1);
    let (a2, b2) = (a.box_mean(r(0.25).max(1)), b.box_mean(r(0.25).max(1)));
    let edge_mid = gradient(&[&small.box_mean(r(0.2).max(1)), &a2, &b2], r(0.15).max(1));
    let texture = |radius: usize| {
        let mean = fine.box_mean(radius);
        let squares = fine.map(|v| v * v).box_mean(radius);
        squares.zip(&mean, |s, m| (s - m * m).max(0.0).sqrt())
    };
    let edges = between(&edge_fine, reach(0.9, u, 2));
    let darks = between(&small, reach(0.9, u, 2));
    let opened = fine.open(reach(0.12, u, 1));
    let chroma_opened = chroma.open(reach(0.12, u, 1));
    let bright = fine.zip(&mid, |f, m| (m - f).max(0.0)).box_max(reach(0.1, u, 1));
    vec![
        squash(fine.clone(), scale),
        squash(small.clone(), scale),
        squash(mid.clone(), scale),
        squash(wide.clone(), scale),
        squash(chroma, scale),
        squash(chroma_small, scale),
        squash(chroma_mid, scale),
        squash(edge_fine, scale),
        squash(edge_mid, scale),
        squash(texture(reach(0.25, u, 1)), scale),
        squash(texture(reach(0.6, u, 2)), scale),
        squash(edges.best, scale),
        squash(edges.mean, scale),
        squash(edges.all, scale),
        squash(opened, scale),
        squash(chroma_opened, scale),
        squash(bar(&small, reach(0.8, u, 2)), scale),
        squash(bar(&mid, reach(1.4, u, 3)), scale),
        squash(small.zip(&wide, |s, w| s - w), scale),
        squash(bright, scale),
        squash(darks.best, scale),
        squash(darks.all, scale),
    ]
}

/// Gradient magnitude over several planes, central differences over `d` pixels each way, per pixel of distance 2 d.
fn gradient(planes: &[&Plane], d: usize) -> Plane {
    let (w, h) = (planes[0].width, planes[0].height);
    let mut out = Plane::filled(w, h, 0.0);
    use rayon::prelude::*;
    out.values.par_chunks_mut(w).enumerate().for_each(|(y, row)| {
        let (up, down) = (y.saturating_sub(d), (y + d).min(h - 1));
        for p in planes {
            let (this, up, down) =
                (&p.values[y * w..(y + 1) * w], &p.values[up * w..(up + 1) * w], &p.values[down * w..(down + 1) * w]);
            for x in 0..w {
                let dx = this[(x + d).min(w - 1)] - this[x.saturating_sub(d)];
                let dy = down[x] - up[x];
                row[x] += dx * dx + dy * dy;
            }
        }
        for v in row.iter_mut() {
            *v = v.sqrt();
        }
    });
    out
}

/// What both sides of a pixel hold along four axes.
pub(super) struct Between {
    /// Best axis: the larger over axes of the smaller of the two sides' maxima.
    pub best: Plane,
    /// Mean over axes.
    pub mean: Plane,
    /// Worst axis.
    pub all: Plane,
}

/// For each axis the smaller of the two one-sided ray maxima over `reach` pixels, then best, mean and worst axis.
pub(super) fn between(p: &Plane, reach: usize) -> Between {
    let axes: Vec<Plane> = AXES
        .iter()
        .map(|&(dx, dy)| {
            let n = if dx != 0 && dy != 0 { (reach as f32 * 0.71).round() as usize } else { reach };
            p.reach_max(dx, dy, n).zip(&p.reach_max(-dx, -dy, n), f32::min)
        })
        .collect();
    let fold = |f: fn(f32, f32) -> f32| {
        let first = axes[0].zip(&axes[1], f);
        let second = axes[2].zip(&axes[3], f);
        first.zip(&second, f)
    };
    Between { best: fold(f32::max), mean: fold(|x, y| x + y).map(|v| v / 4.0), all: fold(f32::min) }
}

/// Ridge strength: the value less the larger of the two values `d` pixels away on either side, best of four axes.
fn bar(p: &Plane, d: usize) -> Plane {
    let (w, h) = (p.width as i32, p.height as i32);
    let mut out = Plane::filled(p.width, p.height, 0.0);
    use rayon::prelude::*;
    let at = |x: i32, y: i32| p.values[(y.clamp(0, h - 1) * w + x.clamp(0, w - 1)) as usize];
    out.values.par_chunks_mut(p.width).enumerate().for_each(|(y, row)| {
        let y = y as i32;
        for (x, o) in row.iter_mut().enumerate() {
            let x = x as i32;
            let here = p.values[(y * w + x) as usize];
            *o = AXES
                .iter()
                .map(|&(dx, dy)| {
                    let n = if dx != 0 && dy != 0 { (d as f32 * 0.71).round() as i32 } else { d as i32 };
                    here - at(x + dx * n, y + dy * n).max(at(x - dx * n, y - dy * n))
                })
                .fold(f32::NEG_INFINITY, f32::max);
        }
    });
    out
}
