//! `catchcup lines`: the lines at hand, or one rules file.

use anyhow::Result;
use catchcup::error::Error;
use catchcup::ladder::{Shelf, shelf};

use super::args::LinesArgs;
use super::output::Out;

/// Prints the lines with their plain words, or the rules file of one.
pub fn run(args: &LinesArgs, out: &mut Out) -> Result<bool> {
    match &args.line {
        Some(line) => {
            out.raw(shelf::built_in_text(line).ok_or_else(|| unknown(line, &Shelf::default()))?)?
        }
        None => {
            for ladder in Shelf::default().ladders() {
                out.line(&format!("{:<12} {}", ladder.line, ladder.title))?;
            }
        }
    }
    Ok(true)
}

/// The complaint about a line that is not on the shelf.
pub fn unknown(line: &str, shelf: &Shelf) -> Error {
    let known = shelf.lines().join(", ");
    Error::rules(
        "unknown_line",
        format!("there is no line `{line}`"),
        format!("take one of: {known}"),
    )
}
