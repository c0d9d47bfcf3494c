//! What could not be done, as a page with its cure.

use axum::http::StatusCode;
use axum::response::{IntoResponse, Response};
use catchcup::doubt::Note;
use catchcup::error::Error;

use super::pages;

/// An answer that is no success.
#[derive(Debug)]
pub struct Trouble {
    pub status: StatusCode,
    pub note: Note,
}

impl Trouble {
    pub fn new(
        status: StatusCode,
        code: &'static str,
        message: impl Into<String>,
        hint: impl Into<String>,
    ) -> Self {
        Self {
            status,
            note: Note::new(code, message, hint),
        }
    }
}

impl From<Error> for Trouble {
    fn from(error: Error) -> Self {
        let status = match error.code() {
            "no_tank" | "no_scoop" | "no_line" => StatusCode::NOT_FOUND,
            "photo_known" => StatusCode::CONFLICT,
            "book_busy" => StatusCode::SERVICE_UNAVAILABLE,
            "disk_full" => StatusCode::INSUFFICIENT_STORAGE,
            "bug" | "book_damaged" => StatusCode::INTERNAL_SERVER_ERROR,
            _ => StatusCode::UNPROCESSABLE_ENTITY,
        };
        Self {
            status,
            note: error.note().clone(),
        }
    }
}

impl IntoResponse for Trouble {
    fn into_response(self) -> Response {
        (self.status, pages::trouble(&self.note)).into_response()
    }
}
