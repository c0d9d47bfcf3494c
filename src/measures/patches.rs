//! Clear windows and islands of colour on a body.

use crate::animals::blobs::Mask;
use crate::animals::find::Animal;

/// Islands smaller than this share of the body are speckle.
const LEAST_ISLAND: f64 = 0.004;

/// Largest connected clear area as a share of the body, and the count of separate covered islands.
pub fn patches(animal: &Animal, covered: &[(i32, i32)]) -> (f64, usize) {
    let p = &animal.pixels;
    let (w, h) = (p.width, p.height);
    let mut colour = Mask::empty(w, h);
    for (x, y) in covered {
        colour.bits[(y - p.origin[1]) as usize * w + (x - p.origin[0]) as usize] = 1;
    }
    let mut clear = p.mask();
    for (c, k) in clear.bits.iter_mut().zip(&colour.bits) {
        *c &= 1 - k;
    }
    let area = p.area().max(1) as f64;
    let window = clear.blobs().iter().map(|b| b.area).max().unwrap_or(0) as f64 / area;
    let islands = colour
        .blobs()
        .iter()
        .filter(|b| b.area as f64 >= LEAST_ISLAND * area)
        .count();
    (window, islands)
}
