//! A sheet a rung for the wall, and the single pictures of a blind test.

use image::{Rgb, RgbImage, imageops};

use crate::error::Error;
use crate::ladder::{Ladder, Rung};
use crate::measures::AnimalPicture;
use crate::report::canvas::{Canvas, Weight};
use crate::report::overlay::{BLACK, GREY, jpeg};
use crate::report::straighten::straighten;
use crate::report::text::wrap;
use crate::report::words;
use crate::scoop::KeptAnimal;

const PAPER: Rgb<u8> = Rgb([250, 250, 251]);
/// A page of A4, 150 dots to the inch.
const PAGE: (u32, u32) = (1240, 1754);
const MARGIN: u32 = 60;
/// Width of an animal on the sheet; two stand side by side.
const CELL: u32 = 540;
/// Width of a picture of a blind test.
const ALONE: u32 = 1000;
/// Most animals on a sheet.
pub const MOST: usize = 6;
/// Fewest animals for a whole page: below, the sheet says so and ends below them.
pub const FEWEST: usize = 3;

/// An animal on a sheet.
#[derive(Debug)]
pub struct Shown<'a> {
    /// The upright photo it is in.
    pub photo: &'a RgbImage,
    /// The animal.
    pub animal: &'a KeptAnimal,
    /// Scoop in the book.
    pub scoop: i64,
    /// What it is an example of: `typical`, `edge: G3/G4`.
    pub caption: String,
}

/// The animal along the straight line from head to tail, head left; the book keeps no finer axis. `None` where its place
/// in the photo is not known.
fn picture(photo: &RgbImage, animal: &KeptAnimal, width: u32) -> Option<RgbImage> {
    let place = animal.place.as_ref()?;
    let between = |t: f32| [0, 1].map(|i| place.head[i] + t * (place.tail[i] - place.head[i]));
    let picture = AnimalPicture {
        no: animal.no,
        covered: Vec::new(),
        axis: (0..=10u8).map(|k| between(f32::from(k) / 10.0)).collect(),
    };
    Some(straighten(photo, &picture, width)?.image)
}

/// One animal without its rung, for a blind test, with only the number under which to answer; `None` where its place is
/// not known.
///
/// # Errors
/// Where the picture can't be encoded, which points to a fault of the program.
pub fn blind_jpeg(
    photo: &RgbImage,
    animal: &KeptAnimal,
    number: usize,
) -> Result<Option<Vec<u8>>, Error> {
    let Some(straight) = picture(photo, animal, ALONE) else {
        return Ok(None);
    };
    let height = straight.height();
    let mut page = RgbImage::from_pixel(ALONE, height + 60, PAPER);
    imageops::replace(&mut page, &straight, 0, 0);
    let mut canvas = Canvas::new(page);
    canvas.text(
        [20.0, height as f32 + 42.0],
        34.0,
        Weight::Bold,
        BLACK,
        &number.to_string(),
    );
    jpeg(&canvas.image).map(Some)
}

