//! Which photos are meant, and their bytes.

use std::path::{Path, PathBuf};

use catchcup::error::Error;

/// Endings of photo files, small letters.
const ENDINGS: [&str; 9] = [
    "jpg", "jpeg", "png", "webp", "tif", "tiff", "heic", "heif", "hif",
];

/// Largest photo file that is read, bytes: no phone writes larger ones, and memory stays bounded.
const LARGEST_FILE: u64 = 200 << 20;

/// The photos named, folders replaced by the photos that lie in them, by name. A folder that holds none, or can't be
/// listed, stays in the list, so that [`read`] says what is wrong with it.
pub fn listed(named: &[PathBuf]) -> Vec<PathBuf> {
    let mut all = Vec::new();
    for path in named {
        match photos_in(path) {
            Some(photos) => all.extend(photos),
            None => all.push(path.clone()),
        }
    }
    all
}

/// The photos of a folder, sorted by name; `None` where it is no folder or has none. Folders in it are left alone.
fn photos_in(path: &Path) -> Option<Vec<PathBuf>> {
    let entries = std::fs::read_dir(path).ok()?;
    let mut photos: Vec<PathBuf> = entries
        .filter_map(|entry| Some(entry.ok()?.path()))
        .filter(|path| is_photo(path) && !path.is_dir())
        .collect();
    photos.sort();
    (!photos.is_empty()).then_some(photos)
}

/// True for a photo by its ending; hidden files (phones and computers leave some with a photo's ending) are none.
fn is_photo(path: &Path) -> bool {
    let ending = path
        .extension()
        .map(|e| e.to_string_lossy().to_ascii_lowercase());
    let hidden = file_name(path).starts_with('.');
    !hidden && ending.is_some_and(|ending| ENDINGS.contains(&ending.as_str()))
}

/// The bytes of a photo.
///
/// # Errors
/// Where it is a folder without photos, too large, or can't be read.
pub fn read(path: &Path) -> Result<Vec<u8>, Error> {
    let name = file_name(path);
    let size = std::fs::metadata(path).map_err(|e| Error::io(&name, &e))?;
    if size.is_dir() {
        return Err(Error::photo(
            "no_photos",
            format!("the folder {name} holds no photos"),
            format!(
                "name a folder with photos in it ({}); folders inside it are not searched",
                ENDINGS.join(", ")
            ),
        ));
    }
    if size.len() > LARGEST_FILE {
        let message = format!(
            "the file has {} MB, expected {} at most",
            size.len() >> 20,
            LARGEST_FILE >> 20
        );
        return Err(Error::photo(
            "file_too_large",
            message,
            "give the photo as the phone saved it",
        ));
    }
    std::fs::read(path).map_err(|e| Error::io(&name, &e))
}

/// The file's name without folders: paths say more about the user than a record should.
pub fn file_name(path: &Path) -> String {
    path.file_name().map_or_else(
        || path.display().to_string(),
        |name| name.to_string_lossy().into_owned(),
    )
}

/// The name of a picture made from photo `index` of the list: its own name without the ending, with its place in the list
/// where another photo is called the same, then `suffix`.
pub fn picture_name(index: usize, photos: &[PathBuf], suffix: &str) -> String {
    let stem = |path: &PathBuf| {
        path.file_stem()
            .map_or_else(String::new, |s| s.to_string_lossy().into_owned())
    };
    let own = stem(&photos[index]);
    let twins = photos.iter().filter(|other| stem(other) == own).count();
    if twins > 1 {
        format!("{own}-{}-{suffix}", index + 1)
    } else {
        format!("{own}-{suffix}")
    }
}
