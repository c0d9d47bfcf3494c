//! Facts about the light and focus of the searched ground: glare, clipping, sharpness, evenness.

use super::glare::large_glare;
use super::ground::quantile;
use crate::photo::LinearImage;
use crate::scene::grid::Grid;

/// What is measured of the searched ground.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Facts {
    /// Share under glare, 0..=1.
    pub glare_share: f64,
    /// Share with a clipped channel, 0..=1.
    pub clipped_share: f64,
    /// Sharpness, 0..=1.
    pub sharpness: f64,
    /// Brightest over darkest part of the ground, 1 and up.
    pub unevenness: f64,
}

/// A channel at or above this counts as clipped (linear; code 253 of 255).
const CLIPPED: f32 = 0.98;
/// Glare is brighter than the ground about it by this factor, or clipped.
const GLARE_FACTOR: f32 = 1.22;
/// The ground's light is read in this many blocks each way.
const BLOCKS: usize = 6;

/// Measures the searched part of a picture. On dark ground animals are brighter than the ground, so only clipped pixels
/// count as glare there.
pub(super) fn measure(image: &LinearImage, light: &Grid, searched: &[u8], dark: bool) -> Facts {
    let n = searched.iter().filter(|s| **s > 0).count();
    if n == 0 {
        return Facts::default();
    }
    let blocks = block_light(light, searched);
    let (counts, (large, sharpness)) = rayon::join(
        || glare_and_clipped(image, light, searched, &blocks, dark),
        || {
            let large = if dark {
                0
            } else {
                large_glare(light, searched)
            };
            (large, sharpness(light, searched))
        },
    );
    let (glare, clipped) = counts;
    Facts {
        glare_share: ((glare + large) as f64 / n as f64).min(1.0),
        clipped_share: clipped as f64 / n as f64,
        sharpness,
        unevenness: unevenness(&blocks),
    }
}

/// Pixels under glare, the large glares left out, and pixels with a clipped channel.
fn glare_and_clipped(
    image: &LinearImage,
    light: &Grid,
    searched: &[u8],
    blocks: &[Option<f32>],
    dark: bool,
) -> (usize, usize) {
    let whole = overall(blocks);
    let (mut glare, mut clipped) = (0usize, 0usize);
    let [r, g, b] = &image.planes;
    for y in 0..light.h {
        for across in 0..BLOCKS {
            let ground = blocks[y * BLOCKS / light.h * BLOCKS + across]
                .unwrap_or(whole)
                .clamp(0.8 * whole, 1.5 * whole);
            let bright = if dark {
                f32::INFINITY
            } else {
                GLARE_FACTOR * ground
            };
            let [from, to] =
                [across, across + 1].map(|n| y * light.w + (n * light.w).div_ceil(BLOCKS));
            for i in (from..to).filter(|i| searched[*i] > 0) {
                let is_clipped = r[i].max(g[i]).max(b[i]) >= CLIPPED;
                clipped += usize::from(is_clipped);
                glare += usize::from(is_clipped || light.px[i] > bright);
            }
        }
    }
    (glare, clipped)
}

/// The block of a pixel.
fn block(light: &Grid, i: usize) -> usize {
    let (x, y) = (i % light.w, i / light.w);
    (y * BLOCKS / light.h) * BLOCKS + x * BLOCKS / light.w
}

/// Light of the bare ground in each block: the upper-middle quantile, or `None` where too little is searched.
fn block_light(light: &Grid, searched: &[u8]) -> Vec<Option<f32>> {
    let mut values: Vec<Vec<f32>> = vec![Vec::new(); BLOCKS * BLOCKS];
    for i in (0..searched.len()).step_by(5).filter(|i| searched[*i] > 0) {
        values[block(light, i)].push(light.px[i]);
    }
    let least = searched.len() / (5 * BLOCKS * BLOCKS * 4);
    values
        .iter_mut()
        .map(|v| (v.len() > least).then(|| quantile(v, 0.6)))
        .collect()
}

/// Median of the blocks.
fn overall(blocks: &[Option<f32>]) -> f32 {
    let mut seen: Vec<f32> = blocks.iter().copied().flatten().collect();
    quantile(&mut seen, 0.5)
}

/// Ratio of the brightest to the darkest block.
fn unevenness(blocks: &[Option<f32>]) -> f64 {
    let seen = blocks.iter().copied().flatten();
    let (lo, hi) = seen.fold((f32::INFINITY, 0.0f32), |(lo, hi), v| {
        (lo.min(v), hi.max(v))
    });
    if hi > 0.0 {
        f64::from(hi / lo.max(1e-4)).min(1e3)
    } else {
        1.0
    }
}

/// Half-width over which an edge's whole step is taken, and the least step (natural log) of an edge that counts.
const EDGE_REACH: usize = 4;
const EDGE_STEP: f32 = 0.25;

/// The steeper edges' share of their whole step taken within two pixels: about 0.9 for edges as sharp as pixels allow,
/// 0.4 for edges blurred over six pixels; 1 where there is no edge to judge by.
fn sharpness(light: &Grid, searched: &[u8]) -> f64 {
    let (w, h) = (light.w, light.h);
    let mut shares = Vec::new();
    if w <= 2 * EDGE_REACH || h <= 2 * EDGE_REACH {
        return 1.0;
    }
    for y in (EDGE_REACH..h - EDGE_REACH).step_by(4) {
        for x in EDGE_REACH..w - EDGE_REACH {
            let i = y * w + x;
            if searched[i] == 0 {
                continue;
            }
            let (a, b) = (light.px[i - EDGE_REACH], light.px[i + EDGE_REACH]);
            if (b - a).abs() <= EDGE_STEP * a.max(b).max(0.01) {
                continue;
            }
            let near = light.px[i + 1] - light.px[i - 1];
            // Only middles of edges: the steepest place of its neighbourhood.
            if near.abs() < (light.px[i + 2] - light.px[i]).abs()
                || near.abs() < (light.px[i] - light.px[i - 2]).abs()
            {
                continue;
            }
            shares.push((near / (b - a)).clamp(0.0, 1.0));
        }
    }
    if shares.len() < 150 {
        1.0
    } else {
        f64::from(quantile(&mut shares, 0.7))
    }
}
