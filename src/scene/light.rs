//! The light field: what the ground would show at each pixel without animals, and the photo as a ratio to it.

use crate::lanes::widest;
use crate::photo::Picture;
use crate::plane::{Enlarging, Plane};
use std::ops::Range;
use std::sync::Arc;

/// A photo flattened by its own ground: linear light as a ratio to the floor (floor = 1, 1, 1).
#[derive(Debug, Clone)]
pub struct FlatPicture {
    /// The picture in linear light.
    picture: Arc<Picture>,
    /// The floor itself in linear light, on a grid `floor_step` times coarser.
    pub floor: [Plane; 3],
    /// Pixels of the picture to one pixel of `floor`.
    pub floor_step: usize,
    /// On dark ground ratios are relative to this white, linear light; on white ground it is `None`.
    pub white: Option<f32>,
}

/// Structures brighter than the ground and narrower than this many body widths are not ground (glare, foam).
/// Measured on the rendered scenes: larger values take over lamp reflections, smaller ones leave drops standing.
const BRIGHT_WIDTHS: f32 = 0.35;
/// Structures darker than the ground and narrower than this many body widths are not ground (animals).
/// Curled animals lie beside themselves, so this is more than two widths (measured on the rendered scenes).
const DARK_WIDTHS: f32 = 2.4;

/// The picture as a ratio to its floor.
///
/// The floor is a grey opening then closing of each channel at a coarse grid: it keeps hard edges of lamp light
/// and shadow, which a smooth surface fitted to the ground would smear.
/// `searched` is 1 where ground and animals may be, on the picture's own grid; elsewhere the floor is continued.
/// `body_width` is the expected width of an adult body in pixels of the picture.
///
/// On dark ground (`dark`) bodies are brighter than the ground: the floor is found with light and dark swapped, and
/// ratios are relative to the brightest part of the searched area, taken for white.
pub fn flatten(
    picture: &Arc<Picture>,
    searched: &[u8],
    body_width: f32,
    dark: bool,
) -> FlatPicture {
    let step = ((body_width / 5.0).round() as usize).clamp(1, 8);
    let inside = mask_plane(picture, searched).reduced(step);
    let disc = |widths: f32| ((widths * body_width / step as f32 / 2.0).round() as usize).max(1);
    let (bright, wide) = (disc(BRIGHT_WIDTHS), disc(DARK_WIDTHS));
    let coarse = picture.reduced(step);
    let floor_of = |k: usize| {
        let plane = Plane {
            width: coarse.width,
            height: coarse.height,
            values: coarse.planes[k].clone(),
        };
        let filled = fill_outside(&plane, &inside, wide);
        let sign = if dark { -1.0 } else { 1.0 };
        let upright = filled.map(|v| sign * v).median3();
        let opened = upright.disc_min(bright).disc_max(bright);
        let closed = opened.disc_max(wide).disc_min(wide);
        closed.smooth(1).map(|v| sign * v)
    };
    let (red, (green, blue)) = rayon::join(
        || floor_of(0),
        || rayon::join(|| floor_of(1), || floor_of(2)),
    );
    let white = dark.then(|| brightest(picture, searched));
    FlatPicture {
        picture: Arc::clone(picture),
        floor: [red, green, blue],
        floor_step: step,
        white,
    }
}

/// Share of the searched pixels that are darker than what is taken for white on dark ground.
const WHITE_SHARE: f32 = 0.998;

/// Green (nearest to luminance) of the brightest searched pixels, at least a tenth of full scale.
fn brightest(picture: &Picture, searched: &[u8]) -> f32 {
    let mut v: Vec<f32> = Vec::new();
    let mut room = Default::default();
    for (y, searched) in searched.chunks_exact(picture.width).enumerate() {
        let [_, green, _] = picture.row(y, 0..picture.width, &mut room);
        let inside = green.iter().zip(searched).filter(|(_, m)| **m > 0);
        v.extend(inside.map(|(v, _)| v));
    }
    if v.is_empty() {
        return 1.0;
    }
    let k = ((v.len() - 1) as f32 * WHITE_SHARE) as usize;
    v.select_nth_unstable_by(k, f32::total_cmp).1.max(0.1)
}

fn mask_plane(picture: &Picture, searched: &[u8]) -> Plane {
    let values = searched.iter().map(|&m| f32::from(m.min(1))).collect();
    Plane {
        width: picture.width,
        height: picture.height,
        values,
    }
}

/// Values outside the searched area replaced by the mean of the searched ones nearby.
fn fill_outside(plane: &Plane, inside: &Plane, reach: usize) -> Plane {
    let weight = inside.map(|m| if m > 0.99 { 1.0 } else { 0.0 });
    let mut out = plane.zip(&weight, |v, m| v * m);
    let mut known = weight;
    for r in [reach, 4 * reach, 4096] {
        if !known.values.contains(&0.0) {
            break;
        }
        let (sum, count) = (out.box_mean(r), known.box_mean(r));
        for i in 0..out.values.len() {
            if known.values[i] == 0.0 && count.values[i] > 1e-5 {
                out.values[i] = sum.values[i] / count.values[i];
                known.values[i] = 1.0;
            }
        }
    }
    out
}

