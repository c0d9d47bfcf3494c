//! Picks the floor edge among the nested rings of a cup: floor edge, waterline, rim.
//!
//! The picture is unwrapped along rays from the ring's centre. Thin lines (waterline, glints) are closed and opened
//! away along each ray, so that what stays is steps of light. The floor edge is the innermost step that runs around.

use super::rings::Ring;
use super::shape::{Outline, Spot};
use crate::scene::grid::Grid;

/// Rays around the centre.
const RAYS: usize = 120;
/// Steps along a ray.
const STEPS: usize = 160;
/// Rays to a sector; whole sectors are weighed, so that a shadow's arc cannot stand for a ring.
const SECTOR: usize = 10;

/// Fall of log light that counts in full (measured on rendered cups: floor edges fall by 0.02 to 0.10).
const FULL_FALL: f32 = 0.03;

/// Small changes of an outline: size, two shifts (shares of the size), stretch along its axis, and shear
/// (ellipses) or turn (rectangles), all as shares.
type Bend = [f32; 5];

/// Steps of log light along rays of an outline.
#[derive(Debug)]
struct Rays {
    /// Places along each ray, first and last, as shares of the outline.
    reach: [f32; 2],
    /// How far each change of the outline moves it along each ray.
    moves: Vec<Bend>,
    /// Outward fall at [ray][place]; NaN outside the frame.
    fall: Vec<f32>,
    /// Thin lines at [ray][place]: light less what stays without them; NaN outside the frame.
    thin: Vec<f32>,
}

impl Rays {
    /// Unwraps `log` around the outline.
    fn new(log: &Grid, barred: &[bool], outline: &Outline, reach: [f32; 2]) -> Self {
        let mut fall = vec![f32::NAN; RAYS * STEPS];
        let mut thin = fall.clone();
        let spots = outline.spots(RAYS);
        let mut line = Vec::with_capacity(STEPS);
        let mut spare = Vec::with_capacity(STEPS);
        for (ray, spot) in spots.iter().enumerate() {
            let out = &mut fall[ray * STEPS..(ray + 1) * STEPS];
            let lines = &mut thin[ray * STEPS..(ray + 1) * STEPS];
            light_along(log, barred, outline, spot, reach, &mut line);
            lines.iter_mut().zip(&line).for_each(|(o, v)| *o = *v);
            let pace = (STEPS - 1) as f32 / (reach[1] - reach[0]);
            let count = |share: f32| ((share * pace).round() as usize).max(1);
            without_thin_lines(&mut line, &mut spare, count(THIN));
            lines.iter_mut().zip(&line).for_each(|(o, v)| *o -= v);
            falls_along(&line, out, [count(GAP), count(WINDOW), count(TREND)]);
        }
        Self {
            reach,
            moves: spots.iter().map(|s| moves(outline, s)).collect(),
            fall,
            thin,
        }
    }

    /// Fall at the share `s` along a ray.
    fn at(&self, ray: usize, s: f32) -> Option<f32> {
        let i = (s - self.reach[0]) / (self.reach[1] - self.reach[0]) * (STEPS - 1) as f32 + 0.5;
        let inside = i >= 0.0 && i < STEPS as f32;
        inside
            .then(|| self.fall[ray * STEPS + i as usize])
            .filter(|v| v.is_finite())
    }

    /// How plainly the light falls all around on the outline so changed, and its share in the frame:
    /// the mean over sectors, halfway to the mean of the weaker half of them.
    fn ring(&self, bend: &[f32]) -> (f32, f32) {
        let mut sectors = [0.0f32; RAYS / SECTOR];
        let (mut seen, mut all) = (0, 0);
        for (first, moves) in self.moves.chunks_exact(SECTOR).enumerate() {
            let (mut sum, mut n) = (0.0, 0);
            for (k, m) in moves.iter().enumerate() {
                let s = 1.0 + bend.iter().zip(m).map(|(b, m)| b * m).sum::<f32>();
                if let Some(v) = self.at(first * SECTOR + k, s) {
                    sum += (v / FULL_FALL).clamp(-1.0, 1.0);
                    n += 1;
                }
            }
            all += n;
            if n >= SECTOR / 2 {
                sectors[seen] = sum / n as f32;
                seen += 1;
            }
        }
        let sectors = &mut sectors[..seen];
        if sectors.is_empty() {
            return (-1.0, 0.0);
        }
        sectors.sort_by(f32::total_cmp);
        let mean = |v: &[f32]| v.iter().sum::<f32>() / v.len() as f32;
        (
            0.5 * (mean(sectors) + mean(&sectors[..seen.div_ceil(2)])),
            all as f32 / RAYS as f32,
        )
    }

