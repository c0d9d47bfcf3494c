//! Writes the overlay pictures.

use std::path::{Path, PathBuf};

use anyhow::Result;
use catchcup::error::Error;
use catchcup::report::overlay_jpeg;
use catchcup::scoop::Graded;

/// Writes the photo with its outlines as `STEM-graded.jpg` into `folder`; photos of the same name get their place in the
/// list added.
///
/// # Errors
/// Where the picture can't be written.
pub fn write(graded: &Graded, folder: &Path, index: usize, photos: &[PathBuf]) -> Result<()> {
    let picture = overlay_jpeg(graded)?;
    let path = folder.join(name(index, photos));
    std::fs::write(&path, picture).map_err(|e| Error::io(&path.display().to_string(), &e))?;
    Ok(())
}

fn name(index: usize, photos: &[PathBuf]) -> String {
    let stem = |path: &PathBuf| {
        path.file_stem()
            .map_or_else(String::new, |s| s.to_string_lossy().into_owned())
    };
    let own = stem(&photos[index]);
    let twins = photos.iter().filter(|other| stem(other) == own).count();
    if twins > 1 {
        format!("{own}-{}-graded.jpg", index + 1)
    } else {
        format!("{own}-graded.jpg")
    }
}
