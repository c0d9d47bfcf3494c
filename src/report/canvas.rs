//! Lines, areas and text with soft edges on a picture.

use ab_glyph::{Font, FontRef, PxScale, ScaleFont};
use image::{Rgb, RgbImage};

/// A colour, encoded sRGB.
pub(super) type Ink = [u8; 3];

/// A picture to draw on. Points are (x, y) in its pixels; what lies outside is not drawn.
pub(super) struct Canvas {
    pub(super) image: RgbImage,
    bold: Option<FontRef<'static>>,
    regular: Option<FontRef<'static>>,
}

/// A line's looks.
#[derive(Debug, Clone, Copy)]
pub(super) struct Stroke {
    pub(super) ink: Ink,
    pub(super) width: f32,
    pub(super) opacity: f32,
    /// Lengths of dash and gap.
    pub(super) dash: Option<(f32, f32)>,
}

/// Weight of text.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Weight {
    Regular,
    Bold,
}

impl Canvas {
    pub(super) fn new(image: RgbImage) -> Self {
        Self {
            image,
            bold: FontRef::try_from_slice(notosans::BOLD_TTF).ok(),
            regular: FontRef::try_from_slice(notosans::REGULAR_TTF).ok(),
        }
    }

    /// Mixes `ink` into one pixel, `share` 0..=1.
    pub(super) fn mix(&mut self, x: i32, y: i32, ink: Ink, share: f32) {
        let (Ok(u), Ok(v)) = (u32::try_from(x), u32::try_from(y)) else {
            return;
        };
        if share <= 0.0 || u >= self.image.width() || v >= self.image.height() {
            return;
        }
        let share = share.min(1.0);
        let Rgb(old) = *self.image.get_pixel(u, v);
        let mixed = std::array::from_fn(|c| {
            (f32::from(old[c]) * (1.0 - share) + f32::from(ink[c]) * share).round() as u8
        });
        self.image.put_pixel(u, v, Rgb(mixed));
    }

    /// A line through `points`.
    pub(super) fn line(&mut self, points: &[[f32; 2]], closed: bool, stroke: Stroke) {
        let Some(mut patch) = Patch::around(points, stroke.width + 2.0, &self.image) else {
            return;
        };
        let ends = if closed {
            points.len()
        } else {
            points.len().saturating_sub(1)
        };
        let mut along = 0.0;
        for i in 0..ends {
            let (a, b) = (points[i], points[(i + 1) % points.len()]);
            if stroke.dash.is_none_or(|(on, off)| along % (on + off) < on) {
                patch.segment(a, b, stroke.width / 2.0);
            }
            along += distance(a, b);
        }
        self.stamp(&patch, stroke.ink, stroke.opacity);
    }

    /// A filled convex shape; corners in order, either way round.
    pub(super) fn convex(&mut self, corners: &[[f32; 2]], ink: Ink, opacity: f32) {
        let Some(mut patch) = Patch::around(corners, 2.0, &self.image) else {
            return;
        };
        patch.convex(corners);
        self.stamp(&patch, ink, opacity);
    }

    /// A filled shape of any form (even-odd rule), its colour by place.
    pub(super) fn area(
        &mut self,
        corners: &[[f32; 2]],
        opacity: f32,
        ink_at: impl Fn([f32; 2]) -> Ink,
    ) {
        let Some(mut patch) = Patch::around(corners, 1.0, &self.image) else {
            return;
        };
        patch.area(corners);
        for v in 0..patch.height {
            for u in 0..patch.width {
                let (x, y) = (patch.x + u as i32, patch.y + v as i32);
                let share = patch.share[v * patch.width + u];
                self.mix(x, y, ink_at([x as f32, y as f32]), share * opacity);
            }
        }
    }

    /// A filled rectangle with round corners, from `at` (top left).
    pub(super) fn plate(
        &mut self,
        at: [f32; 2],
        size: [f32; 2],
        radius: f32,
        ink: Ink,
        opacity: f32,
    ) {
        let corners = round_rectangle(at, size, radius);
        self.convex(&corners, ink, opacity);
    }

    /// Text with its left end of the baseline at `at`, `size` pixels high.
    pub(super) fn text(&mut self, at: [f32; 2], size: f32, weight: Weight, ink: Ink, text: &str) {
        let Some(font) = self.font(weight).cloned() else {
            return;
        };
        let scaled = font.as_scaled(PxScale::from(size));
        let mut x = at[0];
        let mut before = None;
        for letter in text.chars() {
            let id = font.glyph_id(letter);
            x += before.map_or(0.0, |b| scaled.kern(b, id));
            let glyph = id.with_scale_and_position(PxScale::from(size), ab_glyph::point(x, at[1]));
            if let Some(outlined) = font.outline_glyph(glyph) {
                let corner = outlined.px_bounds().min;
                outlined.draw(|u, v, share| {
                    self.mix(
                        corner.x as i32 + u as i32,
                        corner.y as i32 + v as i32,
                        ink,
                        share,
                    );
                });
            }
            x += scaled.h_advance(id);
            before = Some(id);
        }
    }

