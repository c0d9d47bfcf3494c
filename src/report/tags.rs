//! Tank tags to print: a page of SVG in millimetres, on each tag a big code, the line, its colour and a QR code.

use qrcode::{Color, EcLevel, QrCode};

use crate::error::Error;
use crate::photo::tag::{text_of, text_of_lot};

/// One tag.
#[derive(Debug, Clone, PartialEq)]
pub struct Tag {
    /// Code of the tank.
    pub code: String,
    /// Code of its line.
    pub line: String,
    /// Its line's colour, sRGB.
    pub colour: Option<[u8; 3]>,
}

/// A4 in millimetres [ISO216].
const PAGE: [f64; 2] = [210.0, 297.0];
/// Columns and rows of a page.
const GRID: [usize; 2] = [3, 4];
/// A tag's size in millimetres.
const SIZE: [f64; 2] = [64.0, 66.0];
/// Side of the QR code without its quiet zone, millimetres: two fingers wide, readable from half a metre above the cup.
const CODE_MM: f64 = 36.0;

/// The tags as pages, twelve on each.
///
/// # Errors
/// Where a code is too long for a QR code; a fault of the program.
pub fn pages(tags: &[Tag]) -> Result<Vec<String>, Error> {
    tags.chunks(GRID[0] * GRID[1]).map(page).collect()
}

/// A card of a lot and a day, to lie in the cup beside the animals: one page.
///
/// # Errors
/// Where the lot's code is too long for a QR code.
pub fn lot_card(lot: &str, day: &str) -> Result<String, Error> {
    let [width, height] = SIZE;
    let middle = width / 2.0;
    let size = (34.0 / lot.chars().count().max(2) as f64).min(12.0);
    let code = squares(&text_of_lot(lot, day), middle - CODE_MM / 2.0, 23.0)?;
    Ok(format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{width}mm\" height=\"{height}mm\" viewBox=\"0 0 {width} {height}\" font-family=\"sans-serif\">\n\
         <rect width=\"{width}\" height=\"{height}\" fill=\"#fff\"/>\n\
         <text x=\"{middle}\" y=\"12\" font-size=\"{size:.1}\" font-weight=\"bold\" text-anchor=\"middle\">{}</text>\n\
         <text x=\"{middle}\" y=\"20\" font-size=\"6\" text-anchor=\"middle\">{}</text>\n{code}</svg>\n",
        escaped(lot),
        escaped(day)
    ))
}

fn page(tags: &[Tag]) -> Result<String, Error> {
    let [width, height] = PAGE;
    let mut svg = format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{width}mm\" height=\"{height}mm\" \
         viewBox=\"0 0 {width} {height}\" font-family=\"sans-serif\">\n\
         <rect width=\"{width}\" height=\"{height}\" fill=\"#fff\"/>\n"
    );
    let left = (width - GRID[0] as f64 * SIZE[0]) / 2.0;
    let top = (height - GRID[1] as f64 * SIZE[1]) / 2.0;
    for (index, tag) in tags.iter().enumerate() {
        let x = left + (index % GRID[0]) as f64 * SIZE[0];
        let y = top + (index / GRID[0]) as f64 * SIZE[1];
        svg += &format!("<g transform=\"translate({x} {y})\">\n{}</g>\n", one(tag)?);
    }
    Ok(svg + "</svg>\n")
}

fn one(tag: &Tag) -> Result<String, Error> {
    let [width, height] = SIZE;
    let middle = width / 2.0;
    let code_size = (34.0 / tag.code.chars().count().max(2) as f64).min(14.0);
    let mut svg = format!(
        "<rect x=\"1\" y=\"1\" width=\"{}\" height=\"{}\" fill=\"none\" stroke=\"#888\" stroke-width=\"0.2\" stroke-dasharray=\"2 2\"/>\n",
        width - 2.0,
        height - 2.0
    );
    svg += &format!(
        "<text x=\"{middle}\" y=\"13\" font-size=\"{code_size:.1}\" font-weight=\"bold\" text-anchor=\"middle\">{}</text>\n",
        escaped(&tag.code)
    );
    svg += &format!(
        "<text x=\"{middle}\" y=\"19\" font-size=\"4.5\" text-anchor=\"middle\">{}</text>\n",
        escaped(&tag.line)
    );
    if let Some([r, g, b]) = tag.colour {
        svg += &format!(
            "<rect x=\"5\" y=\"5\" width=\"7\" height=\"7\" fill=\"#{r:02x}{g:02x}{b:02x}\" stroke=\"#000\" stroke-width=\"0.2\"/>\n"
        );
    }
    svg += &squares(&text_of(&tag.code), middle - CODE_MM / 2.0, 23.0)?;
    Ok(svg)
}

/// The QR code as one path; the white around it is its quiet zone.
fn squares(text: &str, left: f64, top: f64) -> Result<String, Error> {
    let qr = QrCode::with_error_correction_level(text, EcLevel::Q)
        .map_err(|e| Error::bug(format!("no QR code for {text}: {e}")))?;
    let side = qr.width();
    let module = CODE_MM / side as f64;
    let mut path = String::new();
    for (at, colour) in qr.to_colors().into_iter().enumerate() {
        if colour == Color::Dark {
            path += &format!("M{} {}h1v1h-1z", at % side, at / side);
        }
    }
    Ok(format!(
        "<path transform=\"translate({left} {top}) scale({module})\" fill=\"#000\" d=\"{path}\"/>\n"
    ))
}

fn escaped(text: &str) -> String {
    text.replace('&', "&amp;")
        .replace('<', "&lt;")
        .replace('>', "&gt;")
}
