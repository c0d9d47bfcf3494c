//! Bodies that hang together by a leg, a feeler or a tail fan, taken apart.

use super::blobs::{Blob, Mask};
use super::candidates::{CLEAR, Path, explain, to_fine};
use super::field::Field;

/// Evidence at which shade and clear legs between two bodies are no longer seen, log-odds...
const STRONG: f32 = 1.5;
/// ...and half the width of the bridges that are cut at any evidence, body units: a leg or a feeler is narrower, a tail stalk
/// hardly.
const BRIDGE: f32 = 0.28;
/// Half the width below which all evidence is left out, as for whole blobs, body units.
const HAIR: f32 = 0.13;
/// Least area of a part, square body units: a quarter of a small animal.
const LEAST: f32 = 1.5;
/// Holes up to this large are filled, square body units, as for whole blobs.
const HOLE: f32 = 1.5;

/// Axes of possible animals, fine pixels, in the parts into which any of the `blobs` of clear evidence falls where the
/// evidence is asked to be stronger or bridges are cut; none for what stays in one part.
pub(super) fn parts(field: &Field, blobs: &[Blob]) -> Vec<Path> {
    let whole = numbered(field, blobs);
    let cuts = [(HAIR, STRONG), (BRIDGE, CLEAR)];
    let axes = |(reach, limit)| parts_of(field, &whole, reach, limit);
    cuts.into_iter().flat_map(axes).collect()
}

/// For each coarse pixel the number of its blob, counted from 1, or 0.
fn numbered(field: &Field, blobs: &[Blob]) -> Vec<usize> {
    let mut whole = vec![0; field.evidence.values.len()];
    for (number, blob) in (1..).zip(blobs) {
        let set = (0..blob.mask.bits.len()).filter(|&i| blob.mask.bits[i] > 0);
        for i in set {
            whole[place(field, blob, i)] = number;
        }
    }
    whole
}

/// Place in the coarse picture of pixel `i` of a blob's own mask.
fn place(field: &Field, blob: &Blob, i: usize) -> usize {
    let (x, y) = (i % blob.mask.width, i / blob.mask.width);
    let at = |c: usize, v: usize| (v as i32 + blob.origin[c]) as usize;
    at(1, y) * field.evidence.width + at(0, x)
}

fn parts_of(field: &Field, whole: &[usize], reach: f32, limit: f32) -> Vec<Path> {
    let u = field.coarse_unit();
    let opened = field.evidence.open(((reach * u).round() as usize).max(1));
    let mask = Mask::above(&opened, limit).filled((HOLE * u * u) as usize);
    let mut small = mask.blobs();
    small.retain(|blob| blob.area as f32 >= LEAST * u * u);
    let owner = |blob: &Blob| {
        let first = blob.mask.bits.iter().position(|bit| *bit > 0);
        first.map_or(0, |i| whole[place(field, blob, i)])
    };
    let owners: Vec<usize> = small.iter().map(owner).collect();
    let apart = |own: usize| owners.iter().filter(|other| **other == own).count() > 1;
    let mut out = Vec::new();
    for (blob, own) in small.iter().zip(&owners) {
        if apart(*own) {
            let (paths, others) = explain(blob, u);
            out.extend(paths.iter().chain(&others).map(|p| to_fine(p, blob, field)));
        }
    }
    out
}
