//! Picks the floor edge among the nested rings of a cup: floor edge, waterline, rim.
//!
//! The picture is unwrapped along rays from the ring's centre. Thin lines (waterline, glints) are closed and opened
//! away along each ray, so that what stays is steps of light. The floor edge is the innermost step that runs around.

use super::forms::nearly_round;
use super::rays::{NEAR_STEPS, RAYS, Rays, WIDE_STEPS, bent, middle};
use super::rings::Ring;
use super::shape::Outline;
use crate::scene::grid::Grid;
use rayon::prelude::*;

/// The floor found inside a ring.
#[derive(Debug, Clone, Copy)]
pub(in crate::scene) struct Floor {
    pub outline: Outline,
    /// Mean fall along the edge, 0..=1.
    pub strength: f32,
    /// Share of the edge inside the frame, 0..=1.
    pub in_frame: f32,
    /// Standard uncertainty of the size for other edges that could be the floor, a share.
    pub unsure: f32,
    /// Light of a thin line along the edge (natural log, see `Rays::lined`).
    lined: f32,
    /// How far single sectors agree on the edge, 0..=1 (see `Rays::agreement`).
    agreement: f32,
    /// Median fall of light along the edge, natural log.
    fall: f32,
}

/// Least standing of a floor edge, and least share of the best standing (measured on rendered cups: accidents stay below).
const LEAST: f32 = 0.32;
/// An edge inside of the floor's that misses that by less than this is too plain to be passed over in silence.
const NEARLY: f32 = 0.93;
const LEAST_OF_BEST: f32 = 0.42;
/// A ring plainer than this is likely a rim, which says nothing of how plain the floor edge is.
const PLAIN_RING: f32 = 0.75;
/// At most so many are followed up.
const MOST_FOLLOWED: usize = 7;
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
    /// A cup whose floor edge cannot be told: too many edges, or a waterline without a floor edge inside of it.
    Unsure,
    /// No cup that can be proven.
    Nothing,
}

/// The floor edge near a ring.
pub(in crate::scene) fn floor_edge(log: &Grid, barred: &[bool], ring: &Ring) -> RingOf {
    let edges = edges(log, barred, ring);
    let chains = chains(&edges);
    let worth = worth_as_floor(&edges, &ring.outline);
    let can_be: Vec<usize> = (0..edges.len())
        .filter(|k| worth[*k] >= 1.0 && edges[*k].fall < MOST_FALL)
        .collect();
    let better = |a: usize, b: usize| {
        if chains[b].worth > chains[a].worth {
            b
        } else {
            a
        }
    };
    let Some(k) = can_be.iter().copied().reduce(better) else {
        return RingOf::Nothing;
    };
    if !is_cup(&edges, &chains, k, ring) {
        return RingOf::Nothing;
    }
    let floor = &edges[k];
    // Edges nested outside of the floor are what a cup has; only those that clash with it could be the floor instead.
    let rivals = can_be
        .iter()
        .filter(|j| !nested(&floor.outline, &edges[**j].outline));
    let unsure = unsureness(rivals.map(|j| Rival {
        apart: (edges[*j].outline.size() / floor.outline.size() - 1.0).abs(),
        worth: chains[*j].worth / chains[k].worth.max(1e-6),
    }));
    let passed_over =
        (0..k).any(|j| worth[j] >= NEARLY && nested(&edges[j].outline, &floor.outline));
    if passed_over || only_line(&edges, floor) || unsure > MOST_UNSURE {
        RingOf::Unsure
    } else {
        RingOf::Floor(Floor { unsure, ..*floor })
    }
}

/// Whether a waterline was found for the floor edge, or one that lies inside of it.
fn only_line(edges: &[Floor], floor: &Floor) -> bool {
    let inside = WELL_INSIDE * floor.outline.size();
    is_waterline(floor)
        || edges
            .iter()
            .any(|f| is_waterline(f) && f.outline.size() < inside)
}

/// The edges near a ring that are worth following, by size.
fn edges(log: &Grid, barred: &[bool], ring: &Ring) -> Vec<Floor> {
    let rays = Rays::new(log, barred, &ring.outline, [0.5, 1.25], WIDE_STEPS);
    let mut plain = rays.plain();
    let follow = |plain: &[f32]| -> Vec<Floor> {
        let found = candidates(&rays, plain, &ring.outline).into_par_iter();
        found.map(|f| followed(log, barred, f)).collect()
    };
    let mut edges = follow(&plain);
    // Plain edges taken away, the fainter ones show that mixtures with the plain ones hid.
    for edge in plain_edges(&edges) {
        rays.clear(&mut plain, &ring.outline, &edge.outline);
    }
    edges.extend(follow(&plain));
    edges.sort_by(|a, b| a.outline.size().total_cmp(&b.outline.size()));
    edges
}

