//! What can be said on the command line.

use std::path::PathBuf;

use super::book_args::{
    BookArgs, ConditionArgs, DemoArgs, GenerationArgs, LineArgs, NoteArgs, TankArgs,
};
use super::eye_args::{AgreeArgs, RungArgs, TeachArgs};
use super::measured_args::{CupCommand, LightCommand};
use super::proof_args::{ArrivalArgs, HowmanyArgs, PackArgs, PriceArgs, ProofArgs};
use super::scoop_args::ScoopArgs;
use super::select_args::{ForecastArgs, PlanArgs, RankArgs, SortArgs};
#[cfg(feature = "web")]
use super::serve_args::ServeArgs;
use super::trend_args::{MixedArgs, MonthArgs, RoomArgs, ShareArgs, TrendArgs, TrialArgs};
use catchcup::ladder::Rung;
use catchcup::scoop::Netted;
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
    /// How far repeated photos of one scoop agree
    Steady(SteadyArgs),
    /// How fast a scoop pales in the cup, from photos taken some minutes apart
    Fade(FadeArgs),
    /// The ladders: list, show, check, try a changed one, start your own
    Rules(RulesArgs),
    /// Tanks: add, list, show, change, retire, print tags
    Tank(TankArgs),
    /// Lines of your house, each a small family tree
    Line(LineArgs),
    /// Generations of a line
    Generation(GenerationArgs),
    /// What moves colour or its measuring: floor, lamp, feed, cup, camera, water
    Condition(ConditionArgs),
    /// Notes: quarantine, losses, treatments, animals moved in and out
    Note(NoteArgs),
    /// Scoops: grade and file, list, show, change
    Scoop(ScoopArgs),
    /// Sort a tank cup by cup: whom to keep as breeders
    Sort(SortArgs),
    /// Animals of a tank in the order of their worth as breeders
    Rank(RankArgs),
    /// What the next generation should gain, and what it costs in inbreeding
    Forecast(ForecastArgs),
    /// Coming generations of a line under a policy, two policies side by side
    Plan(PlanArgs),
    /// Your own rungs: give, import, blind tests, quiz, sheets for the wall, families of colour
    Rung(RungArgs),
    /// How far people and program agree on rungs
    Agree(AgreeArgs),
    /// Learn a ladder's limits from your own rungs; nothing changes until you accept
    Teach(TeachArgs),
    /// The book itself: undo, trail, import, export, check, backup, restore
    Book(BookArgs),
    /// Whether a tank or a line holds, fades or only stands on new sand
    Trend(TrendArgs),
    /// All tanks side by side: which hold, which change
    Room(RoomArgs),
    /// What the scoops say of the whole tank, and how many more to net
    Share(ShareArgs),
    /// Two tanks side by side, or one before and after a change
    Trial(TrialArgs),
    /// A tank of mixed colours: shares, variety, the slide toward brown
    Mixed(MixedArgs),
    /// The end of the month: share at the sale rung, moved out, lost, by line
    Month(MonthArgs),
    /// How many animals to net for a statement, and what may be said of a tank
    Howmany(HowmanyArgs),
    /// Is a packed lot what it is sold as, and which animals to swap
    Pack(PackArgs),
    /// Price list, values, effect of a moved limit, lots like an earlier one
    Price(PriceArgs),
    /// Bought-in lots: how many to look at, and arrivals on day 0 and 7
    Arrival(ArrivalArgs),
    /// Pages that back a listing: make, check, compare; the house's key
    Proof(ProofArgs),
    /// The room page for a phone or tablet, without internet
    #[cfg(feature = "web")]
    #[command(after_help = "Examples:\n  \
                            catchcup serve                      this computer alone\n  \
                            catchcup serve --lan 192.168.1.20   phones in the room too")]
    Serve(ServeArgs),
    /// Make an invented house to try every command on
    Demo(DemoArgs),
    /// Print the JSON Schema of what a command prints with --json
    Schema {
        /// The command
        #[arg(value_enum, default_value_t = SchemaOf::Grade)]
        of: SchemaOf,
    },
    /// Cups of the house: measure the colour of a cup's floor once, list them
    Cup {
        #[command(subcommand)]
        command: CupCommand,
    },
    /// Lights of the house: measure one once with a colour chart, list them
    Light {
        #[command(subcommand)]
        command: LightCommand,
    },
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

