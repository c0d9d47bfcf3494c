//! What can be said to the commands of the house's own eye.

use std::path::PathBuf;

use catchcup::ladder::Rung;
use clap::{Args, Subcommand};

use super::book_args::Desk;

#[derive(Debug, Args)]
pub struct RungArgs {
    #[command(flatten)]
    pub desk: Desk,
    #[command(subcommand)]
    pub command: RungCommand,
}

#[derive(Debug, Subcommand)]
pub enum RungCommand {
    /// Give animals of a filed scoop your own rung
    Give {
        /// The scoop's number in the book
        scoop: i64,
        /// Animals with their rungs: 1=G4 2=G3
        #[arg(required = true, value_name = "ANIMAL=RUNG", value_parser = given)]
        rungs: Vec<(u32, Rung)>,
        /// You did not see the program's rung
        #[arg(long)]
        blind: bool,
    },
    /// Import own rungs from a table: scoop,animal,rung and, if you like, who,date,blind; all of it or nothing
    Import {
        /// The table, CSV
        #[arg(value_name = "FILE.csv")]
        file: PathBuf,
    },
    /// Own rungs, latest last
    List {
        /// So many
        #[arg(long, value_name = "N", default_value_t = 30)]
        last: usize,
    },
    /// Draw a blind test: pictures of single animals without their rung
    Test(DrawArgs),
    /// Draw a quiz for a new helper: as a test, and the answers are told
    Quiz(DrawArgs),
    /// Answer a test or quiz: the numbers under the pictures with your rungs
    Answer {
        /// Number of the test or quiz
        sitting: i64,
        /// Pictures with their rungs: 1=G4 2=G3
        #[arg(required = true, value_name = "PICTURE=RUNG", value_parser = given)]
        rungs: Vec<(u32, Rung)>,
    },
    /// Write a sheet a rung for the wall, with your own animals and wording
    Sheet {
        /// A line of your house or a ladder
        line: String,
        /// Folder to write into
        #[arg(value_name = "DIR")]
        folder: PathBuf,
    },
    /// Families of colour in the room, and the hue gates they ask for
    Families {
        /// Their colours in numbers too
        #[arg(long)]
        detail: bool,
    },
}

#[derive(Debug, Args)]
pub struct DrawArgs {
    /// A line of your house or a ladder
    pub line: String,
    /// Folder to write the pictures into
    #[arg(value_name = "DIR")]
    pub folder: PathBuf,
    /// So many animals; else 20 for a test and 10 for a quiz
    #[arg(long, value_name = "N")]
    pub animals: Option<usize>,
}

#[derive(Debug, Args)]
#[command(
    after_help = "Learning needs 120 animals with your own rung, all rungs about alike.\n\
                        Nothing changes until you accept. A colour grade is no health certificate."
)]
pub struct TeachArgs {
    #[command(flatten)]
    pub desk: Desk,
    /// A line of your house or a ladder
    pub line: String,
    /// Learn from this person's rungs alone
    #[arg(long, value_name = "NAME")]
    pub by: Option<String>,
    /// Take the proposed ladder
    #[arg(long, conflicts_with_all = ["versions", "take"])]
    pub accept: bool,
    /// List the ladder's texts that are kept
    #[arg(long)]
    pub versions: bool,
    /// Go back to a kept text, named by the beginning of its digest
    #[arg(long, value_name = "DIGEST", conflicts_with = "versions")]
    pub take: Option<String>,
    /// All animals that would change rung
    #[arg(long)]
    pub all: bool,
}

#[derive(Debug, Args)]
pub struct AgreeArgs {
    #[command(flatten)]
    pub desk: Desk,
    /// A line of your house or a ladder; all where none is named
    pub line: Option<String>,
    /// Rungs given with the program's in view too; they lean to it
    #[arg(long)]
    pub seen_too: bool,
    /// Names of the methods too
    #[arg(long)]
    pub detail: bool,
}

/// `3=G4`.
fn given(text: &str) -> Result<(u32, Rung), String> {
    let read = || {
        let (no, rung) = text.split_once('=')?;
        Some((no.trim().parse().ok()?, Rung::from_word(rung.trim())?))
    };
    read().ok_or_else(|| "expected a number and a rung, for example 3=G4".to_string())
}