/// Least light of a floor that is divided by.
const LEAST_FLOOR: f32 = 1e-4;

impl FlatPicture {
    /// The floor's light, a channel each, at a pixel of the picture (bilinear between the floor's coarser pixels).
    pub fn floor_at(&self, x: usize, y: usize) -> [f64; 3] {
        let place = |v: usize| (v as f32 + 0.5) / self.floor_step as f32 - 0.5;
        let [r, g, b] = &self.floor;
        Plane::sample_all([r, g, b], place(x), place(y)).map(f64::from)
    }

    /// Mean light of the three by three pixels about a pixel that is not at the picture's border, a channel each.
    pub fn light_about(&self, x: usize, y: usize) -> [f64; 3] {
        let mut sums = [0.0; 3];
        for (y, x) in (y - 1..=y + 1).flat_map(|y| (x - 1..=x + 1).map(move |x| (y, x))) {
            let light = self.picture.at(x, y);
            sums = std::array::from_fn(|c| sums[c] + f64::from(light[c]));
        }
        sums.map(|sum| sum / 9.0)
    }

    /// The same floor under a picture `times` finer than the one it was found in.
    pub fn at_finer(&self, picture: Arc<Picture>, times: usize) -> FlatPicture {
        FlatPicture {
            picture,
            floor: self.floor.clone(),
            floor_step: self.floor_step * times,
            white: self.white,
        }
    }

    /// Width of the picture in pixels.
    pub fn width(&self) -> usize {
        self.picture.width
    }

    /// Height of the picture in pixels.
    pub fn height(&self) -> usize {
        self.picture.height
    }

    /// Red, green, blue ratio to the floor at a pixel, not clipped.
    pub fn ratio_at(&self, x: usize, y: usize) -> [f32; 3] {
        let seen = self.picture.at(x, y);
        if let Some(white) = self.white {
            return seen.map(|v| v / white);
        }
        let floor = Enlarging::values(self.floor.each_ref(), self.floor_step, x, y);
        std::array::from_fn(|c| seen[c] / floor[c].max(LEAST_FLOOR))
    }

    /// What rows are computed with, one for each thread.
    pub fn rows(&self) -> FlatRows<'_> {
        let floor = &self.floor[0];
        FlatRows {
            flat: self,
            enlarging: Enlarging::new(floor.width, floor.height, self.floor_step, self.width()),
            mixed: Vec::new(),
            floor: vec![0.0; self.width()],
            light: Default::default(),
        }
    }
}

/// Light over that of the floor.
#[inline(always)]
fn divide((out, seen, floor): (&mut [f32], &[f32], &[f32])) {
    for (o, (v, f)) in out.iter_mut().zip(seen.iter().zip(floor)) {
        let f = if *f > LEAST_FLOOR { *f } else { LEAST_FLOOR };
        *o = v / f;
    }
}

/// Rows of a flattened picture one at a time.
#[derive(Debug)]
pub struct FlatRows<'a> {
    flat: &'a FlatPicture,
    enlarging: Enlarging,
    mixed: Vec<f32>,
    floor: Vec<f32>,
    light: [Vec<f32>; 3],
}

impl FlatRows<'_> {
    /// [`FlatPicture::ratio_at`] of the pixels of row `y` in these columns, a channel at a time.
    pub fn ratio(&mut self, y: usize, columns: Range<usize>, out: &mut [Vec<f32>; 3]) {
        let seen = self.flat.picture.row(y, columns.clone(), &mut self.light);
        for ((c, out), seen) in out.iter_mut().enumerate().zip(seen) {
            out.resize(columns.len(), 0.0);
            if let Some(white) = self.flat.white {
                out.iter_mut().zip(seen).for_each(|(o, v)| *o = v / white);
                continue;
            }
            let floor = &mut self.floor;
            self.enlarging
                .row(&self.flat.floor[c], y, &mut self.mixed, floor);
            widest((&mut out[..], seen, &floor[columns.clone()]), divide);
        }
    }

    /// The floor under row `y` over the white, a channel at a time.
    pub fn ground(&mut self, y: usize, out: &mut [Vec<f32>; 3]) {
        let white = self.flat.white.unwrap_or(1.0);
        for (floor, out) in self.flat.floor.iter().zip(out) {
            out.resize(self.flat.width(), 0.0);
            self.enlarging.row(floor, y, &mut self.mixed, out);
            out.iter_mut().for_each(|v| *v /= white);
        }
    }
}