/// The sheet of a rung: its name and what it asks in the house's words and numbers, then animals.
///
/// # Errors
/// Where the picture can't be encoded, which points to a fault of the program.
pub fn rung_sheet(ladder: &Ladder, rung: Rung, shown: &[Shown<'_>]) -> Result<Vec<u8>, Error> {
    let mut canvas = Canvas::new(RgbImage::from_pixel(PAGE.0, PAGE.1, PAPER));
    let left = MARGIN as f32;
    let mut y = 130.0;
    canvas.text(
        [left, y],
        88.0,
        Weight::Bold,
        BLACK,
        &format!("{}  {}", words::rung(rung), ladder.label(rung)),
    );
    y += 50.0;
    canvas.text([left, y], 30.0, Weight::Regular, GREY, &ladder.title);
    for line in asked(ladder, rung).iter().flat_map(|line| wrap(line, "  ")) {
        y += 42.0;
        canvas.text([left, y], 30.0, Weight::Regular, BLACK, &line);
    }
    y += 30.0;
    let mut row_top = y as u32;
    let mut tallest = 0;
    for (i, one) in shown.iter().take(MOST).enumerate() {
        let column = i as u32 % 2;
        if i > 0 && column == 0 {
            row_top += tallest + 110;
            tallest = 0;
        }
        let Some(straight) = picture(one.photo, one.animal, CELL) else {
            continue;
        };
        let x = MARGIN + column * (CELL + 40);
        imageops::replace(
            &mut canvas.image,
            &straight,
            i64::from(x),
            i64::from(row_top),
        );
        tallest = tallest.max(straight.height());
        let below = (row_top + straight.height()) as f32;
        canvas.text(
            [x as f32, below + 36.0],
            28.0,
            Weight::Bold,
            BLACK,
            &one.caption,
        );
        canvas.text(
            [x as f32, below + 70.0],
            24.0,
            Weight::Regular,
            BLACK,
            &numbers(one),
        );
    }
    let bottom = if shown.len() < FEWEST {
        let below = if tallest > 0 {
            row_top + tallest + 110
        } else {
            row_top
        };
        let mut end = below as f32;
        for line in wrap(&too_few(shown.len()), "") {
            end += 40.0;
            canvas.text([left, end], 30.0, Weight::Regular, GREY, &line);
        }
        (end + 130.0) as u32
    } else {
        PAGE.1
    };
    let foot = "Hold animals for minutes only. A colour grade is no health certificate.";
    let end = bottom as f32;
    canvas.text([left, end - 50.0], 22.0, Weight::Regular, GREY, foot);
    let digest = format!("ladder {} {}", ladder.line, &ladder.sha256[..12]);
    canvas.text([left, end - 20.0], 18.0, Weight::Regular, GREY, &digest);
    let page = imageops::crop_imm(&canvas.image, 0, 0, PAGE.0, bottom.min(PAGE.1)).to_image();
    jpeg(&page)
}

/// Said on a sheet with too few examples to go by.
fn too_few(shown: usize) -> String {
    let cure = "File more scoops with their photos (catchcup scoop add TANK PHOTO), and write the sheet again.";
    match shown {
        0 => format!("No animal of this rung has its photo in the book yet. {cure}"),
        1 => format!("One animal alone does not show a rung. {cure}"),
        n => format!("{n} animals alone do not show a rung. {cure}"),
    }
}

/// What the rung asks, a line a measure.
fn asked(ladder: &Ladder, rung: Rung) -> Vec<String> {
    use crate::ladder::Bounds;
    use crate::measures::Sex;
    let lines: Vec<String> = ladder
        .asks(rung, Sex::Unsure)
        .iter()
        .map(|c| {
            let name = words::noun(c.measure);
            match c.bounds {
                Bounds::Range {
                    at_least: Some(low),
                    at_most: Some(high),
                } => {
                    format!(
                        "{name} {} to {}",
                        words::amount(c.measure, low),
                        words::amount(c.measure, high)
                    )
                }
                Bounds::Range {
                    at_least: Some(low),
                    ..
                } => format!("{name} at least {}", words::amount(c.measure, low)),
                Bounds::Range {
                    at_most: Some(high),
                    ..
                } => format!("{name} at most {}", words::amount(c.measure, high)),
                Bounds::Range { .. } => name.to_string(),
                Bounds::Hue(gate) => format!("hue {}", super::families::gate(gate)),
            }
        })
        .collect();
    if lines.is_empty() {
        vec!["everything below the next rung".into()]
    } else {
        lines
    }
}

fn numbers(one: &Shown<'_>) -> String {
    let share = |name: &str, value: Option<crate::units::Measured>| {
        value.map(|v| format!("{name} {}", words::per_cent(v.value)))
    };
    let parts: Vec<String> = [
        share("coverage", one.animal.coverage),
        share("opacity", one.animal.opacity),
    ]
    .into_iter()
    .flatten()
    .chain([format!("scoop {} animal {}", one.scoop, one.animal.no)])
    .collect();
    parts.join(", ")
}
