//! A picture unwrapped along rays from the middle of an outline: steps of light, without thin lines.

use super::lines::{Spare, falls_along, without_thin_lines};
use super::shape::{Outline, Spot};
use crate::scene::grid::Grid;

/// Rays around the centre.
pub(super) const RAYS: usize = 120;
/// Steps along a ray, over all of a ring and near an edge that is followed.
pub(super) const WIDE_STEPS: usize = 160;
pub(super) const NEAR_STEPS: usize = 80;
/// Rays to a sector; whole sectors are weighed, so that a shadow's arc cannot stand for a ring.
const SECTOR: usize = 10;

/// The first search looks at every other ray.
const EVERY: usize = 2;

/// Fall of log light that counts in full (measured on rendered cups: floor edges fall by 0.02 to 0.10).
const FULL_FALL: f32 = 0.03;

/// Small changes of an outline: size, two shifts (shares of the size), stretch along its axis, and shear
/// (ellipses) or turn (rectangles), all as shares.
pub(super) type Bend = [f32; 5];

/// Steps of log light along rays of an outline.
#[derive(Debug)]
pub(super) struct Rays {
    /// Places along each ray, first and last, as shares of the outline.
    reach: [f32; 2],
    /// Steps along each ray.
    steps: usize,
    /// How far each change of the outline moves it along each ray.
    moves: Vec<Bend>,
    /// Outward fall at [ray][place]; NaN outside the frame.
    fall: Vec<f32>,
    /// Thin lines at [ray][place]: light less what stays without them; NaN outside the frame.
    thin: Vec<f32>,
}

impl Rays {
    /// Unwraps `log` around the outline.
    pub(super) fn new(
        log: &Grid,
        barred: &[bool],
        outline: &Outline,
        reach: [f32; 2],
        steps: usize,
    ) -> Self {
        let mut fall = vec![f32::NAN; RAYS * steps];
        let mut thin = fall.clone();
        let spots = outline.spots(RAYS);
        let mut line = Vec::with_capacity(steps);
        let mut spare = Spare::default();
        for (ray, spot) in spots.iter().enumerate() {
            let out = &mut fall[ray * steps..(ray + 1) * steps];
            let lines = &mut thin[ray * steps..(ray + 1) * steps];
            light_along(log, barred, outline, spot, reach, &mut line, steps);
            lines.iter_mut().zip(&line).for_each(|(o, v)| *o = *v);
            let pace = (steps - 1) as f32 / (reach[1] - reach[0]);
            let count = |share: f32| ((share * pace).round() as usize).max(1);
            without_thin_lines(&mut line, &mut spare.line, count(THIN));
            lines.iter_mut().zip(&line).for_each(|(o, v)| *o -= v);
            falls_along(
                &line,
                out,
                [count(GAP), count(WINDOW), count(TREND)],
                &mut spare,
            );
        }
        Self {
            reach,
            steps,
            moves: spots.iter().map(|s| moves(outline, s)).collect(),
            fall,
            thin,
        }
    }

    /// Fall at the share `s` along a ray.
    pub(super) fn at(&self, ray: usize, s: f32) -> Option<f32> {
        let i =
            (s - self.reach[0]) / (self.reach[1] - self.reach[0]) * (self.steps - 1) as f32 + 0.5;
        let inside = i >= 0.0 && i < self.steps as f32;
        inside
            .then(|| self.fall[ray * self.steps + i as usize])
            .filter(|v| v.is_finite())
    }

    /// Falls in units of a plain edge, -1..=1; 2 outside the frame.
    pub(super) fn plain(&self) -> Vec<f32> {
        self.fall
            .iter()
            .map(|v| {
                if v.is_finite() {
                    (v / FULL_FALL).clamp(-1.0, 1.0)
                } else {
                    2.0
                }
            })
            .collect()
    }

    /// Takes the falls along an outline out of [`Rays::plain`]; `about` is the outline that the rays were made for.
    pub(super) fn clear(&self, plain: &mut [f32], about: &Outline, edge: &Outline) {
        let pace = (self.steps - 1) as f32 / (self.reach[1] - self.reach[0]);
        let reach = (CLEARED * pace).ceil() as usize;
        let spots = about.spots(RAYS);
        for (line, spot) in plain.chunks_exact_mut(self.steps).zip(&spots) {
            let Some(share) = edge.along(about, spot) else {
                continue;
            };
            let at = ((share - self.reach[0]) * pace).round().max(0.0) as usize;
            let near = at.saturating_sub(reach).min(line.len())..(at + reach + 1).min(line.len());
            line[near]
                .iter_mut()
                .filter(|v| **v < 1.5)
                .for_each(|v| *v = 0.0);
        }
    }

