//! Flanks: the offset of the body's edge on each side of each station, by the best path across an edge model.

use super::additive::Additive;
use super::profile::{Contrast, Line, SIGNS, SQUASHED, signs_and};
use super::ribbon::{ACROSS, Ribbon};
use super::squash::squash_all;
use crate::lanes::widest;

/// Names of the edge features: the signs, then where the edge would lie against the body's own width.
pub const NAMES: [&str; 25] = signs_and([
    "offset",
    "contrast",
    "contrast_x_offset",
    "contrast_x_evidence_step",
    "position_x_offset",
]);

/// Window lengths in samples across.
const NARROW: usize = (ACROSS * 0.17) as usize;
const WIDE: usize = (ACROSS * 0.42) as usize;
/// Cost of a change of offset by one sample from a station to the next, log-odds; more costs its square.
const BEND: f32 = 0.7;
/// The same over the tail fan, which flares within a few stations.
const FAN_BEND: f32 = 0.25;
/// Share of the body length that the tail fan takes.
const FAN: f32 = 0.13;
/// Largest change of offset between stations, samples.
const STRIDE: usize = 3;

/// The line of samples from across the axis outward on one side of a station, and the index of the axis in it.
fn line(ribbon: &Ribbon, s: usize, side: i32, contrast: &Contrast) -> (Line, usize) {
    let w = ribbon.width() as i32;
    let back = WIDE as i32;
    let centre = ribbon.half as i32;
    let samples = (-back..=ribbon.half as i32).map(move |k| {
        let t = (centre + side * k).clamp(0, w - 1);
        let i = s * w as usize + t as usize;
        std::array::from_fn(|c| ribbon.channels[c][i])
    });
    (Line::new(samples, contrast), back as usize)
}

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
) -> Vec<[f32; 25]> {
    let offsets = relative_offsets(ribbon, width);
    let mut columns = vec![vec![0.0; ribbon.half]; NAMES.len()];
    fill_columns(
        ribbon,
        s,
        side,
        contrast,
        place,
        scale,
        &offsets,
        &mut columns,
    );
    (0..ribbon.half)
        .map(|k| std::array::from_fn(|i| columns[i][k]))
        .collect()
}

/// [`relative_offset`] of each possible offset on one side of a station.
fn relative_offsets(ribbon: &Ribbon, width: f32) -> Vec<f32> {
    (0..ribbon.half)
        .map(|k| relative_offset(k, width))
        .collect()
}

/// Logarithm of a half-width over the body's typical one.
fn relative_offset(offset: usize, width: f32) -> f32 {
    ((offset as f32 + 1.0) / (width + 1.0)).ln()
}

/// The features of [`station_features`], feature by feature.
#[allow(clippy::too_many_arguments)]
fn fill_columns(
    ribbon: &Ribbon,
    s: usize,
    side: i32,
    contrast: &Contrast,
    place: f32,
    scale: f32,
    offsets: &[f32],
    columns: &mut [Vec<f32>],
) {
    let (line, axis) = line(ribbon, s, side, contrast);
    let size = (1.0 + contrast.size / 10.0).ln();
    let ends = (2.0 * place - 1.0).powi(2);
    let windows = [axis + 1, axis, NARROW, WIDE];
    widest((&line, windows, &mut *columns), Line::plain_columns);
    let (signs, more) = columns.split_at_mut(SIGNS.len());
    for (k, &off) in offsets.iter().enumerate() {
        let added = [off, size, size * off, size * signs[9][k], ends * off];
        more.iter_mut().zip(added).for_each(|(m, v)| m[k] = v);
    }
    for i in SQUASHED {
        widest((&mut columns[i][..], scale), squash_all);
    }
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

/// Log-odds of an edge at each offset, kept in -8..=6, for stations `first..=last` of one side. They are the same whichever
/// way the ribbon is travelled.
#[allow(clippy::too_many_arguments)]
pub fn scores(
    ribbon: &Ribbon,
    first: usize,
    last: usize,
    side: i32,
    contrast: &Contrast,
    width: f32,
    scale: f32,
    model: &Additive,
) -> Vec<Vec<f32>> {
    let span = (last - first).max(1) as f32;
    let offsets = relative_offsets(ribbon, width);
    let mut columns = vec![vec![0.0; ribbon.half]; NAMES.len()];
    (first..=last)
        .map(|s| {
            let place = (s - first) as f32 / span;
            fill_columns(
                ribbon,
                s,
                side,
                contrast,
                place,
                scale,
                &offsets,
                &mut columns,
            );
            let mut odds = model.log_odds_of_columns(&columns);
            odds.iter_mut().for_each(|v| *v = v.clamp(-8.0, 6.0));
            odds
        })
        .collect()
}

/// The edge along one side by the [`scores`] of its stations, head first.
pub fn flank(scores: &[Vec<f32>]) -> Flank {
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

/// The path of offsets with the largest sum of scores less the cost of bending.
fn best_path(scores: &[Vec<f32>], bends: &[f32]) -> Vec<usize> {
    let m = scores[0].len();
    let mut best = scores[0].clone();
    let mut from: Vec<Vec<usize>> = Vec::with_capacity(scores.len());
    for (row, bend) in scores.iter().zip(bends).skip(1) {
        let mut next = vec![f32::NEG_INFINITY; m];
        let mut came = vec![0usize; m];
        for j in 0..m {
            let first = j.saturating_sub(STRIDE);
            for (k, so_far) in best
                .iter()
                .enumerate()
                .take((j + STRIDE).min(m - 1) + 1)
                .skip(first)
            {
                let value = so_far - bend * (j as f32 - k as f32).powi(2);
                if value > next[j] {
                    (next[j], came[j]) = (value, k);
                }
            }
            next[j] += row[j];
        }
        best = next;
        from.push(came);
    }
    let mut j = (0..m)
        .max_by(|&a, &b| best[a].total_cmp(&best[b]))
        .unwrap_or(0);
    let mut path = vec![j];
    for came in from.iter().rev() {
        j = came[j];
        path.push(j);
    }
    path.reverse();
    path
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_path_prefers_a_steady_edge_to_a_jump() {
        let mut scores = vec![vec![0.0f32; 9]; 5];
        for row in &mut scores {
            row[4] = 2.0;
        }
        scores[2][8] = 3.0; // one station shouts for another offset
        assert_eq!(best_path(&scores, &[BEND; 5]), [4, 4, 4, 4, 4]);
    }
}
