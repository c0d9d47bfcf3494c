//! What can be said on the command line.

use std::path::PathBuf;

use catchcup::ladder::Rung;
use clap::{Args as ClapArgs, Parser, Subcommand, ValueEnum};

/// Measured, explained, repeatable colour grades for dwarf shrimp from a phone photo of a scoop.
#[derive(Debug, Parser)]
#[command(
    name = "catchcup",
    version,
    max_term_width = 80,
    after_help = "Take the photo at once and put the shrimp back within minutes.\n\
                  A colour grade is no health certificate."
)]
pub struct Args {
    #[command(subcommand)]
    pub command: Option<Command>,
}

#[derive(Debug, Subcommand)]
pub enum Command {
    /// Grade photos of scoops
    Grade(GradeArgs),
    /// The ladders: list, show, check, try a changed one, start your own
    Rules(RulesArgs),
    /// Print the JSON Schema of the record
    Schema,
    /// Print what your shell needs to complete commands and options
    Completions {
        /// Your shell
        shell: clap_complete::Shell,
    },
    /// Write manual pages into a folder
    Manual {
        /// Folder to write into
        #[arg(value_name = "DIR")]
        folder: PathBuf,
    },
}

#[derive(Debug, ClapArgs)]
pub struct RulesArgs {
    #[command(subcommand)]
    pub command: RulesCommand,
}

#[derive(Debug, Subcommand)]
pub enum RulesCommand {
    /// List the lines at hand
    List,
    /// Say a ladder in plain words
    Show {
        /// A line, or a rules file
        #[arg(value_name = "LINE|FILE.toml")]
        ladder: String,
    },
    /// Check rules files; a mistake is told with its place and the cure
    Check {
        /// Rules files
        #[arg(required = true, value_name = "FILE.toml")]
        files: Vec<PathBuf>,
    },
    /// Try a changed ladder on records that `catchcup grade --json` printed; nothing is changed
    #[command(after_help = "Example:\n  \
                            catchcup grade --json evening > evening.jsonl\n  \
                            catchcup rules try my-red.toml evening.jsonl")]
    Try {
        /// The changed rules file
        #[arg(value_name = "FILE.toml")]
        file: PathBuf,
        /// Files with records, one JSON object a line
        #[arg(required = true, value_name = "RECORDS")]
        records: Vec<PathBuf>,
        /// Line or rules file to compare with; else your present ladder of the same line
        #[arg(long, value_name = "LINE|FILE.toml")]
        against: Option<String>,
    },
    /// Start your own ladder from a built-in one
    Start {
        /// Line to start from
        line: String,
        /// File to write; printed where none is named
        #[arg(value_name = "FILE.toml")]
        file: Option<PathBuf>,
    },
}

/// The ground the animals lie on.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum GroundArg {
    /// White or light cup
    White,
    /// Dark cup, for white and banded lines
    Dark,
}

/// The sex of all animals in the photo.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum SexArg {
    Female,
    Male,
}

#[derive(Debug, ClapArgs)]
#[command(
    after_help = "Keep the minutes in the cup short: colour pales, and the shrimp belong back in their tank.\n\
                        A colour grade is no health certificate.\n\
                        Exit code: 0 all photos read, 1 some photo could not be read, 2 wrong use."
)]
pub struct GradeArgs {
    /// Photos of scoops, or folders of photos
    #[arg(required = true, value_name = "PHOTO")]
    pub photos: Vec<PathBuf>,
    /// Line in the cup, for example red or rili-red (see `catchcup rules list`); guessed where not given
    #[arg(long, value_name = "LINE")]
    pub line: Option<String>,
    /// Inner diameter of the cup's floor (longer side of square and oval cups), millimetres
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
    /// Rung from which you sell, G1 to G5
    #[arg(long, value_name = "RUNG", value_parser = rung)]
    pub sale_rung: Option<Rung>,
    /// Time between netting and photo, for example 1m40s
    #[arg(long, value_name = "TIME", value_parser = seconds)]
    pub netted: Option<u32>,
    /// House file; else house.toml here, else the one in your settings folder
    #[arg(long, value_name = "FILE")]
    pub house: Option<PathBuf>,
    /// Your own rules file in place of the built-in one; may be given more than once
    #[arg(long, value_name = "FILE")]
    pub rules: Vec<PathBuf>,
    /// One JSON record a line instead of text
    #[arg(long)]
    pub json: bool,
    /// A table for spreadsheets instead of text: one row an animal
    #[arg(long, conflicts_with = "json")]
    pub csv: bool,
    /// Write each photo with numbered outlines and rungs into this folder
    #[arg(long, value_name = "DIR")]
    pub overlay: Option<PathBuf>,
    /// Write a straightened picture of each animal, and a sheet of all, into this folder
    #[arg(long, value_name = "DIR")]
    pub crops: Option<PathBuf>,
    /// All doubts and a sentence for each animal
    #[arg(long)]
    pub all: bool,
    /// Processor threads to use; the answer is the same for any number
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u16).range(1..=256))]
    pub threads: Option<u16>,
}

fn positive(text: &str) -> Result<f64, String> {
    let number: f64 = text
        .parse()
        .map_err(|_| "expected a number, for example 60".to_string())?;
    if number.is_finite() && number > 0.0 && number <= 10_000.0 {
        Ok(number)
    } else {
        Err("expected a number above 0 and up to 10000".to_string())
    }
}

fn rung(text: &str) -> Result<Rung, String> {
    let found = Rung::from_word(text).filter(|rung| *rung > Rung::G0);
    found.ok_or_else(|| "expected a rung from G1 to G5".to_string())
}

/// `1m40s`, `2m`, `100s`, `1:40` or plain seconds, up to a day.
fn seconds(text: &str) -> Result<u32, String> {
    let wrong = || "expected a time such as 1m40s, 1:40 or 100s, a day at most".to_string();
    let (minutes, rest) = match text.split_once(['m', ':']) {
        Some((minutes, rest)) => (minutes.parse::<u32>().map_err(|_| wrong())?, rest),
        None => (0, text),
    };
    let rest = rest.strip_suffix('s').unwrap_or(rest);
    let colon = text.contains(':');
    let seconds = match rest {
        "" if text.ends_with('m') => 0,
        digits => digits.parse::<u32>().map_err(|_| wrong())?,
    };
    let split = text.contains(['m', ':']);
    if (split && seconds >= 60) || (colon && rest.len() != 2) {
        return Err(wrong());
    }
    minutes
        .checked_mul(60)
        .and_then(|s| s.checked_add(seconds))
        .filter(|s| *s <= 86_400)
        .ok_or_else(wrong)
}

#[cfg(test)]
mod tests {
    use super::*;
    use clap::CommandFactory;

    #[test]
    fn the_options_hold_together() {
        Args::command().debug_assert();
    }

    #[test]
    fn times() {
        let cases = [
            ("1m40s", 100),
            ("2m", 120),
            ("100s", 100),
            ("1:40", 100),
            ("45", 45),
            ("0m05s", 5),
            ("1m5s", 65),
        ];
        for (text, expected) in cases {
            assert_eq!(seconds(text), Ok(expected), "{text}");
        }
        for text in [
            "",
            "m",
            "1m60s",
            "1:4",
            "1:99",
            "-3",
            "1.5m",
            "s",
            "9999999999",
            "2000m",
            "1m40s3",
        ] {
            assert!(seconds(text).is_err(), "{text}");
        }
    }
}
