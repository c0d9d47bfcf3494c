//! Flanks: the offset of the body's edge on each side of each station, by the best path across an edge model.

use super::additive::Additive;
use super::profile::{Contrast, signs_and};
use super::ribbon::{HALF, Ribbon};
use super::stations::{self, Block, FEATURES, LANES, Room, Setting};
use crate::lanes::widest;

/// Names of the edge features: the signs, then where the edge would lie against the body's own width.
pub const NAMES: [&str; FEATURES] = signs_and([
    "offset",
    "contrast",
    "contrast_x_offset",
    "contrast_x_evidence_step",
    "position_x_offset",
]);

/// Cost of a change of offset by one sample from a station to the next, log-odds; more costs its square.
const BEND: f32 = 0.7;
/// The same over the tail fan, which flares within a few stations.
const FAN_BEND: f32 = 0.25;
/// Share of the body length that the tail fan takes.
const FAN: f32 = 0.13;
/// Largest change of offset between stations, samples.
const STRIDE: usize = 3;

/// Features of an edge after `offset` samples on each possible offset `0..=half - 1` of one side of a station.
/// `width` is the body's typical half-width in samples, `place` the station's share of the body length, 0..=1.
pub fn station_features(
    ribbon: &Ribbon,
    s: usize,
    side: i32,
    contrast: &Contrast,
    width: f32,
    place: f32,
    scale: f32,
) -> Vec<[f32; FEATURES]> {
    let setting = Setting {
        ribbon,
        contrast,
        width,
        scale,
    };
    let block = Block {
        first: s,
        count: 1,
        places: [place; LANES],
    };
    let all = stations::features(setting, block, side);
    all.iter().map(|row| row.map(|lanes| lanes[0])).collect()
}

/// Half-width of the body by evidence alone: median over the stations of the samples with positive evidence
/// next to the axis, both sides averaged; at least 2.
pub fn typical_half_width(ribbon: &Ribbon, first: usize, last: usize) -> f32 {
    let w = ribbon.width();
    let mut widths: Vec<f32> = (first..=last)
        .map(|s| {
            let row = &ribbon.channels[3][s * w..(s + 1) * w];
            let right = row[ribbon.half..].iter().take_while(|z| **z > 0.0).count();
            let left = row[..=ribbon.half]
                .iter()
                .rev()
                .take_while(|z| **z > 0.0)
                .count();
            (right + left) as f32 / 2.0
        })
        .collect();
    let mid = widths.len() / 2;
    if widths.is_empty() {
        2.0
    } else {
        widths
            .select_nth_unstable_by(mid, f32::total_cmp)
            .1
            .max(2.0)
    }
}

/// One side of a body.
#[derive(Debug, Clone)]
pub struct Flank {
    /// Offset of the edge in samples (0 = edge on the axis) a station.
    pub offsets: Vec<usize>,
    /// Log-odds of that edge, kept in -8..=6.
    pub odds: Vec<f32>,
}

/// Log-odds of an edge at each offset of one side of a station.
pub(super) type Scores = [f32; HALF];

/// Log-odds of an edge at each offset, kept in -8..=6, for stations `first..=last` on the sides of smaller and of larger t.
/// They are the same whichever way the ribbon is travelled.
pub(super) fn scores(
    setting: Setting<'_>,
    first: usize,
    last: usize,
    model: &Additive,
) -> [Vec<Scores>; 2] {
    let span = (last - first).max(1) as f32;
    let mut out = [(); 2].map(|()| Vec::with_capacity(last + 1 - first));
    let mut room = Room::new();
    let mut odds = [[[0.0; LANES]; HALF]; 2];
    for from in (first..=last).step_by(LANES) {
        let block = Block {
            first: from,
            count: LANES.min(last + 1 - from),
            places: std::array::from_fn(|lane| (from + lane - first) as f32 / span),
        };
        stations::log_odds(setting, block, model, &mut room, &mut odds);
        for (out, odds) in out.iter_mut().zip(&odds) {
            let from = out.len();
            out.resize(from + block.count, [0.0; HALF]);
            for (offset, row) in odds.iter().enumerate() {
                let stations = out[from..].iter_mut().zip(row);
                stations.for_each(|(station, odds)| station[offset] = *odds);
            }
        }
    }
    out
}

