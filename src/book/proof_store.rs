//! Proofs beside the book: a folder for each.

use std::fs;
use std::path::{Path, PathBuf};

use crate::error::Error;
use crate::proof::manifest::FILES;
use crate::proof::verify::Files;

/// Writes the files of a proof into a new folder: under another name first, so that a half-written proof is never taken
/// for one.
///
/// # Errors
/// Where the folder can't be written.
pub fn write_folder(folder: &Path, files: &Files) -> Result<(), Error> {
    let shown = folder.display().to_string();
    let mut half = folder.as_os_str().to_owned();
    half.push(".part");
    let half = Path::new(&half);
    let failed = |e| Error::io(&shown, &e);
    if half.exists() {
        fs::remove_dir_all(half).map_err(failed)?;
    }
    fs::create_dir_all(half).map_err(failed)?;
    for (name, bytes) in files {
        fs::write(half.join(name), bytes).map_err(failed)?;
    }
    fs::rename(half, folder).map_err(failed)
}

/// The proofs beside a book.
#[derive(Debug, Clone)]
pub struct ProofStore {
    folder: PathBuf,
}

impl ProofStore {
    /// Beside the book in the file `book`.
    pub fn beside(book: &Path) -> Self {
        let mut name = book.file_name().unwrap_or_default().to_os_string();
        name.push("-proofs");
        Self {
            folder: book.with_file_name(name),
        }
    }

    /// Keeps a proof under a name like `lot`; that name.
    ///
    /// # Errors
    /// Where it can't be written.
    pub fn keep(&self, lot: &str, files: &Files) -> Result<String, Error> {
        let plain: String = lot
            .chars()
            .filter(|c| c.is_ascii_alphanumeric() || *c == '-')
            .take(40)
            .collect();
        let plain = if plain.is_empty() { "lot" } else { &plain };
        let mut name = plain.to_string();
        let mut number = 1;
        while self.folder.join(&name).exists() {
            number += 1;
            name = format!("{plain}-{number}");
        }
        write_folder(&self.folder.join(&name), files)?;
        Ok(name)
    }

    /// Names of all proofs, latest last.
    ///
    /// # Errors
    /// Where the folder can't be read.
    pub fn names(&self) -> Result<Vec<String>, Error> {
        if !self.folder.is_dir() {
            return Ok(Vec::new());
        }
        let failed = |e| Error::io(&self.folder.display().to_string(), &e);
        let mut found = Vec::new();
        for entry in fs::read_dir(&self.folder).map_err(failed)? {
            let entry = entry.map_err(failed)?;
            let name = entry.file_name().to_string_lossy().into_owned();
            if is_plain(&name) && entry.path().is_dir() {
                let made = entry.metadata().and_then(|m| m.modified()).ok();
                found.push((made, name));
            }
        }
        found.sort();
        Ok(found.into_iter().map(|(_, name)| name).collect())
    }

    /// Names of the files that a proof holds.
    pub fn files(&self, proof: &str) -> Vec<&'static str> {
        let is_there =
            |file: &&str| is_plain(proof) && self.folder.join(proof).join(file).is_file();
        FILES.into_iter().filter(is_there).collect()
    }

    /// A file of a proof; `None` where there is none of that name.
    ///
    /// # Errors
    /// Where it can't be read.
    pub fn read(&self, proof: &str, file: &str) -> Result<Option<Vec<u8>>, Error> {
        if !is_plain(proof) || !FILES.contains(&file) {
            return Ok(None);
        }
        let path = self.folder.join(proof).join(file);
        if !path.is_file() {
            return Ok(None);
        }
        fs::read(&path)
            .map(Some)
            .map_err(|e| Error::io(&path.display().to_string(), &e))
    }
}

/// A name that leads nowhere else.
fn is_plain(name: &str) -> bool {
    !name.is_empty() && name.chars().all(|c| c.is_ascii_alphanumeric() || c == '-')
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_proof_is_kept_and_leads_nowhere_else() {
        let folder = std::env::temp_dir().join(format!("catchcup-proofs-{}", std::process::id()));
        let store = ProofStore::beside(&folder.join("room.book"));
        let files = Files::from([("page.html".to_string(), b"<p>".to_vec())]);
        assert_eq!(store.names().expect("none yet"), Vec::<String>::new());
        assert_eq!(store.keep("A1/../x", &files).expect("kept"), "A1x");
        assert_eq!(store.keep("A1/../x", &files).expect("kept"), "A1x-2");
        assert_eq!(store.names().expect("two").len(), 2);
        assert!(store.read("A1x", "page.html").expect("read").is_some());
        for (proof, file) in [
            ("..", "page.html"),
            ("A1x", "../A1x/page.html"),
            ("A1x", "house.key"),
            ("", "page.html"),
        ] {
            assert!(
                store.read(proof, file).expect("read").is_none(),
                "{proof} {file}"
            );
        }
        let _ = std::fs::remove_dir_all(&folder);
    }
}
