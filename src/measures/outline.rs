//! Outlines of a body in full-size pixels.

use crate::animals::field::Field;
use crate::animals::find::Animal;
use crate::animals::raster::{Pixels, rasterise};
use crate::units::Pixel;
use imageproc::contours::{BorderType, find_contours};

/// The animal's pixels at full size, without those that other animals own.
pub fn full_pixels(animal: &Animal, field: &Field, width: usize, height: usize) -> Pixels {
    if field.step == 1 {
        return animal.pixels.clone();
    }
    let mut pixels = rasterise(&animal.body, &|p| field.full_of_fine(p), width, height);
    let step = field.step as i32;
    pixels.without(&|x, y| {
        animal.pixels.at(x / step, y / step) == 0 && !near(animal, x / step, y / step)
    });
    pixels
}

/// A full-size pixel at the rim may fall into a fine pixel just outside.
fn near(animal: &Animal, x: i32, y: i32) -> bool {
    (-1..=1).any(|dy| (-1..=1).any(|dx| animal.pixels.at(x + dx, y + dy) > 0))
}

/// Chain of border pixels of the outer edge, and of each hole of more than four pixels.
pub fn chains(pixels: &Pixels) -> (Vec<Pixel>, Vec<Vec<Pixel>>) {
    let picture =
        image::GrayImage::from_fn(pixels.width as u32 + 2, pixels.height as u32 + 2, |x, y| {
            let inside = pixels.at(
                x as i32 - 1 + pixels.origin[0],
                y as i32 - 1 + pixels.origin[1],
            ) > 0;
            image::Luma([if inside { 255 } else { 0 }])
        });
    let back =
        |p: &imageproc::point::Point<i32>| [p.x - 1 + pixels.origin[0], p.y - 1 + pixels.origin[1]];
    let mut outer: Vec<Pixel> = Vec::new();
    let mut holes = Vec::new();
    for contour in find_contours::<i32>(&picture) {
        let chain: Vec<Pixel> = contour.points.iter().map(back).collect();
        match contour.border_type {
            BorderType::Outer if chain.len() > outer.len() => outer = chain,
            BorderType::Hole if chain.len() > 8 => holes.push(chain),
            _ => {}
        }
    }
    (outer, holes)
}
