//! Local signs of a body at each pixel, blind to which colour the line has.
//!
//! Every distance is tied to the body unit `u` (about a fifth less than an adult's greatest width),
//! every contrast to the noise of the ground, so that the same weights serve near and far, clean and noisy photos.

use super::squash::squash;
use super::tones::Tones;
use crate::lanes::widest;
use crate::plane::Plane;
use rayon::prelude::*;

/// Names of the first-stage features, in the order of [`first_stage`].
pub const FIRST_STAGE: [&str; 22] = [
    "dark_fine",
    "dark_small",
    "dark_mid",
    "dark_wide",
    "chroma_fine",
    "chroma_small",
    "chroma_mid",
    "edge_fine",
    "edge_mid",
    "texture_small",
    "texture_mid",
    "between_edges_best",
    "between_edges_mean",
    "between_edges_all",
    "dark_opened",
    "chroma_opened",
    "bar_narrow",
    "bar_wide",
    "contrast",
    "bright",
    "between_dark_best",
    "between_dark_all",
];

/// The four axes of the pixel grid along which both sides are compared.
const AXES: [(i32, i32); 4] = [(1, 0), (0, 1), (1, 1), (1, -1)];

/// Spread of the ground's own lightness at the pixel scale: 1.4826 x median absolute deviation of L* against its
/// neighbourhood, over the searched pixels; L* units, at least 0.2.
pub fn ground_noise(tones: &Tones, searched: &[u8]) -> f32 {
    let rough = tones
        .lightness
        .zip(&tones.lightness.box_mean(2), |l, m| (l - m).abs());
    let mut spread: Vec<f32> = rough
        .values
        .iter()
        .zip(searched)
        .step_by(7)
        .filter(|(_, m)| **m > 0)
        .map(|(v, _)| *v)
        .collect();
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
/// `u` is the body unit in pixels. Values are compressed by [`compressed`].
pub fn first_stage(tones: Tones, u: f32, noise: f32) -> Vec<Plane> {
    let mut all = Vec::new();
    first_stage_in_parts(tones, u, |_, planes| {
        all.extend(
            planes
                .iter()
                .map(|plane| plane.map(|v| compressed(v, noise))),
        );
    });
    all
}

/// A sign compressed: the signed logarithm of multiples of a small contrast, which grows with the ground's noise.
#[inline(always)]
pub fn compressed(sign: f32, noise: f32) -> f32 {
    squash(sign, 1.0 + noise)
}

/// [`first_stage`] a few planes at a time, before they are compressed: `take` is given them in order, with the number of the
/// first. All at once would take much memory, so each plane is dropped as soon as nothing else is made from it.
pub fn first_stage_in_parts(tones: Tones, u: f32, mut take: impl FnMut(usize, &[&Plane])) {
    let r = |units: f32| reach(units, u, 0);
    let Tones { lightness, a, b } = tones;

    // Chains of small passes: side by side they keep more threads busy than each pass by itself.
    let ([fine, small, mid, wide], (a, b, chroma)) = rayon::join(
        || {
            let fine = lightness.mapped(|l| 100.0 - l).box_mean(r(0.06));
            let small = fine.box_mean(r(0.15).max(1));
            let mid = small.box_mean(r(0.4));
            let wide = mid.box_mean(r(1.0));
            [fine, small, mid, wide]
        },
        || {
            let [a, b] = [a, b].map(|plane| plane.box_mean(r(0.06).max(1)));
            let chroma = a.zip(&b, |a, b| (a * a + b * b).sqrt());
            (a, b, chroma)
        },
    );
    take(0, &[&fine, &small, &mid, &wide]);
    {
        let chroma_small = chroma.box_mean(r(0.15).max(1));
        let chroma_mid = chroma_small.box_mean(r(0.4));
        take(4, &[&chroma, &chroma_small, &chroma_mid]);
    }

    let edge_fine = gradient(&[&fine, &a, &b], 1);
    let edge_mid = || {
        let (a2, b2) = (a.box_mean(r(0.25).max(1)), b.box_mean(r(0.25).max(1)));
        gradient(&[&small.box_mean(r(0.2).max(1)), &a2, &b2], r(0.15).max(1))
    };
    let between_edges = || between(&edge_fine, reach(0.9, u, 2)).into();
    take(7, &[&edge_fine]);
    let planes = side_by_side(&[
        &|| vec![edge_mid()],
        &|| {
            vec![
                texture(&fine, reach(0.25, u, 1)),
                texture(&fine, reach(0.6, u, 2)),
            ]
        },
        &between_edges,
    ]);
    take(8, &planes.iter().collect::<Vec<_>>());
    drop((planes, edge_fine, a, b));

    let thin = reach(0.12, u, 1);
    let planes = side_by_side(&[&|| vec![fine.open(thin), chroma.open(thin)], &|| {
        vec![bar(&small, reach(0.8, u, 2)), bar(&mid, reach(1.4, u, 3))]
    }]);
    take(14, &planes.iter().collect::<Vec<_>>());
    drop((planes, chroma));

    let contrast = wide.zipped(&small, |w, s| s - w);
    let bright = || {
        fine.zip(&mid, |f, m| (m - f).max(0.0))
            .box_max(reach(0.1, u, 1))
    };
    let (bright, [best, _, all]) = rayon::join(bright, || between(&small, reach(0.9, u, 2)));
    take(18, &[&contrast, &bright, &best, &all]);
}

/// The planes of all parts in order, which are independent of each other.
fn side_by_side(parts: &[&(dyn Fn() -> Vec<Plane> + Sync)]) -> Vec<Plane> {
    let planes: Vec<Vec<Plane>> = parts.par_iter().map(|part| part()).collect();
    planes.into_iter().flatten().collect()
}

/// Standard deviation over the square of that radius around each pixel.
fn texture(plane: &Plane, radius: usize) -> Plane {
    let mean = plane.box_mean(radius);
    let squares = plane.map(|v| v * v).box_mean(radius);
    squares.zipped(&mean, |s, m| (s - m * m).max(0.0).sqrt())
}

/// Gradient magnitude over several planes, central differences over `d` pixels each way, per pixel of distance 2 d.
fn gradient(planes: &[&Plane], d: usize) -> Plane {
    let (w, h) = (planes[0].width, planes[0].height);
    let mut out = Plane::filled(w, h, 0.0);
    out.values
        .par_chunks_mut(w)
        .enumerate()
        .for_each(|(y, row)| {
            let (up, down) = (y.saturating_sub(d), (y + d).min(h - 1));
            for p in planes {
                let (this, up, down) = (
                    &p.values[y * w..(y + 1) * w],
                    &p.values[up * w..(up + 1) * w],
                    &p.values[down * w..(down + 1) * w],
                );
                let inner = d.min(w)..w.saturating_sub(d).max(d.min(w));
                if !inner.is_empty() {
                    let beside = [
                        &this[..inner.len()],
                        &this[2 * d..],
                        &up[inner.clone()],
                        &down[inner.clone()],
                    ];
                    widest((&mut row[inner.clone()], beside), add_squares);
                }
                for x in (0..inner.start).chain(inner.end..w) {
                    let dx = this[(x + d).min(w - 1)] - this[x.saturating_sub(d)];
                    let dy = down[x] - up[x];
                    row[x] += dx * dx + dy * dy;
                }
            }
            widest(row, take_roots);
        });
    out
}

/// Adds the squared differences of the rows to the left and right and of those above and below.
#[inline(always)]
fn add_squares((sums, [left, right, up, down]): (&mut [f32], [&[f32]; 4])) {
    let across = left.iter().zip(right);
    let along = up.iter().zip(down);
    for ((sum, (l, r)), (u, d)) in sums.iter_mut().zip(across).zip(along) {
        let (dx, dy) = (r - l, d - u);
        *sum += dx * dx + dy * dy;
    }
}

#[inline(always)]
fn take_roots(values: &mut [f32]) {
    values.iter_mut().for_each(|v| *v = v.sqrt());
}

/// For each axis the smaller of the two one-sided ray maxima over `reach` pixels: of these the best axis, the mean over
/// axes, and the worst axis.
fn between(p: &Plane, reach: usize) -> [Plane; 3] {
    let [mut best, mut mean, mut all, fourth] = AXES.map(|(dx, dy)| {
        let n = along(dx, dy, reach);
        let back = p.reach_max(-dx, -dy, n);
        p.reach_max(dx, dy, n)
            .zipped(&back, |x, y| if y < x { y } else { x })
    });
    const PART: usize = 1 << 14;
    let parts = (best.values.par_chunks_mut(PART))
        .zip(mean.values.par_chunks_mut(PART))
        .zip(all.values.par_chunks_mut(PART))
        .zip(fourth.values.par_chunks(PART));
    parts.for_each(|(((first, second), third), fourth)| {
        widest(([first, second, third], fourth), sum_up);
    });
    [best, mean, all]
}

/// Of four values, the last one apart: the first becomes the largest, the second the mean, the third the smallest.
#[inline(always)]
fn sum_up(([first, second, third], fourth): ([&mut [f32]; 3], &[f32])) {
    let values = first.iter_mut().zip(second).zip(third).zip(fourth);
    for (((best, mean), all), last) in values {
        let [p, q, r, s] = [*best, *mean, *all, *last];
        *best = p.max(q).max(r.max(s));
        *mean = ((p + q) + (r + s)) / 4.0;
        *all = p.min(q).min(r.min(s));
    }
}

/// Steps of an axis that come nearest to `d` pixels.
fn along(dx: i32, dy: i32, d: usize) -> usize {
    if dx != 0 && dy != 0 {
        (d as f32 * 0.71).round() as usize
    } else {
        d
    }
}

/// Ridge strength: the value less the larger of the two values `d` pixels away on either side, best of four axes.
fn bar(p: &Plane, d: usize) -> Plane {
    let (w, h) = (p.width, p.height);
    let mut out = Plane::filled(w, h, f32::NEG_INFINITY);
    const ROWS: usize = 32;
    out.values
        .par_chunks_mut(w * ROWS)
        .enumerate()
        .for_each(|(part, rows)| {
            let (mut before, mut after) = (vec![0.0; w], vec![0.0; w]);
            for (k, row) in rows.chunks_mut(w).enumerate() {
                let y = part * ROWS + k;
                let here = &p.values[y * w..(y + 1) * w];
                for (dx, dy) in AXES {
                    let n = along(dx, dy, d) as i32;
                    let line = |sign: i32| {
                        let from = (y as i32 + sign * dy * n).clamp(0, h as i32 - 1) as usize;
                        &p.values[from * w..(from + 1) * w]
                    };
                    shifted(line(1), dx * n, &mut after);
                    shifted(line(-1), -dx * n, &mut before);
                    for ((o, v), (b, a)) in row.iter_mut().zip(here).zip(before.iter().zip(&after))
                    {
                        let value = v - if b > a { b } else { a };
                        *o = if value > *o { value } else { *o };
                    }
                }
            }
        });
    out
}

/// The row read `by` pixels further to the right, its end values beyond its ends.
fn shifted(row: &[f32], by: i32, out: &mut [f32]) {
    let n = row.len();
    let steps = (by.unsigned_abs() as usize).min(n - 1);
    if by >= 0 {
        out[..n - steps].copy_from_slice(&row[steps..]);
        out[n - steps..].fill(row[n - 1]);
    } else {
        out[steps..].copy_from_slice(&row[..n - steps]);
        out[..steps].fill(row[0]);
    }
}