    /// Mean light of thin lines within a hundredth of the outline, less the same a little inside and outside of it
    /// (noise leaves some everywhere): near 0 on a plain step, -0.02 and lower on a dark waterline, above on a bright one.
    fn lined(&self, bend: &Bend) -> f32 {
        let inside = self.thin_light(bend, -0.05);
        let outside = self.thin_light(bend, 0.05);
        let base = if inside.abs() < outside.abs() {
            inside
        } else {
            outside
        };
        self.thin_light(bend, 0.0) - base
    }

    /// Mean over the rays of the darkest and brightest thin line near the outline, moved out by `out`.
    fn thin_light(&self, bend: &Bend, out: f32) -> f32 {
        let pace = (STEPS - 1) as f32 / (self.reach[1] - self.reach[0]);
        let (half, mut n, mut sum) = (0.012 * pace, 0, 0.0f32);
        for (ray, m) in self.moves.iter().enumerate() {
            let s = 1.0 + out + bend.iter().zip(m).map(|(b, m)| b * m).sum::<f32>();
            let i = (s - self.reach[0]) * pace;
            let (from, to) = (
                (i - half).max(0.0) as usize,
                ((i + half).max(0.0) as usize + 1).min(STEPS),
            );
            if from >= to {
                continue;
            }
            let near = &self.thin[ray * STEPS + from..ray * STEPS + to];
            if near.iter().all(|v| v.is_finite()) {
                sum += near.iter().copied().fold(0.0f32, f32::min)
                    + near.iter().copied().fold(0.0f32, f32::max);
                n += 1;
            }
        }
        sum / n.max(1) as f32
    }

    /// Falls along the outline so changed, those in the frame.
    fn falls(&self, bend: &Bend, out: &mut Vec<f32>) {
        out.clear();
        out.extend(self.moves.iter().enumerate().filter_map(|(ray, m)| {
            self.at(
                ray,
                1.0 + bend.iter().zip(m).map(|(b, m)| b * m).sum::<f32>(),
            )
        }));
    }

    /// The change that follows the edge best, each part within its bound.
    fn best_bend(&self, bounds: &Bend) -> Bend {
        let mut bend = [0.0; 5];
        let mut falls = Vec::with_capacity(RAYS);
        for pace in [0.5f32, 0.25, 0.12, 0.06] {
            self.falls(&bend, &mut falls);
            let cap = upper_quarter(&mut falls).max(FULL_FALL);
            let sum = |bend: &Bend, falls: &mut Vec<f32>| {
                self.falls(bend, falls);
                falls.iter().map(|v| v.clamp(-0.5 * cap, cap)).sum::<f32>()
            };
            let mut best = sum(&bend, &mut falls);
            for _ in 0..8 {
                let before = best;
                for part in 0..5 {
                    for sign in [-1.0, 1.0] {
                        let mut next = bend;
                        next[part] = (next[part] + sign * pace * 0.5 * bounds[part])
                            .clamp(-bounds[part], bounds[part]);
                        let value = sum(&next, &mut falls);
                        if value > best {
                            (best, bend) = (value, next);
                        }
                    }
                }
                if best <= before {
                    break;
                }
            }
        }
        bend
    }
}

/// The upper quarter mark of some values; 0 for none.
fn upper_quarter(values: &mut [f32]) -> f32 {
    if values.is_empty() {
        return 0.0;
    }
    let k = values.len() * 3 / 4;
    *values.select_nth_unstable_by(k, f32::total_cmp).1
}

/// Log light along the ray through a spot, until it leaves the frame or meets a barred pixel.
fn light_along(
    log: &Grid,
    barred: &[bool],
    outline: &Outline,
    spot: &Spot,
    reach: [f32; 2],
    line: &mut Vec<f32>,
) {
    line.clear();
    // Two places side by side halve the noise.
    let (sx, sy) = (-0.5 * spot.ny, 0.5 * spot.nx);
    for k in 0..STEPS {
        let s = reach[0] + (reach[1] - reach[0]) * k as f32 / (STEPS - 1) as f32;
        let (x, y) = (
            outline.cx + (spot.x - outline.cx) * s,
            outline.cy + (spot.y - outline.cy) * s,
        );
        let (Some(a), Some(b)) = (log.at(x + sx, y + sy), log.at(x - sx, y - sy)) else {
            return;
        };
        if barred[(y + 0.5) as usize * log.w + (x + 0.5) as usize] {
            return;
        }
        line.push(0.5 * (a + b));
    }
}

