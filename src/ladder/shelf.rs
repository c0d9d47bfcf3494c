//! The ladders at hand: the built-in ones, with the house's own files in their place.

use super::load::load;
use super::{Ladder, RulesError};

/// Built-in lines with the text of their rules files, in the order in which lines are listed.
const BUILT_IN: [(&str, &str); 16] = [
    ("red", include_str!("../../grading-rules/red.toml")),
    ("orange", include_str!("../../grading-rules/orange.toml")),
    ("yellow", include_str!("../../grading-rules/yellow.toml")),
    ("blue", include_str!("../../grading-rules/blue.toml")),
    (
        "blue-light",
        include_str!("../../grading-rules/blue-light.toml"),
    ),
    ("black", include_str!("../../grading-rules/black.toml")),
    (
        "chocolate",
        include_str!("../../grading-rules/chocolate.toml"),
    ),
    ("white", include_str!("../../grading-rules/white.toml")),
    ("green", include_str!("../../grading-rules/green.toml")),
    (
        "red-tissue",
        include_str!("../../grading-rules/red-tissue.toml"),
    ),
    (
        "rili-red",
        include_str!("../../grading-rules/rili-red.toml"),
    ),
    (
        "rili-orange",
        include_str!("../../grading-rules/rili-orange.toml"),
    ),
    (
        "rili-black",
        include_str!("../../grading-rules/rili-black.toml"),
    ),
    (
        "rili-blue",
        include_str!("../../grading-rules/rili-blue.toml"),
    ),
    ("wild", include_str!("../../grading-rules/wild.toml")),
    ("mixed", include_str!("../../grading-rules/mixed.toml")),
];

/// The ladders at hand. Built-in files are read only when their line is asked for.
#[derive(Debug, Clone, Default)]
pub struct Shelf {
    own: Vec<Ladder>,
}

impl Shelf {
    /// The built-in ladders, with `own` in the place of the built-in one of the same line or beside them.
    pub fn with_own(own: Vec<Ladder>) -> Self {
        Self { own }
    }

    /// Ids of all lines, built-in order first, then lines that only the house has.
    pub fn lines(&self) -> Vec<String> {
        let mut lines: Vec<String> = BUILT_IN.iter().map(|(line, _)| line.to_string()).collect();
        for ladder in &self.own {
            if !lines.contains(&ladder.line) {
                lines.push(ladder.line.clone());
            }
        }
        lines
    }

    /// The ladder of `line`: its id, or the name by which it is shown (`red rili`), in small letters or capitals; `None` where
    /// there is none.
    pub fn ladder(&self, line: &str) -> Option<Ladder> {
        self.by_id(line).or_else(|| {
            let said = line.trim().to_lowercase();
            self.by_id(&said).or_else(|| {
                let titled = |ladder: &Ladder| ladder.title.to_lowercase() == said;
                self.ladders().into_iter().find(titled)
            })
        })
    }

    fn by_id(&self, line: &str) -> Option<Ladder> {
        self.own
            .iter()
            .rev()
            .find(|ladder| ladder.line == line)
            .cloned()
            .or_else(|| built_in(line))
    }

    /// All ladders in the order of [`Shelf::lines`].
    pub fn ladders(&self) -> Vec<Ladder> {
        self.lines()
            .iter()
            .filter_map(|line| self.by_id(line))
            .collect()
    }
}

/// Text of the built-in rules file of `line`, for a house to start its own from.
pub fn built_in_text(line: &str) -> Option<&'static str> {
    BUILT_IN
        .iter()
        .find(|(id, _)| *id == line)
        .map(|(_, text)| *text)
}

/// The built-in ladder of `line`.
///
/// # Errors
/// Never for the files in this repository, which a test loads one and all.
pub fn load_built_in(line: &str) -> Option<Result<Ladder, RulesError>> {
    built_in_text(line).map(|text| load(&format!("{line}.toml"), text))
}

fn built_in(line: &str) -> Option<Ladder> {
    load_built_in(line)
        .map(|loaded| loaded.expect("built-in rules load, as a test shows for each file"))
}
