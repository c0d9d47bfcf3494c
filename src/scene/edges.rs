//! How wide the edges in a photo are, along outlines that are known: blur, and its direction where the phone was moved.

use crate::photo::Photo;
use crate::scene::grid::LUMINANCE;
use crate::units::Pixel;
use rayon::prelude::*;

/// Edge widths in full-size pixels. An edge as sharp as pixels allow is about one wide; a blur of a disc of radius r gives
/// about 1.6 r.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct EdgeWidths {
    /// Width of the sharper edges, over all directions.
    pub width_px: f64,
    /// Widest over narrowest direction, 1 and up; 1 where too few directions were seen.
    pub ratio: f64,
    /// Share of the things with burnt-out light on or beside them, 0..=1.
    pub burnt_share: f64,
}

/// Directions that are told apart, over half a turn.
pub(super) const DIRECTIONS: usize = 6;
/// Fewest edges of a direction that count, and in all.
const FEWEST_EACH: usize = 12;
const FEWEST: usize = 40;
/// The sharper edges' width is this quantile: clear parts have soft edges of their own.
const SHARPER: f32 = 0.25;
/// Pixels that are read at most, over all outlines.
const MOST_PIXELS: usize = 1_500_000;
/// Light that is burnt out (linear), and so many pixels of it that count, as a share of the border's own.
const BURNT: f32 = 0.97;
const LEAST_BURNT: f32 = 0.25;
/// Least step of an edge, as a share of the light beside it.
const LEAST_STEP: f32 = 0.08;

/// Widths of the edges along `outlines` (chains of border pixels) of things whose body unit is `unit` full-size pixels;
/// `None` where too few edges stand out.
///
/// The width of an edge is its whole step over its steepest slope, along the outline's normal.
pub fn edge_widths(photo: &Photo, outlines: &[&[Pixel]], unit: f32) -> Option<EdgeWidths> {
    let mut by_direction: Widths = Default::default();
    let (mut read, mut patches, mut burnt) = (0, 0, 0);
    // A few at once, since most often not all are needed.
    'all: for some in outlines.chunks(AT_ONCE) {
        let seen: Vec<Option<Seen>> = some
            .par_iter()
            .map(|outline| seen(photo, outline, unit))
            .collect();
        for seen in seen.into_iter().flatten() {
            read += seen.pixels;
            patches += 1;
            burnt += usize::from(seen.burnt);
            if read > MOST_PIXELS && by_direction.iter().map(Vec::len).sum::<usize>() >= FEWEST {
                break 'all;
            }
            for (all, widths) in by_direction.iter_mut().zip(seen.widths) {
                all.extend(widths);
            }
        }
    }
    let found = summary(&mut by_direction)?;
    Some(EdgeWidths {
        burnt_share: f64::from(burnt as u32) / f64::from((patches as u32).max(1)),
        ..found
    })
}

/// Outlines that are looked at together.
const AT_ONCE: usize = 4;

/// Edge widths by direction.
pub(super) type Widths = [Vec<f32>; DIRECTIONS];

/// What is seen of the edge of one thing.
struct Seen {
    /// Full-size pixels that were read.
    pixels: usize,
    burnt: bool,
    widths: Widths,
}

/// The edge along one outline; `None` where the photo shows too little of it.
fn seen(photo: &Photo, outline: &[Pixel], unit: f32) -> Option<Seen> {
    let patch = Patch::around(photo, outline, unit)?;
    let mut widths = Widths::default();
    widths_along(&patch, outline, unit, &mut widths);
    Some(Seen {
        pixels: patch.light.len() * (patch.step * patch.step) as usize,
        burnt: patch.burnt(outline.len()),
        widths,
    })
}

/// Width of the sharper edges and its ratio by direction; `None` where there are too few.
pub(super) fn summary(by_direction: &mut Widths) -> Option<EdgeWidths> {
    let mut all: Vec<f32> = by_direction.iter().flatten().copied().collect();
    if all.len() < FEWEST {
        return None;
    }
    let each: Vec<f32> = by_direction
        .iter_mut()
        .filter(|widths| widths.len() >= FEWEST_EACH)
        .map(|widths| quantile(widths, SHARPER))
        .collect();
    let (low, high) = each
        .iter()
        .fold((f32::INFINITY, 0.0f32), |(l, h), w| (l.min(*w), h.max(*w)));
    Some(EdgeWidths {
        width_px: f64::from(quantile(&mut all, SHARPER)),
        ratio: if each.len() > 1 {
            f64::from(high / low.max(0.5))
        } else {
            1.0
        },
        burnt_share: 0.0,
    })
}

fn quantile(values: &mut [f32], share: f32) -> f32 {
    let k = ((values.len() - 1) as f32 * share) as usize;
    *values.select_nth_unstable_by(k, f32::total_cmp).1
}

/// Luminance around one outline, in the finest picture at hand.
struct Patch {
    left: i32,
    top: i32,
    /// Full-size pixels to one of its own.
    step: i32,
    width: usize,
    height: usize,
    light: Vec<f32>,
}

