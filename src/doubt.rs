//! The two kinds of news that are not errors: a doubt (a number, but beware) and a withheld result (no number, and why).
//!
//! Codes are stable words of the record; the text for people is made in [`note`].

/// A stable code with a message for people and the cure.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Note {
    /// Stable lower-case code, words joined by underscores.
    pub code: &'static str,
    /// What was found and what was expected; lower case, no full stop.
    pub message: String,
    /// What to do next; lower case, no full stop.
    pub hint: String,
}

impl Note {
    /// A note from its three parts.
    pub fn new(code: &'static str, message: impl Into<String>, hint: impl Into<String>) -> Self {
        Self {
            code,
            message: shown(message.into()),
            hint: shown(hint.into()),
        }
    }
}

/// `text` on one line, without signs that steer a terminal or turn the order of letters: words of files from outside stand
/// in messages, and must not change what else is seen.
///
/// ```
/// assert_eq!(catchcup::doubt::shown("key \u{1b}[2J\n".into()), "key \u{fffd}[2J ");
/// ```
pub fn shown(text: String) -> String {
    if !text.chars().any(steers) {
        return text;
    }
    let plain = |c: char| match c {
        '\n' | '\r' | '\t' => ' ',
        c if steers(c) => char::REPLACEMENT_CHARACTER,
        c => c,
    };
    text.chars().map(plain).collect()
}

/// A name as it must stand in a command that is printed to be typed: in quotes where a blank or another sign would be read
/// as something else by the shell.
///
/// ```
/// use catchcup::doubt::quoted;
/// assert_eq!(quoted("L7-proof"), "L7-proof");
/// assert_eq!(quoted("Blau Ü 1"), "'Blau Ü 1'");
/// assert_eq!(quoted("it's"), r"'it'\''s'");
/// ```
pub fn quoted(name: &str) -> String {
    let plain = |c: char| {
        c.is_alphanumeric() || matches!(c, '-' | '_' | '.' | '/' | ':' | ',' | '+' | '@' | '%')
    };
    if !name.is_empty() && name.chars().all(plain) {
        return name.to_string();
    }
    // Within single quotes nothing but their end is special; a quote is put between two such pieces.
    format!("'{}'", name.replace('\'', r"'\''"))
}

/// True for control characters and those that turn the direction of writing (Unicode standard annex 9, table 1).
pub fn steers(c: char) -> bool {
    c.is_control()
        || matches!(c, '\u{202A}'..='\u{202E}' | '\u{2066}'..='\u{2069}' | '\u{200E}' | '\u{200F}' | '\u{061C}')
}
