//! Rough body axes from the evidence: blobs, their skeletons, and the set of paths that explains each blob best.

use super::blobs::{Blob, Mask};
use super::field::Field;
use super::joints::{Dot, joints, tipped};
use super::ribbon::{distance, resampled, smoothed};
use super::thinning::{Skeleton, path_length, skeleton, thin};
use crate::plane::Plane;
use rayon::prelude::*;

/// A chain of points.
pub type Path = Vec<[f32; 2]>;

/// What the evidence shows: axes of possible animals and blobs without a possible axis.
#[derive(Debug, Clone, Default)]
pub struct Candidates {
    /// Rough axes of possible animals, fine pixels, direction not known.
    pub rough: Vec<Path>,
    /// Boxes (x, y, width, height; fine pixels) of blobs that can't be animals by their shape.
    pub shapeless: Vec<[f32; 4]>,
}

/// An adult's usual length in body units, by definition of the unit.
pub(super) const USUAL_LENGTH: f32 = 8.0;
/// Spread of the natural logarithm of length in one scoop (adults with young among them; from the rendered scenes).
const LENGTH_SPREAD: f32 = 0.38;
/// Longest path taken for one animal, in body units.
const LONGEST: f32 = 13.0;
/// Shortest path taken for an animal or a piece of one, in body units.
const SHORTEST: f32 = 0.9;

/// Evidence from which blobs are made, log-odds: first clear bodies, then faint ones where nothing clear was found.
pub const CLEAR: f32 = 0.0;
/// See [`CLEAR`].
pub const FAINT: f32 = -1.3;
/// Faint evidence on dark ground: glassy middles hide further below the clear ones there (-1.3 to -2 measure alike).
const FAINT_ON_DARK: f32 = -1.8;

/// Clear and faint evidence in this field.
pub fn levels(field: &Field) -> [f32; 2] {
    let faint = if field.is_dark() {
        FAINT_ON_DARK
    } else {
        FAINT
    };
    [CLEAR, faint]
}

/// Possible animals where the evidence is above `limit` and `taken` (coarse grid) is not set.
///
/// The proposals overlap: pieces, joined pieces and other ways through a heap are all given,
/// and it is for the rating of the shaped bodies to choose among them.
pub fn candidates(field: &Field, limit: f32, taken: &[bool]) -> Candidates {
    let u = field.coarse_unit();
    let mut out = Candidates::default();
    let mut pieces: Vec<Path> = Vec::new();
    let mut dots: Vec<Dot> = Vec::new();
    let blobs = blobs(field, limit, taken);
    let explained: Vec<(Vec<Path>, Vec<Path>)> =
        blobs.par_iter().map(|blob| explain(blob, u)).collect();
    for (blob, (paths, others)) in blobs.iter().zip(explained) {
        if paths.is_empty() {
            out.shapeless.push(fine_box(blob, field));
            dots.push(Dot::of(blob, field));
        }
        pieces.extend(paths.iter().map(|p| to_fine(p, blob, field)));
        out.rough
            .extend(others.iter().map(|p| to_fine(p, blob, field)));
    }
    out.rough.extend(joints(&pieces, field.unit));
    out.rough.extend(tipped(&pieces, &dots, field.unit));
    out.rough.extend(pieces);
    out
}

/// Blobs of evidence above `limit` outside `taken` that are large enough for a piece of an animal.
pub(super) fn blobs(field: &Field, limit: f32, taken: &[bool]) -> Vec<Blob> {
    let u = field.coarse_unit();
    let opened = field.evidence.open(((0.13 * u).round() as usize).max(1));
    let mut mask = Mask::above(&opened, limit);
    for (bit, taken) in mask.bits.iter_mut().zip(taken) {
        *bit &= u8::from(!taken);
    }
    let mut blobs = mask.filled((1.5 * u * u) as usize).blobs();
    blobs.retain(|b| b.area as f32 >= 0.4 * u * u);
    blobs
}

