//! The outline on which like proposals of one animal agree: a close call between two of them then moves it little.

use super::attempt::Proposal;
use super::body::Body;
use super::field::Field;
use super::raster::{Pixels, rasterise};
use rayon::prelude::*;

/// Intersection over union from which two proposals are of one animal.
const SAME: f32 = 0.6;
/// Proposals less likely than the best by more than this have no say, log-odds.
const CLOSE: f32 = 3.0;
/// The agreed axis may leave the best proposal's by this much at the ends, samples across.
const ASIDE: i32 = 6;
/// Fewest stations of a body.
const FEWEST_STATIONS: usize = 8;

/// The bodies `kept` of `all` (likeliest first), each in the outline within which at least half of the like proposals lie,
/// counted by their odds.
pub(super) fn agreed(field: &Field, all: &[Proposal], kept: Vec<usize>) -> Vec<Body> {
    let (w, h) = (field.fine.a.width, field.fine.a.height);
    let lowest = kept
        .iter()
        .map(|k| all[*k].rank)
        .fold(f32::INFINITY, f32::min);
    let masks: Vec<Option<Pixels>> = all
        .par_iter()
        .map(|p| (p.rank >= lowest - CLOSE).then(|| rasterise(&p.body, &|p| p, w, h)))
        .collect();
    kept.into_par_iter()
        .map(|k| {
            let Proposal { rank, body, .. } = &all[k];
            let own = masks[k]
                .as_ref()
                .expect("kept bodies are not below the lowest of them");
            let voters: Vec<(f32, &Pixels)> = all
                .iter()
                .zip(&masks)
                .filter(|(other, _)| (rank - other.rank).abs() <= CLOSE)
                .filter_map(|(other, mask)| {
                    Some(((other.rank - rank).min(0.0).exp(), mask.as_ref()?))
                })
                .filter(|(_, mask)| overlap(own, mask) >= SAME)
                .collect();
            if voters.len() < 2 {
                return body.clone();
            }
            voted(body, &voters).unwrap_or_else(|| body.clone())
        })
        .collect()
}

/// Intersection over union.
pub(super) fn overlap(a: &Pixels, b: &Pixels) -> f32 {
    let size = |p: &Pixels| [p.width as i32, p.height as i32];
    let apart = (0..2).any(|c| {
        a.origin[c] >= b.origin[c] + size(b)[c] || b.origin[c] >= a.origin[c] + size(a)[c]
    });
    if apart {
        return 0.0;
    }
    let both = a.in_common(b);
    both as f32 / (a.area() + b.area() - both).max(1) as f32
}

/// The part of the body's unwrapped picture that lies in at least half of the `voters`, from the middle outward;
/// none where they agree on nothing there.
fn voted(body: &Body, voters: &[(f32, &Pixels)]) -> Option<Body> {
    let ribbon = &body.ribbon;
    let enough = 0.5 * voters.iter().map(|v| v.0).sum::<f32>();
    let inside = |s: usize, t: i32| {
        let [x, y] = ribbon.position(s, t as f32).map(|v| v.round() as i32);
        let share: f32 = voters
            .iter()
            .filter(|v| v.1.at(x, y) > 0)
            .map(|v| v.0)
            .sum();
        share >= enough
    };
    let half = ribbon.half as i32 - 1;
    let span = |s: usize| {
        let start = (0..=ASIDE).flat_map(|k| [-k, k]).find(|&t| inside(s, t))?;
        let reach = |side: i32| {
            (1..half)
                .take_while(|&k| inside(s, start + side * k))
                .count() as i32
        };
        let clamped = |offset: i32| offset.clamp(0, half) as usize;
        Some((clamped(reach(-1) - start), clamped(reach(1) + start)))
    };
    let middle = (body.first + body.last) / 2;
    let mut before: Vec<(usize, usize)> = (0..middle).rev().map_while(span).collect();
    let after: Vec<(usize, usize)> = (middle..ribbon.stations()).map_while(span).collect();
    let (first, count) = (middle - before.len(), before.len() + after.len());
    if after.is_empty() || count < FEWEST_STATIONS {
        return None;
    }
    before.reverse();
    let (left, right) = before.into_iter().chain(after).unzip();
    Some(Body {
        first,
        last: first + count - 1,
        left,
        right,
        ..body.clone()
    })
}