    /// Text turned upwards (read from below), with its left end of the baseline at `at`.
    pub(super) fn upright_text(
        &mut self,
        at: [f32; 2],
        size: f32,
        weight: Weight,
        ink: Ink,
        text: &str,
    ) {
        let side = (self.text_width(size, weight, text) + 2.0 * size).ceil() as u32;
        let high = (2.0 * size).ceil() as u32;
        // Written level in black on white beside, then turned: how dark a pixel got is how much ink it takes.
        let blank = RgbImage::from_pixel(side, high, Rgb([255; 3]));
        let mut level = Self::new(blank);
        let (start, base) = (size.round(), (1.4 * size).round());
        level.text([start, base], size, weight, [0; 3], text);
        let corner = [at[0].round() - base, at[1].round() + start];
        for (u, v, Rgb([grey, ..])) in level.image.enumerate_pixels() {
            let share = 1.0 - f32::from(*grey) / 255.0;
            let (x, y) = (corner[0] as i32 + v as i32, corner[1] as i32 - u as i32);
            self.mix(x, y, ink, share);
        }
    }

    /// Width of text in pixels.
    pub(super) fn text_width(&self, size: f32, weight: Weight, text: &str) -> f32 {
        let Some(font) = self.font(weight) else {
            return 0.0;
        };
        let scaled = font.as_scaled(PxScale::from(size));
        let mut before = None;
        let mut width = 0.0;
        for id in text.chars().map(|letter| font.glyph_id(letter)) {
            width += before.map_or(0.0, |b| scaled.kern(b, id)) + scaled.h_advance(id);
            before = Some(id);
        }
        width
    }

    fn font(&self, weight: Weight) -> Option<&FontRef<'static>> {
        match weight {
            Weight::Regular => self.regular.as_ref(),
            Weight::Bold => self.bold.as_ref(),
        }
    }

    fn stamp(&mut self, patch: &Patch, ink: Ink, opacity: f32) {
        for v in 0..patch.height {
            for u in 0..patch.width {
                let share = patch.share[v * patch.width + u];
                if share > 0.0 {
                    self.mix(patch.x + u as i32, patch.y + v as i32, ink, share * opacity);
                }
            }
        }
    }
}

/// The same line with more points, at most `step` apart, so that dashes can fall anywhere; a closed one goes on to its
/// first point, which is not repeated.
pub(super) fn fine(points: &[[f32; 2]], closed: bool, step: f32) -> Vec<[f32; 2]> {
    let ends = points.len().saturating_sub(usize::from(!closed));
    let mut out = Vec::new();
    for (i, a) in points.iter().enumerate().take(ends) {
        let b = points[(i + 1) % points.len()];
        let pieces = (distance(*a, b) / step.max(0.5)).ceil().max(1.0) as usize;
        out.extend((0..pieces).map(|k| {
            let t = k as f32 / pieces as f32;
            [a[0] + t * (b[0] - a[0]), a[1] + t * (b[1] - a[1])]
        }));
    }
    out.extend(points.last().filter(|_| !closed));
    out
}

/// Corners of a rectangle with round corners.
pub(super) fn round_rectangle(at: [f32; 2], size: [f32; 2], radius: f32) -> Vec<[f32; 2]> {
    let radius = radius.min(size[0] / 2.0).min(size[1] / 2.0);
    let centres = [
        [at[0] + size[0] - radius, at[1] + size[1] - radius],
        [at[0] + radius, at[1] + size[1] - radius],
        [at[0] + radius, at[1] + radius],
        [at[0] + size[0] - radius, at[1] + radius],
    ];
    let mut corners = Vec::with_capacity(28);
    for (quarter, centre) in centres.iter().enumerate() {
        for step in 0..7 {
            let angle = (quarter as f32 + step as f32 / 6.0) * std::f32::consts::FRAC_PI_2;
            corners.push([
                centre[0] + radius * angle.cos(),
                centre[1] + radius * angle.sin(),
            ]);
        }
    }
    corners
}

/// How much of each pixel of a small rectangle is covered, so that overlapping pieces of one mark add up to no more.
struct Patch {
    x: i32,
    y: i32,
    width: usize,
    height: usize,
    share: Vec<f32>,
}