/// Strength and agreement of an edge that surely is one.
const SURE_STRENGTH: f32 = 0.5;
const SURE_AGREEMENT: f32 = 0.97;

/// The plainest edge, and those that surely are edges nested with it.
fn plain_edges(edges: &[Floor]) -> Vec<Floor> {
    let plainness = |f: &Floor| f.strength * f.agreement;
    let Some(first) = edges
        .iter()
        .reduce(|a, b| if plainness(b) > plainness(a) { b } else { a })
    else {
        return Vec::new();
    };
    let fits = |f: &&Floor| {
        let sure = f.strength >= SURE_STRENGTH && f.agreement >= SURE_AGREEMENT;
        sure && (nested(&first.outline, &f.outline) || nested(&f.outline, &first.outline))
    };
    edges.iter().filter(fits).chain([first]).copied().collect()
}

/// Another outline that could be the floor: how much its size differs (a share), and its worth (1 = as good).
struct Rival {
    apart: f32,
    worth: f32,
}

/// A floor whose size is less sure than this is not told (a share; house number).
const MOST_UNSURE: f32 = 0.05;

/// Standard uncertainty of the size, a share of it, for the rivals that there are: a rival as good as the floor itself
/// counts in full, one of half its worth next to nothing.
fn unsureness(rivals: impl Iterator<Item = Rival>) -> f32 {
    rivals
        .filter(|r| r.apart > 0.015)
        .map(|r| r.apart * r.worth.clamp(0.0, 1.0).powi(6))
        .fold(0.0, f32::max)
}

/// The best set of nested edges whose innermost is a given one.
#[derive(Debug, Clone, Copy)]
struct Chain {
    worth: f32,
    /// The next edge outwards.
    next: Option<usize>,
}

/// Strength that chance edges reach; only what is above counts for a chain.
const CHANCE: f32 = 0.25;
/// Centres of nested edges lie apart by at most this share of the difference of their sizes: tilt moves them by less
/// than half of it, and a mixture touches the edges that it is made of (1).
const MOST_APART: f32 = 0.6;

/// For each edge (by size, smallest first) the best chain of nested edges from it outwards. Real edges of a cup (floor,
/// waterline, rim) support one another so; mixtures of two of them do not.
fn chains(edges: &[Floor]) -> Vec<Chain> {
    let mut out: Vec<Chain> = vec![
        Chain {
            worth: 0.0,
            next: None
        };
        edges.len()
    ];
    for k in (0..edges.len()).rev() {
        let own = (edges[k].strength * edges[k].agreement - CHANCE).max(0.0);
        let next = (k + 1..edges.len())
            .filter(|j| nested(&edges[k].outline, &edges[*j].outline))
            .reduce(|a, b| if out[b].worth > out[a].worth { b } else { a });
        out[k] = Chain {
            worth: own + next.map_or(0.0, |j| out[j].worth),
            next,
        };
    }
    out
}

/// Whether two outlines can be edges of one cup, the second outside of the first.
fn nested(inner: &Outline, outer: &Outline) -> bool {
    let apart = (inner.cx - outer.cx).hypot(inner.cy - outer.cy);
    let wider = outer.size() - inner.size();
    wider > SAME_EDGE * inner.size() && apart < MOST_APART * wider
}

/// Which edges are plain enough to be the floor's, beside the plainest: by standing, and less for a fall of light that is
/// small beside that of the plainest (soft shadows and stains on the floor).
///
/// Given as shares of the least that is needed.
fn worth_as_floor(edges: &[Floor], ring: &Outline) -> Vec<f32> {
    let standings: Vec<f32> = edges.iter().map(|f| standing(f, ring)).collect();
    let best = standings.iter().copied().fold(0.0, f32::max);
    let least = (LEAST_OF_BEST * best.min(PLAIN_RING)).max(LEAST);
    let fall = edges
        .iter()
        .zip(&standings)
        .filter(|(_, s)| **s == best)
        .map(|(f, _)| f.fall.min(MOST_FALL))
        .fold(1e-6, f32::max);
    edges
        .iter()
        .zip(&standings)
        .map(|(f, s)| s * f.agreement * (f.fall / (0.6 * fall)).clamp(0.0, 1.0).powf(0.25) / least)
        .collect()
}

