//! The one kind of news that stops the work, grouped by who must act.

use crate::doubt::Note;

/// Why the work can't go on. The group says who must act; the note inside has the code, the finding and the cure.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum Error {
    /// The photo file: take or export it again.
    #[error("{}", .0.message)]
    Photo(Note),
    /// A rules or house file: correct it.
    #[error("{}", .0.message)]
    Rules(Note),
    /// The book: an entry that can't be made or found, or the book's file.
    #[error("{}", .0.message)]
    Book(Note),
    /// A file or folder could not be read or written.
    #[error("{}", .0.message)]
    Io(Note),
    /// A fault of the program: report it.
    #[error("{}", .0.message)]
    Bug(Note),
}

impl Error {
    /// An error about the photo file.
    pub fn photo(code: &'static str, message: impl Into<String>, hint: impl Into<String>) -> Self {
        Self::Photo(Note::new(code, message, hint))
    }

    /// An error about a rules or house file.
    pub fn rules(code: &'static str, message: impl Into<String>, hint: impl Into<String>) -> Self {
        Self::Rules(Note::new(code, message, hint))
    }

    /// An error about the book or an entry of it.
    pub fn book(code: &'static str, message: impl Into<String>, hint: impl Into<String>) -> Self {
        Self::Book(Note::new(code, message, hint))
    }

    /// A failure to read or write `what`, with the system's own words.
    pub fn io(what: &str, cause: &std::io::Error) -> Self {
        let hint = match cause.kind() {
            std::io::ErrorKind::NotFound => "check the name and the folder",
            std::io::ErrorKind::PermissionDenied => "check who may read and write there",
            std::io::ErrorKind::NotADirectory | std::io::ErrorKind::AlreadyExists => {
                "a file of that name is in the way: name another folder"
            }
            std::io::ErrorKind::IsADirectory => "that is a folder: name a file",
            _ => "check the disk or card, then try again",
        };
        Self::Io(Note::new("io", format!("{what}: {cause}"), hint))
    }

    /// A state that a correct program can't reach; `what` says which.
    pub fn bug(what: impl Into<String>) -> Self {
        Self::Bug(Note::new(
            "bug",
            what,
            "this is a fault of the program; please report it with the photo",
        ))
    }

    /// Code, finding and cure together.
    pub fn note(&self) -> &Note {
        match self {
            Self::Photo(note)
            | Self::Rules(note)
            | Self::Book(note)
            | Self::Io(note)
            | Self::Bug(note) => note,
        }
    }

    /// Stable lower-case code, words joined by underscores.
    pub fn code(&self) -> &'static str {
        self.note().code
    }

    /// What to do next; lower case, no full stop.
    pub fn hint(&self) -> &str {
        &self.note().hint
    }
}
