//! Pictures of single animals: straightened, head left, with the covered area, the numbers and a scale bar.

use image::{Rgb, RgbImage, imageops};

use super::canvas::{Canvas, Weight};
use super::overlay::{BLACK, GREY, Mark, Sizes, hatch_pixel, ink, jpeg, label_text, mark, title};
use super::straighten::{Straight, straighten};
use super::words;
use crate::error::Error;
use crate::ladder::OffLadder;
use crate::scoop::{Graded, GradedAnimal, Scoop};
use crate::units::Reading;

/// Width of a single animal's picture, pixels.
const CROP_WIDTH: u32 = 1000;
/// Width of an animal on the sheet, pixels.
const CELL_WIDTH: u32 = 480;
/// Animals side by side on the sheet.
const COLUMNS: u32 = 3;
const PAPER: Rgb<u8> = Rgb([246, 246, 248]);
/// Length of the scale bar, millimetres.
const BAR_MM: f64 = 5.0;

/// A JPEG of each animal by number: above the straightened animal, below it the same with its covered area hatched, then
/// rung, numbers, what the next rung asks, and a scale bar where the scale is known.
///
/// # Errors
/// Where a picture can't be encoded, which points to a fault of the program.
pub fn crop_jpegs(graded: &Graded) -> Result<Vec<(u32, Vec<u8>)>, Error> {
    let photo = graded.photo.rgb8_upright();
    straight_animals(graded, &photo, CROP_WIDTH)
        .map(|(animal, straight)| Ok((animal.measures.no, jpeg(&crop(graded, animal, &straight))?)))
        .collect()
}

/// A JPEG with all animals of the photo, best rung first; `None` for a photo without any.
///
/// # Errors
/// Where the picture can't be encoded, which points to a fault of the program.
pub fn sheet_jpeg(graded: &Graded) -> Result<Option<Vec<u8>>, Error> {
    let photo = graded.photo.rgb8_upright();
    let mut cells: Vec<(&GradedAnimal, Straight)> =
        straight_animals(graded, &photo, CELL_WIDTH).collect();
    if cells.is_empty() {
        return Ok(None);
    }
    let coverage = |a: &GradedAnimal| a.measures.coverage.value().unwrap_or(-1.0);
    cells.sort_by(|(a, _), (b, _)| {
        let by_rung = b.placing.rung.cmp(&a.placing.rung);
        by_rung.then(coverage(b).total_cmp(&coverage(a)))
    });
    jpeg(&sheet(&graded.scoop, &cells)).map(Some)
}

fn straight_animals<'a>(
    graded: &'a Graded,
    photo: &'a RgbImage,
    width: u32,
) -> impl Iterator<Item = (&'a GradedAnimal, Straight)> {
    let pairs = graded.scoop.animals.iter().zip(&graded.pictures);
    pairs.filter_map(move |(animal, picture)| Some((animal, straighten(photo, picture, width)?)))
}

/// Text and line sizes of a picture of that width.
fn sizes(width: u32) -> Sizes {
    let text = width as f32 / 38.0;
    Sizes {
        scale: 1.0,
        text,
        line: text / 9.0,
    }
}

fn crop(graded: &Graded, animal: &GradedAnimal, straight: &Straight) -> RgbImage {
    let sizes = sizes(CROP_WIDTH);
    let height = straight.image.height();
    let row = sizes.text * 1.45;
    let lines = told(animal);
    let below = (row * (lines.len() as f32 + 1.6)).ceil() as u32;
    let mut page = RgbImage::from_pixel(CROP_WIDTH, 2 * height + below, PAPER);
    imageops::replace(&mut page, &straight.image, 0, 0);
    imageops::replace(&mut page, &straight.image, 0, i64::from(height));
    let mut canvas = Canvas::new(page);
    hatch(&mut canvas, straight, [0, height], sizes);
    let left = sizes.text * 0.7;
    let mut y = 2.0 * height as f32 + row;
    let (weight, label_ink) = (Weight::Bold, ink(mark(animal)));
    canvas.text(
        [left, y],
        sizes.text * 1.15,
        weight,
        label_ink,
        &label_text(animal),
    );
    let name = title(&graded.scoop);
    let small = sizes.text * 0.75;
    let x = CROP_WIDTH as f32 - left - canvas.text_width(small, Weight::Regular, &name);
    canvas.text([x, y], small, Weight::Regular, GREY, &name);
    for line in lines {
        y += row;
        canvas.text([left, y], sizes.text * 0.9, Weight::Regular, BLACK, &line);
    }
    scale_bar(&mut canvas, &graded.scoop, straight, height as f32, sizes);
    canvas.image
}

/// Hatches the covered pixels of a straightened picture that lies at `at` on the canvas.
fn hatch(canvas: &mut Canvas, straight: &Straight, at: [u32; 2], sizes: Sizes) {
    let width = straight.image.width() as usize;
    for (i, _) in straight.covered.iter().enumerate().filter(|(_, c)| **c) {
        let (u, v) = ((i % width) as u32, (i / width) as u32);
        hatch_pixel(canvas, (at[0] + u) as i32, (at[1] + v) as i32, sizes);
    }
}

