//! Picks the floor edge among the nested rings of a cup: floor edge, waterline, rim.
//!
//! The picture is unwrapped along rays from the ring's centre. Thin lines (waterline, glints) are closed and opened
//! away along each ray, so that what stays is steps of light. The floor edge is the innermost step that runs around.

use super::forms::nearly_round;
use super::rays::{NEAR_STEPS, RAYS, Rays, WIDE_STEPS, bent, middle};
use super::rings::Ring;
use super::shape::Outline;
use crate::scene::grid::Grid;

/// The floor found inside a ring.
#[derive(Debug, Clone, Copy)]
pub(in crate::scene) struct Floor {
    pub outline: Outline,
    /// Mean fall along the edge, 0..=1.
    pub strength: f32,
    /// Share of the edge inside the frame, 0..=1.
    pub in_frame: f32,
    /// Light of a thin line along the edge (natural log, see `Rays::lined`).
    lined: f32,
    /// Median fall of light along the edge, natural log.
    fall: f32,
}

/// Least standing of a floor edge, and least share of the best standing (measured on rendered cups: accidents stay below).
const LEAST: f32 = 0.33;
const LEAST_OF_BEST: f32 = 0.47;
/// A ring plainer than this is likely a rim, which says nothing of how plain the floor edge is.
const PLAIN_RING: f32 = 0.75;
/// At most so many are followed up.
const MOST_FOLLOWED: usize = 12;
/// A cup is proven by an edge of this strength (strength over the fourth root of the share in frame; measured: chance
/// rings among prawns on bare ground reach 0.41).
const PROOF: f32 = 0.47;
/// The same for ovals and rectangles, of which so many are tried that chance helps them.
const PROOF_OF_OTHER_FORM: f32 = 0.6;
/// A greater fall is the rim against the table (natural log; floor edges fall by 0.02 to 0.12).
const MOST_FALL: f32 = 0.25;
/// Candidates weaker than this are not followed up.
const WORTH_A_LOOK: f32 = 0.24;
/// Outlines closer than this share of their size are one and the same edge.
const SAME_EDGE: f32 = 0.03;

/// What a ring turned out to belong to.
#[derive(Debug, Clone, Copy)]
pub(in crate::scene) enum RingOf {
    /// A cup whose floor edge is seen.
    Floor(Floor),
    /// A cup whose waterline is seen, but not the floor edge inside of it.
    Waterline,
    /// No cup that can be proven.
    Nothing,
}

/// The floor edge near a ring.
pub(in crate::scene) fn floor_edge(log: &Grid, barred: &[bool], ring: &Ring) -> RingOf {
    let rays = Rays::new(log, barred, &ring.outline, [0.5, 1.25], WIDE_STEPS);
    let followed: Vec<Floor> = candidates(&rays, &ring.outline)
        .into_iter()
        .map(|f| followed(log, barred, f))
        .collect();
    let waterline = followed
        .iter()
        .filter(|f| is_waterline(f))
        .map(|f| f.outline.size())
        .fold(f32::INFINITY, f32::min);
    let mut edges = distinct(followed, &ring.outline);
    edges.sort_by(|a, b| a.0.outline.size().total_cmp(&b.0.outline.size()));
    let best = edges.iter().map(|e| e.1).fold(0.0, f32::max);
    let least = (LEAST_OF_BEST * best.min(PLAIN_RING)).max(LEAST);
    let Some(k) = edges
        .iter()
        .position(|(f, standing)| *standing >= least && f.fall < MOST_FALL)
    else {
        return RingOf::Nothing;
    };
    if !is_cup(&edges, ring, edges[k].0.in_frame) {
        return RingOf::Nothing;
    }
    if waterline < WELL_INSIDE * edges[k].0.outline.size() {
        RingOf::Waterline
    } else {
        RingOf::Floor(edges[k].0)
    }
}

/// A waterline must be smaller by this to be inside of an edge, not part of it.
const WELL_INSIDE: f32 = 0.95;

/// Whether an edge is plainly a line all around: the floor lies inside of it.
fn is_waterline(f: &Floor) -> bool {
    f.strength > 0.5 && f.lined.abs() > 0.018
}

/// Whether the edges prove a cup: one of them runs around plainly, and where the whole floor is in the frame the first
/// ring does, too (a heap of animals can look like one ring, but not like a plain one).
fn is_cup(edges: &[(Floor, f32)], ring: &Ring, in_frame: f32) -> bool {
    let proof = if nearly_round(&ring.outline) {
        PROOF
    } else {
        PROOF_OF_OTHER_FORM
    };
    let plain = edges
        .iter()
        .any(|(f, _)| f.strength * f.in_frame.powf(-0.25) >= proof);
    plain && (in_frame < 0.95 || ring.strength >= PLAIN_RING)
}

/// One outline for each edge, with its standing as a floor: of outlines that clash the one of better standing stays,
/// the inner one at a tie (mixtures of two edges lie outside of the floor).
fn distinct(mut found: Vec<Floor>, ring: &Outline) -> Vec<(Floor, f32)> {
    let rank = |f: &Floor| standing(f, ring) / f.outline.size();
    found.sort_by(|a, b| rank(b).total_cmp(&rank(a)));
    let mut kept: Vec<Floor> = Vec::new();
    for f in found {
        if !kept.iter().any(|k| clash(&k.outline, &f.outline)) {
            kept.push(f);
        }
    }
    kept.into_iter().map(|f| (f, standing(&f, ring))).collect()
}