    /// [`Rays::ring`] for a size and shifts only, on every other ray of [`Rays::plain`]; where it cannot reach `least`,
    /// some value below that.
    pub(super) fn quick_ring(
        &self,
        plain: &[f32],
        [s, dx, dy]: [f32; 3],
        least: f32,
    ) -> (f32, f32) {
        let pace = (self.steps - 1) as f32 / (self.reach[1] - self.reach[0]);
        let (at, last) = ((1.0 - self.reach[0]) * pace + 0.5, (self.steps - 1) as f32);
        let (ps, px, py) = ((s - 1.0) * pace, dx * pace, dy * pace);
        let mut sectors = [0.0f32; RAYS / SECTOR];
        let (mut seen, mut all, mut total) = (0, 0u32, 0.0);
        let lines = plain.chunks_exact(SECTOR * self.steps);
        for (moves, falls) in self.moves.chunks_exact(SECTOR).zip(lines) {
            let (mut sum, mut n) = (0.0, 0u32);
            for k in (0..SECTOR).step_by(EVERY) {
                let m = &moves[k];
                let i = (at + ps * m[0] + px * m[1] + py * m[2]).clamp(0.0, last) as i32 as usize;
                let v = falls[k * self.steps + i];
                let inside = v < 1.5;
                sum += if inside { v } else { 0.0 };
                n += u32::from(inside);
            }
            all += n;
            if n >= (SECTOR / EVERY / 2) as u32 {
                sectors[seen] = sum / n as f32;
                total += sectors[seen];
                seen += 1;
            }
        }
        let in_frame = all as f32 / (RAYS / EVERY) as f32;
        // The weaker half only lowers the mean.
        if total < least * seen as f32 {
            return (total / seen.max(1) as f32, in_frame);
        }
        weighed(&mut sectors[..seen], in_frame)
    }

    /// How plainly the light falls all around on the outline so changed, and its share in the frame:
    /// the mean over sectors, halfway to the mean of the weaker half of them.
    pub(super) fn ring(&self, bend: &[f32]) -> (f32, f32) {
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
        weighed(&mut sectors[..seen], all as f32 / RAYS as f32)
    }

    /// How far the sectors by themselves agree with the outline so changed, 0..=1: the fall that each shows on it as a
    /// share of its greatest fall a little inside or outside. Near 1 on a true edge; a mixture of two edges, which
    /// follows one of them on one side and the other on the other, leaves both where it crosses over.
    pub(super) fn agreement(&self, bend: &Bend) -> f32 {
        let (mut sum, mut seen) = (0.0, 0.0f32);
        for first in (0..RAYS).step_by(SECTOR) {
            let (mut on, mut off) = (0.0f32, 0.0f32);
            for k in -8i32..=8 {
                let Some(fall) = self.sector_fall(bend, first, 0.005 * k as f32) else {
                    continue;
                };
                let most = if k.abs() <= 2 { &mut on } else { &mut off };
                *most = most.max(fall);
            }
            if self.sector_fall(bend, first, 0.0).is_some() {
                sum += if on > 0.1 { on / on.max(off) } else { 0.0 };
                seen += 1.0;
            }
        }
        sum / seen.max(1.0)
    }

    /// Mean fall of a sector on the outline so changed and moved out by `out`; `None` mostly outside the frame.
    fn sector_fall(&self, bend: &Bend, first: usize, out: f32) -> Option<f32> {
        let (mut sum, mut n) = (0.0, 0);
        for ray in first..first + SECTOR {
            let s = 1.0
                + out
                + bend
                    .iter()
                    .zip(&self.moves[ray])
                    .map(|(b, m)| b * m)
                    .sum::<f32>();
            if let Some(v) = self.at(ray, s) {
                sum += (v / FULL_FALL).clamp(-1.0, 1.0);
                n += 1;
            }
        }
        (n >= SECTOR / 2).then(|| sum / n as f32)
    }

