//! What is said beside the answer of a check.

use super::folder::{PAGE, PDF};
use super::manifest::Manifest;
use crate::doubt::Note;

/// That this build can't make the PDF again.
pub(super) fn pdf_not_rebuilt() -> Note {
    Note::new(
        "pdf_not_rebuilt",
        format!(
            "{PDF} is unchanged since it was signed; whether it says what the page says, this program can't tell"
        ),
        format!("rely on {PAGE}, or check with a catchcup that was built with PDF"),
    )
}

/// That another version wrote a file which this one can't make again.
pub(super) fn other_page(name: &str, manifest: &Manifest) -> Note {
    let what = if name == PAGE { "the page" } else { name };
    Note::new(
        "page_other_program",
        format!(
            "{what} was written by version {} and can't be rebuilt by this one",
            manifest.program
        ),
        format!(
            "check it with version {}, or rely on record.json alone",
            manifest.program
        ),
    )
}

/// That numbers measured again differ within the rounding of the record.
pub(super) fn within_rounding(manifest: &Manifest, version: &str) -> Note {
    Note::new(
        "within_rounding",
        format!(
            "measured again by version {version} on this machine, every number agrees within the rounding of the record (written by version {})",
            manifest.program
        ),
        "",
    )
}

/// That this version measures otherwise than the one that wrote the record.
pub(super) fn measures_otherwise(manifest: &Manifest, version: &str) -> Note {
    Note::new(
        "measures_otherwise",
        format!(
            "version {version} measures this photo otherwise than version {}",
            manifest.program
        ),
        format!("check it with version {}", manifest.program),
    )
}
