//! First look for the cup: closed outlines on which the light falls outwards all around.
//!
//! Rim, waterline and floor edge are nested; any of them may be found here, `floor` picks the floor among them.

use super::shape::{Outline, Spot};
use crate::scene::grid::Grid;
use rayon::prelude::*;

/// Directions of light on a coarse grid: unit vectors on plain edges, shorter where the edge is faint.
#[derive(Debug)]
pub(in crate::scene) struct EdgeField {
    pub w: usize,
    pub h: usize,
    g: Vec<[f32; 2]>,
    /// The same by columns: every [`PACE`]th column from 0, then from 1, and so on, x and y parts apart, so that places
    /// [`PACE`] apart lie side by side.
    columns: [[Vec<f32>; 2]; PACE],
}

/// Added before cutting to whole numbers, so that they are cut downwards (no outline is larger than this).
const OFFSET: f32 = 4096.0;

/// Places tried lie this many pixels apart.
const PACE: usize = 3;

/// Step of log light to the pixel that counts as a plain edge (measured on rendered cups: floor edges 0.01 to 0.03).
const PLAIN_EDGE: f32 = 0.008;

impl EdgeField {
    /// Edges of a picture in log light; `barred` pixels (chart, black border) get none.
    pub fn new(log: &Grid, barred: &[bool]) -> Self {
        let (near, far) = rayon::join(|| log.blurred(1), || log.blurred(4));
        let band: Vec<f32> = near.px.iter().zip(&far.px).map(|(a, b)| a - b).collect();
        let (w, h) = (log.w, log.h);
        let mut g = vec![[0.0f32; 2]; w * h];
        let wide = w.div_ceil(PACE);
        let mut columns: [[Vec<f32>; 2]; PACE] =
            std::array::from_fn(|_| std::array::from_fn(|_| vec![0.0; wide * h]));
        for y in 1..h.saturating_sub(1) {
            for x in 1..w.saturating_sub(1) {
                let i = y * w + x;
                if barred[i] {
                    continue;
                }
                let (gx, gy) = (
                    0.5 * (band[i + 1] - band[i - 1]),
                    0.5 * (band[i + w] - band[i - w]),
                );
                let share = 1.0 / (gx * gx + gy * gy).sqrt().max(PLAIN_EDGE);
                g[i] = [gx * share, gy * share];
                let at = y * wide + x / PACE;
                columns[x % PACE][0][at] = g[i][0];
                columns[x % PACE][1][at] = g[i][1];
            }
        }
        Self { w, h, g, columns }
    }

    /// Adds the outward falls at one spot of an outline of size `r`, for every place of `places` at once.
    fn add_falls(&self, spot: &Spot, r: f32, places: &Places, out: &mut Sums) {
        let [ox, oy] = [spot.x, spot.y].map(|v| (r * v + 0.5 + OFFSET) as isize - OFFSET as isize);
        let first = ox + places.left as isize;
        // Columns of places whose spot lies in the frame, without its outermost pixels.
        let from = ((1 - first).max(0) as usize).div_ceil(PACE);
        let past = (self.w as isize - 1 - first).max(0) as usize;
        let to = past.div_ceil(PACE).min(places.across);
        if from >= to {
            return;
        }
        let start = (first + (from * PACE) as isize) as usize;
        let wide = self.w.div_ceil(PACE);
        let [gx, gy] = &self.columns[start % PACE];
        for row in 0..places.down {
            let y = oy + (places.top + row * PACE) as isize;
            if y < 1 || y + 1 >= self.h as isize {
                continue;
            }
            let at = y as usize * wide + start / PACE;
            let (gx, gy) = (&gx[at..at + to - from], &gy[at..at + to - from]);
            let cells = row * places.across + from..row * places.across + to;
            let sums = out.falls[cells.clone()]
                .iter_mut()
                .zip(&mut out.counts[cells]);
            for ((sum, count), (gx, gy)) in sums.zip(gx.iter().zip(gy)) {
                *sum -= gx * spot.nx + gy * spot.ny;
                *count += 1.0;
            }
        }
    }

