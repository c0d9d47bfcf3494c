//! The strip below the overlay: file, line, the ladder's counts and what the marks mean.

use image::{Rgb, RgbImage};

use super::canvas::{Canvas, Weight, round_rectangle};
use super::overlay::{BLACK, GREY, Mark, Sizes, WHITE, draw_outline, title};
use super::words;
use crate::ladder::Rung;
use crate::scoop::Scoop;

/// The picture with the strip below it.
pub(super) fn below(canvas: Canvas, scoop: &Scoop, sizes: Sizes) -> RgbImage {
    let photo = canvas.image;
    let row = sizes.text * 1.5;
    let height = (row * 3.6).ceil() as u32;
    let mut page =
        RgbImage::from_pixel(photo.width(), photo.height() + height, Rgb([246, 246, 248]));
    image::imageops::replace(&mut page, &photo, 0, 0);
    let mut canvas = Canvas::new(page);
    let top = photo.height() as f32;
    let left = sizes.text * 0.8;
    fitted(
        &mut canvas,
        [left, top + row * 0.95],
        sizes.text,
        Weight::Bold,
        &title(scoop),
    );
    fitted(
        &mut canvas,
        [left, top + row * 1.95],
        sizes.text * 0.9,
        Weight::Regular,
        &counts(scoop),
    );
    legend(&mut canvas, [left, top + row * 2.95], sizes);
    canvas.image
}

/// Text made smaller where it would run over the right edge.
fn fitted(canvas: &mut Canvas, at: [f32; 2], size: f32, weight: Weight, text: &str) {
    let room = canvas.image.width() as f32 - 2.0 * at[0];
    let width = canvas.text_width(size, weight, text);
    let size = if width > room {
        size * room / width
    } else {
        size
    };
    canvas.text(at, size, weight, BLACK, text);
}

fn counts(scoop: &Scoop) -> String {
    if let Some(note) = scoop.withheld.first() {
        return format!("Not graded: {}. {}", note.message, note.hint);
    }
    let mut parts: Vec<String> = Vec::new();
    for rung in Rung::all().rev() {
        let count = scoop
            .mix
            .rungs
            .iter()
            .find(|row| row.rung == rung)
            .map_or(0, |row| row.count);
        if count > 0 {
            parts.push(format!("{}: {count}", words::rung(rung)));
        }
    }
    let undecided = scoop
        .animals
        .iter()
        .filter(|animal| animal.placing.between.is_some())
        .count();
    if undecided > 0 {
        parts.push(format!("too close to call: {undecided} of them"));
    }
    if scoop.mix.off_type > 0 {
        parts.push(format!("off-type: {}", scoop.mix.off_type));
    }
    parts.extend(
        scoop
            .mix
            .left_out
            .iter()
            .map(|(reason, count)| format!("{}: {count}", reason.replace('_', " "))),
    );
    if parts.is_empty() {
        "No animals found".to_string()
    } else {
        parts.join("    ")
    }
}

/// Sample marks with their words.
fn legend(canvas: &mut Canvas, at: [f32; 2], sizes: Sizes) {
    let size = sizes.text * 0.72;
    let entries: [(Mark, &str); 4] = [
        (Mark::OnRung, "on its rung"),
        (Mark::Between, "too close to call"),
        (Mark::OffType, "off-type"),
        (Mark::NotGraded, "not graded"),
    ];
    let mut x = at[0];
    for (mark, text) in entries {
        let sample = [size * 2.0, size * 0.8];
        let rim = spread(
            &round_rectangle([x, at[1] - size * 0.75], sample, size * 0.4),
            sizes.line,
        );
        canvas.convex(&rim, WHITE, 1.0);
        draw_outline(
            canvas,
            &rim,
            mark,
            Sizes {
                line: sizes.line * 0.8,
                ..sizes
            },
        );
        x += sample[0] + size * 0.5;
        canvas.text([x, at[1]], size, Weight::Regular, BLACK, text);
        x += canvas.text_width(size, Weight::Regular, text) + size * 1.4;
    }
    let rest = "hatched: covered by the line's colour     grey veil: turned away";
    let room = canvas.image.width() as f32 - x - at[0];
    if canvas.text_width(size, Weight::Regular, rest) <= room {
        canvas.text([x, at[1]], size, Weight::Regular, GREY, rest);
    }
}

/// More points along a rim, so that dashes show.
fn spread(rim: &[[f32; 2]], step: f32) -> Vec<[f32; 2]> {
    super::canvas::fine(rim, true, step)
}
