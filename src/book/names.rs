//! Codes of tanks and lines, and other words that people give.

use crate::error::Error;

/// Longest code: it has to be read from across the room (house rule).
const LONGEST_CODE: usize = 12;

/// Longest text of a note or title, characters (house rule: a few lines of a screen).
const LONGEST_TEXT: usize = 400;

/// The code of a tank or line: letters, digits, `-`, `_` and `.`, at most 12.
///
/// # Errors
/// Where it is empty, too long or has other signs; `what` is "tank" or "line".
pub fn code(what: &'static str, text: &str) -> Result<String, Error> {
    let text = text.trim();
    let fits = text
        .chars()
        .all(|c| c.is_alphanumeric() || matches!(c, '-' | '_' | '.'));
    let starts = text.starts_with(|c: char| c.is_alphanumeric());
    if fits && starts && text.chars().count() <= LONGEST_CODE {
        return Ok(text.to_string());
    }
    Err(Error::book(
        "bad_code",
        format!("`{text}` can't be the code of a {what}"),
        format!(
            "take up to {LONGEST_CODE} letters and digits, - _ . between them, for example A3 or R-12"
        ),
    ))
}

/// A text of one line, trimmed.
///
/// # Errors
/// Where it is too long.
pub fn text(text: &str) -> Result<String, Error> {
    let joined = text.split_whitespace().collect::<Vec<_>>().join(" ");
    if joined.chars().count() > LONGEST_TEXT {
        return Err(Error::book(
            "text_too_long",
            format!(
                "the text has {} signs, {LONGEST_TEXT} are kept",
                joined.chars().count()
            ),
            "shorten it, or make two notes",
        ));
    }
    Ok(joined)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn codes() {
        for good in ["A3", "r-12", "B_1.2", " Ä7 "] {
            assert_eq!(code("tank", good).as_deref(), Ok(good.trim()));
        }
        for bad in ["", "-A", "a b", "=A1", "A123456789012", "a/b", "A\n"] {
            assert_eq!(code("tank", bad).is_err(), bad != "A\n", "{bad:?}");
        }
    }
}
