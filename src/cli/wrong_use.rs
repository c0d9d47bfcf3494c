//! Wrong values on the command line, told so that a keeper knows what to write.

use std::error::Error as _;
use std::num::ParseIntError;

use catchcup::doubt::Note;
use catchcup::ladder::decimal::with_point;
use clap::error::{ContextKind, ContextValue, ErrorKind};

/// What is wrong with a value on the command line; `None` for any other mistake.
pub fn of_value(error: &clap::Error) -> Option<Note> {
    if error.kind() != ErrorKind::ValueValidation {
        return None;
    }
    let value = said(error, ContextKind::InvalidValue)?;
    let option = said(error, ContextKind::InvalidArg)?;
    if let Some(right) = with_point(value) {
        return Some(Note::new(
            "comma",
            format!("`{value}` for {option} has a comma, expected a point"),
            format!("use a point, not a comma: {right}"),
        ));
    }
    let cause = error.source()?;
    if cause.is::<ParseIntError>() {
        return Some(Note::new(
            "no_number",
            format!("`{value}` for {option} is no whole number"),
            "write it in digits, for example 2",
        ));
    }
    let Some(bounds) = bounds(&cause.to_string()) else {
        return Some(Note::new(
            "value",
            format!("`{value}` for {option}: {cause}"),
            "the same command with --help tells all options",
        ));
    };
    Some(Note::new(
        "out_of_range",
        format!("{value} for {option} can't be, expected {bounds}"),
        format!("write a whole number: {bounds}"),
    ))
}

fn said(error: &clap::Error, what: ContextKind) -> Option<&str> {
    match error.get(what)? {
        ContextValue::String(text) => Some(text),
        _ => None,
    }
}

/// `1 to 256` or `2 or more` of the library's `300 is not in 1..=256`.
fn bounds(words: &str) -> Option<String> {
    let (_, range) = words.split_once(" is not in ")?;
    let (low, high) = range.split_once("..")?;
    // Ends that only the size of the number's type gives are no bound that anybody meant.
    let meant = |high: &str| high.len() < 10;
    match high.trim_start_matches('=') {
        "" => Some(format!("{low} or more")),
        high if meant(high) => Some(format!("{low} to {high}")),
        _ => Some(format!("{low} or more, and no more than can be counted")),
    }
}
