//! Numbers written with a comma for their point, as many people write them.

use std::ops::Range;

use super::toml_text::{RulesError, TomlText};

/// The complaint about a number with a comma for its point, the last on the line up to byte `at`.
pub(super) fn comma_before(source: &TomlText<'_>, at: usize) -> Option<RulesError> {
    let start = source
        .text
        .get(..at)?
        .rfind('\n')
        .map_or(0, |newline| newline + 1);
    let line = source.text[start..].lines().next()?;
    let near = |number: &Range<usize>| start + number.start <= at;
    let number = numbers_with_comma(line).filter(near).last()?;
    let found = &line[number.clone()];
    let right = found.replace(',', ".");
    Some(source.error(
        start + number.start..start + number.end,
        format!("`{found}` has a comma, expected a point"),
        format!("use a point, not a comma: {right}"),
    ))
}

/// Where numbers such as `96,87` stand in `text`: digits, one comma, digits.
fn numbers_with_comma(text: &str) -> impl Iterator<Item = Range<usize>> {
    let of_number = |c: char| c.is_ascii_digit() || matches!(c, ',' | '.');
    let mut from = 0;
    std::iter::from_fn(move || {
        loop {
            let start = from + text[from..].find(of_number)?;
            let end = text[start..]
                .find(|c| !of_number(c))
                .map_or(text.len(), |length| start + length);
            from = end;
            if with_point(&text[start..end]).is_some() {
                return Some(start..end);
            }
        }
    })
}

/// The number that `text` is with a point in the place of its comma; `None` where it is no such number.
///
/// ```
/// use catchcup::ladder::decimal::with_point;
/// assert_eq!(with_point("96,87").as_deref(), Some("96.87"));
/// assert_eq!(with_point("1,2,3"), None);
/// ```
pub fn with_point(text: &str) -> Option<String> {
    let (whole, part) = text.split_once(',')?;
    let digits = |s: &str| !s.is_empty() && s.bytes().all(|b| b.is_ascii_digit());
    (digits(whole) && digits(part)).then(|| format!("{whole}.{part}"))
}