/// A waterline must be smaller by this to be inside of an edge, not part of it.
const WELL_INSIDE: f32 = 0.95;

/// Whether an edge is plainly a line all around: the floor lies inside of it.
fn is_waterline(f: &Floor) -> bool {
    f.strength > 0.5 && f.lined.abs() > 0.018
}

/// Whether the edges from the one numbered `first` outwards prove a cup: one of them runs around plainly, and where the
/// whole floor is in the frame the first ring does, too (a heap of animals can look like one ring, but not like a plain one).
fn is_cup(edges: &[Floor], chains: &[Chain], first: usize, ring: &Ring) -> bool {
    let proof = if nearly_round(&ring.outline) {
        PROOF
    } else {
        PROOF_OF_OTHER_FORM
    };
    let mut along = std::iter::successors(Some(first), |k| chains[*k].next);
    let plain = along.any(|k| edges[k].strength * edges[k].in_frame.powf(-0.25) >= proof);
    plain && (edges[first].in_frame < 0.95 || ring.strength >= PLAIN_RING)
}

/// 1 for an outline about the ring's own centre, less the farther off it lies (tilt moves floor and rim apart).
fn centred(f: &Floor, ring: &Outline) -> f32 {
    let off = (f.outline.cx - ring.cx).hypot(f.outline.cy - ring.cy) / ring.size();
    (1.0 - 1.5 * off).max(0.0)
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
        agreement: rays.agreement(&bend),
        unsure: 0.0,
        fall: middle(&mut falls),
    }
}

/// Outlines that one task tries: one alone is too little work.
const TRIED_AT_ONCE: usize = 500;
/// Sizes tried, a hundredth of the ring apart, and the smallest of them.
const SIZES_TRIED: usize = 58;
const SMALLEST: f32 = 0.6;

/// Outlines better than all their neighbours in size and place (of one size alone, the best place is often a mixture of
/// two edges that hides the true one).
fn candidates(rays: &Rays, plain: &[f32], ring: &Outline) -> Vec<Floor> {
    let side = 2 * SHIFTS + 1;
    let change = |i: usize| {
        let (size, y, x) = (i / (side * side), i / side % side, i % side);
        let shift = |k: usize| SHIFT * (k as f32 - SHIFTS as f32);
        [SMALLEST + 0.01 * size as f32, shift(x), shift(y)]
    };
    let count = SIZES_TRIED * side * side;
    let tried: Vec<[f32; 2]> = (0..count)
        .into_par_iter()
        .with_min_len(TRIED_AT_ONCE)
        .map(|i| {
            let [s, dx, dy] = change(i);
            let (fall, in_frame) = rays.quick_ring(plain, [s, dx, dy], WORTH_A_LOOK);
            [fall * in_frame.sqrt(), in_frame]
        })
        .collect();
    let found = (0..count).filter(|i| tried[*i][0] > WORTH_A_LOOK && is_peak(&tried, *i, side));
    let found = found.map(|i| {
        let [s, dx, dy] = change(i);
        let [strength, in_frame] = tried[i];
        let outline = bent(ring, [s - 1.0, dx, dy, 0.0, 0.0]);
        Floor {
            outline,
            strength,
            in_frame,
            lined: 0.0,
            fall: 0.0,
            agreement: 0.0,
            unsure: 0.0,
        }
    });
    worth_following(found.collect())
}

/// Whether none of the neighbours in size and place is stronger (of equals the first is the peak).
fn is_peak(tried: &[[f32; 2]], i: usize, side: usize) -> bool {
    let place = [i / (side * side), i / side % side, i % side];
    let ends = [SIZES_TRIED, side, side];
    let span = |k: usize| place[k].saturating_sub(1)..(place[k] + 2).min(ends[k]);
    let mut near = span(0)
        .flat_map(|s| span(1).flat_map(move |y| span(2).map(move |x| (s * side + y) * side + x)));
    near.all(|k| tried[k][0] < tried[i][0] || (tried[k][0] == tried[i][0] && k >= i))
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

/// Shifts tried each way, and how far they lie apart (share of the ring).
const SHIFTS: usize = 4;
const SHIFT: f32 = 0.03;
