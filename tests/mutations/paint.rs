//! Pictures painted by strokes: eight bytes each, of which every value means something.

use super::draw::Draw;
use super::seeds;
use crate::picture::{Extras, png};

/// Bytes of a stroke: kind, place, size, colour.
const STROKE: usize = 8;
/// Most strokes of a picture.
const MOST_STROKES: usize = 60;

/// `strokes` with one added, changed or taken away.
pub fn strokes(draw: &mut Draw, strokes: &[u8], _others: &[Vec<u8>]) -> Vec<u8> {
    let mut changed = strokes.to_vec();
    if changed.is_empty() || (draw.once_in(2) && changed.len() < STROKE * MOST_STROKES) {
        changed.extend(draw.next().to_le_bytes());
    } else if draw.once_in(4) {
        let at = draw.below(changed.len() / STROKE) * STROKE;
        changed.drain(at..at + STROKE);
    } else {
        let at = draw.below(changed.len());
        changed[at] = draw.next() as u8;
    }
    changed
}

/// A picture being painted.
struct Canvas {
    width: usize,
    height: usize,
    pixels: Vec<[u8; 3]>,
}

impl Canvas {
    fn paint(&mut self, strokes: &[u8]) {
        for &[kind, x, y, w, h, r, g, b] in strokes.as_chunks::<STROKE>().0 {
            let at = [
                usize::from(x) * self.width / 256,
                usize::from(y) * self.height / 256,
            ];
            let half = [usize::from(w) / 6 + 1, usize::from(h) / 6 + 1];
            self.stroke(kind, at, half, [r, g, b]);
        }
    }

    /// An ellipse, a rectangle, grain, a slanted bar or a moved piece around `at`.
    fn stroke(&mut self, kind: u8, at: [usize; 2], half: [usize; 2], colour: [u8; 3]) {
        for y in at[1].saturating_sub(half[1])..(at[1] + half[1]).min(self.height) {
            for x in at[0].saturating_sub(half[0])..(at[0] + half[0]).min(self.width) {
                let u = (x as f64 - at[0] as f64) / half[0] as f64;
                let v = (y as f64 - at[1] as f64) / half[1] as f64;
                let index = y * self.width + x;
                let inside = match kind % 8 {
                    0..=3 => u * u + v * v < 1.0,
                    4 => true,
                    5 => (x * 7 + y * 13 + x * y).is_multiple_of(3),
                    6 => (u - v).abs() < 0.3,
                    _ => {
                        self.pixels[index] = self.pixels[(index * 31 + 17) % self.pixels.len()];
                        false
                    }
                };
                if inside {
                    self.pixels[index] = colour;
                }
            }
        }
    }

    fn file(&self) -> Vec<u8> {
        png(
            self.width,
            self.height,
            self.pixels.as_flattened(),
            &Extras::default(),
        )
    }
}

/// A tank's tag with strokes over it.
pub fn tag_photo(strokes: &[u8]) -> Vec<u8> {
    let (side, grey) = seeds::tag();
    let mut canvas = Canvas {
        width: side,
        height: side,
        pixels: grey.into_iter().map(|g| [g; 3]).collect(),
    };
    canvas.paint(strokes);
    canvas.file()
}

/// A white cup on a dark table with three animals of ours, and strokes over it.
pub fn cup_photo(strokes: &[u8]) -> Vec<u8> {
    let (width, height) = (360, 300);
    let mut canvas = Canvas {
        width,
        height,
        pixels: vec![[90, 80, 70]; width * height],
    };
    canvas.stroke(0, [180, 150], [140, 140], [150, 150, 150]);
    canvas.stroke(0, [180, 150], [130, 130], [225, 224, 222]);
    for (x, y, colour) in [
        (120, 120, [190, 40, 30]),
        (220, 150, [200, 170, 160]),
        (160, 210, [150, 30, 20]),
    ] {
        canvas.stroke(0, [x, y], [28, 6], colour);
    }
    canvas.paint(strokes);
    canvas.file()
}