/// Commands that print JSON.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum SchemaOf {
    /// The record of a scoop
    Grade,
    /// Agreement of repeated photos
    Steady,
    /// Fading in the cup
    Fade,
    /// The book's commands
    Book,
    /// trend, room, share, trial, mixed, month
    Trends,
    /// Breeder selection: sort, rank, forecast, plan
    Selection,
    /// Statements, packing, prices, arrivals and proofs
    Proof,
    /// Own rungs, agreement, learned ladders
    Eye,
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
    #[command(flatten)]
    pub shot: PhotoArgs,
    /// Rung from which you sell, G1 to G5
    #[arg(long, value_name = "RUNG", value_parser = rung)]
    pub sale_rung: Option<Rung>,
    /// When the animals were netted: a clock time (14:05) held against the photo's own, or how long before it (1m40s)
    #[arg(long, value_name = "TIME", value_parser = netted)]
    pub netted: Option<Netted>,
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
    /// What was read from each patch of a colour chart in the photo
    #[arg(long)]
    pub patches: bool,
    /// All doubts and a sentence for each animal
    #[arg(long)]
    pub all: bool,
}

/// Photos, and what every command must know of them.
#[derive(Debug, ClapArgs)]
pub struct PhotoArgs {
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
    /// House file; else house.toml here, else the one in your settings folder
    #[arg(long, value_name = "FILE")]
    pub house: Option<PathBuf>,
    /// Your own rules file in place of the built-in one; may be given more than once
    #[arg(long, value_name = "FILE")]
    pub rules: Vec<PathBuf>,
    /// Cup measured before (see `catchcup cup`)
    #[arg(long, value_name = "NAME")]
    pub cup: Option<String>,
    /// Light measured before (see `catchcup light`), for photos without a chart
    #[arg(long, value_name = "NAME")]
    pub light: Option<String>,
    /// Processor threads to use; the answer is the same for any number
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u16).range(1..=256))]
    pub threads: Option<u16>,
}

#[derive(Debug, ClapArgs)]
#[command(
    after_help = "Take the photos one after the other, and move, turn or light the cup anew between them:\n\
                  what stays the same is then worth believing.\n\
                  Exit code: 0 all photos read, 1 some photo could not be read, 2 wrong use."
)]
pub struct SteadyArgs {
    #[command(flatten)]
    pub shot: PhotoArgs,
    /// The figures behind it, with the names of the methods
    #[arg(long)]
    pub detail: bool,
    /// JSON instead of text
    #[arg(long)]
    pub json: bool,
}

#[derive(Debug, ClapArgs)]
#[command(
    after_help = "Leave one scoop in the cup and photograph it at once and then every one or two minutes,\n\
                  ten minutes at most; then put the animals back. Do this once for a line and a cup.\n\
                  Exit code: 0 all photos read, 1 some photo could not be read, 2 wrong use."
)]
pub struct FadeArgs {
    #[command(flatten)]
    pub shot: PhotoArgs,
    /// Clock time of the netting, for example 14:05; else minutes are counted from the first photo
    #[arg(long, value_name = "TIME", value_parser = netted_at)]
    pub netted: Option<u32>,
    /// Minutes in the cup of each photo, in the order of the photos, for photos without capture time: 1,3,5,8
    #[arg(long, value_name = "LIST", value_delimiter = ',', value_parser = minutes, conflicts_with = "netted")]
    pub minutes: Option<Vec<f64>>,
    /// Loss of mean coverage that you would still accept, in points of a hundred
    #[arg(long, value_name = "POINTS", default_value_t = 3.0, value_parser = positive)]
    pub loss: f64,
    /// JSON instead of text
    #[arg(long)]
    pub json: bool,
}