/// The skeleton of a blob without spurs.
fn spine(blob: &Blob, u: f32) -> Skeleton {
    skeleton(&thin(&blob.mask)).pruned(0.9 * u)
}

/// Mean width of all clear blobs, area over skeleton length, in body units; 0 without blobs.
pub fn mean_width(field: &Field) -> f32 {
    let u = field.coarse_unit();
    let (mut area, mut ridge) = (0.0f32, 0.0f32);
    let blobs = blobs(field, CLEAR, &[]);
    let ridges: Vec<f32> = blobs
        .par_iter()
        .map(|blob| spine(blob, u).links.iter().map(|l| l.length).sum::<f32>() + u)
        .collect();
    for (blob, length) in blobs.iter().zip(ridges) {
        area += blob.area as f32;
        ridge += length;
    }
    if ridge > 0.0 { area / ridge / u } else { 0.0 }
}

pub(super) fn to_fine(path: &[[f32; 2]], blob: &Blob, field: &Field) -> Vec<[f32; 2]> {
    path.iter()
        .map(|p| field.fine_of_coarse([p[0] + blob.origin[0] as f32, p[1] + blob.origin[1] as f32]))
        .collect()
}

fn fine_box(blob: &Blob, field: &Field) -> [f32; 4] {
    let s = field.coarse_step as f32;
    [
        (blob.origin[0] + 1) as f32 * s,
        (blob.origin[1] + 1) as f32 * s,
        (blob.mask.width - 2) as f32 * s,
        (blob.mask.height - 2) as f32 * s,
    ]
}

/// Paths in the blob's own pixels that together explain it, and the best of the others.
pub(super) fn explain(blob: &Blob, u: f32) -> (Vec<Path>, Vec<Path>) {
    let depth = blob.mask.depth();
    let graph = spine(blob, u);
    // A chain of animals end to end has one long path that is then split; a heap has too many ways through it for that.
    let longest = if graph.nodes.len() <= SIMPLE_NODES {
        3.0 * LONGEST
    } else {
        LONGEST
    };
    let mut paths: Vec<Path> = graph
        .paths(longest * u, PATHS_A_NODE)
        .into_iter()
        .filter(|p| path_length(p) >= SHORTEST * u)
        .collect();
    let halves: Vec<Vec<[f32; 2]>> = paths
        .iter()
        .filter(|p| path_length(p) > 10.0 * u)
        .flat_map(|p| split_at_waists(p, &depth, u))
        .collect();
    paths.extend(halves);
    paths.retain(|p| (SHORTEST * u..=LONGEST * u).contains(&path_length(p)));
    let mut seen = vec![0; depth.values.len()];
    let mut swept: Vec<Swept> = (1..)
        .zip(paths)
        .map(|(number, path)| Swept::new(path, &depth, u, (&mut seen, number)))
        .collect();
    swept.sort_by(|p, q| q.most.total_cmp(&p.most));
    swept.truncate(MOST_PATHS.max((PATHS_AN_ANIMAL * blob.area as f32 / (6.4 * u * u)) as usize));
    let mut taken = vec![false; blob.mask.bits.len()];
    let mut chosen = Vec::new();
    while let Some((gain, k)) = best_of(&mut swept, &taken) {
        if gain
            < if chosen.is_empty() {
                0.3 * u * u
            } else {
                1.2 * u * u
            }
        {
            break;
        }
        let best = swept.swap_remove(k);
        for i in best.pixels {
            taken[i] = true;
        }
        chosen.push(best.path);
    }
    let several = chosen.len() > 1 || blob.area as f32 > 9.0 * u * u;
    let others = if several { OTHERS * chosen.len() } else { 0 };
    let mut out: Vec<Path> = swept.into_iter().take(others).map(|s| s.path).collect();
    for path in chosen.iter().chain(&out.clone()) {
        let trimmed = without_thin_ends(path, &depth, u);
        out.extend(trimmed.filter(|t| !chosen.iter().chain(&out).any(|p| alike(p, t, u))));
    }
    (chosen, out)
}

