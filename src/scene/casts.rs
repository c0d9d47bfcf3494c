//! Lights of different colour across the ground, and coloured reflections on it.

use super::equations::Normal;
use super::ground::quantile;
use crate::photo::LinearImage;

/// What is seen of coloured light.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub(super) struct Casts {
    /// How much the ground's colour changes from one side to the other: natural log of the change of red or blue over
    /// green, whichever changes more.
    pub change: f64,
    /// Share of the ground under reflections that have a colour of their own.
    pub reflected: f64,
}

/// Blocks each way.
const BLOCKS: usize = 8;
/// Every so many pixels each way are looked at.
const STRIDE: usize = 3;
/// Fewer looked-at pixels in a block say nothing.
const LEAST_IN_BLOCK: usize = 25;
/// Of a block the pixels between these shares of its light are taken for bare ground.
const BARE: [f32; 2] = [0.5, 0.9];
/// A block whose ground has less than this share of the whole ground's light is in a shadow or under something.
const LEAST_LIGHT: f32 = 0.4;
/// Fewest blocks over which a change can be told.
const LEAST_BLOCKS: usize = 12;
/// Standard deviation of a block's colour about an even change (natural log): stains, animals.
const SPREAD: f64 = 0.02;
/// A reflection adds light: no channel is darker than the ground by more than this, and one is brighter than another by so much.
const NOT_DARKER: f32 = 1.0;
const COLOURED: f32 = 0.15;

/// A block of the ground: its place (from -1 to 1 over the ground) and its bare ground's light.
#[derive(Debug, Clone, Copy)]
struct Block {
    at: [f64; 2],
    rgb: [f32; 3],
}

/// Looks for coloured light on the searched part of a picture.
pub(super) fn casts(image: &LinearImage, searched: &[u8]) -> Casts {
    let (w, h) = (image.width, image.height);
    let mut inside: Vec<Vec<[f32; 3]>> = vec![Vec::new(); BLOCKS * BLOCKS];
    for y in (0..h).step_by(STRIDE) {
        for x in (0..w).step_by(STRIDE) {
            let i = y * w + x;
            if searched[i] > 0 {
                inside[y * BLOCKS / h * BLOCKS + x * BLOCKS / w]
                    .push(image.planes.each_ref().map(|p| p[i]));
            }
        }
    }
    let blocks = bare_blocks(&mut inside);
    if blocks.iter().flatten().count() < LEAST_BLOCKS {
        return Casts::default();
    }
    Casts {
        change: change(&blocks),
        reflected: reflected(&inside, &blocks),
    }
}

/// The bare ground of each block; `None` where too little is seen of it or it is dark.
fn bare_blocks(inside: &mut [Vec<[f32; 3]>]) -> Vec<Option<Block>> {
    let green = |p: &[f32; 3]| p[1];
    let mut out: Vec<Option<Block>> = inside
        .iter_mut()
        .enumerate()
        .map(|(k, pixels)| {
            if pixels.len() < LEAST_IN_BLOCK {
                return None;
            }
            pixels.sort_by(|a, b| green(a).total_cmp(&green(b)));
            let [from, to] = BARE.map(|s| (s * pixels.len() as f32) as usize);
            let bare = &pixels[from..to];
            let mean = |c: usize| bare.iter().map(|p| p[c]).sum::<f32>() / bare.len() as f32;
            let place = |n: usize| 2.0 * (n as f64 + 0.5) / BLOCKS as f64 - 1.0;
            Some(Block {
                at: [place(k % BLOCKS), place(k / BLOCKS)],
                rgb: [mean(0), mean(1), mean(2)],
            })
        })
        .collect();
    let mut light: Vec<f32> = out.iter().flatten().map(|b| b.rgb[1]).collect();
    let whole = quantile(&mut light, 0.5);
    for block in &mut out {
        let lit = |b: &Block| b.rgb.iter().all(|v| *v > 0.005) && b.rgb[1] > LEAST_LIGHT * whole;
        *block = block.filter(lit);
    }
    out
}

/// The even change of colour over the blocks, blocks far off it trusted less.
fn change(blocks: &[Option<Block>]) -> f64 {
    let lit: Vec<&Block> = blocks.iter().flatten().collect();
    let over_green = |c: usize| -> f64 {
        let value = |b: &Block| f64::from(b.rgb[c] / b.rgb[1]).ln();
        let mut plane = [0.0; 3];
        let off = |b: &Block, p: &[f64; 3]| value(b) - p[0] - p[1] * b.at[0] - p[2] * b.at[1];
        for round in 0..8 {
            let mut fit = Normal::<3>::new();
            for b in &lit {
                let trust = if round == 0 {
                    1.0
                } else {
                    1.0 / (1.0 + (off(b, &plane) / SPREAD).powi(2))
                };
                fit.add(&[1.0, b.at[0], b.at[1]], value(b), trust);
            }
            plane = fit.solved().unwrap_or(plane);
        }
        let along = |b: &&&Block| plane[1] * b.at[0] + plane[2] * b.at[1];
        let values: Vec<f64> = lit.iter().map(|b| along(&b)).collect();
        values.iter().copied().fold(f64::NEG_INFINITY, f64::max)
            - values.iter().copied().fold(f64::INFINITY, f64::min)
    };
    over_green(0).max(over_green(2))
}

/// Share of the looked-at pixels that have more light than the ground and another colour.
fn reflected(inside: &[Vec<[f32; 3]>], blocks: &[Option<Block>]) -> f64 {
    let (mut all, mut coloured) = (0usize, 0usize);
    for (k, pixels) in inside.iter().enumerate() {
        let Some(ground) = ground_about(k, blocks) else {
            continue;
        };
        all += pixels.len();
        coloured += pixels
            .iter()
            .filter(|p| {
                let ratio: [f32; 3] = std::array::from_fn(|c| p[c] / ground[c]);
                let least = ratio.iter().copied().fold(f32::INFINITY, f32::min);
                let most = ratio.iter().copied().fold(0.0, f32::max);
                least > NOT_DARKER && most > least + COLOURED
            })
            .count();
    }
    coloured as f64 / all.max(1) as f64
}

/// Blocks each way over which the ground is taken about a block: a reflection may fill a whole block.
const ABOUT: usize = 2;

/// Middle light of the blocks about block `k`; `None` where that block or most about it say nothing.
fn ground_about(k: usize, blocks: &[Option<Block>]) -> Option<[f32; 3]> {
    blocks[k]?;
    let (x, y) = (k % BLOCKS, k / BLOCKS);
    let about = |v: usize| v.saturating_sub(ABOUT)..(v + ABOUT + 1).min(BLOCKS);
    let lit: Vec<[f32; 3]> = about(y)
        .flat_map(|y| about(x).map(move |x| y * BLOCKS + x))
        .filter_map(|i| Some(blocks[i]?.rgb))
        .collect();
    let middle = |c: usize| quantile(&mut lit.iter().map(|rgb| rgb[c]).collect::<Vec<_>>(), 0.5);
    (lit.len() > 4).then(|| [middle(0), middle(1), middle(2)])
}