/// How far each part of a [`Bend`] moves the outline along the ray through a spot.
fn moves(o: &Outline, spot: &Spot) -> Bend {
    let (s, c) = o.turn.sin_cos();
    let (x, y) = (spot.x - o.cx, spot.y - o.cy);
    let (u, v) = (x * c + y * s, y * c - x * s);
    let (nu, nv) = (spot.nx * c + spot.ny * s, spot.ny * c - spot.nx * s);
    let along = (u * nu + v * nv).max(1e-6);
    let size = o.size();
    let last = if o.n == 2.0 {
        v * nu + u * nv
    } else {
        u * nv - v * nu
    };
    [
        1.0,
        size * spot.nx / along,
        size * spot.ny / along,
        (u * nu - v * nv) / along,
        last / along,
    ]
}

/// The outline with the change carried out.
fn bent(o: &Outline, [size, dx, dy, stretch, last]: Bend) -> Outline {
    let whole = o.size();
    let moved = Outline {
        cx: o.cx + dx * whole,
        cy: o.cy + dy * whole,
        ..*o
    };
    let (a, b) = (o.a * (1.0 + size + stretch), o.b * (1.0 + size - stretch));
    if o.n != 2.0 {
        return Outline {
            a,
            b,
            turn: o.turn + last,
            ..moved
        };
    }
    // Half-axes of the sheared ellipse: eigenvectors of M M^T for M = [[a, last * b], [last * a, b]].
    let (p, q, r) = (
        a * a + (last * o.b).powi(2),
        last * (o.a * a + o.b * b),
        b * b + (last * o.a).powi(2),
    );
    let (mean, half) = (0.5 * (p + r), (0.25 * (p - r).powi(2) + q * q).sqrt());
    let turn = o.turn + 0.5 * (2.0 * q).atan2(p - r);
    Outline {
        a: (mean + half).sqrt(),
        b: (mean - half).max(1.0).sqrt(),
        turn,
        ..moved
    }
}

/// Half-length of what counts as a thin line; gap and window of the step; half-length of the trend of the light:
/// all as shares of the outline.
const THIN: f32 = 0.01;
const GAP: f32 = 0.006;
const WINDOW: f32 = 0.022;
const TREND: f32 = 0.07;

/// Closes, then opens a line of values: dark and bright lines up to `2 * half` long vanish, steps stay.
fn without_thin_lines(line: &mut Vec<f32>, spare: &mut Vec<f32>, half: usize) {
    for darkest in [false, true, true, false] {
        let n = line.len();
        spare.clear();
        spare.extend((0..n).map(|i| {
            let around = line[i.saturating_sub(half)..(i + half + 1).min(n)]
                .iter()
                .copied();
            if darkest {
                around.fold(f32::INFINITY, f32::min)
            } else {
                around.fold(f32::NEG_INFINITY, f32::max)
            }
        }));
        std::mem::swap(line, spare);
    }
}

/// Outward fall at each place of a line, less the fall of its surroundings.
fn falls_along(line: &[f32], out: &mut [f32], [gap, window, trend]: [usize; 3]) {
    let margin = gap + window;
    if line.len() < 2 * margin + 1 {
        return;
    }
    let sums = running_sums(line);
    let mean = |from: usize, to: usize| (sums[to] - sums[from]) / (to - from) as f32;
    let raw: Vec<f32> = (margin..line.len() - margin)
        .map(|k| mean(k - margin, k - gap) - mean(k + gap + 1, k + margin + 1))
        .collect();
    let raw_sums = running_sums(&raw);
    for (i, v) in raw.iter().enumerate() {
        let (from, to) = (i.saturating_sub(trend), (i + trend + 1).min(raw.len()));
        out[i + margin] = v - (raw_sums[to] - raw_sums[from]) / (to - from) as f32;
    }
}

/// Sums of the first 0, 1, 2.. values.
fn running_sums(values: &[f32]) -> Vec<f32> {
    let mut sums = vec![0.0];
    for v in values {
        sums.push(sums[sums.len() - 1] + v);
    }
    sums
}

/// The floor found inside a ring.
#[derive(Debug, Clone, Copy)]
pub(in crate::scene) struct Floor {
    pub outline: Outline,
    /// Mean fall along the edge, 0..=1.
    pub strength: f32,
    /// Share of the edge inside the frame, 0..=1.
    pub in_frame: f32,
    pub lined: f32,
}

/// Least standing of a floor edge, and least share of the best standing (measured on rendered cups: accidents stay below).
const LEAST: f32 = 0.33;
const LEAST_OF_BEST: f32 = 0.5;
/// A ring plainer than this is likely a rim, which says nothing of how plain the floor edge is.
const PLAIN_RING: f32 = 0.75;
/// Candidates weaker than this are not followed up.
const WORTH_A_LOOK: f32 = 0.24;
/// Outlines closer than this share of their size are one and the same edge.
const SAME_EDGE: f32 = 0.03;

