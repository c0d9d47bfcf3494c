//! Helpers for the tests: published tables, photos made in memory, files of the repository.

pub mod chart;
pub mod dice;
pub mod keeper;
pub mod lot;
pub mod picture;
pub mod room;
#[cfg(feature = "web")]
pub mod server;
pub mod table;
pub mod truth;

use std::path::{Path, PathBuf};

/// The root of the repository.
pub fn root() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR"))
}

/// All Rust files below a folder, sorted.
pub fn rust_files(folder: &Path) -> Vec<PathBuf> {
    let mut found = Vec::new();
    let mut open = vec![folder.to_path_buf()];
    while let Some(folder) = open.pop() {
        let Ok(entries) = std::fs::read_dir(&folder) else {
            continue;
        };
        for entry in entries {
            let path = entry.expect("a readable folder").path();
            if path.is_dir() {
                open.push(path);
            } else if path.extension().is_some_and(|e| e == "rs") {
                found.push(path);
            }
        }
    }
    found.sort();
    found
}
