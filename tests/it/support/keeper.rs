//! A keeper's room with a book: commands at a chosen moment, and records ready to be filed.

use std::process::Output;

use catchcup::measures::AnimalMeasures;
use catchcup::report::record_json;
use serde_json::Value;

use super::room::{Room, err, out};
use crate::ladder_animals::{animal, read};
use crate::record_scoop::scoop_of;

/// The moment at which commands are run unless another is said.
pub const NOW: &str = "2026-05-08 20:00";

/// A room whose commands use the book `room.book`.
pub struct Keeper(pub Room);

impl Keeper {
    /// A room with line R1 (ladder red) in tank A1.
    pub fn new(name: &str) -> Self {
        let keeper = Self::empty(name);
        keeper.ok("line add R1 --ladder red --since 2025-01-01");
        keeper.ok("tank add A1 --line R1 --since 2025-01-01");
        keeper
    }

    /// A room without a book.
    pub fn empty(name: &str) -> Self {
        Self(Room::new(name))
    }

    /// Runs a command line; words between double quotes stay together.
    pub fn run(&self, command: &str) -> Output {
        self.run_at(NOW, command)
    }

    /// The same at another moment.
    pub fn run_at(&self, now: &str, command: &str) -> Output {
        let mut args = words(command);
        for [option, value] in [["--book", "room.book"], ["--who", "tester"], ["--now", now]] {
            if !args.iter().any(|arg| arg == option) {
                args.extend([option, value].map(str::to_string));
            }
        }
        let args: Vec<&str> = args.iter().map(String::as_str).collect();
        self.0
            .command(&args)
            .stdin(std::process::Stdio::null())
            .output()
            .expect("the command runs")
    }

    /// Standard output of a command that must succeed.
    #[track_caller]
    pub fn ok(&self, command: &str) -> String {
        self.ok_at(NOW, command)
    }

    /// The same at another moment.
    #[track_caller]
    pub fn ok_at(&self, now: &str, command: &str) -> String {
        let output = self.run_at(now, command);
        assert_eq!(
            output.status.code(),
            Some(0),
            "{command}: {}{}",
            err(&output),
            out(&output)
        );
        out(&output)
    }

    /// Standard error of a command that must be refused.
    #[track_caller]
    pub fn refused(&self, command: &str) -> String {
        let output = self.run(command);
        assert_eq!(output.status.code(), Some(2), "{command}: {}", out(&output));
        err(&output)
    }

    /// The objects that a command prints with `--json`.
    #[track_caller]
    pub fn json(&self, command: &str) -> Vec<Value> {
        objects(&self.ok(&format!("{command} --json")))
    }

    /// Writes a record of these animals into a file of its own; the file's name.
    pub fn record(
        &self,
        name: &str,
        taken_at: Option<&str>,
        animals: Vec<AnimalMeasures>,
    ) -> String {
        let file = format!("{name}.jsonl");
        self.0.file(&file, record(name, taken_at, animals));
        file
    }
}

/// One record as a line of JSON; `name` makes it a photo of its own.
pub fn record(name: &str, taken_at: Option<&str>, animals: Vec<AnimalMeasures>) -> String {
    let mut scoop = scoop_of(animals);
    scoop.photo.file = format!("{name}.jpg");
    scoop.photo.sha256 = digest(name);
    scoop.photo.capture.taken_at = taken_at.map(str::to_string);
    record_json(&scoop) + "\n"
}

/// A digest that belongs to a name alone.
pub fn digest(name: &str) -> String {
    catchcup::book::photo_store::digest(name.as_bytes())
}

/// So many well covered animals.
pub fn good(count: u32) -> Vec<AnimalMeasures> {
    (1..=count)
        .map(|no| animal(no, 0.9 + 0.001 * f64::from(no), 0.9))
        .collect()
}

/// The animal turned wild-type brown, off-type on the red ladder.
pub fn brown(no: u32) -> AnimalMeasures {
    let mut animal = animal(no, 0.4, 0.7);
    animal.brown_share = read(0.31, 0.04);
    animal
}

/// JSON objects, one a line.
pub fn objects(text: &str) -> Vec<Value> {
    text.lines()
        .map(|line| serde_json::from_str(line).unwrap_or_else(|e| panic!("{line}: {e}")))
        .collect()
}

fn words(command: &str) -> Vec<String> {
    let mut words: Vec<String> = Vec::new();
    for (index, part) in command.split('"').enumerate() {
        if index % 2 == 1 {
            words.push(part.to_string());
        } else {
            words.extend(part.split_whitespace().map(str::to_string));
        }
    }
    words
}