/// Ends this near are the same end, body units.
const SAME_END: f32 = 0.3;

/// True for two paths between the same ends and of one length.
fn alike(p: &Path, q: &Path, u: f32) -> bool {
    let ends = |path: &Path| [path[0], path[path.len() - 1]];
    let ([a, b], [c, d]) = (ends(p), ends(q));
    let apart = (distance(a, c) + distance(b, d)).min(distance(a, d) + distance(b, c));
    apart < 2.0 * SAME_END * u && (path_length(p) - path_length(q)).abs() < SAME_END * u
}

/// Half-width below which an end of a path lies along a feeler or a leg, body units (bodies are 0.5 to 0.7; 0.25 and 0.35
/// do as well on the rendered scenes)...
const THIN: f32 = 0.35;
/// ...and for how long a path must be thicker to be in a body.
const THICK_FOR: f32 = 0.5;
/// Ends thinner than that and shorter than this are left: a rostrum and a tail fan from the side are thin too.
const SHORT_END: f32 = 0.5;

/// The path without the ends that lie along feelers and legs; none where it has no such ends or little else.
fn without_thin_ends(path: &[[f32; 2]], depth: &Plane, u: f32) -> Option<Path> {
    let even = resampled(path, 1.0);
    let thick: Vec<bool> = even
        .iter()
        .map(|p| depth.sample(p[0], p[1]) >= THIN * u)
        .collect();
    let span = (THICK_FOR * u) as usize;
    let first = thick.windows(span).position(|w| w.iter().all(|t| *t))?;
    let end = thick.windows(span).rposition(|w| w.iter().all(|t| *t))? + span;
    let short = (SHORT_END * u) as usize;
    let trimmed = first >= short || even.len() - end >= short;
    (trimmed && end > first + (2.0 * u) as usize).then(|| even[first..end].to_vec())
}

/// Other ways through a heap that are given for each chosen one.
const OTHERS: usize = 3;

/// Paths of one blob that are weighed against each other, at most, or this many for each animal its area may hold.
const MOST_PATHS: usize = 120;
/// See [`MOST_PATHS`].
const PATHS_AN_ANIMAL: f32 = 40.0;
/// Paths followed from each node of a skeleton, at most.
const PATHS_A_NODE: usize = 50;
/// Skeletons of up to this many nodes are followed over several body lengths.
const SIMPLE_NODES: usize = 8;

/// Both parts of a path cut at each waist: a local minimum of depth at least two body units from either end.
fn split_at_waists(path: &[[f32; 2]], depth: &Plane, u: f32) -> Vec<Vec<[f32; 2]>> {
    let even = resampled(path, 1.0);
    let deep: Vec<f32> = even.iter().map(|p| depth.sample(p[0], p[1])).collect();
    let reach = u as usize;
    let margin = (2.0 * u) as usize;
    let mut out = Vec::new();
    for k in margin..even.len().saturating_sub(margin) {
        let around = &deep[k - reach..=(k + reach).min(deep.len() - 1)];
        let lowest = around.iter().copied().fold(f32::INFINITY, f32::min);
        if deep[k] <= lowest && deep[k - 1] > deep[k] {
            out.push(even[..=k].to_vec());
            out.push(even[k..].to_vec());
        }
    }
    out
}

/// A path with the pixels it would explain.
struct Swept {
    path: Vec<[f32; 2]>,
    /// Blob pixels within the depth of the path (at most a body's half-width).
    pixels: Vec<usize>,
    /// How animal-like its length and bends are, 0..=1.
    likeness: f32,
    /// The gain when it was last worked out: later it is no larger.
    most: f32,
}