/// 1 for an outline about the ring's own centre, less the farther off it lies (tilt moves floor and rim apart).
fn centred(f: &Floor, ring: &Outline) -> f32 {
    let off = (f.outline.cx - ring.cx).hypot(f.outline.cy - ring.cy) / ring.size();
    (1.0 - 1.5 * off).max(0.0)
}

/// Whether two outlines cannot both be edges of a cup: they are one, or they cross (edges of a cup are nested).
fn clash(a: &Outline, b: &Outline) -> bool {
    let (apart, wider) = (
        (a.cx - b.cx).hypot(a.cy - b.cy),
        (a.size() - b.size()).abs(),
    );
    wider < apart.max(SAME_EDGE * a.size())
}

/// How far an edge can stand for the floor: its strength, less for lines and for lying off the ring's centre.
fn standing(f: &Floor, ring: &Outline) -> f32 {
    f.strength * centred(f, ring) / (1.0 + (f.lined.abs() - 0.01).max(0.0) / 0.02)
}

/// Reach of the rays about an edge that is followed.
const NEAR: [f32; 2] = [0.84, 1.16];

/// Follows the edge more closely than the first search did: first to where it runs around best, then onto the edge itself.
fn followed(log: &Grid, barred: &[bool], start: Floor) -> Floor {
    let rays = Rays::new(log, barred, &start.outline, NEAR, NEAR_STEPS);
    let even = rays.evenest_bend(&[0.02, 0.03, 0.03, 0.012, 0.012]);
    let bend = rays.closest_bend(even, &[0.012, 0.015, 0.015, 0.006, 0.006]);
    let (strength, in_frame) = rays.ring(&bend);
    let mut falls = Vec::with_capacity(RAYS);
    rays.falls(&bend, &mut falls);
    Floor {
        outline: bent(&start.outline, bend),
        strength: strength * in_frame.sqrt(),
        in_frame,
        lined: rays.lined(&bend),
        fall: middle(&mut falls),
    }
}

/// Sizes tried, a hundredth of the ring apart.
const SIZES_TRIED: usize = 58;

/// Local best outlines by size: among all shifts, and among those that keep close to the ring's centre
/// (else a ring mixed of two edges can hide the true one).
fn candidates(rays: &Rays, ring: &Outline) -> Vec<Floor> {
    let plain = rays.plain();
    let by_size: Vec<[Floor; 2]> = (0..SIZES_TRIED)
        .map(|k| best_shifts(rays, &plain, ring, 0.6 + 0.01 * k as f32))
        .collect();
    let out = [0, 1].into_iter().flat_map(|k| {
        by_size
            .windows(3)
            .map(move |w| [w[0][k], w[1][k], w[2][k]])
            .filter(|w| w[1].strength > w[0].strength && w[1].strength >= w[2].strength)
            .map(|w| w[1])
    });
    worth_following(out.collect())
}

/// The strongest few that are not nearly the same.
fn worth_following(mut found: Vec<Floor>) -> Vec<Floor> {
    found.sort_by(|a, b| b.strength.total_cmp(&a.strength));
    let mut out: Vec<Floor> = Vec::new();
    for f in found {
        let near = 0.012 * f.outline.size();
        let known = |k: &Floor| {
            (k.outline.size() - f.outline.size()).abs() < near
                && (k.outline.cx - f.outline.cx).hypot(k.outline.cy - f.outline.cy) < near
        };
        if f.strength > WORTH_A_LOOK && out.len() < MOST_FOLLOWED && !out.iter().any(known) {
            out.push(f);
        }
    }
    out
}

/// Shifts tried each way, a fiftieth of the size apart: all of them, and those close to the ring's centre.
const SHIFTS: i32 = 6;
const CLOSE: i32 = 2;

/// A place tried for an outline.
#[derive(Clone, Copy)]
struct Shifted {
    strength: f32,
    in_frame: f32,
    x: i32,
    y: i32,
}

/// The best place for an outline of this share of the ring close to its centre, and that within an eighth of its size.
fn best_shifts(rays: &Rays, plain: &[f32], ring: &Outline, s: f32) -> [Floor; 2] {
    let tried = |x: i32, y: i32| {
        let (fall, in_frame) = rays.quick_ring(plain, s, 0.02 * x as f32, 0.02 * y as f32);
        Shifted { strength: fall * in_frame.sqrt(), in_frame, x, y }
    };
    let better = |a: Shifted, b: Shifted| if b.strength > a.strength { b } else { a };
    let every_other = (-SHIFTS..=SHIFTS).step_by(2);
    let (mut close, mut best) = (tried(0, 0), tried(0, 0));
    for (x, y) in every_other.clone().flat_map(|y| every_other.clone().map(move |x| (x, y))) {
        let place = tried(x, y);
        best = better(best, place);
        if x.abs().max(y.abs()) <= CLOSE {
            close = better(close, place);
        }
    }
    [(close, CLOSE), (best, SHIFTS)].map(|(found, most)| {
        let near = (-1..=1).flat_map(|dy| (-1..=1).map(move |dx| (found.x + dx, found.y + dy)));
        let place = near
            .filter(|(x, y)| x.abs().max(y.abs()) <= most)
            .fold(found, |best, (x, y)| better(best, tried(x, y)));
        let (dx, dy) = (0.02 * place.x as f32, 0.02 * place.y as f32);
        Floor {
            outline: bent(ring, [s - 1.0, dx, dy, 0.0, 0.0]),
            strength: place.strength,
            in_frame: place.in_frame,
            lined: 0.0,
            fall: 0.0,
        }
    })
}
