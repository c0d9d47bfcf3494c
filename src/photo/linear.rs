//! Linear-light pictures: planar `f32`, sRGB primaries, D65, not clipped (wide-gamut reds may leave 0..=1).

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
}