    /// Sum of outward falls of light over the outline's spots in the frame, and their count.
    fn falls(&self, unit: &[Spot], cx: f32, cy: f32, r: f32) -> (f32, usize) {
        let (mut sum, mut n) = (0.0, 0);
        for s in unit {
            let (x, y) = (cx + r * s.x + 0.5, cy + r * s.y + 0.5);
            if x < 1.0 || y < 1.0 {
                continue;
            }
            let (x, y) = (x as usize, y as usize);
            if x + 1 >= self.w || y + 1 >= self.h {
                continue;
            }
            let [gx, gy] = self.g[y * self.w + x];
            sum -= gx * s.nx + gy * s.ny;
            n += 1;
        }
        (sum, n)
    }
}

/// An outline with its strength: mean outward fall (1 = plain edges all along) times the root of the share in the frame.
#[derive(Debug, Clone, Copy)]
pub(in crate::scene) struct Ring {
    pub outline: Outline,
    pub strength: f32,
    /// Share of the outline inside the frame, 0..=1.
    pub in_frame: f32,
}

/// Smallest and largest size searched, as shares of the longer side of the frame.
const SIZES: [f32; 2] = [0.16, 0.72];
/// The same for ovals and rectangles, of which nearly all must be in the frame.
const SIZES_OF_OTHER_FORMS: [f32; 2] = [0.2, 0.52];
/// Size (share of the longer side) below which a ring has too few independent pixels to count in full.
const SIZE_OF_NOTE: f32 = 0.3;
/// Least share of an outline inside the frame.
const LEAST_IN_FRAME: f32 = 0.25;

/// Strongest rings of one form (`form` has size 1 and stands at the origin), one for every local best size.
pub(in crate::scene) fn rings(field: &EdgeField, form: Outline) -> Vec<Ring> {
    let unit = form.spots(36);
    let best = best_by_size(field, form, &unit, SIZES);
    let fine = form.spots(96);
    let mut out: Vec<Ring> = (0..best.len())
        .into_par_iter()
        .filter(|&i| {
            let s = best[i].strength;
            s > 0.3
                && (i == 0 || best[i - 1].strength <= s)
                && best.get(i + 1).is_none_or(|b| b.strength < s)
        })
        .map(|i| refined(field, &fine, best[i]))
        .collect();
    out.sort_by(|a, b| b.strength.total_cmp(&a.strength));
    out
}

/// The strongest ring of one form on a very coarse grid.
pub(super) fn best_of_form(field: &EdgeField, form: Outline) -> Ring {
    let none = Ring {
        outline: form,
        strength: 0.0,
        in_frame: 0.0,
    };
    best_by_size(field, form, &form.spots(24), SIZES_OF_OTHER_FORMS)
        .into_iter()
        .fold(none, |a, b| if b.strength > a.strength { b } else { a })
}

/// An outline as a ring, or `None` when too little of it is in the frame.
pub(super) fn strength_of(field: &EdgeField, outline: Outline) -> Option<Ring> {
    let note = SIZE_OF_NOTE * field.w.max(field.h) as f32;
    let at_origin = Outline {
        cx: 0.0,
        cy: 0.0,
        ..outline.scaled(1.0 / outline.size())
    };
    let spots = at_origin.spots(72);
    let mut ring = Ring {
        outline,
        strength: -1.0,
        in_frame: 0.0,
    };
    let falls = field.falls(&spots, outline.cx, outline.cy, outline.size());
    keep_better(&mut ring, outline, falls, spots.len(), note).then_some(ring)
}

/// Places tried for the middle of an outline: [`PACE`] pixels apart, over the middle seven tenths of the frame.
struct Places {
    left: usize,
    top: usize,
    across: usize,
    down: usize,
}

impl Places {
    fn of(field: &EdgeField) -> Self {
        let span = |n: usize| {
            let (from, to) = (n * 3 / 20, n * 17 / 20);
            (from, (to - from) / PACE + 1)
        };
        let ((left, across), (top, down)) = (span(field.w), span(field.h));
        Self {
            left,
            top,
            across,
            down,
        }
    }
}

/// Falls and counts of spots in the frame, by place.
struct Sums {
    falls: Vec<f32>,
    counts: Vec<f32>,
}

