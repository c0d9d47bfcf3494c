//! Flat squares linked to their neighbours at a common pitch.

use super::flat::Flat;

/// A square (by its number) with its column and row, counted from any square in any direction.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Place {
    pub flat: usize,
    pub at: [i32; 2],
}

/// Least and most squares of a lattice that can be a chart; more are tiles or a keyboard.
pub(super) const LEAST_LINKED: usize = 7;
const MOST_LINKED: usize = 60;
/// Distance of neighbours over the side of a square that a chart can have (frames between patches shrink the squares seen).
const PITCH_OF_SIDE: std::ops::Range<f32> = 0.95..1.75;
/// How far a square may lie from where its neighbour expects it, in pitches.
const OFF_PLACE: f32 = 0.2;
/// Sizes of squares in one lattice.
const LIKE_SIDES: std::ops::Range<f32> = 0.62..1.6;
/// A square in a lattice of this many starts no other.
const SETTLED: usize = 12;

/// Lattices of squares, the largest first.
pub(super) fn lattices(flats: &[Flat]) -> Vec<Vec<Place>> {
    let mut settled = vec![false; flats.len()];
    let mut out = Vec::new();
    for seed in 0..flats.len() {
        if settled[seed] {
            continue;
        }
        let Some(places) = grow(flats, seed) else {
            continue;
        };
        if places.len() >= SETTLED {
            places.iter().for_each(|p| settled[p.flat] = true);
        }
        out.push(places);
    }
    out.sort_by_key(|places| std::cmp::Reverse(places.len()));
    out
}

/// The squares linked to a seed; `None` when they are too few or too many.
fn grow(flats: &[Flat], seed: usize) -> Option<Vec<Place>> {
    let start = first_step(flats, seed)?;
    let mut places = vec![Place {
        flat: seed,
        at: [0, 0],
    }];
    // The step along a row at each place: perspective changes it a little from square to square.
    let mut steps = vec![start];
    let mut next = 0;
    while next < places.len() {
        let (here, u) = (places[next], steps[next]);
        next += 1;
        for (k, flat) in flats.iter().enumerate() {
            let Some((turn, step)) = neighbour(&flats[here.flat], flat, u) else {
                continue;
            };
            if !alike(flat, &flats[seed]) || places.iter().any(|p| p.flat == k) {
                continue;
            }
            let at = [here.at[0] + turn[0], here.at[1] + turn[1]];
            if places.iter().all(|p| p.at != at) {
                places.push(Place { flat: k, at });
                steps.push([0.6 * u[0] + 0.4 * step[0], 0.6 * u[1] + 0.4 * step[1]]);
            }
        }
        if places.len() > MOST_LINKED {
            return None;
        }
    }
    (places.len() >= LEAST_LINKED).then_some(places)
}

/// In which of the four directions `b` lies one pitch from `a`, and the step along a row that this shows.
fn neighbour(a: &Flat, b: &Flat, u: [f32; 2]) -> Option<([i32; 2], [f32; 2])> {
    let d = [b.x - a.x, b.y - a.y];
    let pitch2 = u[0] * u[0] + u[1] * u[1];
    if d[0] * d[0] + d[1] * d[1] > 2.0 * pitch2 {
        return None;
    }
    let (along, across) = (
        (d[0] * u[0] + d[1] * u[1]) / pitch2,
        (d[1] * u[0] - d[0] * u[1]) / pitch2,
    );
    let (ra, rb) = (along.round(), across.round());
    let near = (along - ra).abs() < OFF_PLACE && (across - rb).abs() < OFF_PLACE;
    (near && ra.abs() + rb.abs() == 1.0).then(|| {
        let step = if rb == 0.0 {
            [d[0] * ra, d[1] * ra]
        } else {
            // The step down a column turned back by a quarter.
            [d[1] * rb, -d[0] * rb]
        };
        ([ra as i32, rb as i32], step)
    })
}

/// Step from the seed to its nearest like neighbour at a pitch that a chart can have.
fn first_step(flats: &[Flat], seed: usize) -> Option<[f32; 2]> {
    let s = &flats[seed];
    flats
        .iter()
        .filter(|p| alike(p, s))
        .map(|p| [p.x - s.x, p.y - s.y])
        .filter(|d| PITCH_OF_SIDE.contains(&(d[0].hypot(d[1]) / s.side)))
        .min_by(|a, b| a[0].hypot(a[1]).total_cmp(&b[0].hypot(b[1])))
}

/// Whether two squares are of like size.
fn alike(a: &Flat, b: &Flat) -> bool {
    LIKE_SIDES.contains(&(a.side / b.side))
}
