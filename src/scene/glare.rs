//! Large smooth reflections on the water: flat bright areas with a hard edge, beside the floor's own light.
//!
//! A window or a lamp's shade mirrored in the water veils what lies under it, but no pixel of it is burnt out.

use super::grid::Grid;
use super::regions::visit_region;

/// The areas are looked for on a grid so many times coarser.
const COARSER: usize = 4;
/// Light (natural log) changes by less than this between neighbours of one area.
const FLAT: f32 = 0.025;
/// Least share of the searched ground of a reflection, and of an area that it is held against.
const LEAST_GLARE: f32 = 0.008;
const LEAST_BESIDE: f32 = 0.004;
/// Pixels of the coarse grid from one side of an edge to the other.
const ACROSS: usize = 3;
/// A reflection is brighter than what is beside it by this much at least, and not by more (natural log): beyond that the
/// dark side is an animal.
const BRIGHTER: [f32; 2] = [0.03, 0.5];
/// Least share of the edge on which a reflection is the brighter side.
const MOSTLY: f32 = 0.7;

/// An area of nearly even light.
#[derive(Debug, Clone, Copy, Default)]
struct Area {
    size: usize,
    /// Places of its edge where it is the brighter and where it is the darker side.
    brighter: usize,
    darker: usize,
}

/// Pixels of `light` (linear) under large reflections, out of those searched.
pub(super) fn large_glare(light: &Grid, searched: &[u8]) -> usize {
    let log = light.reduced(COARSER).log(0.01);
    let inside: Vec<bool> = (0..log.px.len())
        .map(|i| {
            let (x, y) = (i % log.w * COARSER, i / log.w * COARSER);
            searched[y * light.w + x] > 0
        })
        .collect();
    let (labels, mut areas) = flat_areas(&log, &inside);
    let all = inside.iter().filter(|v| **v).count() as f32;
    compare(&log, &labels, &mut areas, (LEAST_BESIDE * all) as usize);
    // The largest area is the floor itself.
    let floor = (1..areas.len()).max_by_key(|k| areas[*k].size);
    let reflections = areas.iter().enumerate().skip(1).filter(|(k, area)| {
        let edge = (area.brighter + area.darker) as f32;
        Some(*k) != floor
            && area.size as f32 >= LEAST_GLARE * all
            && area.brighter as f32 > MOSTLY * edge
            && edge > (area.size as f32).sqrt()
    });
    reflections.map(|(_, area)| area.size).sum::<usize>() * COARSER * COARSER
}

/// The area of each pixel (0 = none), and the areas; number 0 stays empty.
fn flat_areas(log: &Grid, inside: &[bool]) -> (Vec<usize>, Vec<Area>) {
    let (w, n) = (log.w, log.px.len());
    let (mut labels, mut areas) = (vec![0; n], vec![Area::default()]);
    let mut seen = vec![false; n];
    let joins = |i: usize, k: usize| inside[k] && (log.px[i] - log.px[k]).abs() < FLAT;
    for start in (0..n).filter(|i| inside[*i]) {
        if std::mem::replace(&mut seen[start], true) {
            continue;
        }
        let label = areas.len();
        let mut size = 0;
        visit_region(start, (w, log.h), &mut seen, joins, |_, _, i| {
            labels[i] = label;
            size += 1;
        });
        areas.push(Area {
            size,
            ..Area::default()
        });
    }
    (labels, areas)
}

/// Holds the areas of at least `least` pixels against each other across their edges.
fn compare(log: &Grid, labels: &[usize], areas: &mut [Area], least: usize) {
    let (w, n) = (log.w, labels.len());
    let sides = |i: usize| {
        let right = (i % w + ACROSS < w).then_some(i + ACROSS);
        let down = Some(i + ACROSS * w).filter(|k| *k < n);
        right.into_iter().chain(down)
    };
    for i in 0..n {
        for k in sides(i) {
            let (a, b) = (labels[i], labels[k]);
            let step = (log.px[i] - log.px[k]).abs();
            let plain = a != b && step > BRIGHTER[0] && step < BRIGHTER[1];
            if plain && areas[a].size.min(areas[b].size) >= least.max(1) {
                let (up, low) = if log.px[i] > log.px[k] {
                    (a, b)
                } else {
                    (b, a)
                };
                areas[up].brighter += 1;
                areas[low].darker += 1;
            }
        }
    }
}
