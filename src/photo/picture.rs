//! A picture in linear light that is read row by row: from planes, or from the photo's own bytes where each of its pixels is
//! one of theirs, so that nothing is kept beside them.

use std::ops::Range;
use std::sync::Arc;

use rayon::prelude::*;

use super::linear::LinearImage;
use super::orientation::Orientation;
use super::reduce::{self, Stored};
use crate::plane::Plane;

/// An upright picture in linear light.
#[derive(Debug)]
pub struct Picture {
    /// Width in pixels.
    pub width: usize,
    /// Height in pixels.
    pub height: usize,
    source: Source,
}

/// Where the light is read from.
#[derive(Debug)]
enum Source {
    /// Red, green, blue planes.
    Planes([Vec<f32>; 3]),
    Bytes(Lookup),
}

/// Stored bytes and how to read them.
#[derive(Debug)]
struct Lookup {
    bytes: Arc<Vec<u8>>,
    stored_width: usize,
    orientation: Orientation,
    /// Linear light of each byte by channel, as [`reduce::reduce`] has it.
    light: Box<[[f32; 256]; 3]>,
    matrix: Option<[[f32; 3]; 3]>,
}

impl From<LinearImage> for Picture {
    fn from(image: LinearImage) -> Self {
        Self {
            width: image.width,
            height: image.height,
            source: Source::Planes(image.planes),
        }
    }
}

impl Picture {
    /// The picture with a pixel for each one that is stored in `bytes`, of which `stored` tells the rest.
    pub(super) fn of_bytes(bytes: Arc<Vec<u8>>, stored: Stored<'_>) -> Self {
        let (width, height) = stored
            .orientation
            .upright_size(stored.size.0, stored.size.1);
        Self {
            width,
            height,
            source: Source::Bytes(Lookup {
                bytes,
                stored_width: stored.size.0,
                orientation: stored.orientation,
                light: Box::new(reduce::light_of_bytes(stored.to_linear)),
                matrix: stored.to_linear.matrix,
            }),
        }
    }

    /// Red, green, blue light of a pixel.
    pub fn at(&self, x: usize, y: usize) -> [f32; 3] {
        match &self.source {
            Source::Planes(planes) => planes.each_ref().map(|plane| plane[y * self.width + x]),
            Source::Bytes(lookup) => {
                let (x, y) = lookup
                    .orientation
                    .stored_of(x, y, (self.width, self.height));
                lookup.at(y * lookup.stored_width + x)
            }
        }
    }

    /// Red, green, blue light of the pixels of row `y` in these columns; `room` may be needed for them.
    pub fn row<'a>(
        &'a self,
        y: usize,
        columns: Range<usize>,
        room: &'a mut [Vec<f32>; 3],
    ) -> [&'a [f32]; 3] {
        match &self.source {
            Source::Planes(planes) => planes
                .each_ref()
                .map(|plane| &plane[y * self.width..][columns.clone()]),
            Source::Bytes(lookup) => {
                let (start, step) = reduce::line(
                    lookup.orientation,
                    lookup.stored_width,
                    y,
                    (self.width, self.height),
                );
                room.iter_mut()
                    .for_each(|row| row.resize(columns.len(), 0.0));
                let [r, g, b] = &mut *room;
                let places = columns.map(|x| (start + x as isize * step) as usize);
                for (((r, g), b), at) in r.iter_mut().zip(g).zip(b).zip(places) {
                    [*r, *g, *b] = lookup.at(at);
                }
                room.each_ref().map(Vec::as_slice)
            }
        }
    }

    /// Mean over blocks of `step` x `step` from the top left; part blocks at the far edges are means over what is there.
    pub fn reduced(&self, step: usize) -> LinearImage {
        let (width, height) = (self.width.div_ceil(step), self.height.div_ceil(step));
        if let Source::Planes(planes) = &self.source {
            let of = |plane: &Vec<f32>| Plane::reduced_from(plane, self.width, step).values;
            let planes = planes.each_ref().map(of);
            return LinearImage {
                width,
                height,
                planes,
            };
        }
        let mut image = LinearImage::new(width, height);
        let [red, green, blue] = &mut image.planes;
        let rows = (red.par_chunks_exact_mut(width))
            .zip(green.par_chunks_exact_mut(width))
            .zip(blue.par_chunks_exact_mut(width));
        rows.enumerate().for_each_init(
            || (<[Vec<f32>; 3]>::default(), <[Vec<f32>; 3]>::default()),
            |(room, block), (k, ((r, g), b))| {
                block.iter_mut().for_each(Vec::clear);
                for y in k * step..((k + 1) * step).min(self.height) {
                    let row = self.row(y, 0..self.width, room);
                    for (block, row) in block.iter_mut().zip(row) {
                        block.extend_from_slice(row);
                    }
                }
                for (out, block) in [r, g, b].into_iter().zip(&*block) {
                    let mean = Plane::reduced_from(block, self.width, step);
                    out.copy_from_slice(&mean.values);
                }
            },
        );
        image
    }
}

impl Lookup {
    /// Light of the pixel at a place of the stored picture.
    #[inline]
    fn at(&self, place: usize) -> [f32; 3] {
        let bytes = &self.bytes[3 * place..3 * place + 3];
        let light = [0, 1, 2].map(|c| self.light[c][usize::from(bytes[c])]);
        reduce::in_srgb(self.matrix.as_ref(), light)
    }
}

#[cfg(test)]
mod tests {
    use super::super::profile::ToLinear;
    use super::*;

    /// Six by four pixels of changing bytes.
    fn bytes() -> Vec<u8> {
        (0..72u32).map(|i| (i * 37 % 256) as u8).collect()
    }

    #[test]
    fn bytes_give_the_light_of_the_planes_whichever_way_is_up() {
        let swap = [[0.9, 0.2, -0.1], [0.0, 1.0, 0.0], [0.1, 0.0, 0.9]];
        for (exif, matrix) in (1..=8).flat_map(|exif| [(exif, None), (exif, Some(swap))]) {
            let to_linear = ToLinear {
                matrix,
                ..ToLinear::srgb()
            };
            let kept = Arc::new(bytes());
            let stored = Stored {
                bytes: &kept,
                size: (6, 4),
                orientation: Orientation::from_exif(exif),
                to_linear: &to_linear,
            };
            let planes = Picture::from(reduce::reduce(stored, 1).0);
            let looked_up = Picture::of_bytes(Arc::clone(&kept), stored);
            let (w, h) = (planes.width, planes.height);
            assert_eq!((looked_up.width, looked_up.height), (w, h));
            let mut room = <[Vec<f32>; 3]>::default();
            let mut other = <[Vec<f32>; 3]>::default();
            for y in 0..h {
                let row = planes.row(y, 1..w, &mut room);
                assert_eq!(looked_up.row(y, 1..w, &mut other), row, "{exif} {y}");
                assert_eq!(looked_up.at(1, y), row.map(|channel| channel[0]));
            }
            for step in [2, 3] {
                let means = planes.reduced(step).planes;
                assert_eq!(looked_up.reduced(step).planes, means, "{exif} {step}");
            }
        }
    }
}
