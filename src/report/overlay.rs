//! The photo with its animals outlined, numbered and placed, for a helper to look at.
//!
//! Shape says what colour says: whole line = on a rung, dashed = too close to call, double line and pointed label =
//! off-type, thin grey = not graded, grey box = turned away.

use std::collections::BTreeMap;

use image::RgbImage;
use image::codecs::jpeg::JpegEncoder;
use image::imageops::{self, FilterType};

use super::canvas::{Canvas, Ink, Stroke, Weight, fine, round_rectangle};
use super::footer;
use super::labels::{Taken, nearest};
use super::rings;
use crate::error::Error;
use crate::ladder::OffLadder;
use crate::measures::TurnedAway;
use crate::scoop::{Graded, GradedAnimal, Scoop};

pub(super) const BLUE: Ink = [0, 78, 152];
pub(super) const RED: Ink = [190, 20, 10];
pub(super) const GREY: Ink = [96, 96, 100];
pub(super) const WHITE: Ink = [255, 255, 255];
pub(super) const BLACK: Ink = [20, 22, 26];

/// Longer side of the finished picture stays between these, so that text keeps its size and files stay small.
const LONGER_SIDE: (f32, f32) = (1400.0, 2400.0);

/// Height of text as a share of the longer side.
const TEXT_SHARE: f32 = 1.0 / 56.0;

/// The same for a screen a hand wide: text is about 4 mm high where the animals fill the screen.
const SMALL_SCREEN_SIDE: (f32, f32) = (1400.0, 1600.0);
const SMALL_SCREEN_TEXT: f32 = 1.0 / 32.0;

/// Quality of the finished JPEG: text stays clean.
const QUALITY: u8 = 90;

/// How an animal is marked.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Mark {
    OnRung,
    Between,
    OffType,
    NotGraded,
}

/// Sizes that follow from the picture's size.
#[derive(Debug, Clone, Copy)]
pub(super) struct Sizes {
    /// Picture pixels to one pixel of the photo.
    pub(super) scale: f32,
    /// Height of text.
    pub(super) text: f32,
    /// Width of an outline.
    pub(super) line: f32,
}

/// The photo as a JPEG with numbered outlines, rungs, covered areas, turned-away things and a legend below.
///
/// # Errors
/// Where the picture can't be encoded, which points to a fault of the program.
pub fn overlay_jpeg(graded: &Graded) -> Result<Vec<u8>, Error> {
    overlay_with_rings(graded, &[])
}

/// The same with rings around the animals of these numbers.
///
/// # Errors
/// As [`overlay_jpeg`].
pub fn overlay_with_rings(graded: &Graded, ringed: &[u32]) -> Result<Vec<u8>, Error> {
    let (mut canvas, sizes) = ready(graded, LONGER_SIDE, TEXT_SHARE);
    // Below outlines and labels, which must stay readable.
    rings::draw(&mut canvas, &graded.scoop, ringed, sizes);
    draw_animals(&mut canvas, graded, sizes);
    let finished = footer::below(canvas, &graded.scoop, sizes);
    jpeg(&finished)
}

/// The photo as a JPEG for a small screen: numbered outlines with larger labels, no legend; its width and height.
///
/// # Errors
/// As [`overlay_jpeg`].
pub fn small_screen_jpeg(graded: &Graded) -> Result<(Vec<u8>, [u32; 2]), Error> {
    let (mut canvas, sizes) = ready(graded, SMALL_SCREEN_SIDE, SMALL_SCREEN_TEXT);
    draw_animals(&mut canvas, graded, sizes);
    let size = [canvas.image.width(), canvas.image.height()];
    Ok((jpeg(&canvas.image)?, size))
}

/// The photo brought to a longer side between these, and the sizes of text and lines on it.
fn ready(graded: &Graded, sides: (f32, f32), text_share: f32) -> (Canvas, Sizes) {
    let photo = graded.photo.rgb8_upright();
    let longer = photo.width().max(photo.height()) as f32;
    let scale = (sides.0 / longer).max((sides.1 / longer).min(1.0));
    let size =
        [photo.width(), photo.height()].map(|side| ((side as f32 * scale).round() as u32).max(1));
    let text = longer * scale * text_share;
    let sizes = Sizes {
        scale,
        text,
        line: text / 9.0,
    };
    let resized = if scale == 1.0 {
        photo
    } else {
        imageops::resize(&photo, size[0], size[1], FilterType::CatmullRom)
    };
    (Canvas::new(resized), sizes)
}

