//! A picture as PNG, for those who can't open SVG: the same marks on light ground.

use std::io::Cursor;

use image::{ImageFormat, Rgb, RgbImage};

use super::style::{Fill, Look, colour};
use super::svg::{Anchor, Mark, Svg};
use crate::report::canvas::{Canvas, Ink, Stroke, Weight, fine};

/// Pixels to a picture unit: sharp on a phone and in print.
const SCALE: f64 = 2.0;
/// Corners that stand for a circle.
const ROUND: usize = 48;
/// Colours and width of the stripes, those of the SVG's pattern.
const STRIPES: [Ink; 2] = [[0x6b; 3], [0xbd; 3]];
/// See [`STRIPES`]; picture units.
const STRIPE: f64 = 3.0;

impl Svg {
    /// The picture as a PNG file, two pixels to a unit, on light ground.
    pub fn png(&self) -> Vec<u8> {
        let [w, h] = [self.width, self.height].map(|v| (v * SCALE).round().max(1.0) as u32);
        let ground = match Look::of("rect", "ground").fill {
            Some(Fill::Plain(ink)) => ink,
            _ => [255; 3],
        };
        let mut canvas = Canvas::new(RgbImage::from_pixel(w, h, Rgb(ground)));
        self.marks.iter().for_each(|mark| draw(&mut canvas, mark));
        let mut out = Cursor::new(Vec::new());
        canvas
            .image
            .write_to(&mut out, ImageFormat::Png)
            .expect("writing into memory does not fail");
        out.into_inner()
    }
}

fn draw(canvas: &mut Canvas, mark: &Mark) {
    match mark {
        Mark::Text {
            at,
            anchor,
            upright,
            class,
            text,
        } => write(
            canvas,
            *at,
            *anchor,
            *upright,
            &Look::of("text", class),
            text,
        ),
        Mark::Line { from, to, class } => {
            outline(canvas, &[*from, *to], false, &Look::of("line", class));
        }
        Mark::Rect {
            at: (x, y),
            size: (w, h),
            class,
            ..
        } => {
            let corners = [(*x, *y), (x + w, *y), (x + w, y + h), (*x, y + h)];
            shape(canvas, &corners, true, &Look::of("rect", class));
        }
        Mark::Circle {
            at,
            radius,
            class,
            colour: own,
            ..
        } => {
            let mut look = Look::of("circle", class);
            if let Some(ink) = own.as_deref().and_then(colour) {
                look.fill = Some(Fill::Plain(ink));
            }
            let corners: Vec<(f64, f64)> = (0..ROUND)
                .map(|k| (k as f64 / ROUND as f64 * std::f64::consts::TAU).sin_cos())
                .map(|(sin, cos)| (at.0 + radius * cos, at.1 + radius * sin))
                .collect();
            shape(canvas, &corners, true, &look);
        }
        Mark::Path {
            points,
            closed,
            class,
        } => shape(canvas, points, *closed, &Look::of("path", class)),
    }
}

/// An area and the line around it.
fn shape(canvas: &mut Canvas, corners: &[(f64, f64)], closed: bool, look: &Look) {
    let pixels = in_pixels(corners);
    let opacity = look.opacity as f32;
    match look.fill {
        Some(Fill::Plain(ink)) => canvas.area(&pixels, opacity, |_| ink),
        Some(Fill::Hatch) => canvas.area(&pixels, opacity, |[x, y]| {
            // Turned by 45 degrees, as the pattern of the SVG is.
            let across = f64::from(x + y) / SCALE * std::f64::consts::FRAC_1_SQRT_2;
            STRIPES[(across / STRIPE).rem_euclid(2.0) as usize]
        }),
        None => {}
    }
    outline(canvas, corners, closed, look);
}

fn outline(canvas: &mut Canvas, points: &[(f64, f64)], closed: bool, look: &Look) {
    let Some(ink) = look.stroke else { return };
    let mut pixels = in_pixels(points);
    let dash = look
        .dash
        .map(|(on, off)| ((on * SCALE) as f32, (off * SCALE) as f32));
    // Dashes begin and end at points of the line.
    if dash.is_some() {
        pixels = fine(&pixels, closed, 1.0);
    }
    let stroke = Stroke {
        ink,
        width: (look.stroke_width * SCALE) as f32,
        opacity: look.opacity as f32,
        dash,
    };
    canvas.line(&pixels, closed, stroke);
}

