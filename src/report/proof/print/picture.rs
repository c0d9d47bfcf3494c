//! The photo on a sheet: whole with its animals, or a square of it, upright however it is stored.

use pdf_writer::Name;

use super::sheets::{SEE_THROUGH, Sheets, Style};
use crate::error::Error;
use crate::photo::embed::Embedded;
use crate::report::proof::figure::{CutOut, Shape, Whole};

/// Name of the photo in the file.
pub(super) const PHOTO: &[u8] = b"P";
/// Ink of outlines and numbers, as on the page: #00308f.
const BLUE: [f32; 3] = [0.0, 0.188, 0.561];
/// Share of a radius at which a curve's handles stand so that four curves make a circle.
const ROUND: f32 = 0.552_284_8;

/// Where something of the photo lies on the sheet.
#[derive(Debug, Clone, Copy)]
struct Frame {
    /// Left and top, points.
    at: [f32; 2],
    /// Points to a pixel.
    scale: f32,
}

impl Frame {
    /// From pixels of the upright photo, y downwards, to the sheet.
    fn of(self, [x, y]: [f32; 2]) -> [f32; 2] {
        [self.at[0] + x * self.scale, self.at[1] - y * self.scale]
    }
}

/// Draws the photo with all that lies over it, `width` wide with its top left corner at `at`.
///
/// # Errors
/// Where the font lacks a letter.
pub(super) fn whole(
    sheets: &mut Sheets,
    photo: &Embedded,
    whole: &Whole,
    at: [f32; 2],
    width: f32,
) -> Result<(), Error> {
    let size = whole.size.map(|v| v as f32);
    let frame = Frame {
        at,
        scale: width / size[0],
    };
    let height = size[1] * frame.scale;
    let edge = [at[0], at[1] - height, width, height];
    clipped(sheets, edge, |sheets| {
        draw_photo(sheets, photo, frame, size);
        whole
            .shapes
            .iter()
            .try_for_each(|shape| draw(sheets, shape, frame))
    })?;
    sheets.frame(edge, 0.75, 0.6);
    Ok(())
}

/// Draws a square of the photo, `side` wide with its top left corner at `at`.
///
/// # Errors
/// None that a photo can bring about.
pub(super) fn square(
    sheets: &mut Sheets,
    photo: &Embedded,
    cut: &CutOut,
    at: [f32; 2],
    side: f32,
) -> Result<(), Error> {
    let scale = side / cut.side as f32;
    let size = cut.size.map(|v| v as f32);
    let frame = Frame {
        at: [
            at[0] - cut.at[0] as f32 * scale,
            at[1] + cut.at[1] as f32 * scale,
        ],
        scale,
    };
    let edge = [at[0], at[1] - side, side, side];
    clipped(sheets, edge, |sheets| {
        draw_photo(sheets, photo, frame, size);
        Ok(())
    })?;
    sheets.frame(edge, 0.75, 0.6);
    Ok(())
}

/// Draws within a rectangle: left, bottom, width, height.
fn clipped(
    sheets: &mut Sheets,
    [x, y, w, h]: [f32; 4],
    draw: impl FnOnce(&mut Sheets) -> Result<(), Error>,
) -> Result<(), Error> {
    sheets.now.save_state();
    sheets.now.rect(x, y, w, h).clip_nonzero().end_path();
    draw(sheets)?;
    sheets.now.restore_state();
    Ok(())
}