/// The picture as the bytes of a JPEG.
pub(super) fn jpeg(picture: &RgbImage) -> Result<Vec<u8>, Error> {
    let mut bytes = Vec::new();
    JpegEncoder::new_with_quality(&mut bytes, QUALITY)
        .encode_image(picture)
        .map_err(|e| Error::bug(format!("the picture could not be encoded: {e}")))?;
    Ok(bytes)
}

fn draw_animals(canvas: &mut Canvas, graded: &Graded, sizes: Sizes) {
    let scoop = &graded.scoop;
    let veils: Vec<Vec<[f32; 2]>> = scoop
        .turned_away
        .iter()
        .map(|thing| veil(canvas, thing, sizes))
        .collect();
    for picture in &graded.pictures {
        hatch(canvas, &picture.covered, sizes);
    }
    let outlines: Vec<Vec<[f32; 2]>> = scoop
        .animals
        .iter()
        .map(|animal| smooth(animal, sizes.scale))
        .collect();
    for (animal, outline) in scoop.animals.iter().zip(&outlines) {
        draw_outline(canvas, outline, mark(animal), sizes);
    }
    let size = [canvas.image.width() as f32, canvas.image.height() as f32];
    let bodies: Vec<Vec<[f32; 2]>> = outlines.iter().chain(&veils).cloned().collect();
    let mut taken = Taken::new(size, (sizes.text / 5.0).max(2.0), &bodies);
    // Off-type labels are placed first, so that they get the best places.
    let mut order: Vec<usize> = (0..outlines.len()).collect();
    order.sort_by_key(|i| (mark(&scoop.animals[*i]) != Mark::OffType, *i));
    for i in order {
        draw_label(canvas, &mut taken, &scoop.animals[i], &outlines[i], sizes);
    }
    for (thing, veil) in scoop.turned_away.iter().zip(&veils) {
        draw_reason(canvas, &mut taken, thing, veil, sizes);
    }
}

pub(super) fn mark(animal: &GradedAnimal) -> Mark {
    match (&animal.placing.off, animal.placing.between) {
        (Some(OffLadder::OffType(_)), _) => Mark::OffType,
        (Some(_), _) => Mark::NotGraded,
        (None, Some(_)) => Mark::Between,
        (None, None) => Mark::OnRung,
    }
}

pub(super) fn ink(mark: Mark) -> Ink {
    match mark {
        Mark::OnRung | Mark::Between => BLUE,
        Mark::OffType => RED,
        Mark::NotGraded => GREY,
    }
}

/// The outline in picture coordinates, freed from the steps of the pixel grid.
fn smooth(animal: &GradedAnimal, scale: f32) -> Vec<[f32; 2]> {
    let chain = &animal.measures.outline;
    let n = chain.len();
    let reach = if n > 40 { 3 } else { 0 };
    let around = |i: usize, axis: usize| -> f32 {
        let sum: i32 = (0..=2 * reach)
            .map(|k| chain[(i + n + k - reach) % n][axis])
            .sum();
        (sum as f32 / (2 * reach + 1) as f32 + 0.5) * scale
    };
    (0..n).map(|i| [around(i, 0), around(i, 1)]).collect()
}

/// White and dark lines side by side, so that the covered area shows on any colour.
fn hatch(canvas: &mut Canvas, covered: &[(i32, i32, i32)], sizes: Sizes) {
    let mut rows: BTreeMap<i32, Vec<(i32, i32)>> = BTreeMap::new();
    for (y, x0, x1) in covered {
        rows.entry(*y).or_default().push((*x0, *x1));
    }
    let (Some(first), Some(last)) = (rows.keys().next(), rows.keys().next_back()) else {
        return;
    };
    let (top, bottom) = (
        *first as f32 * sizes.scale,
        (*last + 1) as f32 * sizes.scale,
    );
    for y in top.floor() as i32..=bottom.ceil() as i32 {
        let source = ((y as f32 + 0.5) / sizes.scale).floor() as i32;
        for (x0, x1) in rows.get(&source).into_iter().flatten() {
            let (left, right) = (*x0 as f32 * sizes.scale, (*x1 + 1) as f32 * sizes.scale);
            for x in left.round() as i32..right.round() as i32 {
                hatch_pixel(canvas, x, y, sizes);
            }
        }
    }
}

