//! The files of a proof's folder: their names, which of them belong together, and whether they are all there.

use super::manifest::Manifest;
use super::verify::{Files, fault};
use crate::doubt::Note;
use crate::photo::strip::is_png;

/// Kind and version of the manifest of a JPEG photo.
pub const KIND: &str = "catchcup.proof/1";
/// The same of a PNG photo, which version 1 did not know.
pub const KIND_PNG: &str = "catchcup.proof/2";
/// The published photo.
pub const PHOTO: &str = "photo.jpg";
/// The published photo where the camera or the screen wrote a PNG.
pub const PHOTO_PNG: &str = "photo.png";
/// What was measured on it.
pub const RECORD: &str = "record.json";
/// The house's ladder.
pub const RULES: &str = "rules.toml";
/// The signed file.
pub const MANIFEST: &str = "manifest.json";
/// The signature of its bytes.
pub const SIGNATURE: &str = "signature.json";
/// The page for people.
pub const PAGE: &str = "page.html";
/// The page as a PDF, where it was wanted.
pub const PDF: &str = "page.pdf";
/// The signature of the PDF's bytes, with the key of the manifest.
pub const PDF_SIGNATURE: &str = "page-signature.json";
/// Files that a proof may hold; of the photos it holds one.
pub const FILES: [&str; 9] = [
    PAGE,
    PDF,
    MANIFEST,
    SIGNATURE,
    PDF_SIGNATURE,
    PHOTO,
    PHOTO_PNG,
    RECORD,
    RULES,
];

/// The name of a published photo.
pub fn photo_name(photo: &[u8]) -> &'static str {
    if is_png(photo) { PHOTO_PNG } else { PHOTO }
}

/// Files whose digests are signed, where the photo has that name.
pub fn listed(photo: &'static str) -> [&'static str; 3] {
    [photo, RECORD, RULES]
}

/// Kinds with what each lists.
pub(super) const KINDS: [(&str, &str); 2] = [(KIND, PHOTO), (KIND_PNG, PHOTO_PNG)];

/// What can be said of a folder before its manifest is read.
///
/// # Errors
/// Where something is in it that is no file of a proof, or what is signed is missing.
pub(super) fn only_its_files(files: &Files, odd: &[String]) -> Result<(), Note> {
    if let Some(name) = odd.first() {
        return Err(fault(
            "odd_file",
            format!("the folder holds {name}, which is no file of a proof"),
        ));
    }
    known_files(files, &FILES)?;
    all_files(files, &[MANIFEST, SIGNATURE])
}

/// The files of the folder: those that it must hold, and the PDF with its signature where there is either.
pub(super) fn folder(files: &Files, manifest: &Manifest) -> Vec<&'static str> {
    let mut names = manifest.folder().to_vec();
    if [PDF, PDF_SIGNATURE]
        .iter()
        .any(|name| files.contains_key(*name))
    {
        names.extend([PDF, PDF_SIGNATURE]);
    }
    names
}

/// Nothing but what may be there.
///
/// # Errors
/// Where there is something else.
pub(super) fn known_files(files: &Files, known: &[&str]) -> Result<(), Note> {
    match files.keys().find(|name| !known.contains(&name.as_str())) {
        Some(name) => Err(fault(
            "odd_file",
            format!("the folder holds {name}, which is no file of this proof"),
        )),
        None => Ok(()),
    }
}

/// Everything that must be there.
///
/// # Errors
/// Where something is missing.
pub(super) fn all_files(files: &Files, needed: &[&str]) -> Result<(), Note> {
    match needed.iter().find(|name| !files.contains_key(**name)) {
        Some(name) => Err(fault("missing_file", format!("{name} is missing"))),
        None => Ok(()),
    }
}
