//! The photo of a cup with what to do written on every animal: shape and word, never colour alone.
//!
//! Whole line and round label = keep, dashed = tub, double line and pointed label = move out, thin grey = back to the tank.

use image::imageops::{self, FilterType};

use super::super::canvas::{Canvas, Weight, distance};
use super::super::labels::Taken;
use super::super::overlay::{
    BLACK, GREY, Mark, Sizes, WHITE, draw_outline, draw_plate, ink, jpeg, label_size,
};
use super::sort::order;
use crate::error::Error;
use crate::scoop::{Graded, GradedAnimal};
use crate::selection::sorting::{Decision, Judged, Verdict};

/// Longer side of the finished picture, pixels.
const LONGER_SIDE: f32 = 1800.0;
/// Height of the legend, in heights of text.
const LEGEND: f32 = 3.4;

/// The photo as a JPEG with an order on every animal, and a legend.
///
/// # Errors
/// Where the picture can't be encoded, which points to a fault of the program.
pub fn orders_jpeg(graded: &Graded, decision: &Decision, title: &str) -> Result<Vec<u8>, Error> {
    let photo = graded.photo.rgb8_upright();
    let scale = LONGER_SIDE / photo.width().max(photo.height()).max(1) as f32;
    let size =
        [photo.width(), photo.height()].map(|side| ((side as f32 * scale).round() as u32).max(1));
    let text = LONGER_SIDE / 52.0;
    let sizes = Sizes {
        scale,
        text,
        line: text / 9.0,
    };
    let resized = imageops::resize(&photo, size[0], size[1], FilterType::CatmullRom);
    let height = size[1] + (LEGEND * text) as u32;
    let mut page = image::RgbImage::from_pixel(size[0], height, image::Rgb(WHITE));
    imageops::replace(&mut page, &resized, 0, 0);
    let mut canvas = Canvas::new(page);
    let animals = &graded.scoop.animals;
    let outlines: Vec<Vec<[f32; 2]>> = animals
        .iter()
        .map(|animal| outline(animal, scale))
        .collect();
    for (animal, outline) in animals.iter().zip(&outlines) {
        if let Some(judged) = judged(decision, animal) {
            draw_outline(&mut canvas, outline, mark(judged.verdict), sizes);
        }
    }
    let mut taken = Taken::new(
        [size[0] as f32, size[1] as f32],
        (text / 5.0).max(2.0),
        &outlines,
    );
    for (animal, outline) in animals.iter().zip(&outlines) {
        if let Some(judged) = judged(decision, animal).filter(|_| !outline.is_empty()) {
            let words = order(judged.verdict, judged.sex, judged.look_twice);
            label(
                &mut canvas,
                &mut taken,
                outline,
                mark(judged.verdict),
                &format!("{}  {words}", judged.no),
                sizes,
            );
        }
    }
    legend(&mut canvas, size[1] as f32, title, sizes);
    jpeg(&canvas.image)
}

fn judged<'d>(decision: &'d Decision, animal: &GradedAnimal) -> Option<&'d Judged> {
    decision
        .animals
        .iter()
        .find(|judged| judged.no == animal.measures.no)
}

fn mark(verdict: Verdict) -> Mark {
    match verdict {
        Verdict::Keep => Mark::OnRung,
        Verdict::Hold(_) => Mark::Between,
        Verdict::MoveOut => Mark::OffType,
        Verdict::Back => Mark::NotGraded,
    }
}

/// The outline in picture coordinates, points closer than a pixel left out.
fn outline(animal: &GradedAnimal, scale: f32) -> Vec<[f32; 2]> {
    let mut points: Vec<[f32; 2]> = Vec::new();
    for pixel in &animal.measures.outline {
        let point = pixel.map(|v| (v as f32 + 0.5) * scale);
        if points
            .last()
            .is_none_or(|last| distance(*last, point) >= 2.0)
        {
            points.push(point);
        }
    }
    points
}

fn label(
    canvas: &mut Canvas,
    taken: &mut Taken,
    outline: &[[f32; 2]],
    mark: Mark,
    words: &str,
    sizes: Sizes,
) {
    let size = label_size(canvas, words, mark, sizes.text);
    let at = taken.place(size, outline, sizes.text * 0.4);
    plate(canvas, at, size, mark, words, sizes);
}

fn plate(canvas: &mut Canvas, at: [f32; 2], size: [f32; 2], mark: Mark, words: &str, sizes: Sizes) {
    draw_plate(canvas, at, size, mark, sizes);
    let inset = (size[0] - canvas.text_width(sizes.text, Weight::Bold, words)) / 2.0;
    let letters = if mark == Mark::OffType {
        WHITE
    } else {
        ink(mark)
    };
    let baseline = at[1] + size[1] * 0.5 + sizes.text * 0.27;
    canvas.text(
        [at[0] + inset, baseline],
        sizes.text,
        Weight::Bold,
        letters,
        words,
    );
}

fn legend(canvas: &mut Canvas, top: f32, title: &str, sizes: Sizes) {
    let left = sizes.text * 0.6;
    canvas.text(
        [left, top + 1.2 * sizes.text],
        sizes.text,
        Weight::Bold,
        BLACK,
        title,
    );
    let mut x = left;
    let y = top + 1.8 * sizes.text;
    for (mark, word) in [
        (Mark::OnRung, "KEEP"),
        (Mark::Between, "TUB"),
        (Mark::OffType, "MOVE OUT"),
        (Mark::NotGraded, "BACK"),
    ] {
        let size = label_size(canvas, word, mark, sizes.text);
        plate(canvas, [x, y], size, mark, word, sizes);
        x += size[0] + sizes.text;
    }
    let small = sizes.text * 0.8;
    canvas.text(
        [x, y + sizes.text * 0.85],
        small,
        Weight::Regular,
        GREY,
        "?  look twice",
    );
}
