//! A body unwrapped along its axis: stations along, samples across.

use super::field::Field;
use super::thinning::path_length;
use crate::lanes::widest;
use crate::plane::{Places, Plane};

/// Samples across to one body unit.
pub const ACROSS: f32 = 24.0;
/// Stations along to one body unit.
pub const ALONG: f32 = 12.0;
/// Half-width of the ribbon in body units: more than the half-width of the stoutest body seen from the side.
pub const REACH: f32 = 1.35;
/// Samples on each side of the axis.
pub const HALF: usize = (REACH * ACROSS).round() as usize;
/// Samples across a station.
const WIDTH: usize = 2 * HALF + 1;
/// How far the axis is continued beyond its ends, body units.
pub const BEYOND: f32 = 1.5;

/// An unwrapped body. Sample (s, t): station s along the axis, t across, `half` = on the axis,
/// smaller t to the left of the direction of travel (y down).
#[derive(Debug, Clone)]
pub struct Ribbon {
    /// Axis points, one a station, fine pixels.
    pub axis: Vec<[f32; 2]>,
    /// Unit normals, one a station, pointing to larger t.
    pub normals: Vec<[f32; 2]>,
    /// Samples on each side of the axis.
    pub half: usize,
    /// Fine pixels between samples across.
    pub across_px: f32,
    /// Fine pixels between stations.
    pub along_px: f32,
    /// Darkness (100 - L*), a*, b*, evidence: `stations * (2 half + 1)` values each.
    pub channels: [Vec<f32>; 4],
}

impl Ribbon {
    /// The same ribbon travelled the other way.
    pub fn reversed(mut self) -> Self {
        self.axis.reverse();
        self.normals.reverse();
        self.normals.iter_mut().for_each(|n| *n = n.map(|v| -v));
        // The last sample comes first: both the stations and the samples across change their order.
        self.channels.iter_mut().for_each(|values| values.reverse());
        self
    }

    /// The same ribbon in a picture of which `ratio` pixels are as long as one here.
    pub fn moved(mut self, ratio: f32) -> Self {
        for point in &mut self.axis {
            *point = point.map(|v| (v + 0.5) * ratio - 0.5);
        }
        self.across_px *= ratio;
        self.along_px *= ratio;
        self
    }

    /// Samples across a station.
    pub fn width(&self) -> usize {
        2 * self.half + 1
    }

    /// Count of stations.
    pub fn stations(&self) -> usize {
        self.axis.len()
    }

    /// Fine position of a sample; `t` counts from the axis, in samples.
    #[inline]
    pub fn position(&self, s: usize, t: f32) -> [f32; 2] {
        let (p, n) = (self.axis[s], self.normals[s]);
        [
            p[0] + n[0] * t * self.across_px,
            p[1] + n[1] * t * self.across_px,
        ]
    }

    /// Fine positions (x and y) of all samples of a station of an unwrapped body.
    fn positions(&self, s: usize) -> ([f32; WIDTH], [f32; WIDTH]) {
        let (p, n, step) = (self.axis[s], self.normals[s], self.across_px);
        let along = |c: usize| -> [f32; WIDTH] {
            std::array::from_fn(|t| p[c] + n[c] * (t as f32 - HALF as f32) * step)
        };
        (along(0), along(1))
    }
}

/// The body along `path` (fine pixels) unwrapped; the axis is smoothed and continued [`BEYOND`] both ends.
/// `smoothing` is the standard deviation of the smoothing along the axis in body units.
pub fn unwrap(field: &Field, path: &[[f32; 2]], smoothing: f32) -> Ribbon {
    let along_px = field.unit / ALONG;
    let axis = continued(
        &smoothed(&resampled(path, along_px), smoothing * ALONG),
        (BEYOND * ALONG) as usize,
        along_px,
    );
    let normals = normals(&axis);
    let across_px = field.unit / ACROSS;
    let mut ribbon = Ribbon {
        axis,
        normals,
        half: HALF,
        across_px,
        along_px,
        channels: Default::default(),
    };
    ribbon.channels = sample(field, &ribbon);
    ribbon
}

fn sample(field: &Field, ribbon: &Ribbon) -> [Vec<f32>; 4] {
    let (n, w) = (ribbon.stations(), ribbon.width());
    let tones = [&field.fine.lightness, &field.fine.a, &field.fine.b];
    let coarse = |v: f32| field.coarse_of_fine(v);
    let mut out: [Vec<f32>; 4] = std::array::from_fn(|_| vec![0.0; n * w]);
    let [dark, a, b, evidence] = &mut out;
    let rows = (dark.chunks_exact_mut(w).zip(a.chunks_exact_mut(w)))
        .zip(b.chunks_exact_mut(w).zip(evidence.chunks_exact_mut(w)));
    for (s, ((dark, a), (b, evidence))) in rows.enumerate() {
        let (x, y) = ribbon.positions(s);
        sample_all(tones, &x, &y, [&mut *dark, a, b]);
        dark.iter_mut().for_each(|v| *v = 100.0 - *v);
        let (x, y) = (x.map(coarse), y.map(coarse));
        sample_all([&field.evidence], &x, &y, [evidence]);
    }
    out.map(|values| along_mean(&values, w))
}

