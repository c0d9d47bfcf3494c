//! The commands on trends: each asks the book for the past and the library for an answer, and prints it.

pub mod mixed;
pub mod month;
pub mod room;
pub mod share;
pub mod trend;
pub mod trial;

use std::path::Path;

use anyhow::Result;
pub use catchcup::book::questions::{House, question};
use catchcup::book::{Book, Tank};
use catchcup::error::Error;
use catchcup::ladder::{Ladder, Rung};
use catchcup::report::plot::Svg;
use catchcup::scoop::PastScoop;
use jiff::civil::Date;

use super::book::Desk;
use super::book::rooms::house_shelf;

/// Rung from which is sold where the house says none (the last but one: G5 is show quality).
const USUAL_SALE_RUNG: &str = "G4";

/// The sale rung named, else the house's, else G4.
pub fn sale_rung(named: Option<Rung>, desk: &Desk) -> Rung {
    let usual = || Rung::from_word(USUAL_SALE_RUNG).unwrap_or(Rung::BEST);
    named.or(desk.house.sale_rung).unwrap_or_else(usual)
}

/// Reads the house's latest scoops for their scatter.
///
/// # Errors
/// Where the book can't be read.
pub fn house(book: &Book, sale_rung: Rung, desk: &Desk) -> Result<House> {
    Ok(book.house(sale_rung, desk.house.minutes)?)
}

/// The ladder of a line of the book; `None` where it is unknown by now.
///
/// # Errors
/// Where a rules file of the house is wrong.
pub fn ladder_of(book: &Book, line: Option<&str>, desk: &Desk) -> Result<Option<Ladder>> {
    let Some(line) = line else { return Ok(None) };
    let Some(line) = book.find_line(line)? else {
        return Ok(None);
    };
    Ok(house_shelf(&desk.house)?.ladder(&line.ladder))
}

/// Scoops of the latest `weeks` before the last one that are in the state of the last: same generation and conditions.
pub fn present(scoops: &[PastScoop], weeks: f64) -> Vec<&PastScoop> {
    let Some(last) = scoops.last() else {
        return Vec::new();
    };
    let days = (7.0 * weeks).round() as i64;
    let from: Date = last.at.date().saturating_sub(jiff::Span::new().days(days));
    let like = |s: &&PastScoop| {
        s.at.date() > from && s.conditions == last.conditions && s.generation == last.generation
    };
    scoops.iter().filter(like).collect()
}

/// `tank A1, line R1`.
pub fn tank_title(tank: &Tank) -> String {
    match &tank.line {
        Some(line) => format!("tank {}, line {line}", tank.code),
        None => format!("tank {}", tank.code),
    }
}

/// Writes a picture: as PNG where the file is named so, else as SVG.
///
/// # Errors
/// Where the file can't be written.
pub fn write(path: &Path, picture: &Svg) -> Result<()> {
    let wants_png = path
        .extension()
        .is_some_and(|end| end.eq_ignore_ascii_case("png"));
    let content = if wants_png {
        picture.png()
    } else {
        picture.finish().into_bytes()
    };
    std::fs::write(path, content).map_err(|e| Error::io(&path.display().to_string(), &e))?;
    Ok(())
}

/// The error for a tank or line without a scoop.
pub fn no_scoops(what: &str) -> Error {
    Error::book(
        "no_scoops",
        format!("no scoop of {what} is in the book"),
        "file some first: catchcup scoop add TANK PHOTO",
    )
}