pub(super) fn positive(text: &str) -> Result<f64, String> {
    let number: f64 = text
        .parse()
        .map_err(|_| "expected a number, for example 60".to_string())?;
    if number.is_finite() && number > 0.0 && number <= 10_000.0 {
        Ok(number)
    } else {
        Err("expected a number above 0 and up to 10000".to_string())
    }
}

pub(super) fn rung(text: &str) -> Result<Rung, String> {
    let found = Rung::from_word(text).filter(|rung| *rung > Rung::G0);
    found.ok_or_else(|| "expected a rung from G1 to G5".to_string())
}

/// A clock time `14:05`, or how long before the photo: `1m40s`, `2m`, `100s` or plain seconds, up to a day.
pub(super) fn netted(text: &str) -> Result<Netted, String> {
    if text.contains(':') {
        return netted_at(text).map(Netted::At);
    }
    seconds(text).map(Netted::Ago)
}

/// Second of the day of a clock time with two digits each, `14:05` or `14:05:30`.
fn netted_at(text: &str) -> Result<u32, String> {
    let wrong = || {
        "expected a clock time such as 14:05 or 09:30 (a time span is written 1m40s)".to_string()
    };
    let parts: Vec<&str> = text.split(':').collect();
    let two_digits = parts
        .iter()
        .all(|p| p.len() == 2 && p.bytes().all(|b| b.is_ascii_digit()));
    if !two_digits || !(2..=3).contains(&parts.len()) {
        return Err(wrong());
    }
    let value = |i: usize| {
        parts
            .get(i)
            .map_or(Ok(0), |p| p.parse::<u32>().map_err(|_| wrong()))
    };
    let (hours, minutes, seconds) = (value(0)?, value(1)?, value(2)?);
    if hours > 23 || minutes > 59 || seconds > 59 {
        return Err(wrong());
    }
    Ok(hours * 3600 + minutes * 60 + seconds)
}

/// Minutes from 0 to a day.
fn minutes(text: &str) -> Result<f64, String> {
    let number: Option<f64> = text.parse().ok().filter(|n| (0.0..=1440.0).contains(n));
    number.ok_or_else(|| "expected minutes such as 1.5".to_string())
}

/// `1m40s`, `2m`, `100s` or plain seconds, up to a day.
fn seconds(text: &str) -> Result<u32, String> {
    let wrong = || {
        "expected a time span such as 1m40s or 100s, a day at most, or a clock time such as 14:05"
            .to_string()
    };
    let (minutes, rest) = match text.split_once('m') {
        Some((minutes, rest)) => (minutes.parse::<u32>().map_err(|_| wrong())?, rest),
        None => (0, text),
    };
    let rest = rest.strip_suffix('s').unwrap_or(rest);
    let seconds = match rest {
        "" if text.ends_with('m') => 0,
        digits => digits.parse::<u32>().map_err(|_| wrong())?,
    };
    if text.contains('m') && seconds >= 60 {
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
            "-3",
            "1.5m",
            "s",
            "9999999999",
            "2000m",
            "1m40s3",
        ] {
            assert!(netted(text).is_err(), "{text}");
        }
    }

    /// `1:40` could be either, so it is refused with both ways of writing it.
    #[test]
    fn clock_times() {
        let day = |h: u32, m: u32| Ok(Netted::At(h * 3600 + m * 60));
        assert_eq!(netted("14:05"), day(14, 5));
        assert_eq!(netted("00:00"), day(0, 0));
        assert_eq!(netted("09:30:15"), Ok(Netted::At(9 * 3600 + 30 * 60 + 15)));
        assert_eq!(netted("1m40s"), Ok(Netted::Ago(100)));
        let wrong = [
            "1:40", "24:00", "12:60", "12:", ":30", "12:30:", "12:30:61", "1a:30", "+1:30",
        ];
        for text in wrong {
            assert!(netted(text).is_err(), "{text}");
        }
    }
}