fn draw_photo(sheets: &mut Sheets, photo: &Embedded, frame: Frame, [width, height]: [f32; 2]) {
    let way = photo.orientation;
    // A picture fills the unit square, its first row at the top [PDF17] 8.9.5: it is told where the square's lower left
    // corner lies on the upright photo, and which way its lower and its left side go.
    let along_x = usize::from(way.swap);
    let mirrored = [way.mirror_x, way.mirror_y];
    let whole = [width, height];
    let mut sides = [[0.0f32; 2]; 2];
    let mut from = [0.0f32; 2];
    for axis in 0..2 {
        // This upright axis is the stored x or the stored y.
        let is_stored_x = axis == along_x;
        let grows = is_stored_x != mirrored[axis];
        // Stored rows go down, the square's left side goes up.
        let side = usize::from(!is_stored_x);
        sides[side][axis] = if grows { whole[axis] } else { -whole[axis] };
        from[axis] = if grows { 0.0 } else { whole[axis] };
    }
    let corner = frame.of(from);
    let scale = frame.scale;
    let [i, j] = sides.map(|[x, y]| [x * scale, -y * scale]);
    sheets.now.save_state();
    sheets
        .now
        .transform([i[0], i[1], j[0], j[1], corner[0], corner[1]])
        .x_object(Name(PHOTO));
    sheets.now.restore_state();
}

fn draw(sheets: &mut Sheets, shape: &Shape, frame: Frame) -> Result<(), Error> {
    let scale = frame.scale;
    match shape {
        Shape::Outline {
            corners,
            ink,
            width,
            dash,
        } => {
            let [r, g, b] = if *ink == "#fff" { [1.0; 3] } else { BLUE };
            let dash = dash.map(|dash| dash as f32 * scale);
            sheets.now.save_state();
            sheets
                .now
                .set_line_width(*width as f32 * scale)
                .set_stroke_rgb(r, g, b)
                .set_dash_pattern(dash.into_iter().chain(dash), 0.0);
            for (at, corner) in corners.iter().enumerate() {
                let [x, y] = frame.of(corner.map(|v| v as f32));
                match at {
                    0 => sheets.now.move_to(x, y),
                    _ => sheets.now.line_to(x, y),
                };
            }
            sheets.now.close_path().stroke();
            sheets.now.restore_state();
        }
        Shape::Disc { at, radius, width } => {
            let centre = frame.of(at.map(|v| v as f32));
            let [r, g, b] = BLUE;
            sheets
                .now
                .set_line_width(*width as f32 * scale)
                .set_stroke_rgb(r, g, b)
                .set_fill_gray(1.0);
            circle(sheets, centre, *radius as f32 * scale);
            sheets.now.fill_nonzero_and_stroke();
        }
        Shape::Plate([x, y, w, h]) => {
            let [left, bottom] = frame.of([*x as f32, (*y + *h) as f32]);
            let [w, h] = [*w as f32 * scale, *h as f32 * scale];
            sheets.now.save_state();
            sheets
                .now
                .set_parameters(Name(SEE_THROUGH))
                .set_fill_gray(1.0)
                .rect(left, bottom, w, h)
                .fill_nonzero();
            sheets.now.restore_state();
        }
        Shape::Lines { lines, width } => {
            for line in lines {
                let [from, to] = line.map(|end| frame.of(end.map(|v| v as f32)));
                sheets.rule(from, to, *width as f32 * scale, 0.0);
            }
        }
        Shape::Words {
            at,
            size,
            is_number,
            text,
        } => {
            let style = Style {
                size: *size as f32 * scale,
                bold: *is_number,
                grey: 0.0,
            };
            let [mut x, y] = frame.of(at.map(|v| v as f32));
            let ink = if *is_number { BLUE } else { [0.0; 3] };
            if *is_number {
                x -= sheets.width(text, style) / 2.0;
            }
            sheets.inked([x, y], text, style, ink)?;
        }
    }
    Ok(())
}

fn circle(sheets: &mut Sheets, [x, y]: [f32; 2], radius: f32) {
    let k = radius * ROUND;
    sheets
        .now
        .move_to(x + radius, y)
        .cubic_to(x + radius, y + k, x + k, y + radius, x, y + radius)
        .cubic_to(x - k, y + radius, x - radius, y + k, x - radius, y)
        .cubic_to(x - radius, y - k, x - k, y - radius, x, y - radius)
        .cubic_to(x + k, y - radius, x + radius, y - k, x + radius, y)
        .close_path();
}
