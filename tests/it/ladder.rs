//! Ladders: the built-in files, broken files, placing against brute force.

use catchcup::ladder::{self, Shelf};

#[test]
fn every_built_in_file_loads() {
    for line in Shelf::default().lines() {
        let loaded = ladder::shelf::load_built_in(&line).expect("a listed line has a file");
        let ladder = loaded.unwrap_or_else(|e| panic!("{e}: {}", e.hint));
        assert_eq!(ladder.line, line);
    }
}