/// The strongest place of the form for each size.
fn best_by_size(field: &EdgeField, form: Outline, unit: &[Spot], sizes: [f32; 2]) -> Vec<Ring> {
    let places = Places::of(field);
    let cells = places.across * places.down;
    let room = || Sums {
        falls: vec![0.0; cells],
        counts: vec![0.0; cells],
    };
    let [from, to] = sizes.map(|share| share * field.w.max(field.h) as f32);
    let sizes: Vec<f32> = std::iter::successors(Some(from), |r| Some(r + 2.0))
        .take_while(|r| *r <= to)
        .collect();
    let best = |sums: &mut Sums, r: &f32| {
        sums.falls.fill(0.0);
        sums.counts.fill(0.0);
        unit.iter()
            .for_each(|spot| field.add_falls(spot, *r, &places, sums));
        best_place(field, form, *r, unit.len(), &places, sums)
    };
    sizes.par_iter().map_init(room, best).collect()
}

/// The strongest of all places for the form at size `r`.
fn best_place(
    field: &EdgeField,
    form: Outline,
    r: f32,
    spots: usize,
    places: &Places,
    sums: &Sums,
) -> Ring {
    let least = LEAST_IN_FRAME * spots as f32;
    let worth = |sum: f32, n: f32| {
        if n < least {
            0.0
        } else {
            sum.max(0.0) * sum / n
        }
    };
    let (mut at, mut most) = (0, 0.0);
    for (i, (sum, n)) in sums.falls.iter().zip(&sums.counts).enumerate() {
        let value = worth(*sum, *n);
        if value > most {
            (at, most) = (i, value);
        }
    }
    let (x, y) = (
        places.left + at % places.across * PACE,
        places.top + at / places.across * PACE,
    );
    let mut best = Ring {
        outline: placed(form, x as f32, y as f32, r),
        strength: 0.0,
        in_frame: 0.0,
    };
    let found = (sums.falls[at], sums.counts[at] as usize);
    let note = SIZE_OF_NOTE * field.w.max(field.h) as f32;
    keep_better(
        &mut best,
        placed(form, x as f32, y as f32, r),
        found,
        spots,
        note,
    );
    best
}

/// The form moved and scaled.
fn placed(form: Outline, cx: f32, cy: f32, r: f32) -> Outline {
    Outline {
        cx,
        cy,
        ..form.scaled(r / form.size())
    }
}

/// Replaces `best` when the other outline is stronger.
fn keep_better(
    best: &mut Ring,
    outline: Outline,
    (sum, n): (f32, usize),
    all: usize,
    size_of_note: f32,
) -> bool {
    let in_frame = n as f32 / all as f32;
    if in_frame < LEAST_IN_FRAME {
        return false;
    }
    let strength =
        sum / (n as f32 * all as f32).sqrt() * (outline.size() / size_of_note).min(1.0).sqrt();
    let better = strength > best.strength;
    if better {
        *best = Ring {
            outline,
            strength,
            in_frame,
        };
    }
    better
}

/// Climbs to the nearest best place and size.
fn refined(field: &EdgeField, unit: &[Spot], start: Ring) -> Ring {
    let mut best = Ring {
        strength: 0.0,
        ..start
    };
    let o = start.outline;
    let note = SIZE_OF_NOTE * field.w.max(field.h) as f32;
    keep_better(
        &mut best,
        o,
        field.falls(unit, o.cx, o.cy, o.size()),
        unit.len(),
        note,
    );
    for step in [1.5f32, 0.75] {
        for _ in 0..6 {
            let at = best.outline;
            let mut moved = false;
            for (dx, dy, dr) in [
                (1., 0., 0.),
                (-1., 0., 0.),
                (0., 1., 0.),
                (0., -1., 0.),
                (0., 0., 1.),
                (0., 0., -1.),
                (1., 0., 1.),
                (-1., 0., 1.),
                (0., 1., 1.),
                (0., -1., 1.),
            ] {
                let (x, y, r) = (at.cx + dx * step, at.cy + dy * step, at.size() + dr * step);
                moved |= keep_better(
                    &mut best,
                    placed(o, x, y, r),
                    field.falls(unit, x, y, r),
                    unit.len(),
                    note,
                );
            }
            if !moved {
                break;
            }
        }
    }
    best
}