/// The floor edge near a ring, or `None` when no step runs around.
pub(in crate::scene) fn floor_edge(log: &Grid, barred: &[bool], ring: &Ring) -> Option<Floor> {
    let rays = Rays::new(log, barred, &ring.outline, [0.5, 1.25]);
    let followed: Vec<Floor> = candidates(&rays, &ring.outline)
        .into_iter()
        .filter(|f| f.strength > WORTH_A_LOOK)
        .map(|f| followed(log, barred, f))
        .collect();
    let mut edges = distinct(followed, &ring.outline);
    edges.sort_by(|a, b| a.0.outline.size().total_cmp(&b.0.outline.size()));
    let best = edges.iter().map(|e| e.1).fold(0.0, f32::max);
    edges
        .into_iter()
        .find(|e| e.1 >= (LEAST_OF_BEST * best.min(PLAIN_RING)).max(LEAST))
        .map(|e| e.0)
}

/// One outline for each edge, with its standing: strength, less for lines and for lying off the ring's centre.
fn distinct(found: Vec<Floor>, ring: &Outline) -> Vec<(Floor, f32)> {
    let mut ranked: Vec<(Floor, f32)> =
        found.into_iter().map(|f| (f, standing(&f, ring))).collect();
    ranked.sort_by(|a, b| b.1.total_cmp(&a.1));
    let mut kept: Vec<(Floor, f32)> = Vec::new();
    for (f, standing) in ranked {
        if !kept.iter().any(|(k, _)| clash(&k.outline, &f.outline)) {
            kept.push((f, standing));
        }
    }
    kept
}

/// Whether two outlines cannot both be edges of a cup: they are one, or they cross (edges of a cup are nested).
fn clash(a: &Outline, b: &Outline) -> bool {
    let (apart, wider) = (
        (a.cx - b.cx).hypot(a.cy - b.cy),
        (a.size() - b.size()).abs(),
    );
    wider < apart.max(SAME_EDGE * a.size())
}

/// How far an edge can stand for the floor.
fn standing(f: &Floor, ring: &Outline) -> f32 {
    let off = (f.outline.cx - ring.cx).hypot(f.outline.cy - ring.cy) / ring.size();
    f.strength * (1.0 - off).max(0.0) / (1.0 + (f.lined.abs() - 0.01).max(0.0) / 0.02)
}

/// Follows the edge more closely than the first search did.
fn followed(log: &Grid, barred: &[bool], start: Floor) -> Floor {
    let mut outline = start.outline;
    let mut lined = 0.0;
    let mut seen = (start.strength, start.in_frame);
    for bounds in [
        [0.02, 0.03, 0.03, 0.012, 0.012],
        [0.012, 0.015, 0.015, 0.006, 0.006],
    ] {
        let rays = Rays::new(log, barred, &outline, [0.86, 1.14]);
        let bend = rays.best_bend(&bounds);
        seen = rays.ring(&bend);
        lined = rays.lined(&bend);
        outline = bent(&outline, bend);
    }
    Floor {
        outline,
        strength: seen.0 * seen.1.sqrt(),
        in_frame: seen.1,
        lined,
    }
}

/// Sizes tried, a hundredth of the ring apart.
const SIZES_TRIED: usize = 58;

/// Local best outlines by size, smallest first.
fn candidates(rays: &Rays, ring: &Outline) -> Vec<Floor> {
    let by_size: Vec<Floor> = (0..SIZES_TRIED)
        .map(|k| best_shift(rays, ring, 0.6 + 0.01 * k as f32))
        .collect();
    (1..by_size.len() - 1)
        .filter(|&i| {
            by_size[i].strength > by_size[i - 1].strength
                && by_size[i].strength >= by_size[i + 1].strength
        })
        .map(|i| by_size[i])
        .collect()
}

/// The best place for an outline of this share of the ring, within an eighth of its size.
fn best_shift(rays: &Rays, ring: &Outline, s: f32) -> Floor {
    let mut best = Floor {
        outline: *ring,
        strength: -1.0,
        in_frame: 0.0,
        lined: 0.0,
    };
    for y in -4i32..=4 {
        for x in -4i32..=4 {
            let (dx, dy) = (0.03 * x as f32, 0.03 * y as f32);
            let (fall, in_frame) = rays.ring(&[s - 1.0, dx, dy]);
            let strength = fall * in_frame.sqrt();
            if strength > best.strength {
                best = Floor {
                    outline: bent(ring, [s - 1.0, dx, dy, 0.0, 0.0]),
                    strength,
                    in_frame,
                    lined: 0.0,
                };
            }
        }
    }
    best
}