/// Values of planes of one size at the places of a station.
fn sample_all<const N: usize>(
    planes: [&Plane; N],
    x: &[f32; WIDTH],
    y: &[f32; WIDTH],
    out: [&mut [f32]; N],
) {
    let inner = Places::new(x, y, planes[0].width, planes[0].height);
    for (plane, out) in planes.into_iter().zip(out) {
        match &inner {
            Some(places) => places.values(plane, out),
            None => (out.iter_mut().zip(x.iter().zip(y)))
                .for_each(|(o, (x, y))| *o = plane.sample(*x, *y)),
        }
    }
}

/// Mean over three neighbouring stations: quietens legs, which cross the flank, and keeps the flank.
fn along_mean(values: &[f32], w: usize) -> Vec<f32> {
    let n = values.len() / w;
    let row = |s: usize| &values[s * w..(s + 1) * w];
    let mut out = Vec::with_capacity(values.len());
    for s in 0..n {
        let (first, last) = (s.saturating_sub(1), (s + 1).min(n - 1));
        let from = out.len();
        out.extend_from_slice(row(first));
        let sums = &mut out[from..];
        for k in first + 1..=last {
            widest((&mut *sums, row(k)), add);
        }
        let count = (last - first + 1) as f32;
        widest((sums, count), divide);
    }
    out
}

#[inline(always)]
fn add((sums, values): (&mut [f32], &[f32])) {
    sums.iter_mut().zip(values).for_each(|(o, v)| *o += v);
}

#[inline(always)]
fn divide((values, by): (&mut [f32], f32)) {
    values.iter_mut().for_each(|o| *o /= by);
}

/// The chain with points every `spacing` pixels, its first and last point kept.
pub fn resampled(path: &[[f32; 2]], spacing: f32) -> Vec<[f32; 2]> {
    let total = path_length(path);
    let count = ((total / spacing).round() as usize).max(2);
    let mut out = Vec::with_capacity(count + 1);
    let (mut k, mut done) = (0usize, 0.0f32);
    for i in 0..=count {
        let target = total * i as f32 / count as f32;
        while k + 2 < path.len() && done + distance(path[k], path[k + 1]) < target {
            done += distance(path[k], path[k + 1]);
            k += 1;
        }
        let step = distance(path[k], path[k + 1]).max(1e-6);
        let f = ((target - done) / step).clamp(0.0, 1.0);
        out.push(std::array::from_fn(|c| {
            path[k][c] + (path[k + 1][c] - path[k][c]) * f
        }));
    }
    out
}

/// Distance between two points.
pub fn distance(p: [f32; 2], q: [f32; 2]) -> f32 {
    (p[0] - q[0]).hypot(p[1] - q[1])
}

/// Gaussian smoothing along the chain; near the ends the chain is mirrored through its end point.
pub fn smoothed(path: &[[f32; 2]], sigma: f32) -> Vec<[f32; 2]> {
    let n = path.len() as i32;
    let r = (2.5 * sigma).ceil() as i32;
    let weights: Vec<f32> = (-r..=r)
        .map(|k| (-0.5 * (k as f32 / sigma).powi(2)).exp())
        .collect();
    let at = |i: i32| -> [f32; 2] {
        if i < 0 {
            let (e, m) = (path[0], path[(-i).min(n - 1) as usize]);
            [2.0 * e[0] - m[0], 2.0 * e[1] - m[1]]
        } else if i >= n {
            let (e, m) = (
                path[(n - 1) as usize],
                path[(2 * (n - 1) - i).max(0) as usize],
            );
            [2.0 * e[0] - m[0], 2.0 * e[1] - m[1]]
        } else {
            path[i as usize]
        }
    };
    (0..n)
        .map(|i| {
            let mut sum = [0.0f32; 3];
            for (k, weight) in (-r..=r).zip(&weights) {
                let p = at(i + k);
                sum = [
                    sum[0] + weight * p[0],
                    sum[1] + weight * p[1],
                    sum[2] + weight,
                ];
            }
            [sum[0] / sum[2], sum[1] / sum[2]]
        })
        .collect()
}

fn continued(path: &[[f32; 2]], count: usize, spacing: f32) -> Vec<[f32; 2]> {
    let span = (ALONG as usize).min(path.len() - 1);
    let direction = |end: [f32; 2], inner: [f32; 2]| {
        let d = distance(end, inner).max(1e-6);
        [(end[0] - inner[0]) / d, (end[1] - inner[1]) / d]
    };
    let (first, last) = (path[0], path[path.len() - 1]);
    let before = direction(first, path[span]);
    let after = direction(last, path[path.len() - 1 - span]);
    let step = |p: [f32; 2], d: [f32; 2], k: usize| {
        [
            p[0] + d[0] * spacing * k as f32,
            p[1] + d[1] * spacing * k as f32,
        ]
    };
    let mut out: Vec<[f32; 2]> = (1..=count).rev().map(|k| step(first, before, k)).collect();
    out.extend_from_slice(path);
    out.extend((1..=count).map(|k| step(last, after, k)));
    out
}

fn normals(axis: &[[f32; 2]]) -> Vec<[f32; 2]> {
    let n = axis.len();
    let reach = (ALONG / 3.0) as usize;
    (0..n)
        .map(|i| {
            let (p, q) = (axis[i.saturating_sub(reach)], axis[(i + reach).min(n - 1)]);
            let d = distance(p, q).max(1e-6);
            [-(q[1] - p[1]) / d, (q[0] - p[0]) / d]
        })
        .collect()
}
