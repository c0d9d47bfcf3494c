//! The printed tag of a tank in a photo: a QR code [ISO18004] whose text names the tank.

use std::panic::{AssertUnwindSafe, catch_unwind};

use rqrr::PreparedImage;

use super::Photo;
use super::linear::LinearImage;

/// What the text of a tag begins with; capitals, digits and a few signs make the coarsest, best readable code.
const BEGIN: &str = "CATCHCUP:TANK:";

/// Longer sides at which a photo is looked through, coarse first: a tag as long as a finger is found on the first one
/// (measured on rendered photos with a tag of an eighth of their width).
const LOOKED_AT: [usize; 3] = [1200, 2000, 3200];

/// The text of the tag of tank `code`.
///
/// ```
/// assert_eq!(catchcup::photo::tag::text_of("a3"), "CATCHCUP:TANK:A3");
/// ```
pub fn text_of(code: &str) -> String {
    format!("{BEGIN}{}", code.to_uppercase())
}

/// What the text of a lot's card begins with.
const LOT: &str = "CATCHCUP:LOT:";

/// The text of the card of a lot on a day (written `2026-05-08`).
pub fn text_of_lot(lot: &str, day: &str) -> String {
    format!("{LOT}{}:{day}", lot.to_uppercase())
}

/// Lot and day of the card that lies in the photo; `None` where none is read, or several.
pub fn lot_in(photo: &Photo) -> Option<[String; 2]> {
    match codes_in(photo, LOT).as_slice() {
        [one] => {
            let (lot, day) = one.rsplit_once(':')?;
            Some([lot.to_string(), day.to_string()])
        }
        _ => None,
    }
}

/// Codes of the tanks whose tags lie in the photo, in capitals, each once, sorted; other QR codes are left out.
pub fn tanks_in(photo: &Photo) -> Vec<String> {
    codes_in(photo, BEGIN)
}

/// What stands behind `begin` in the QR codes of the photo, each once, sorted.
fn codes_in(photo: &Photo, begin: &str) -> Vec<String> {
    let longer = photo.width().max(photo.height());
    let mut last_step = usize::MAX;
    for side in LOOKED_AT {
        let step = longer.div_ceil(side).clamp(1, 15);
        if step == last_step {
            continue;
        }
        last_step = step;
        let found = codes_on(&photo.reduced(step), begin);
        if !found.is_empty() {
            return found;
        }
    }
    Vec::new()
}

fn codes_on(picture: &LinearImage, begin: &str) -> Vec<String> {
    let [red, green, blue] = &picture.planes;
    // Luminance of sRGB primaries, square-rooted: about as even to the threshold as a camera's own grey.
    let grey = |x: usize, y: usize| {
        let at = y * picture.width + x;
        let light = 0.2126 * red[at] + 0.7152 * green[at] + 0.0722 * blue[at];
        (light.clamp(0.0, 1.0).sqrt() * 255.0) as u8
    };
    let mut prepared = PreparedImage::prepare_from_greyscale(picture.width, picture.height, grey);
    // The library asserts that a code's plane keeps within whole numbers; three marks that are no code's corners can
    // make one that runs to infinity (found by random pictures). Nothing can be read then.
    let texts = catch_unwind(AssertUnwindSafe(|| {
        let grids = prepared.detect_grids().into_iter();
        grids.filter_map(|grid| grid.decode().ok()).collect()
    }));
    let texts: Vec<(rqrr::MetaData, String)> = texts.unwrap_or_default();
    let mut codes: Vec<String> = texts
        .iter()
        .filter_map(|(_, text)| Some(text.strip_prefix(begin)?.to_string()))
        .filter(|code| !code.is_empty())
        .collect();
    codes.sort();
    codes.dedup();
    codes
}
