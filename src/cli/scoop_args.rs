//! What can be said to `catchcup scoop`.

use std::path::PathBuf;

use catchcup::eye::errors::Right;
use catchcup::measures::Sex;
use catchcup::scoop::Netted;
use clap::{Args, Subcommand};
use jiff::civil::DateTime;

use super::args::{GroundArg, SexArg, netted, positive};
use super::book_args::{Desk, moment};

#[derive(Debug, Args)]
pub struct ScoopArgs {
    #[command(flatten)]
    pub desk: Desk,
    #[command(subcommand)]
    pub command: ScoopCommand,
}

#[derive(Debug, Subcommand)]
pub enum ScoopCommand {
    /// Grade photos and file them under a tank, or a folder of photos by the tank tag lying in each
    #[command(after_help = "Examples:\n  \
                            catchcup scoop add A3 scoop.jpg\n  \
                            catchcup scoop add monday-evening\n\
                            Exit code: 0 all filed, 1 some not, 2 wrong use.")]
    Add(Box<AddArgs>),
    /// Scoops of a tank, latest first
    List {
        /// A tank; all tanks where none is named
        tank: Option<String>,
        /// So many of the latest
        #[arg(long, value_name = "N", default_value_t = 30)]
        last: usize,
    },
    /// A scoop with its animals
    Show {
        /// Its number
        scoop: i64,
    },
    /// Change what is noted of a scoop
    Edit(EditArgs),
    /// Say what the program got wrong: kept beside the measurement, never over it
    #[command(
        after_help = "Words: not-an-animal or animal, two-animals or one-animal, other-head or same-head,\n\
                            female or male, juvenile or adult. Your own rung: catchcup rung give."
    )]
    Correct {
        /// Number of the scoop
        scoop: i64,
        /// Animals with what is right: 3=female 4=not-an-animal
        #[arg(value_name = "ANIMAL=WORD", value_parser = right)]
        rights: Vec<(u32, Right)>,
        /// Every animal was looked at, and what was wrong is corrected
        #[arg(long, conflicts_with = "not_looked_through")]
        looked_through: bool,
        /// Take that back
        #[arg(long)]
        not_looked_through: bool,
    },
    /// How often the program errs, by your corrections
    Errors,
    /// Take a scoop out of every list and count; `catchcup book undo` brings it back
    Remove {
        /// Its number
        scoop: i64,
    },
}

#[derive(Debug, Args)]
pub struct AddArgs {
    /// Tank, or folder of photos with tank tags in them
    #[arg(value_name = "TANK|FOLDER")]
    pub tank: String,
    /// Photos, or folders of photos
    #[arg(value_name = "PHOTO")]
    pub photos: Vec<PathBuf>,
    /// Records that `catchcup grade --json` printed, instead of photos
    #[arg(long, value_name = "FILE", conflicts_with = "photos")]
    pub record: Vec<PathBuf>,
    /// Answer in advance: each is another photo of the scoop filed just before, not a new one
    #[arg(long)]
    pub same: bool,
    /// Answer in advance: each is a scoop of its own
    #[arg(long, conflicts_with = "same")]
    pub new: bool,
    /// Answer in advance: the tank is right even where the colour does not fit its line
    #[arg(long)]
    pub tank_sure: bool,
    /// The animals are kept apart from the tank; else they are put back
    #[arg(long)]
    pub apart: bool,
    /// When it was taken; else the photo's own time, else now
    #[arg(long, value_name = "MOMENT", value_parser = moment)]
    pub at: Option<DateTime>,
    /// A remark
    #[arg(long, value_name = "TEXT", default_value = "")]
    pub remark: String,
    /// Inner diameter of the cup's floor, millimetres
    #[arg(long, value_name = "MM", value_parser = positive)]
    pub cup_mm: Option<f64>,
    /// Pixels to the millimetre at the floor, where you measured them
    #[arg(long, value_name = "X", value_parser = positive)]
    pub px_per_mm: Option<f64>,
    /// Ground the animals lie on
    #[arg(long, value_enum, default_value_t = GroundArg::White)]
    pub ground: GroundArg,
    /// All animals are of this sex
    #[arg(long, value_enum)]
    pub sex: Option<SexArg>,
    /// When the animals were netted: a clock time (14:05) held against the photo's own, or how long before it (1m40s)
    #[arg(long, value_name = "TIME", value_parser = netted)]
    pub netted: Option<Netted>,
}

#[derive(Debug, Args)]
pub struct EditArgs {
    /// Its number
    pub scoop: i64,
    /// The tank it belongs to
    #[arg(long)]
    pub tank: Option<String>,
    /// When it was taken
    #[arg(long, value_name = "MOMENT", value_parser = moment)]
    pub at: Option<DateTime>,
    /// Who took it
    #[arg(long, value_name = "NAME")]
    pub by: Option<String>,
    /// Its animals are kept apart from the tank
    #[arg(long, conflicts_with = "put_back")]
    pub apart: bool,
    /// Its animals were put back
    #[arg(long)]
    pub put_back: bool,
    /// It is another photo of that scoop: the same animals, not counted again
    #[arg(long, value_name = "NUMBER", conflicts_with = "own")]
    pub again_of: Option<i64>,
    /// It is a scoop of its own
    #[arg(long)]
    pub own: bool,
    /// A remark
    #[arg(long, value_name = "TEXT")]
    pub remark: Option<String>,
}

/// An animal with what is right: `3=female`.
fn right(text: &str) -> Result<(u32, Right), String> {
    let wrong = || "expected an animal with a word, for example 3=female".to_string();
    let (no, word) = text.split_once('=').ok_or_else(wrong)?;
    let right = match word {
        "not-an-animal" => Right::NotAnimal(true),
        "animal" => Right::NotAnimal(false),
        "two-animals" => Right::TwoAnimals(true),
        "one-animal" => Right::TwoAnimals(false),
        "other-head" => Right::OtherHead(true),
        "same-head" => Right::OtherHead(false),
        "female" => Right::Sex(Sex::Female),
        "male" => Right::Sex(Sex::Male),
        "juvenile" => Right::Juvenile(true),
        "adult" => Right::Juvenile(false),
        _ => {
            return Err(format!(
                "`{word}` is not known: see catchcup scoop correct --help"
            ));
        }
    };
    Ok((no.parse().map_err(|_| wrong())?, right))
}
