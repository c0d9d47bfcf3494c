//! The light field: what the ground would show at each pixel without animals, and the photo as a ratio to it.

use crate::photo::LinearImage;
use crate::plane::{Enlarging, Plane};
use rayon::prelude::*;

/// A photo flattened by its own ground: linear light as a ratio to the floor (floor = 1, 1, 1).
#[derive(Debug, Clone)]
pub struct FlatPicture {
    /// Red, green, blue ratio to the floor, not clipped.
    pub ratio: [Plane; 3],
    /// The floor itself in linear light, on a grid `floor_step` times coarser.
    pub floor: [Plane; 3],
    /// Pixels of `ratio` to one pixel of `floor`.
    pub floor_step: usize,
    /// On dark ground `ratio` is relative to this white, linear light; on white ground it is `None`.
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
/// `ratio` is relative to the brightest part of the searched area, taken for white.
pub fn flatten(picture: &LinearImage, searched: &[u8], body_width: f32, dark: bool) -> FlatPicture {
    let step = ((body_width / 5.0).round() as usize).clamp(1, 8);
    let inside = mask_plane(picture, searched).reduced(step);
    let disc = |widths: f32| ((widths * body_width / step as f32 / 2.0).round() as usize).max(1);
    let (bright, wide) = (disc(BRIGHT_WIDTHS), disc(DARK_WIDTHS));
    let floor: [Plane; 3] = std::array::from_fn(|k| {
        let plane = Plane::reduced_from(&picture.planes[k], picture.width, step);
        let filled = fill_outside(&plane, &inside, wide);
        let sign = if dark { -1.0 } else { 1.0 };
        let upright = filled.map(|v| sign * v).median3();
        let opened = upright.disc_min(bright).disc_max(bright);
        let closed = opened.disc_max(wide).disc_min(wide);
        closed.smooth(1).map(|v| sign * v)
    });
    let white = dark.then(|| brightest(picture, searched));
    FlatPicture {
        ratio: ratios(
            std::array::from_fn(|k| channel(picture, k)),
            &floor,
            step,
            white,
        ),
        floor,
        floor_step: step,
        white,
    }
}

/// The planes as ratios to the floor, in their own memory.
fn ratios(planes: [Plane; 3], floor: &[Plane; 3], step: usize, white: Option<f32>) -> [Plane; 3] {
    if let Some(white) = white {
        return planes.map(|plane| plane.mapped(|v| v / white));
    }
    let width = planes[0].width;
    let enlarging = Enlarging::new(floor[0].width, floor[0].height, step, width);
    let mut planes = planes;
    for (plane, floor) in planes.iter_mut().zip(floor) {
        plane
            .values
            .par_chunks_mut(width * ROWS)
            .enumerate()
            .for_each(|(part, rows)| {
                let (mut mixed, mut wide) = (Vec::new(), vec![0.0; width]);
                for (k, row) in rows.chunks_mut(width).enumerate() {
                    enlarging.row(floor, part * ROWS + k, &mut mixed, &mut wide);
                    row.iter_mut()
                        .zip(&wide)
                        .for_each(|(v, f)| *v /= f.max(1e-4));
                }
            });
    }
    planes
}

/// Rows that one task takes.
const ROWS: usize = 32;

/// Share of the searched pixels that are darker than what is taken for white on dark ground.
const WHITE_SHARE: f32 = 0.998;

/// Green (nearest to luminance) of the brightest searched pixels, at least a tenth of full scale.
fn brightest(picture: &LinearImage, searched: &[u8]) -> f32 {
    let mut v: Vec<f32> = picture.planes[1]
        .iter()
        .zip(searched)
        .filter(|(_, m)| **m > 0)
        .map(|(v, _)| *v)
        .collect();
    if v.is_empty() {
        return 1.0;
    }
    let k = ((v.len() - 1) as f32 * WHITE_SHARE) as usize;
    v.select_nth_unstable_by(k, f32::total_cmp).1.max(0.1)
}

fn channel(picture: &LinearImage, k: usize) -> Plane {
    Plane {
        width: picture.width,
        height: picture.height,
        values: picture.planes[k].clone(),
    }
}

fn mask_plane(picture: &LinearImage, searched: &[u8]) -> Plane {
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

impl FlatPicture {
    /// The same floor under a picture `times` finer than the one it was found in.
    pub fn at_finer(&self, picture: LinearImage, times: usize) -> FlatPicture {
        let step = self.floor_step * times;
        let (width, height) = (picture.width, picture.height);
        let planes = picture.planes.map(|values| Plane {
            width,
            height,
            values,
        });
        let ratio = ratios(planes, &self.floor, step, self.white);
        FlatPicture {
            ratio,
            floor: self.floor.clone(),
            floor_step: step,
            white: self.white,
        }
    }
}