impl Patch {
    /// A patch around the points, cut to the picture; `None` where nothing of it is inside.
    fn around(points: &[[f32; 2]], margin: f32, image: &RgbImage) -> Option<Self> {
        let side = |axis: usize, limit: u32| {
            let low = points.iter().map(|p| p[axis]).fold(f32::INFINITY, f32::min) - margin;
            let high = points
                .iter()
                .map(|p| p[axis])
                .fold(f32::NEG_INFINITY, f32::max)
                + margin;
            let (low, high) = (low.floor().max(0.0), high.ceil().min(limit as f32 - 1.0));
            (low <= high).then_some((low as i32, (high - low) as usize + 1))
        };
        let (x, width) = side(0, image.width())?;
        let (y, height) = side(1, image.height())?;
        Some(Self {
            x,
            y,
            width,
            height,
            share: vec![0.0; width * height],
        })
    }

    fn segment(&mut self, a: [f32; 2], b: [f32; 2], half: f32) {
        let reach = half + 1.0;
        self.each(
            [a[0].min(b[0]) - reach, a[1].min(b[1]) - reach],
            [a[0].max(b[0]) + reach, a[1].max(b[1]) + reach],
            |p| half + 0.5 - to_segment(p, a, b),
        );
    }

    /// Shares of a shape of any form: the exact length inside on [`LINES`] lines through each row of pixels.
    fn area(&mut self, corners: &[[f32; 2]]) {
        for v in 0..self.height {
            for line in 0..LINES {
                let y = self.y as f32 + v as f32 + (line as f32 + 0.5) / LINES as f32;
                for pair in crossings(corners, y).chunks_exact(2) {
                    let [from, to] = [pair[0], pair[1]].map(|x| x - self.x as f32);
                    for u in range(from, to, 0, self.width) {
                        let inside = to.min(u as f32 + 1.0) - from.max(u as f32);
                        self.share[v * self.width + u] += inside.max(0.0) / LINES as f32;
                    }
                }
            }
        }
    }

    fn convex(&mut self, corners: &[[f32; 2]]) {
        let turn = area(corners).signum();
        self.each([f32::MIN, f32::MIN], [f32::MAX, f32::MAX], |p| {
            let mut outside = f32::NEG_INFINITY;
            for (i, a) in corners.iter().enumerate() {
                let b = corners[(i + 1) % corners.len()];
                let length = distance(*a, b);
                // Corners that nearly coincide have no direction worth trusting.
                if length > 0.01 {
                    let cross = (b[0] - a[0]) * (p[1] - a[1]) - (b[1] - a[1]) * (p[0] - a[0]);
                    outside = outside.max(-turn * cross / length);
                }
            }
            0.5 - outside
        });
    }

    /// Raises the share of each pixel of the rectangle to `share_at` its centre.
    fn each(&mut self, low: [f32; 2], high: [f32; 2], share_at: impl Fn([f32; 2]) -> f32) {
        let columns = range(low[0], high[0], self.x, self.width);
        for v in range(low[1], high[1], self.y, self.height) {
            for u in columns.clone() {
                let centre = [
                    self.x as f32 + u as f32 + 0.5,
                    self.y as f32 + v as f32 + 0.5,
                ];
                let share = share_at(centre).clamp(0.0, 1.0);
                let cell = &mut self.share[v * self.width + u];
                *cell = cell.max(share);
            }
        }
    }
}

/// Lines through a row of pixels on which an area is counted.
const LINES: usize = 4;

/// Where the border of a closed shape crosses the level `y`, from left to right; an even number.
fn crossings(corners: &[[f32; 2]], y: f32) -> Vec<f32> {
    let next = corners.iter().cycle().skip(1);
    let mut out: Vec<f32> = corners
        .iter()
        .zip(next)
        .filter(|(a, b)| (a[1] <= y) != (b[1] <= y))
        .map(|(a, b)| a[0] + (y - a[1]) / (b[1] - a[1]) * (b[0] - a[0]))
        .collect();
    out.sort_by(f32::total_cmp);
    out
}

fn range(low: f32, high: f32, origin: i32, size: usize) -> std::ops::Range<usize> {
    let start = (low - origin as f32).floor().clamp(0.0, size as f32) as usize;
    let end = (high - origin as f32).ceil().clamp(0.0, size as f32) as usize;
    start..end.max(start)
}

fn area(corners: &[[f32; 2]]) -> f32 {
    let next = corners.iter().cycle().skip(1);
    corners
        .iter()
        .zip(next)
        .map(|(a, b)| a[0] * b[1] - b[0] * a[1])
        .sum()
}

pub(super) fn distance(a: [f32; 2], b: [f32; 2]) -> f32 {
    (a[0] - b[0]).hypot(a[1] - b[1])
}

fn to_segment(p: [f32; 2], a: [f32; 2], b: [f32; 2]) -> f32 {
    let (dx, dy) = (b[0] - a[0], b[1] - a[1]);
    let length = dx * dx + dy * dy;
    let t = if length > 0.0 {
        ((p[0] - a[0]) * dx + (p[1] - a[1]) * dy) / length
    } else {
        0.0
    };
    let t = t.clamp(0.0, 1.0);
    distance(p, [a[0] + t * dx, a[1] + t * dy])
}