impl Swept {
    /// The path with what it would explain; `seen` holds for each pixel the number of the last path that swept it.
    fn new(path: Path, depth: &Plane, u: f32, seen: (&mut [u32], u32)) -> Self {
        let length = path_length(&path) / u;
        let usual = (-0.5 * ((length / USUAL_LENGTH).ln() / LENGTH_SPREAD).powi(2)).exp();
        let likeness = (0.15 + 0.85 * usual) * straightness(&path, u);
        let pixels = sweep(&path, depth, u, seen);
        let mut swept = Self {
            path,
            pixels,
            likeness,
            most: 0.0,
        };
        swept.most = swept.gain(swept.pixels.len());
        swept
    }

    /// What is gained by so many fresh pixels: their count, weighted by its share of the whole and by likeness.
    fn gain(&self, fresh: usize) -> f32 {
        let fresh = fresh as f32;
        fresh * fresh / self.pixels.len().max(1) as f32 * self.likeness
    }

    /// Works out the gain anew where some pixels are taken.
    fn weigh(&mut self, taken: &[bool]) -> f32 {
        let fresh = self.pixels.iter().filter(|&&i| !taken[i]).count();
        self.most = self.gain(fresh);
        self.most
    }
}

/// The largest gain and its path, the first of equals.
fn best_of(paths: &mut [Swept], taken: &[bool]) -> Option<(f32, usize)> {
    let mut best: Option<(f32, usize)> = None;
    for (k, path) in paths.iter_mut().enumerate() {
        // What could not win with all that it gained before is not weighed again.
        if best.is_some_and(|b| path.most <= b.0) {
            continue;
        }
        let gain = path.weigh(taken);
        if best.is_none_or(|b| gain > b.0) {
            best = Some((gain, k));
        }
    }
    best
}

/// Blob pixels within the depth of the path, each once.
fn sweep(
    path: &[[f32; 2]],
    depth: &Plane,
    u: f32,
    (seen, number): (&mut [u32], u32),
) -> Vec<usize> {
    let (w, h) = (depth.width as i32, depth.height as i32);
    let mut out = Vec::new();
    for p in resampled(path, 0.3 * u) {
        let r = (depth.sample(p[0], p[1]) + 0.25 * u).min(0.8 * u);
        let ri = r.ceil() as i32;
        let columns = (p[0] as i32 - ri).max(0)..(p[0] as i32 + ri).min(w - 1) + 1;
        for y in (p[1] as i32 - ri).max(0)..=(p[1] as i32 + ri).min(h - 1) {
            for x in columns.clone() {
                let i = (y * w + x) as usize;
                let fresh = seen[i] != number && depth.values[i] > 0.0;
                if fresh && hypot(x as f32 - p[0], y as f32 - p[1]) <= r {
                    seen[i] = number;
                    out.push(i);
                }
            }
        }
    }
    out
}

/// The length of a step of `x` and `y`, rounded once.
fn hypot(x: f32, y: f32) -> f32 {
    let (x, y) = (f64::from(x), f64::from(y));
    (x * x + y * y).sqrt() as f32
}

/// 1 for gentle bends, falling to 0 where the path turns by much more than a curled animal does within 1.5 units.
fn straightness(path: &[[f32; 2]], u: f32) -> f32 {
    let even = resampled(path, u / 4.0);
    let smooth = if even.len() > 6 {
        smoothed(&even, 1.5)
    } else {
        even
    };
    let reach = 4;
    let turn = (reach..smooth.len().saturating_sub(reach))
        .map(|k| {
            let (p, q, r) = (smooth[k - reach], smooth[k], smooth[k + reach]);
            let (a, b) = ([q[0] - p[0], q[1] - p[1]], [r[0] - q[0], r[1] - q[1]]);
            (a[0] * b[1] - a[1] * b[0])
                .atan2(a[0] * b[0] + a[1] * b[1])
                .abs()
                .to_degrees()
        })
        .fold(0.0, f32::max);
    (-((turn - 55.0).max(0.0) / 30.0).powi(2)).exp()
}
