//! The page of a proof as a PDF: the same words, numbers and photo on A4, nothing but what was signed in it, no clock and no
//! chance, so that it can be made again and compared. A4 is narrower than Letter, and the margins are wide enough for what
//! Letter lacks in height, so that it prints on both.
//!
//! # Source
//! [PDF17]: file structure, fonts (9.6 to 9.10), images (8.9), graphics (8.4, 8.5); [ISO216].

mod face;
mod file;
mod layout;
mod picture;
mod sheets;

use super::content::{content, file as file_of};
use crate::error::Error;
use crate::photo::embed::embedded;
use crate::proof::manifest::Manifest;
use crate::proof::verify::Files;

/// The PDF that follows from the manifest and its files.
///
/// # Errors
/// Where record, rules or photo can't be read, or the page holds a sign that the font lacks.
pub(super) fn pdf(manifest: &Manifest, files: &Files) -> Result<Vec<u8>, Error> {
    let content = content(manifest, files)?;
    let photo = embedded(file_of(files, manifest.photo())?)?;
    let sheets = layout::laid_out(&content, &photo)?;
    file::written(&content.title, &manifest.program, sheets, photo)
}
