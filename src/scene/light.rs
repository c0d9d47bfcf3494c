//! The light field: what the ground would show at each pixel without animals, and the photo as a ratio to it.

use crate::photo::LinearImage;
use crate::plane::Plane;

/// A photo flattened by its own ground: linear light as a ratio to the floor (floor = 1, 1, 1).
#[derive(Debug, Clone)]
pub struct FlatPicture {
    /// Red, green, blue ratio to the floor, not clipped.
    pub ratio: [Plane; 3],
    /// The floor itself in linear light, on a grid `floor_step` times coarser.
    pub floor: [Plane; 3],
    /// Pixels of `ratio` to one pixel of `floor`.
    pub floor_step: usize,
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
pub fn flatten(picture: &LinearImage, searched: &[u8], body_width: f32) -> FlatPicture {
    let step = ((body_width / 5.0).round() as usize).clamp(1, 8);
    let inside = mask_plane(picture, searched).reduced(step);
    let disc = |widths: f32| ((widths * body_width / step as f32 / 2.0).round() as usize).max(1);
    let (bright, dark) = (disc(BRIGHT_WIDTHS), disc(DARK_WIDTHS));
    let floor: [Plane; 3] = std::array::from_fn(|k| {
        let plane = channel(picture, k).reduced(step);
        let filled = fill_outside(&plane, &inside, dark);
        let opened = filled.median3().disc_min(bright).disc_max(bright);
        let closed = opened.disc_max(dark).disc_min(dark);
        closed.smooth(1)
    });
    let ratio = std::array::from_fn(|k| {
        let wide = floor[k].enlarged(step, picture.width, picture.height);
        channel(picture, k).zip(&wide, |v, f| v / f.max(1e-4))
    });
    FlatPicture { ratio, floor, floor_step: step }
}

fn channel(picture: &LinearImage, k: usize) -> Plane {
    Plane { width: picture.width, height: picture.height, values: picture.planes[k].clone() }
}

fn mask_plane(picture: &LinearImage, searched: &[u8]) -> Plane {
    let values = searched.iter().map(|&m| f32::from(m.min(1))).collect();
    Plane { width: picture.width, height: picture.height, values }
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
    pub fn at_finer(&self, picture: &LinearImage, times: usize) -> FlatPicture {
        let step = self.floor_step * times;
        let ratio = std::array::from_fn(|k| {
            let wide = self.floor[k].enlarged(step, picture.width, picture.height);
            channel(picture, k).zip(&wide, |v, f| v / f.max(1e-4))
        });
        FlatPicture { ratio, floor: self.floor.clone(), floor_step: step }
    }
}
