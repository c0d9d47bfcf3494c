//! A white in view of a dark cup: a card beside or in it, or the cup's own rim.

use super::colour::WhiteFrom;
use super::cup::shape::Outline;
use super::grid::{Grid, LUMINANCE};
use super::ground::quantile;
use super::regions::visit_region;

/// Light of pigment-free white things: weakest over strongest channel at least (a white under a strong cast is none).
const NEUTRAL: f32 = 0.72;
/// A white is at least this share of the brightest in view, and not burnt out.
const OF_BRIGHTEST: f32 = 0.75;
const BURNT: f32 = 0.98;
/// Least luminance of a white, linear.
const LEAST_LIGHT: f32 = 0.1;
/// Change of square-rooted light between neighbours of one card.
const EVEN: f32 = 0.02;
/// Shares of the picture that a card fills.
const CARD_SHARE: std::ops::Range<f32> = 0.002..0.25;
/// How full a card fills its box turned along it, and longest over shortest side squared.
const CARD_FILL: std::ops::Range<f32> = 0.88..1.1;
const CARD_LONG: f32 = 16.0;
/// Rings about the floor that can be the rim, in floors, and points on a ring.
const RINGS: std::ops::Range<f32> = 1.04..1.7;
const RING_STEP: f32 = 0.02;
const RING_POINTS: usize = 180;
/// Share of a ring's points in view, and share of those within a fifth of their median, for a rim.
const RING_IN_VIEW: f32 = 0.5;
const RING_EVEN: f32 = 0.7;
/// Beyond the rim light falls below this share of it: a pale table does not end.
const BEYOND_RIM: f32 = 0.75;

/// The white in view, one channel each of `planes`; `None` where nothing is surely white.
pub(super) fn white_in_view(
    planes: &[Grid; 3],
    cup: Option<&Outline>,
) -> Option<([f64; 3], WhiteFrom)> {
    let light = luminance(planes);
    let mut all = light.clone();
    let brightest = quantile(&mut all, 0.998);
    let is_white = |rgb: [f32; 3]| {
        let most = rgb.iter().copied().fold(0.0, f32::max);
        let least = rgb.iter().copied().fold(f32::INFINITY, f32::min);
        let sum: f32 = rgb.iter().zip(LUMINANCE).map(|(v, l)| v * l).sum();
        most < BURNT
            && least > NEUTRAL * most
            && sum > LEAST_LIGHT
            && sum > OF_BRIGHTEST * brightest
    };
    let found = card(planes)
        .filter(|rgb| is_white(*rgb))
        .map(|rgb| (rgb, WhiteFrom::Card))
        .or_else(|| {
            let rgb = rim(planes, &light, cup?)?;
            is_white(rgb).then_some((rgb, WhiteFrom::Rim))
        });
    found.map(|(rgb, from)| (rgb.map(f64::from), from))
}

fn luminance(planes: &[Grid; 3]) -> Vec<f32> {
    (0..planes[0].px.len())
        .map(|i| (0..3).map(|c| LUMINANCE[c] * planes[c].px[i]).sum())
        .collect()
}

/// An even area of the picture.
#[derive(Debug, Clone, Default)]
struct Even {
    n: f32,
    rgb: [f32; 3],
    x: f32,
    y: f32,
    xx: f32,
    yy: f32,
    xy: f32,
    at_edge: bool,
}

impl Even {
    /// True for an area that is about a rectangle and does not reach the picture's edge.
    fn is_card(&self, pixels: f32) -> bool {
        let n = self.n;
        let (x, y) = (self.x / n, self.y / n);
        let (p, r) = (
            self.xx / n - x * x + 1.0 / 12.0,
            self.yy / n - y * y + 1.0 / 12.0,
        );
        let q = self.xy / n - x * y;
        let (mean, half) = (0.5 * (p + r), (0.25 * (p - r).powi(2) + q * q).sqrt());
        let (long, short) = (mean + half, (mean - half).max(1e-6));
        let fill = n / (12.0 * (long * short).sqrt());
        !self.at_edge
            && CARD_SHARE.contains(&(n / pixels))
            && CARD_FILL.contains(&fill)
            && long < CARD_LONG * short
    }
}

