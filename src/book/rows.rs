//! Stored shapes and domain values: dates, rungs, lists in a cell.

use std::fmt::Display;
use std::str::FromStr;

use jiff::civil::{Date, DateTime};
use rusqlite::types::Type;
use rusqlite::{Row, RowIndex};

use crate::ladder::Rung;
use crate::measures::{Sex, SexFrom, View};

/// A cell that holds what can't be read back: the book was changed by something else.
pub(super) fn unreadable(cell: &str) -> rusqlite::Error {
    let cause = format!("the cell holds `{cell}`");
    rusqlite::Error::FromSqlConversionFailure(0, Type::Text, cause.into())
}

/// The cell's text read as `T`.
pub(super) fn parsed<T: FromStr>(row: &Row<'_>, at: impl RowIndex) -> rusqlite::Result<T> {
    let text: String = row.get(at)?;
    text.parse().map_err(|_| unreadable(&text))
}

/// The same for a cell that may be empty.
pub(super) fn maybe_parsed<T: FromStr>(
    row: &Row<'_>,
    at: impl RowIndex,
) -> rusqlite::Result<Option<T>> {
    let text: Option<String> = row.get(at)?;
    text.map(|text| text.parse().map_err(|_| unreadable(&text)))
        .transpose()
}

/// A moment as it is stored, to the second.
pub(super) fn moment(at: DateTime) -> String {
    at.strftime("%Y-%m-%dT%H:%M:%S").to_string()
}

/// A day as it is stored.
pub(super) fn day(date: Date) -> String {
    date.strftime("%Y-%m-%d").to_string()
}

/// Numbers or words in one cell, a space between.
pub(super) fn joined<T: Display>(items: impl IntoIterator<Item = T>) -> String {
    let words: Vec<String> = items.into_iter().map(|item| item.to_string()).collect();
    words.join(" ")
}

/// Exactly `N` numbers of a cell.
pub(super) fn numbers<T: FromStr + Copy, const N: usize>(cell: &str) -> rusqlite::Result<[T; N]> {
    let found: Option<Vec<T>> = cell.split(' ').map(|word| word.parse().ok()).collect();
    found
        .and_then(|numbers| numbers.try_into().ok())
        .ok_or_else(|| unreadable(cell))
}

/// The rung of a stored height.
pub(super) fn rung(row: &Row<'_>, at: impl RowIndex) -> rusqlite::Result<Option<Rung>> {
    let height: Option<i64> = row.get(at)?;
    let Some(height) = height else {
        return Ok(None);
    };
    let rung = usize::try_from(height).ok().and_then(Rung::from_index);
    rung.map(Some)
        .ok_or_else(|| unreadable(&height.to_string()))
}

/// A rung's height as it is stored.
pub(super) fn height(rung: Rung) -> i64 {
    rung.index() as i64
}

/// Word of the sex.
pub(super) fn sex_word(sex: Sex) -> &'static str {
    match sex {
        Sex::Female => "female",
        Sex::Male => "male",
        Sex::Unsure => "unsure",
    }
}

/// The sex of that word; unsure for any other.
pub(super) fn sex(word: &str) -> Sex {
    match word {
        "female" => Sex::Female,
        "male" => Sex::Male,
        _ => Sex::Unsure,
    }
}

/// Word of what the sex was read from.
pub(super) fn sex_from_word(from: SexFrom) -> &'static str {
    match from {
        SexFrom::Given => "given",
        SexFrom::Saddle => "saddle",
        SexFrom::Eggs => "eggs",
        SexFrom::None => "none",
    }
}

/// What the sex was read from, of that word.
pub(super) fn sex_from(word: &str) -> SexFrom {
    match word {
        "given" => SexFrom::Given,
        "saddle" => SexFrom::Saddle,
        "eggs" => SexFrom::Eggs,
        _ => SexFrom::None,
    }
}

/// Word of the view.
pub(super) fn view_word(view: View) -> &'static str {
    match view {
        View::Side => "side",
        View::Top => "top",
        View::Unsure => "unsure",
    }
}

/// The view of that word; unsure for any other.
pub(super) fn view(word: &str) -> View {
    match word {
        "side" => View::Side,
        "top" => View::Top,
        _ => View::Unsure,
    }
}
