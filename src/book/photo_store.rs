//! Photos beside the book, each under its digest.

use std::fs::{self, File};
use std::io::Write;
use std::path::{Path, PathBuf};

use sha2::{Digest, Sha256};

use crate::error::Error;

/// The folder with the photos of a book: `NAME-photos/ab/abcdef...jpg` for the book `NAME`.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PhotoStore {
    folder: PathBuf,
}

impl PhotoStore {
    /// The photos of the book in the file `book`.
    pub fn beside(book: &Path) -> Self {
        let mut name = book.file_name().unwrap_or_default().to_os_string();
        name.push("-photos");
        Self {
            folder: book.with_file_name(name),
        }
    }

    /// The folder.
    pub fn folder(&self) -> &Path {
        &self.folder
    }

    /// Keeps `bytes`, whose digest is `sha256`, with the ending of `file`. On the disk before this returns, under its own
    /// name only when whole; a photo that is there already is left alone.
    ///
    /// # Errors
    /// Where the folder can't be written.
    pub fn keep(&self, sha256: &str, file: &str, bytes: &[u8]) -> Result<PathBuf, Error> {
        let path = self.place(sha256, file);
        if path.is_file() {
            return Ok(path);
        }
        let failed = |e: &std::io::Error| full_or_io(&path, e);
        let folder = path.parent().unwrap_or(&self.folder);
        fs::create_dir_all(folder).map_err(|e| failed(&e))?;
        // Another process may be keeping the same photo: each writes a file of its own, and the last one to finish wins.
        let part = path.with_extension(format!("part-{}", std::process::id()));
        let write = || -> std::io::Result<()> {
            let mut out = File::create(&part)?;
            out.write_all(bytes)?;
            out.sync_all()?;
            fs::rename(&part, &path)?;
            File::open(folder)
                .and_then(|folder| folder.sync_all())
                .or(Ok(()))
        };
        write().map_err(|e| {
            let _ = fs::remove_file(&part);
            failed(&e)
        })?;
        Ok(path)
    }

    /// Where the photo of that digest lies or would lie.
    pub fn place(&self, sha256: &str, file: &str) -> PathBuf {
        let ending: String = Path::new(file)
            .extension()
            .map(|e| e.to_string_lossy().to_ascii_lowercase())
            .filter(|e| e.len() <= 5 && e.chars().all(|c| c.is_ascii_alphanumeric()))
            .unwrap_or_else(|| "photo".into());
        let start = sha256.get(..2).unwrap_or("00");
        self.folder.join(start).join(format!("{sha256}.{ending}"))
    }

    /// Bytes of a kept photo; `None` where it is missing.
    ///
    /// # Errors
    /// Where it is there but can't be read.
    pub fn read(&self, sha256: &str, file: &str) -> Result<Option<Vec<u8>>, Error> {
        let path = self.place(sha256, file);
        match fs::read(&path) {
            Ok(bytes) => Ok(Some(bytes)),
            Err(e) if e.kind() == std::io::ErrorKind::NotFound => Ok(None),
            Err(e) => Err(Error::io(&path.display().to_string(), &e)),
        }
    }

    /// True where the kept photo is there and its bytes still have that digest.
    ///
    /// # Errors
    /// Where it can't be read.
    pub fn is_whole(&self, sha256: &str, file: &str) -> Result<bool, Error> {
        let bytes = self.read(sha256, file)?;
        Ok(bytes.is_some_and(|bytes| digest(&bytes) == sha256))
    }

    /// Copies every photo that `other` does not have yet; how many.
    ///
    /// # Errors
    /// Where a photo can't be read or written.
    pub fn copy_to(&self, other: &PhotoStore) -> Result<usize, Error> {
        let mut copied = 0;
        for from in self.files()? {
            let inside = from.strip_prefix(&self.folder).unwrap_or(&from);
            let to = other.folder.join(inside);
            if to.is_file() {
                continue;
            }
            let name = to.display().to_string();
            if let Some(folder) = to.parent() {
                fs::create_dir_all(folder).map_err(|e| Error::io(&name, &e))?;
            }
            fs::copy(&from, &to).map_err(|e| full_or_io(&to, &e))?;
            copied += 1;
        }
        Ok(copied)
    }

    /// All kept photos, by name; unfinished ones left out.
    ///
    /// # Errors
    /// Where the folder can't be listed.
    pub fn files(&self) -> Result<Vec<PathBuf>, Error> {
        let mut found = Vec::new();
        if !self.folder.is_dir() {
            return Ok(found);
        }
        let list = |folder: &Path| -> Result<Vec<PathBuf>, Error> {
            let failed = |e: std::io::Error| Error::io(&folder.display().to_string(), &e);
            let entries = fs::read_dir(folder).map_err(failed)?;
            entries.map(|e| Ok(e.map_err(failed)?.path())).collect()
        };
        for folder in list(&self.folder)?.into_iter().filter(|p| p.is_dir()) {
            found.extend(list(&folder)?);
        }
        let unfinished = |path: &PathBuf| {
            path.extension()
                .is_some_and(|e| e.to_string_lossy().starts_with("part-"))
        };
        found.retain(|path| path.is_file() && !unfinished(path));
        found.sort();
        Ok(found)
    }
}

/// SHA-256 as lower-case hexadecimal.
pub fn digest(bytes: &[u8]) -> String {
    let hash = Sha256::digest(bytes);
    hash.iter().map(|b| format!("{b:02x}")).collect()
}

fn full_or_io(path: &Path, cause: &std::io::Error) -> Error {
    match cause.kind() {
        std::io::ErrorKind::StorageFull | std::io::ErrorKind::QuotaExceeded => Error::book(
            "disk_full",
            format!("{}: {cause}", path.display()),
            "make room on the disk and do it again; all earlier entries stand, of this one nothing was kept",
        ),
        _ => Error::io(&path.display().to_string(), cause),
    }
}
