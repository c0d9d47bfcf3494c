//! The pixels of one body as the measuring sees them.

use super::hue;
use crate::animals::field::Field;
use crate::animals::find::Animal;
use crate::colour;

/// A body pixel.
#[derive(Debug, Clone, Copy)]
pub struct Spot {
    /// Column in the fine picture.
    pub x: i32,
    /// Row in the fine picture.
    pub y: i32,
    /// 0 = head, 1 = middle, 2 = tail.
    pub third: u8,
    /// Linear light relative to the floor, stray light of the lens taken off.
    pub ratio: [f64; 3],
    /// CIELAB of `ratio`.
    pub lab: [f32; 3],
    /// Its chroma and hue in degrees.
    pub polar: (f64, f64),
    /// Pigment opacity, 0..=1.
    pub opacity: f64,
    /// The same without dark structures too thin for pigment (drab lines only).
    pub broad: f64,
    /// Opacity at least a half and of the line's hue.
    pub covered: bool,
    /// Neither covered nor clear can be said: under glare, or a saddle or eggs show.
    pub unread: bool,
    /// A saddle or eggs show here, of a colour that the line's pigment has not.
    pub roe: bool,
}

/// Light strayed in the lens and body of a phone, as a share of the floor's light (1 to 3 per cent, common practice, no source;
/// 2 per cent fits the rendered scenes best).
pub const STRAY: f32 = 0.02;

/// The body's pixels in reading order of its box.
pub fn spots(animal: &Animal, field: &Field) -> Vec<Spot> {
    let n = animal.pixels.stations;
    // Spots are large: a list that grows would be copied over and over.
    let mut spots = Vec::with_capacity(animal.pixels.area());
    let pixels = animal.pixels.iter();
    spots.extend(pixels.map(|(x, y, station)| {
        let seen = seen(field, x, y);
        let third = third(station, n);
        let lab = colour::lab_of_ratio_fast(seen);
        Spot {
            x,
            y,
            third,
            ratio: seen.map(f64::from),
            lab,
            polar: hue::polar(lab),
            opacity: 0.0,
            broad: 0.0,
            covered: false,
            unread: false,
            roe: false,
        }
    }));
    spots
}

/// About `count` pixels of the body, evenly picked: third of the axis and colour.
pub fn sample(animal: &Animal, field: &Field, count: usize) -> Vec<(u8, [f64; 3])> {
    let step = (animal.pixels.area() / count.max(1)).max(1);
    let n = animal.pixels.stations;
    let pixels = animal.pixels.iter().step_by(step);
    pixels
        .map(|(x, y, station)| (third(station, n), seen(field, x, y).map(f64::from)))
        .collect()
}

/// Ratio to the floor at a fine pixel without stray light.
fn seen(field: &Field, x: i32, y: i32) -> [f32; 3] {
    let ratio = field.flat.ratio_at(x as usize, y as usize);
    ratio.map(|v| ((v - STRAY) / (1.0 - STRAY)).max(0.0))
}

/// Third of the axis (0 = head) of a station counted from 1.
fn third(station: u16, stations: usize) -> u8 {
    (((f32::from(station) - 0.5) / stations.max(1) as f32 * 3.0) as u8).min(2)
}
