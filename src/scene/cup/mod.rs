//! Finds the cup: nested outlines on which the light falls outwards, the floor edge innermost.

mod floor;
mod rings;
pub(super) mod shape;

use self::floor::floor_edge;
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
}

/// Light added before the logarithm, so that noise of dark cups stays small (linear).
const DARK_FLOOR: f32 = 0.01;
/// Least strength of a ring that is followed up, and of one that bounds the search without a floor edge.
const FOLLOWED: f32 = 0.55;
const PLAIN: f32 = 0.75;
/// Rings followed up, strongest first.
const TRIES: usize = 2;

/// Looks for the cup on `light` (linear luminance) without the barred pixels, on grids `k` and `2 k` times as coarse.
pub(super) fn find(light: &Grid, barred: &[bool], k: usize) -> Option<CupSeen> {
    let (middle, coarse) = (
        light.reduced(k).log(DARK_FLOOR),
        light.reduced(2 * k).log(DARK_FLOOR),
    );
    let field = EdgeField::new(&coarse, &reduced_bars(barred, light, 2 * k));
    let found: Vec<Ring> = rings(&field, Outline::circle(0.0, 0.0, 1.0))
        .into_iter()
        .filter(|r| r.strength >= FOLLOWED)
        .take(TRIES)
        .collect();
    let bars = reduced_bars(barred, light, k);
    let floor = found.iter().find_map(|ring| {
        let ring = Ring {
            outline: ring.outline.on_finer_grid(2.0),
            ..*ring
        };
        floor_edge(&middle, &bars, &ring)
    });
    if let Some(floor) = floor {
        let outline = floor.outline.on_finer_grid(k as f32);
        return Some(CupSeen {
            outline,
            is_floor: true,
            is_round: true,
            in_frame: floor.in_frame,
        });
    }
    let ring = found.first().filter(|r| r.strength >= PLAIN)?;
    let outline = ring.outline.on_finer_grid(2.0 * k as f32);
    Some(CupSeen {
        outline,
        is_floor: false,
        is_round: true,
        in_frame: ring.in_frame,
    })
}

/// Pixels of a coarser grid that hold any barred pixel.
fn reduced_bars(barred: &[bool], light: &Grid, k: usize) -> Vec<bool> {
    let (w, h) = (light.w / k, light.h / k);
    let mut out = vec![false; w * h];
    for (i, _) in barred.iter().enumerate().filter(|(_, b)| **b) {
        let (x, y) = (i % light.w / k, i / light.w / k);
        if x < w && y < h {
            out[y * w + x] = true;
        }
    }
    out
}
