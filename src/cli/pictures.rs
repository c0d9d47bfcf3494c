//! Writes the pictures asked for beside the answer: overlay, crops, sheet.

use std::path::{Path, PathBuf};

use anyhow::Result;
use catchcup::error::Error;
use catchcup::report::{crop_jpegs, overlay_jpeg, sheet_jpeg};
use catchcup::scoop::Graded;

use super::args::GradeArgs;
use super::photos::picture_name;

/// Writes what was asked for photo `index` of the list: `STEM-graded.jpg` into the overlay's folder; `STEM-03.jpg` for
/// animal 3 and so on, and `STEM-sheet.jpg` with all of them, into the crops' folder.
///
/// # Errors
/// Where a picture can't be written.
pub fn write(graded: &Graded, args: &GradeArgs, index: usize, photos: &[PathBuf]) -> Result<()> {
    if let Some(folder) = &args.overlay {
        let name = picture_name(index, photos, "graded.jpg");
        put(folder, &name, &overlay_jpeg(graded)?)?;
    }
    if let Some(folder) = &args.crops {
        for (no, crop) in crop_jpegs(graded)? {
            let name = picture_name(index, photos, &format!("{no:02}.jpg"));
            put(folder, &name, &crop)?;
        }
        if let Some(sheet) = sheet_jpeg(graded)? {
            put(folder, &picture_name(index, photos, "sheet.jpg"), &sheet)?;
        }
    }
    Ok(())
}

fn put(folder: &Path, name: &str, bytes: &[u8]) -> Result<()> {
    let path = folder.join(name);
    std::fs::write(&path, bytes).map_err(|e| Error::io(&path.display().to_string(), &e))?;
    Ok(())
}