/// White and dark lines across one covered pixel.
pub(super) fn hatch_pixel(canvas: &mut Canvas, x: i32, y: i32, sizes: Sizes) {
    let period = sizes.text * 0.42;
    let line = sizes.line * 0.5;
    let phase =
        ((x + y) as f32).rem_euclid(period * std::f32::consts::SQRT_2) / std::f32::consts::SQRT_2;
    if phase < line {
        canvas.mix(x, y, WHITE, 0.75);
    } else if phase < 2.0 * line {
        canvas.mix(x, y, BLACK, 0.45);
    }
}

pub(super) fn draw_outline(canvas: &mut Canvas, outline: &[[f32; 2]], mark: Mark, sizes: Sizes) {
    let line = sizes.line;
    let dash = match mark {
        Mark::Between => Some((line * 4.5, line * 3.5)),
        _ => None,
    };
    let width = match mark {
        Mark::OffType => line * 2.6,
        Mark::NotGraded => line * 0.8,
        _ => line,
    };
    let casing = Stroke {
        ink: WHITE,
        width: width + 1.6 * line,
        opacity: 0.85,
        dash: None,
    };
    canvas.line(outline, true, casing);
    canvas.line(
        outline,
        true,
        Stroke {
            ink: ink(mark),
            width,
            opacity: 1.0,
            dash,
        },
    );
    if mark == Mark::OffType {
        canvas.line(
            outline,
            true,
            Stroke {
                ink: WHITE,
                width: line * 0.8,
                opacity: 1.0,
                dash: None,
            },
        );
    }
}

/// What stands on an animal's label.
pub(super) fn label_text(animal: &GradedAnimal) -> String {
    let no = animal.measures.no;
    match (
        &animal.placing.off,
        animal.placing.between,
        animal.placing.rung,
    ) {
        (Some(OffLadder::OffType(_)), _, _) => format!("{no}  OFF-TYPE"),
        (Some(OffLadder::Withheld { .. }), _, _) => format!("{no}  no rung"),
        (Some(off), _, _) => format!("{no}  {}", off.word()),
        (None, Some((low, high)), _) => format!("{no}  {low} or {high}"),
        (None, None, Some(rung)) => format!("{no}  {rung}"),
        (None, None, None) => no.to_string(),
    }
}

fn draw_label(
    canvas: &mut Canvas,
    taken: &mut Taken,
    animal: &GradedAnimal,
    outline: &[[f32; 2]],
    sizes: Sizes,
) {
    if outline.is_empty() {
        return;
    }
    let (mark, text) = (mark(animal), label_text(animal));
    let size = if mark == Mark::NotGraded {
        sizes.text * 0.8
    } else {
        sizes.text
    };
    let label = label_size(canvas, &text, mark, size);
    let at = taken.place(label, outline, sizes.text * 0.5);
    let area = [at[0], at[1], at[0] + label[0], at[1] + label[1]];
    let (foot, way) = nearest(area, outline);
    if way > sizes.line {
        leader(canvas, area, foot, ink(mark), sizes);
    }
    draw_plate(canvas, at, label, mark, sizes);
    let inset = (label[0] - canvas.text_width(size, Weight::Bold, &text)) / 2.0;
    let baseline = at[1] + label[1] * 0.5 + size * 0.27;
    let text_ink = if mark == Mark::OffType {
        WHITE
    } else {
        ink(mark)
    };
    canvas.text(
        [at[0] + inset, baseline],
        size,
        Weight::Bold,
        text_ink,
        &text,
    );
}

pub(super) fn label_size(canvas: &Canvas, text: &str, mark: Mark, size: f32) -> [f32; 2] {
    let side = if mark == Mark::OffType { 1.6 } else { 0.8 };
    [
        canvas.text_width(size, Weight::Bold, text) + side * size,
        size * 1.12,
    ]
}

