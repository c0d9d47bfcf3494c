//! Linear-light pictures: planar `f32`, sRGB primaries, D65, not clipped (wide-gamut reds may leave 0..=1).

use crate::plane::Plane;

/// An upright picture in linear light, one plane a channel, row by row from the top left.
#[derive(Debug, Clone)]
pub struct LinearImage {
    /// Width in pixels.
    pub width: usize,
    /// Height in pixels.
    pub height: usize,
    /// Red, green, blue planes, each `width * height` long.
    pub planes: [Vec<f32>; 3],
}

impl LinearImage {
    /// A black picture of the given size.
    pub fn new(width: usize, height: usize) -> Self {
        Self {
            width,
            height,
            planes: std::array::from_fn(|_| vec![0.0; width * height]),
        }
    }

    /// Mean over blocks of `step` x `step` from the top left; part blocks at the far edges are means over what is there.
    pub fn reduced(&self, step: usize) -> Self {
        let planes = self
            .planes
            .each_ref()
            .map(|plane| Plane::reduced_from(plane, self.width, step).values);
        Self {
            width: self.width.div_ceil(step),
            height: self.height.div_ceil(step),
            planes,
        }
    }
}
