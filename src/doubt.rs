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
            message: message.into(),
            hint: hint.into(),
        }
    }
}