/// Round label for rungs, dashed rim where too close to call, pointed and filled for off-types.
pub(super) fn draw_plate(
    canvas: &mut Canvas,
    at: [f32; 2],
    label: [f32; 2],
    mark: Mark,
    sizes: Sizes,
) {
    let line = sizes.line * 0.7;
    if mark == Mark::OffType {
        let point = label[1] * 0.55;
        let hexagon = [
            [at[0], at[1] + label[1] / 2.0],
            [at[0] + point, at[1]],
            [at[0] + label[0] - point, at[1]],
            [at[0] + label[0], at[1] + label[1] / 2.0],
            [at[0] + label[0] - point, at[1] + label[1]],
            [at[0] + point, at[1] + label[1]],
        ];
        canvas.line(
            &hexagon,
            true,
            Stroke {
                ink: WHITE,
                width: line * 3.0,
                opacity: 0.9,
                dash: None,
            },
        );
        canvas.convex(&hexagon, RED, 1.0);
        return;
    }
    let rim = round_rectangle(at, label, label[1] / 2.0);
    canvas.convex(&rim, WHITE, 0.93);
    let dash = (mark == Mark::Between).then_some((line * 4.0, line * 3.0));
    canvas.line(
        &fine(&rim, true, line),
        true,
        Stroke {
            ink: ink(mark),
            width: line,
            opacity: 1.0,
            dash,
        },
    );
}

fn leader(canvas: &mut Canvas, area: [f32; 4], foot: [f32; 2], ink: Ink, sizes: Sizes) {
    let start = [
        foot[0].clamp(area[0], area[2]),
        foot[1].clamp(area[1], area[3]),
    ];
    let line = sizes.line * 0.7;
    canvas.line(
        &[start, foot],
        false,
        Stroke {
            ink: WHITE,
            width: line * 2.6,
            opacity: 0.8,
            dash: None,
        },
    );
    canvas.line(
        &[start, foot],
        false,
        Stroke {
            ink,
            width: line,
            opacity: 1.0,
            dash: None,
        },
    );
}

/// A grey veil over what was turned away; its rim.
fn veil(canvas: &mut Canvas, thing: &TurnedAway, sizes: Sizes) -> Vec<[f32; 2]> {
    let [x, y, w, h] = thing.bbox.map(|v| v as f32 * sizes.scale);
    let rim = round_rectangle([x, y], [w.max(1.0), h.max(1.0)], sizes.text * 0.3);
    canvas.convex(&rim, [150, 150, 154], 0.45);
    canvas.line(
        &rim,
        true,
        Stroke {
            ink: WHITE,
            width: sizes.line * 1.4,
            opacity: 0.7,
            dash: None,
        },
    );
    canvas.line(
        &rim,
        true,
        Stroke {
            ink: GREY,
            width: sizes.line * 0.5,
            opacity: 1.0,
            dash: None,
        },
    );
    rim
}

/// The word beside a veil.
fn draw_reason(
    canvas: &mut Canvas,
    taken: &mut Taken,
    thing: &TurnedAway,
    rim: &[[f32; 2]],
    sizes: Sizes,
) {
    let (text, size) = (thing.reason.replace('_', " "), sizes.text * 0.66);
    let label = [
        canvas.text_width(size, Weight::Regular, &text) + 0.5 * size,
        size * 1.15,
    ];
    let at = taken.place(label, rim, sizes.text * 0.15);
    canvas.plate(at, label, size * 0.3, WHITE, 0.75);
    canvas.text(
        [at[0] + 0.25 * size, at[1] + 0.86 * size],
        size,
        Weight::Regular,
        GREY,
        &text,
    );
}

/// Title of the picture: file and line.
pub(super) fn title(scoop: &Scoop) -> String {
    let line = scoop.ladder.as_ref().map_or(String::new(), |ladder| {
        format!(
            "   {}{}",
            ladder.title,
            if scoop.line_guessed {
                " (line guessed)"
            } else {
                ""
            }
        )
    });
    format!("{}{line}", super::text::shorten(&scoop.photo.file, 48))
}
