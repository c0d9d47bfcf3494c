//! Finds the cup: nested outlines on which the light falls outwards, the floor edge innermost.

mod floor;
mod forms;
mod lines;
mod rays;
mod rings;
pub(super) mod shape;

use self::floor::{RingOf, floor_edge};
use self::forms::{nearly_round, other_form};
use self::rings::{EdgeField, Ring, rings};
use self::shape::Outline;
use super::grid::Grid;

/// A cup on the grid it was asked for.
#[derive(Debug, Clone, Copy)]
pub(super) struct CupSeen {
    pub outline: Outline,
    /// Whether the outline is the floor edge; else only some ring of a cup whose floor edge is too faint.
    pub is_floor: bool,
    /// Whether the cup is round (seen as an ellipse nearly a circle).
    pub is_round: bool,
    /// Share of the outline in the frame, 0..=1.
    pub in_frame: f32,
    /// Standard uncertainty of the size for other edges that could be the floor, a share.
    pub unsure: f32,
}

/// Light added before the logarithm, so that noise of dark cups stays small (linear).
const DARK_FLOOR: f32 = 0.01;
/// Least strength of a ring that is followed up, and of one that bounds the search without a floor edge.
const FOLLOWED: f32 = 0.55;
const PLAIN: f32 = 0.75;
/// A round ring as strong as this leaves no room for other forms.
const SURELY_ROUND: f32 = 0.7;
/// A ring that bounds the search without a floor edge may be the floor's, seen too small: room for animals is left around.
const AROUND: f32 = 1.08;
/// Rings followed up, strongest first.
const TRIES: usize = 2;

/// Looks for the cup on `light` (linear luminance) without the barred pixels, on grids `k` and `2 k` times as coarse.
pub(super) fn find(light: &Grid, barred: &[bool], k: usize) -> Option<CupSeen> {
    let (middle, coarse) = rayon::join(
        || light.reduced(k).log(DARK_FLOOR),
        || light.reduced(2 * k).log(DARK_FLOOR),
    );
    let field = EdgeField::new(&coarse, &reduced_bars(barred, light, 2 * k));
    let found = first_rings(light, barred, k, &field);
    let bars = reduced_bars(barred, light, k);
    for ring in &found {
        let ring = Ring {
            outline: ring.outline.on_finer_grid(2.0),
            ..*ring
        };
        match floor_edge(&middle, &bars, &ring) {
            RingOf::Floor(floor) => {
                let outline = floor.outline.on_finer_grid(k as f32);
                let is_round = nearly_round(&outline);
                return Some(CupSeen {
                    outline,
                    is_floor: true,
                    is_round,
                    in_frame: floor.in_frame,
                    unsure: floor.unsure,
                });
            }
            RingOf::Unsure => break,
            RingOf::Nothing => {}
        }
    }
    let ring = found.first().filter(|r| r.strength >= PLAIN)?;
    let outline = ring.outline.on_finer_grid(2.0 * k as f32).scaled(AROUND);
    Some(CupSeen {
        outline,
        is_floor: false,
        is_round: nearly_round(&outline),
        in_frame: ring.in_frame,
        unsure: 1.0,
    })
}

/// The rings to follow up, strongest first: one that is not round where that is plainly stronger, else round ones.
fn first_rings(light: &Grid, barred: &[bool], k: usize, field: &EdgeField) -> Vec<Ring> {
    let round = rings(field, Outline::circle(0.0, 0.0, 1.0));
    let strongest = round.first().map_or(0.0, |r| r.strength);
    if strongest < SURELY_ROUND {
        let tiny = EdgeField::new(
            &light.reduced(4 * k).log(DARK_FLOOR),
            &reduced_bars(barred, light, 4 * k),
        );
        if let Some(ring) = other_form(&tiny, field, strongest) {
            return vec![ring];
        }
    }
    round
        .into_iter()
        .filter(|r| r.strength >= FOLLOWED)
        .take(TRIES)
        .collect()
}

/// Pixels of a coarser grid that hold any barred pixel.
fn reduced_bars(barred: &[bool], light: &Grid, k: usize) -> Vec<bool> {
    let (w, h) = (light.w / k, light.h / k);
    let mut out = vec![false; w * h];
    for (y, row) in barred.chunks_exact(light.w.max(1)).take(h * k).enumerate() {
        if !row.contains(&true) {
            continue;
        }
        let cells = &mut out[y / k * w..(y / k + 1) * w];
        for (cell, block) in cells.iter_mut().zip(row.chunks_exact(k)) {
            *cell |= block.contains(&true);
        }
    }
    out
}
