//! Rings around the animals to be picked out.

use std::f32::consts::TAU;

use super::canvas::{Canvas, Stroke};
use super::overlay::{BLACK, Sizes, WHITE};
use crate::scoop::Scoop;

/// Corners of a drawn ring.
const CORNERS: usize = 72;

/// Rings the animals of these numbers, a black line within a white one, so that it is seen on any ground.
pub(super) fn draw(canvas: &mut Canvas, scoop: &Scoop, numbers: &[u32], sizes: Sizes) {
    let ringed = scoop
        .animals
        .iter()
        .filter(|a| numbers.contains(&a.measures.no));
    for animal in ringed {
        let [x, y, w, h] = animal.measures.bbox.map(|v| v as f32 * sizes.scale);
        let radius = 0.5 * w.hypot(h) + sizes.text * 0.6;
        let ring: Vec<[f32; 2]> = (0..CORNERS)
            .map(|i| {
                let (sine, cosine) = (i as f32 / CORNERS as f32 * TAU).sin_cos();
                [x + w / 2.0 + radius * cosine, y + h / 2.0 + radius * sine]
            })
            .collect();
        for (ink, wide) in [(WHITE, 5.0), (BLACK, 2.5)] {
            let stroke = Stroke {
                ink,
                width: sizes.line * wide,
                opacity: 1.0,
                dash: None,
            };
            canvas.line(&ring, true, stroke);
        }
    }
}