fn write(
    canvas: &mut Canvas,
    at: (f64, f64),
    anchor: Anchor,
    upright: bool,
    look: &Look,
    text: &str,
) {
    let Some(Fill::Plain(ink)) = look.fill else {
        return;
    };
    let weight = if look.bold {
        Weight::Bold
    } else {
        Weight::Regular
    };
    let size = (look.font_size * SCALE) as f32 * EM;
    let width = canvas.text_width(size, weight, text);
    let before = match anchor {
        Anchor::Start => 0.0,
        Anchor::Middle => width / 2.0,
        Anchor::End => width,
    };
    let [x, y] = [at.0, at.1].map(|v| (v * SCALE) as f32);
    if upright {
        canvas.upright_text([x, y + before], size, weight, ink, text);
    } else {
        canvas.text([x - before, y], size, weight, ink, text);
    }
}

/// Height of a line of the font that pictures are written in over its em square, by which CSS sizes letters.
const EM: f32 = 1.362;

fn in_pixels(points: &[(f64, f64)]) -> Vec<[f32; 2]> {
    points
        .iter()
        .map(|(x, y)| [(x * SCALE) as f32, (y * SCALE) as f32])
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Pixels of that colour, those half covered counted by half (light ground is white).
    fn inked(picture: &Svg, ink: Ink) -> f64 {
        let png = image::load_from_memory(&picture.png())
            .expect("a PNG")
            .to_rgb8();
        let full: f64 = ink.iter().map(|c| 255.0 - f64::from(*c)).sum();
        let share = |p: &Rgb<u8>| p.0.iter().map(|c| 255.0 - f64::from(*c)).sum::<f64>() / full;
        png.pixels().map(share).sum()
    }

    #[test]
    fn areas_have_the_size_that_the_shoelace_formula_gives() {
        // A dented shape: 40 x 20 less a triangle of base 40 and height 10, and a circle of radius 10.
        let mut dented = Svg::new(60.0, 40.0, "");
        let corners = [
            (10.3, 5.2),
            (30.3, 15.2),
            (50.3, 5.2),
            (50.3, 25.2),
            (10.3, 25.2),
        ];
        dented.path(&corners, true, "alarm");
        let scaled = SCALE * SCALE;
        let alarm = [0xb3, 0x47, 0];
        assert!((inked(&dented, alarm) / scaled - 600.0).abs() < 4.0);
        let mut round = Svg::new(60.0, 40.0, "");
        round.coloured_circle((30.0, 20.0), 10.0, "#000", "");
        // Its white rim, a unit wide, takes half a unit of it.
        let seen = std::f64::consts::PI * 9.5 * 9.5;
        assert!((inked(&round, [0; 3]) / scaled - seen).abs() < 6.0);
    }

    #[test]
    fn dashes_leave_the_gaps_that_the_style_asks_for() {
        let mut picture = Svg::new(110.0, 20.0, "");
        picture.line((5.0, 10.0), (104.0, 10.0), "mark");
        // 5 on, 4 off, 1 unit wide: 55 of 99.
        let inked = inked(&picture, [0xb3, 0x47, 0]) / (SCALE * SCALE);
        assert!((47.0..67.0).contains(&inked), "{inked}");
    }

    #[test]
    fn text_is_there_level_and_turned() {
        let sized = |upright: bool| {
            let mut picture = Svg::new(100.0, 100.0, "");
            if upright {
                picture.upright(50.0, 50.0, "bold", "coverage");
            } else {
                picture.text(50.0, 50.0, Anchor::Middle, "bold", "coverage");
            }
            let png = image::load_from_memory(&picture.png())
                .expect("a PNG")
                .to_luma8();
            let dark: Vec<(u32, u32)> = png
                .enumerate_pixels()
                .filter(|(_, _, p)| p.0[0] < 128)
                .map(|(x, y, _)| (x, y))
                .collect();
            let span = |values: Vec<u32>| {
                let (low, high) = (values.iter().min(), values.iter().max());
                high.zip(low).map_or(0, |(h, l)| h - l)
            };
            (
                span(dark.iter().map(|d| d.0).collect()),
                span(dark.iter().map(|d| d.1).collect()),
            )
        };
        let (level, turned) = (sized(false), sized(true));
        assert!(level.0 > 4 * level.1 && level.0 > 80, "{level:?}");
        assert!(
            level.0.abs_diff(turned.1) <= 2 && level.1.abs_diff(turned.0) <= 2,
            "{turned:?}"
        );
    }
}