/// Moves the scores of each station toward those of `other` by its share, 0..=1.
pub(super) fn blend(scores: &mut [Scores], other: &[Scores], shares: impl Iterator<Item = f32>) {
    for ((row, other), share) in scores.iter_mut().zip(other).zip(shares) {
        for (v, o) in row.iter_mut().zip(other) {
            *v += share * (o - *v);
        }
    }
}

/// The edge along one side by the [`scores`] of its stations, head first.
pub(super) fn flank(scores: &[Scores]) -> Flank {
    let span = (scores.len() - 1).max(1) as f32;
    let bend = |k: usize| {
        if k as f32 > (1.0 - FAN) * span {
            FAN_BEND
        } else {
            BEND
        }
    };
    let bends: Vec<f32> = (0..scores.len()).map(bend).collect();
    let offsets = best_path(scores, &bends);
    let odds = offsets.iter().zip(scores).map(|(&k, row)| row[k]).collect();
    Flank { offsets, odds }
}

/// Room on either side of the offsets, so that each has all neighbours.
const PADDED: usize = HALF + 2 * STRIDE;

/// The path of offsets with the largest sum of scores less the cost of bending.
fn best_path(scores: &[Scores], bends: &[f32]) -> Vec<usize> {
    let mut best = [f32::NEG_INFINITY; PADDED];
    best[STRIDE..][..HALF].copy_from_slice(&scores[0]);
    let mut from: Vec<[i32; HALF]> = Vec::with_capacity(scores.len());
    for (row, bend) in scores.iter().zip(bends).skip(1) {
        let mut came = [0; HALF];
        widest((&mut best, row, *bend, &mut came), one_station_on);
        from.push(came);
    }
    let best = &best[STRIDE..][..HALF];
    let mut j = (0..HALF)
        .max_by(|&a, &b| best[a].total_cmp(&best[b]))
        .unwrap_or(0);
    let mut path = vec![j];
    for came in from.iter().rev() {
        j = (j as i32 + came[j]) as usize;
        path.push(j);
    }
    path.reverse();
    path
}

/// What [`one_station_on`] works on: the largest sums so far, the scores there, the cost of bending, and where to note how far
/// off the offset before lies.
type Onward<'a> = (&'a mut [f32; PADDED], &'a Scores, f32, &'a mut [i32; HALF]);

/// The largest sums up to the next station.
#[inline(always)]
fn one_station_on((best, row, bend, came): Onward<'_>) {
    let mut next = [f32::NEG_INFINITY; HALF];
    // From the smallest offset up, so that of equals the smallest counts.
    for (k, so_far) in best.windows(HALF).enumerate() {
        let off = k as i32 - STRIDE as i32;
        let cost = bend * (off * off) as f32;
        for ((next, came), so_far) in next.iter_mut().zip(came.iter_mut()).zip(so_far) {
            let value = so_far - cost;
            let better = value > *next;
            *came = if better { off } else { *came };
            *next = if better { value } else { *next };
        }
    }
    for ((best, next), odds) in best[STRIDE..].iter_mut().zip(next).zip(row) {
        *best = next + odds;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_path_prefers_a_steady_edge_to_a_jump() {
        let mut scores = vec![[0.0; HALF]; 5];
        for row in &mut scores {
            row[4] = 2.0;
        }
        scores[2][8] = 3.0; // one station shouts for another offset
        assert_eq!(best_path(&scores, &[BEND; 5]), [4, 4, 4, 4, 4]);
    }
}
