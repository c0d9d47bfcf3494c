//! Something large that reaches into the cup from outside: a hand, a net, a sleeve.

use super::ground::quantile;
use crate::photo::LinearImage;

/// A thing that covers part of the floor.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Obstacle {
    /// Share of the floor under it, 0..=1.
    pub share: f64,
    /// x, y, width, height in full-size upright pixels.
    pub bbox: [i32; 4],
}

/// The floor is looked at in blocks of so many pixels of the reduced picture each way.
const BLOCK: usize = 4;
/// A block is no floor where its weakest channel has less than this share of the floor's own.
const NO_FLOOR: f32 = 0.72;
/// Least share of the floor, and of the floor's border that the thing crosses: an animal on the border stays below one of them.
const LEAST_SHARE: f64 = 0.035;
const LEAST_CROSSING: f64 = 0.015;

/// Least step of the floor's light at its edge.
const LEAST_STEP: f32 = 0.2;

/// The largest thing that crosses the border of `floor` (1 inside, pixels of `small`), `step` full-size pixels to one of
/// them; `None` where no such thing is large enough. `ground` is the floor's own light.
pub(super) fn largest_obstacle(
    small: &LinearImage,
    floor: &[u8],
    ground: [f32; 3],
    step: usize,
) -> Option<Obstacle> {
    let (w, h) = (small.width / BLOCK, small.height / BLOCK);
    let levels = levels(small, floor, ground, w, h);
    let inside: Vec<bool> = levels.iter().map(Option::is_some).collect();
    let other: Vec<bool> = levels
        .iter()
        .map(|l| l.is_some_and(|l| l < NO_FLOOR))
        .collect();
    let border: Vec<bool> = (0..w * h)
        .map(|i| inside[i] && at_border(&inside, w, h, i))
        .collect();
    let count = |marks: &[bool]| marks.iter().filter(|m| **m).count() as f64;
    let (all, around) = (count(&inside), count(&border));
    let mut seen = vec![false; w * h];
    let mut best: Option<Obstacle> = None;
    for start in 0..w * h {
        if !other[start] || seen[start] {
            continue;
        }
        let thing = flood(&other, &mut seen, w, h, start);
        let share = thing.len() as f64 / all;
        let crossing = thing.iter().filter(|i| border[**i]).count() as f64 / around;
        let plain = share >= LEAST_SHARE && crossing >= LEAST_CROSSING;
        if plain
            && edge_step(&levels, &thing, w) >= LEAST_STEP
            && best.is_none_or(|b| share > b.share)
        {
            best = Some(Obstacle {
                share,
                bbox: bbox(&thing, w, (BLOCK * step) as i32),
            });
        }
    }
    best
}

/// By block of the floor the share of the floor's own light in the weakest channel; `None` off the floor.
fn levels(
    small: &LinearImage,
    floor: &[u8],
    ground: [f32; 3],
    w: usize,
    h: usize,
) -> Vec<Option<f32>> {
    let level = |x: usize, y: usize| {
        let middle = (y * BLOCK + BLOCK / 2) * small.width + x * BLOCK + BLOCK / 2;
        (floor[middle] > 0).then(|| {
            let shares =
                (0..3).map(|c| mean(&small.planes[c], small.width, x, y) / ground[c].max(1e-3));
            shares.fold(f32::INFINITY, f32::min)
        })
    };
    (0..w * h).map(|i| level(i % w, i / w)).collect()
}

/// Median step of light over the thing's edge, from one block inside to two blocks outside: shade has a soft edge.
fn edge_step(levels: &[Option<f32>], thing: &[usize], w: usize) -> f32 {
    let mut steps = Vec::new();
    for i in thing {
        for pace in [1, w as isize] {
            for way in [-2 * pace, 2 * pace] {
                let out = (*i as isize + way) as usize;
                let beside = levels
                    .get(out)
                    .copied()
                    .flatten()
                    .filter(|l| *l >= NO_FLOOR);
                if let (Some(outside), Some(within)) = (beside, levels[*i]) {
                    steps.push(outside - within);
                }
            }
        }
    }
    quantile(&mut steps, 0.5)
}

fn mean(plane: &[f32], width: usize, x: usize, y: usize) -> f32 {
    let rows = (y * BLOCK..(y + 1) * BLOCK).map(|row| &plane[row * width + x * BLOCK..][..BLOCK]);
    rows.flatten().sum::<f32>() / (BLOCK * BLOCK) as f32
}

/// True where a block's neighbour is off the floor, or the frame ends.
fn at_border(inside: &[bool], w: usize, h: usize, i: usize) -> bool {
    let (x, y) = (i % w, i / w);
    x == 0
        || y == 0
        || x + 1 == w
        || y + 1 == h
        || !(inside[i - 1] && inside[i + 1] && inside[i - w] && inside[i + w])
}

fn flood(marks: &[bool], seen: &mut [bool], w: usize, h: usize, start: usize) -> Vec<usize> {
    let mut out = Vec::new();
    let mut stack = vec![start];
    seen[start] = true;
    while let Some(i) = stack.pop() {
        out.push(i);
        let (x, y) = (i % w, i / w);
        let near = [
            (x > 0, i.wrapping_sub(1)),
            (x + 1 < w, i + 1),
            (y > 0, i.wrapping_sub(w)),
            (y + 1 < h, i + w),
        ];
        for (_, j) in near.into_iter().filter(|(there, _)| *there) {
            if marks[j] && !seen[j] {
                seen[j] = true;
                stack.push(j);
            }
        }
    }
    out
}

fn bbox(blocks: &[usize], w: usize, size: i32) -> [i32; 4] {
    let span = |f: &dyn Fn(usize) -> usize| {
        let low = blocks.iter().map(|i| f(*i)).min().unwrap_or(0) as i32;
        let high = blocks.iter().map(|i| f(*i)).max().unwrap_or(0) as i32;
        (low * size, (high - low + 1) * size)
    };
    let ((x, width), (y, height)) = (span(&|i| i % w), span(&|i| i / w));
    [x, y, width, height]
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A floor of 160 by 160 with a dark bar `wide` pixels wide from the left edge to `reach`.
    fn barred(wide: usize, from: usize, reach: usize) -> Option<Obstacle> {
        let mut small = LinearImage::new(160, 160);
        for i in 0..160 * 160 {
            let (x, y) = (i % 160, i / 160);
            let dark = (from..reach).contains(&x) && (80..80 + wide).contains(&y);
            small
                .planes
                .iter_mut()
                .for_each(|p| p[i] = if dark { 0.2 } else { 0.7 });
        }
        largest_obstacle(&small, &vec![1; 160 * 160], [0.7; 3], 2)
    }

    #[test]
    fn shade_has_a_soft_edge() {
        let mut small = LinearImage::new(160, 160);
        for i in 0..160 * 160 {
            let x = (i % 160) as f32 / 160.0;
            small.planes.iter_mut().for_each(|p| p[i] = 0.35 + 0.4 * x);
        }
        assert_eq!(
            largest_obstacle(&small, &vec![1; 160 * 160], [0.7; 3], 2),
            None
        );
    }

    #[test]
    fn a_hand_is_seen_and_an_animal_is_not() {
        let hand = barred(32, 0, 80).expect("a hand");
        assert!((hand.share - 0.1).abs() < 0.01, "{hand:?}");
        assert_eq!(hand.bbox, [0, 160, 160, 64]);
        assert_eq!(barred(8, 0, 48), None, "an animal at the border");
        assert_eq!(barred(32, 40, 120), None, "a leaf in the middle");
    }
}