/// Light of the brightest card.
fn card(planes: &[Grid; 3]) -> Option<[f32; 3]> {
    let (w, h) = (planes[0].w, planes[0].h);
    let root: Vec<[f32; 3]> = (0..w * h)
        .map(|i| std::array::from_fn(|c| planes[c].px[i].max(0.0).sqrt()))
        .collect();
    let even = |i: usize, k: usize| (0..3).all(|c| (root[i][c] - root[k][c]).abs() <= EVEN);
    let mut seen = vec![false; w * h];
    let mut best: Option<[f32; 3]> = None;
    for start in 0..w * h {
        if std::mem::replace(&mut seen[start], true) {
            continue;
        }
        let mut area = Even::default();
        // Sums count from the first pixel, so that they stay small.
        let (x0, y0) = ((start % w) as f32, (start / w) as f32);
        visit_region(start, (w, h), &mut seen, even, |x, y, i| {
            add(&mut area, [x as f32 - x0, y as f32 - y0], planes, i);
            area.at_edge |= x == 0 || y == 0 || x + 1 == w || y + 1 == h;
        });
        let rgb = area.rgb.map(|v| v / area.n);
        if area.is_card((w * h) as f32) && best.is_none_or(|b| rgb[1] > b[1]) {
            best = Some(rgb);
        }
    }
    best
}

fn add(area: &mut Even, [x, y]: [f32; 2], planes: &[Grid; 3], i: usize) {
    area.n += 1.0;
    (0..3).for_each(|c| area.rgb[c] += planes[c].px[i]);
    area.x += x;
    area.y += y;
    area.xx += x * x;
    area.yy += y * y;
    area.xy += x * y;
}

/// Light of the brightest even ring about the cup's floor beyond which it is darker again.
fn rim(planes: &[Grid; 3], light: &[f32], cup: &Outline) -> Option<[f32; 3]> {
    let grey = Grid {
        w: planes[0].w,
        h: planes[0].h,
        px: light.to_vec(),
    };
    let steps = ((RINGS.end - RINGS.start) / RING_STEP) as usize;
    let at = |k: usize| RINGS.start + k as f32 * RING_STEP;
    let rings: Vec<Option<f32>> = (0..steps).map(|k| ring(&grey, cup, at(k))).collect();
    let best = (0..steps).filter(|k| rings[*k].is_some()).max_by(|a, b| {
        rings[*a]
            .unwrap_or(0.0)
            .total_cmp(&rings[*b].unwrap_or(0.0))
    })?;
    let rim = rings[best]?;
    // An uneven ring beyond (a table with things on it) is darker somewhere: told by its median all the same.
    let beyond = (best + 1..steps).filter_map(|k| middle(&grey, cup, at(k)));
    let darker = beyond.fold(f32::INFINITY, f32::min) < BEYOND_RIM * rim;
    let channel = |c: usize| middle(&planes[c], cup, at(best));
    darker.then_some([channel(0)?, channel(1)?, channel(2)?])
}

/// Light on a ring: its points in view.
fn on_ring(grid: &Grid, cup: &Outline, scale: f32) -> Vec<f32> {
    let (a, b) = (cup.a * scale, cup.b * scale);
    let (s, c) = cup.turn.sin_cos();
    (0..RING_POINTS)
        .filter_map(|k| {
            let angle = k as f32 / RING_POINTS as f32 * std::f32::consts::TAU;
            let (u, v) = (a * angle.cos(), b * angle.sin());
            grid.at(cup.cx + u * c - v * s, cup.cy + u * s + v * c)
        })
        .collect()
}

fn middle(grid: &Grid, cup: &Outline, scale: f32) -> Option<f32> {
    let mut seen = on_ring(grid, cup, scale);
    (seen.len() as f32 > RING_IN_VIEW * RING_POINTS as f32).then(|| quantile(&mut seen, 0.5))
}

/// Median light of a ring that is even all around.
fn ring(grid: &Grid, cup: &Outline, scale: f32) -> Option<f32> {
    let middle = middle(grid, cup, scale)?;
    let seen = on_ring(grid, cup, scale);
    let near = seen
        .iter()
        .filter(|v| (**v - middle).abs() < 0.2 * middle)
        .count();
    (near as f32 > RING_EVEN * seen.len() as f32).then_some(middle)
}
