//! One animal unrolled along its body axis, head to the left.

use image::{Rgb, RgbImage, imageops};

use super::canvas::distance;
use crate::measures::AnimalPicture;
use crate::units::Point;

/// Half the height of the picture as a share of the body's length: room for the legs below a stout body.
const HALF_HEIGHT: f32 = 0.19;
/// Room before the head and behind the tail, as a share of the body's length.
const MARGIN: f32 = 0.06;

/// An animal's straightened picture and its covered area.
pub(super) struct Straight {
    /// The picture, head left.
    pub(super) image: RgbImage,
    /// Covered pixels, row by row.
    pub(super) covered: Vec<bool>,
    /// Pixels of the picture to one pixel of the photo.
    pub(super) scale: f32,
}

/// The animal unrolled to `width` pixels; `None` where its axis is shorter than two pixels.
pub(super) fn straighten(
    photo: &RgbImage,
    picture: &AnimalPicture,
    width: u32,
) -> Option<Straight> {
    let axis = Axis::new(&picture.axis)?;
    let scale = width as f32 / (axis.length * (1.0 + 2.0 * MARGIN));
    let height = ((2.0 * HALF_HEIGHT * axis.length * scale).round() as u32).max(8);
    let map = CoveredMap::new(&picture.covered);
    let mut image = RgbImage::new(width, height);
    let mut covered = Vec::with_capacity((width * height) as usize);
    // Where the photo is finer than the picture each pixel is the mean of a few samples.
    let fine = (1.0 / scale).ceil().clamp(1.0, 4.0) as u32;
    let columns: Vec<Vec<([f32; 2], [f32; 2])>> = (0..width)
        .map(|u| {
            samples(u, fine)
                .map(|s| axis.frame(s / scale - MARGIN * axis.length))
                .collect()
        })
        .collect();
    for v in 0..height {
        for u in 0..width {
            let across = |v: f32| (v - height as f32 / 2.0) / scale;
            let points = columns[u as usize].iter().flat_map(|(p, n)| {
                samples(v, fine).map(move |t| [p[0] + n[0] * across(t), p[1] + n[1] * across(t)])
            });
            image.put_pixel(u, v, mean_at(photo, points));
            let (p, n) = columns[u as usize][fine as usize / 2];
            let t = across(v as f32 + 0.5);
            covered.push(map.holds([p[0] + n[0] * t, p[1] + n[1] * t]));
        }
    }
    Some(Straight {
        image,
        covered,
        scale,
    })
}

/// `count` places spread over pixel `at`.
fn samples(at: u32, count: u32) -> impl Iterator<Item = f32> {
    (0..count).map(move |k| at as f32 + (k as f32 + 0.5) / count as f32)
}

/// The axis by arc length, continued straight beyond its ends.
struct Axis {
    points: Vec<Point>,
    /// Arc length at each point.
    along: Vec<f32>,
    length: f32,
}

impl Axis {
    fn new(points: &[Point]) -> Option<Self> {
        let mut along = vec![0.0];
        for pair in points.windows(2) {
            along.push(along[along.len() - 1] + distance(pair[0], pair[1]));
        }
        let length = *along.last()?;
        (points.len() > 1 && length > 2.0).then(|| Self {
            points: points.to_vec(),
            along,
            length,
        })
    }

    /// Point at arc length `s` and the unit normal there, pointing down when the head is left.
    fn frame(&self, s: f32) -> ([f32; 2], [f32; 2]) {
        let point = self.point(s);
        // The direction is taken over a tenth of the body, so that neighbouring columns don't cross inside a bend.
        let reach = 0.05 * self.length;
        let (a, b) = (self.point(s - reach), self.point(s + reach));
        let length = distance(a, b).max(1e-6);
        (point, [-(b[1] - a[1]) / length, (b[0] - a[0]) / length])
    }

    fn point(&self, s: f32) -> [f32; 2] {
        let last = self.points.len() - 1;
        let k = self.along.partition_point(|a| *a <= s).clamp(1, last);
        let (a, b) = (self.points[k - 1], self.points[k]);
        let span = (self.along[k] - self.along[k - 1]).max(1e-6);
        let t = (s - self.along[k - 1]) / span;
        [a[0] + t * (b[0] - a[0]), a[1] + t * (b[1] - a[1])]
    }
}

/// The covered runs of the photo, to be asked by position.
struct CoveredMap<'a> {
    runs: &'a [(i32, i32, i32)],
}

impl<'a> CoveredMap<'a> {
    fn new(runs: &'a [(i32, i32, i32)]) -> Self {
        Self { runs }
    }

    fn holds(&self, p: [f32; 2]) -> bool {
        let (x, y) = (p[0].round() as i32, p[1].round() as i32);
        let start = self.runs.partition_point(|run| run.0 < y);
        self.runs[start..]
            .iter()
            .take_while(|run| run.0 == y)
            .any(|run| (run.1..=run.2).contains(&x))
    }
}

/// Mean of the photo at the points, between its pixels by straight lines; beyond the frame its rim is repeated.
fn mean_at(photo: &RgbImage, points: impl Iterator<Item = [f32; 2]>) -> Rgb<u8> {
    let (mut sum, mut count) = ([0.0f32; 3], 0.0f32);
    for p in points {
        let colour = between_pixels(photo, p);
        sum = std::array::from_fn(|c| sum[c] + colour[c]);
        count += 1.0;
    }
    Rgb(sum.map(|v| (v / count.max(1.0)).round() as u8))
}

fn between_pixels(photo: &RgbImage, p: [f32; 2]) -> [f32; 3] {
    let x = p[0].clamp(0.0, photo.width() as f32 - 1.0);
    let y = p[1].clamp(0.0, photo.height() as f32 - 1.0);
    imageops::interpolate_bilinear(photo, x, y).map_or([0.0; 3], |colour| colour.0.map(f32::from))
}