/// The numbers and what the next rung asks, a line each; nothing is said of what is unknown.
fn told(animal: &GradedAnimal) -> Vec<String> {
    let m = &animal.measures;
    let share = |name: &str, reading: Reading| {
        let m = reading.measured()?;
        let (value, doubt) = (words::per_cent(m.value), (100.0 * m.uncertainty).ceil());
        Some(format!("{name} {value} +-{doubt:.0}"))
    };
    let length = m.length_mm.map(|l| format!("{:.1} mm", l.value));
    let numbers: Vec<String> = [
        share("coverage", m.coverage),
        share("opacity", m.opacity),
        share("evenness", m.evenness),
        length,
    ]
    .into_iter()
    .flatten()
    .collect();
    let why = match &animal.placing.off {
        Some(OffLadder::OffType(reasons)) => Some(words::off_type_sentence(reasons)),
        Some(OffLadder::Withheld { code, .. }) => Some(words::reason(code)),
        _ => animal.placing.next.as_ref().map(words::next_sentence),
    };
    let lines = [(!numbers.is_empty()).then(|| numbers.join("   ")), why];
    lines.into_iter().flatten().collect()
}

/// Where the scale is known, a bar of [`BAR_MM`] in the upper picture's corner.
fn scale_bar(canvas: &mut Canvas, scoop: &Scoop, straight: &Straight, bottom: f32, sizes: Sizes) {
    let Some(scale) = scoop.scene.px_per_mm else {
        return;
    };
    let length = (BAR_MM * scale.value) as f32 * straight.scale;
    let text = format!("{BAR_MM:.0} mm");
    let room = sizes.text * 0.5;
    let right = straight.image.width() as f32 - 2.0 * room;
    let thick = sizes.line * 1.5;
    let size = sizes.text * 0.8;
    let plate = [right - length - room, bottom - sizes.text * 1.9];
    canvas.plate(
        plate,
        [length + 2.0 * room, sizes.text * 1.6],
        room,
        [255, 255, 255],
        0.85,
    );
    let bar = [
        [right - length, bottom - sizes.text * 0.6],
        [right, bottom - sizes.text * 0.6],
        [right, bottom - sizes.text * 0.6 + thick],
        [right - length, bottom - sizes.text * 0.6 + thick],
    ];
    canvas.convex(&bar, BLACK, 1.0);
    let x = right - (length + canvas.text_width(size, Weight::Regular, &text)) / 2.0;
    canvas.text(
        [x, bottom - sizes.text * 0.8],
        size,
        Weight::Regular,
        BLACK,
        &text,
    );
}

fn sheet(scoop: &Scoop, cells: &[(&GradedAnimal, Straight)]) -> RgbImage {
    let sizes = sizes(CROP_WIDTH);
    let gap = (sizes.text * 0.6).round() as u32;
    let tallest = cells
        .iter()
        .map(|(_, s)| s.image.height())
        .max()
        .unwrap_or(0);
    let cell_height = tallest + (sizes.text * 1.5) as u32;
    let columns = COLUMNS.min(cells.len() as u32);
    let rows = (cells.len() as u32).div_ceil(columns);
    let top = (sizes.text * 2.2) as u32;
    let width = gap + columns * (CELL_WIDTH + gap);
    let page = RgbImage::from_pixel(width, top + rows * (cell_height + gap) + gap, PAPER);
    let mut canvas = Canvas::new(page);
    let left = gap as f32;
    let heading = format!("{}   best rung first", title(scoop));
    canvas.text(
        [left, sizes.text * 1.5],
        sizes.text,
        Weight::Bold,
        BLACK,
        &heading,
    );
    for (i, (animal, straight)) in cells.iter().enumerate() {
        let (column, row) = (i as u32 % columns, i as u32 / columns);
        let at = [
            gap + column * (CELL_WIDTH + gap),
            top + row * (cell_height + gap),
        ];
        cell(&mut canvas, animal, straight, at, sizes);
    }
    canvas.image
}

fn cell(
    canvas: &mut Canvas,
    animal: &GradedAnimal,
    straight: &Straight,
    at: [u32; 2],
    sizes: Sizes,
) {
    imageops::replace(
        &mut canvas.image,
        &straight.image,
        i64::from(at[0]),
        i64::from(at[1]),
    );
    let y = (at[1] + straight.image.height()) as f32 + sizes.text * 1.05;
    let (x, size) = (at[0] as f32, sizes.text * 0.85);
    let label = label_text(animal);
    canvas.text([x, y], size, Weight::Bold, ink(mark(animal)), &label);
    let Some(coverage) = animal.measures.coverage.value() else {
        return;
    };
    if mark(animal) == Mark::NotGraded {
        return;
    }
    let numbers = format!("coverage {}", words::per_cent(coverage));
    let right = x + CELL_WIDTH as f32 - canvas.text_width(size, Weight::Regular, &numbers);
    canvas.text([right, y], size, Weight::Regular, BLACK, &numbers);
}