impl Patch {
    fn around(photo: &Photo, outline: &[Pixel], unit: f32) -> Option<Self> {
        let margin = (1.2 * unit) as i32 + 2;
        let low = |c: usize| {
            outline
                .iter()
                .map(|p| p[c])
                .min()
                .map(|v| (v - margin).max(0))
        };
        let high = |c: usize| outline.iter().map(|p| p[c]).max().map(|v| v + margin);
        let (left, top) = (low(0)?, low(1)?);
        let size = [high(0)? - left, high(1)? - top].map(|v| v.max(0) as usize);
        let finest = photo.finest_step();
        let [width, height] = size.map(|v| v.div_ceil(finest));
        let (left, top) = (left / finest as i32, top / finest as i32);
        let (across, down) = (left as usize, top as usize);
        let (light, width) =
            photo.weighted_finest(across..across + width, down..down + height, LUMINANCE);
        let height = light.len() / width.max(1);
        (width > 2 && height > 2).then_some(Self {
            left,
            top,
            step: finest as i32,
            width,
            height,
            light,
        })
    }

    /// True where so much burnt-out light lies in the patch that part of a thing with that border may hide in it.
    fn burnt(&self, border: usize) -> bool {
        let burnt = self.light.iter().filter(|v| **v >= BURNT).count();
        (burnt as i32 * self.step) as f32 > LEAST_BURNT * border as f32
    }

    /// Bilinear light at a full-size position, clamped to the patch.
    fn at(&self, x: f32, y: f32) -> f32 {
        let own = |v: f32| (v + 0.5) / self.step as f32 - 0.5;
        let x = (own(x) - self.left as f32).clamp(0.0, self.width as f32 - 1.001);
        let y = (own(y) - self.top as f32).clamp(0.0, self.height as f32 - 1.001);
        let (i, j) = (x as usize, y as usize);
        let (fx, fy) = (x - i as f32, y - j as f32);
        let at = j * self.width + i;
        let row = |at: usize| self.light[at] * (1.0 - fx) + self.light[at + 1] * fx;
        row(at) * (1.0 - fy) + row(at + self.width) * fy
    }
}

/// Adds the width of the edge at every so many points of the outline to its direction's list.
fn widths_along(patch: &Patch, outline: &[Pixel], unit: f32, out: &mut Widths) {
    let n = outline.len();
    let reach = ((0.25 * unit) as usize).clamp(2, n / 4 + 2);
    let stride = ((0.12 * unit) as usize).max(1);
    for k in (0..n).step_by(stride) {
        let (a, b) = (outline[(k + n - reach % n) % n], outline[(k + reach) % n]);
        let (dx, dy) = ((b[0] - a[0]) as f32, (b[1] - a[1]) as f32);
        let length = dx.hypot(dy);
        if length < reach as f32 {
            continue; // A tip: its normal means nothing.
        }
        let normal = [dy / length, -dx / length];
        let at = [outline[k][0] as f32, outline[k][1] as f32];
        if let Some((width, direction)) = width_along(|x, y| patch.at(x, y), at, normal, unit) {
            out[direction].push(width);
        }
    }
}

/// Samples of a profile across an edge, each way of the outline.
const SAMPLES: usize = 24;

/// Width in pixels of the edge at `at` along `normal`, and the direction's place in the list; `None` where no edge stands
/// out. `light` gives the light at a position.
pub(super) fn width_along(
    light: impl Fn(f32, f32) -> f32,
    at: [f32; 2],
    normal: [f32; 2],
    unit: f32,
) -> Option<(f32, usize)> {
    let step = (unit / SAMPLES as f32).max(0.5);
    let profile: [f32; 2 * SAMPLES + 1] = std::array::from_fn(|i| {
        let t = (i as f32 - SAMPLES as f32) * step;
        light(at[0] + t * normal[0], at[1] + t * normal[1])
    });
    let turn = normal[1].atan2(normal[0]).rem_euclid(std::f32::consts::PI);
    let direction = (turn / std::f32::consts::PI * DIRECTIONS as f32) as usize % DIRECTIONS;
    Some((width_of(&profile, step)?, direction))
}

/// Width of the edge in the middle of a profile.
fn width_of(profile: &[f32; 2 * SAMPLES + 1], step: f32) -> Option<f32> {
    let near = (SAMPLES / 2).max(1);
    let slope = |i: usize| profile[i + 1] - profile[i - 1];
    let steepest = (SAMPLES - near..=SAMPLES + near)
        .max_by(|a, b| slope(*a).abs().total_cmp(&slope(*b).abs()))?;
    let rising = slope(steepest).signum();
    let climbs = |from: usize, to: usize| rising * (profile[to] - profile[from]) > 0.0;
    let mut low = steepest - 1;
    while low > 0 && climbs(low - 1, low) {
        low -= 1;
    }
    let mut high = steepest + 1;
    while high < 2 * SAMPLES && climbs(high, high + 1) {
        high += 1;
    }
    let whole = (profile[high] - profile[low]).abs();
    let beside = profile[high].max(profile[low]);
    (whole > LEAST_STEP * beside).then(|| whole / (slope(steepest).abs() / (2.0 * step)))
}