    /// Mean light of thin lines within a hundredth of the outline, less the same a little inside and outside of it
    /// (noise leaves some everywhere): near 0 on a plain step, -0.02 and lower on a dark waterline, above on a bright one.
    pub(super) fn lined(&self, bend: &Bend) -> f32 {
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
    pub(super) fn thin_light(&self, bend: &Bend, out: f32) -> f32 {
        let pace = (self.steps - 1) as f32 / (self.reach[1] - self.reach[0]);
        let (half, mut n, mut sum) = (0.012 * pace, 0, 0.0f32);
        for (ray, m) in self.moves.iter().enumerate() {
            let s = 1.0 + out + bend.iter().zip(m).map(|(b, m)| b * m).sum::<f32>();
            let i = (s - self.reach[0]) * pace;
            let (from, to) = (
                (i - half).max(0.0) as usize,
                ((i + half).max(0.0) as usize + 1).min(self.steps),
            );
            if from >= to {
                continue;
            }
            let near = &self.thin[ray * self.steps + from..ray * self.steps + to];
            if near.iter().all(|v| v.is_finite()) {
                sum += near.iter().copied().fold(0.0f32, f32::min)
                    + near.iter().copied().fold(0.0f32, f32::max);
                n += 1;
            }
        }
        sum / n.max(1) as f32
    }

    /// Falls along the outline so changed, those in the frame.
    pub(super) fn falls(&self, bend: &Bend, out: &mut Vec<f32>) {
        out.clear();
        out.extend(self.moves.iter().enumerate().filter_map(|(ray, m)| {
            self.at(
                ray,
                1.0 + bend.iter().zip(m).map(|(b, m)| b * m).sum::<f32>(),
            )
        }));
    }

    /// The change that runs around best: most even fall over all sectors, each part within its bound.
    pub(super) fn evenest_bend(&self, bounds: &Bend) -> Bend {
        climb([0.0; 5], bounds, &[0.5, 0.25, 0.12], |bend| {
            self.ring(bend).0
        })
    }

    /// The change that lies most exactly on the edge: most fall, single rays held to the common size of the fall so that
    /// animals and glints do not pull.
    pub(super) fn closest_bend(&self, from: Bend, bounds: &Bend) -> Bend {
        let mut falls = Vec::with_capacity(RAYS);
        self.falls(&from, &mut falls);
        let cap = upper_quarter(&mut falls).max(FULL_FALL);
        climb(from, bounds, &[0.5, 0.25, 0.12], |bend| {
            self.falls(bend, &mut falls);
            falls.iter().map(|v| v.clamp(-0.5 * cap, cap)).sum()
        })
    }
}

/// Climbs from a change in each part by turns, by the given shares of the bounds, while `worth` grows.
fn climb(from: Bend, bounds: &Bend, paces: &[f32], mut worth: impl FnMut(&Bend) -> f32) -> Bend {
    let mut bend = from;
    let mut best = worth(&bend);
    for pace in paces {
        for _ in 0..6 {
            let before = best;
            for part in 0..5 {
                for sign in [-1.0, 1.0] {
                    let mut next = bend;
                    next[part] = (next[part] + sign * pace * bounds[part])
                        .clamp(from[part] - bounds[part], from[part] + bounds[part]);
                    let value = worth(&next);
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

/// Mean of the sectors halfway to the mean of their weaker half, with the share in frame passed on.
fn weighed(sectors: &mut [f32], in_frame: f32) -> (f32, f32) {
    if sectors.is_empty() {
        return (-1.0, 0.0);
    }
    let half = sectors.len().div_ceil(2);
    sectors.sort_unstable_by(f32::total_cmp);
    let mean = |v: &[f32]| v.iter().sum::<f32>() / v.len() as f32;
    (0.5 * (mean(sectors) + mean(&sectors[..half])), in_frame)
}

/// The median of some values; 0 for none.
pub(super) fn middle(values: &mut [f32]) -> f32 {
    if values.is_empty() {
        return 0.0;
    }
    let k = values.len() / 2;
    *values.select_nth_unstable_by(k, f32::total_cmp).1
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
    steps: usize,
) {
    line.clear();
    // Two places side by side halve the noise.
    let (sx, sy) = (-0.5 * spot.ny, 0.5 * spot.nx);
    for k in 0..steps {
        let s = reach[0] + (reach[1] - reach[0]) * k as f32 / (steps - 1) as f32;
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
        size / along,
        size * spot.nx / along,
        size * spot.ny / along,
        (u * nu - v * nv) / along,
        last / along,
    ]
}

/// The outline with the change carried out.
pub(super) fn bent(o: &Outline, [size, dx, dy, stretch, last]: Bend) -> Outline {
    let whole = o.size();
    let moved = Outline {
        cx: o.cx + dx * whole,
        cy: o.cy + dy * whole,
        ..*o
    };
    // Floor, waterline and rim keep the same distance all around, so size moves both half-axes alike.
    let (a, b) = (
        o.a * (1.0 + stretch) + size * whole,
        o.b * (1.0 - stretch) + size * whole,
    );
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

/// Half-length of what is taken out with an edge, a share of the outline.
const CLEARED: f32 = 0.022;

/// Half-length of what counts as a thin line; gap and window of the step; half-length of the trend of the light:
/// all as shares of the outline.
const THIN: f32 = 0.01;
const GAP: f32 = 0.006;
const WINDOW: f32 = 0.022;
const TREND: f32 = 0.07;
