//! What can be said to the commands of the book.

use std::path::PathBuf;

use catchcup::book::lines::generation_number;
use catchcup::book::table::read_moment;
use catchcup::scoop::ConditionKind;
use clap::{Args, Subcommand};
use jiff::civil::{Date, DateTime};

use super::args::positive;

/// Which book, and who writes.
#[derive(Debug, Args)]
pub struct Desk {
    /// The book's file; else `book` of house.toml, else catchcup.book here
    #[arg(long, value_name = "FILE", global = true)]
    pub book: Option<PathBuf>,
    /// House file; else house.toml here, else the one in your settings folder
    #[arg(long, value_name = "FILE", global = true)]
    pub house: Option<PathBuf>,
    /// Who does it; else `who` of house.toml, else your name on this computer
    #[arg(long, value_name = "NAME", global = true)]
    pub who: Option<String>,
    /// JSON objects, one a line, instead of text (see `catchcup book schema`)
    #[arg(long, global = true)]
    pub json: bool,
    /// As if it were that moment, for trying things out
    #[arg(long, value_name = "MOMENT", global = true, hide = true, value_parser = moment)]
    pub now: Option<DateTime>,
}

#[derive(Debug, Args)]
pub struct TankArgs {
    #[command(flatten)]
    pub desk: Desk,
    #[command(subcommand)]
    pub command: TankCommand,
}

#[derive(Debug, Subcommand)]
pub enum TankCommand {
    /// Add a tank
    Add {
        /// Its code, as on its tag: A3
        tank: String,
        #[command(flatten)]
        facts: TankFacts,
    },
    /// All tanks with what holds them back
    List {
        /// Retired ones too
        #[arg(long)]
        all: bool,
    },
    /// All that is known of a tank
    Show {
        /// Its code
        tank: String,
    },
    /// Change a tank
    Edit {
        /// Its code
        tank: String,
        /// New code; print a new tag then
        #[arg(long, value_name = "CODE")]
        code: Option<String>,
        #[command(flatten)]
        facts: TankFacts,
    },
    /// Give a tank up; its past stays
    Retire {
        /// Its code
        tank: String,
        /// The day; today where not said
        #[arg(long, value_name = "DATE", value_parser = day)]
        on: Option<Date>,
        /// Take it into use again
        #[arg(long, conflicts_with = "on")]
        again: bool,
    },
    /// Write tags to print: a big code and its QR code, for the tank and to lie beside the cup
    Tags {
        /// Page to write; further pages get a number
        #[arg(value_name = "FILE.svg")]
        file: PathBuf,
        /// Tanks; all in use where none is named
        tanks: Vec<String>,
    },
}

#[derive(Debug, Args)]
pub struct TankFacts {
    /// Line that lives in it
    #[arg(long, value_name = "LINE")]
    pub line: Option<String>,
    /// Where it stands
    #[arg(long, value_name = "TEXT")]
    pub place: Option<String>,
    /// Litres
    #[arg(long, value_name = "N", value_parser = positive)]
    pub litres: Option<f64>,
    /// In use since; today where not said
    #[arg(long, value_name = "DATE", value_parser = day)]
    pub since: Option<Date>,
}

#[derive(Debug, Args)]
pub struct LineArgs {
    #[command(flatten)]
    pub desk: Desk,
    #[command(subcommand)]
    pub command: LineCommand,
}

#[derive(Debug, Subcommand)]
pub enum LineCommand {
    /// Add a line
    Add {
        /// Its code in your house: R3
        line: String,
        /// Its ladder (see `catchcup rules list`)
        #[arg(long)]
        ladder: String,
        /// What it is, in words
        #[arg(long, value_name = "TEXT", default_value = "")]
        title: String,
        /// Kept since; today where not said
        #[arg(long, value_name = "DATE", value_parser = day)]
        since: Option<Date>,
    },
    /// All lines
    List,
    /// A line as a family tree
    Show {
        /// Its code
        line: String,
    },
    /// Change a line
    Edit {
        /// Its code
        line: String,
        /// Its ladder from now on
        #[arg(long)]
        ladder: Option<String>,
        /// What it is, in words
        #[arg(long, value_name = "TEXT")]
        title: Option<String>,
        /// Given up on that day
        #[arg(long, value_name = "DATE", value_parser = day)]
        ended: Option<Date>,
    },
}

#[derive(Debug, Args)]
pub struct GenerationArgs {
    #[command(flatten)]
    pub desk: Desk,
    #[command(subcommand)]
    pub command: GenerationCommand,
}

#[derive(Debug, Subcommand)]
pub enum GenerationCommand {
    /// Begin a generation in a tank
    Begin {
        /// The tank it lives in; its line is the tank's
        tank: String,
        /// founders, F1, F2 and so on
        #[arg(value_name = "GENERATION", value_parser = generation)]
        number: u32,
        /// Tank its founders were taken from; may be given more than once
        #[arg(long, value_name = "TANK")]
        from: Vec<String>,
        /// Where founders came from that were in no tank of yours
        #[arg(long, value_name = "TEXT", default_value = "")]
        origin: String,
        /// Females it begins with
        #[arg(long, value_name = "N")]
        females: Option<u32>,
        /// Males it begins with
        #[arg(long, value_name = "N")]
        males: Option<u32>,
        /// The day; today where not said
        #[arg(long, value_name = "DATE", value_parser = day)]
        on: Option<Date>,
    },
    /// Generations of a line or tank, or all
    List {
        /// Code of a line or tank
        of: Option<String>,
    },
}

#[derive(Debug, Args)]
pub struct ConditionArgs {
    #[command(flatten)]
    pub desk: Desk,
    #[command(subcommand)]
    pub command: ConditionCommand,
}

#[derive(Debug, Subcommand)]
pub enum ConditionCommand {
    /// Note what is different from a day on: it moves colour, so scoops before and after are compared with care
    Set {
        /// A tank, or `room` for all tanks
        tank: String,
        /// floor, lamp, feed, cup, camera or water
        #[arg(value_parser = condition_kind)]
        condition: ConditionKind,
        /// How it is from that day on
        #[arg(required = true)]
        value: Vec<String>,
        /// The day; today where not said
        #[arg(long, value_name = "DATE", value_parser = day)]
        since: Option<Date>,
    },
    /// Conditions of a tank, or all
    List {
        /// A tank
        tank: Option<String>,
    },
}

#[derive(Debug, Args)]
pub struct NoteArgs {
    #[command(flatten)]
    pub desk: Desk,
    #[command(subcommand)]
    pub command: NoteCommand,
}

#[derive(Debug, Args)]
pub struct NoteText {
    /// The tank
    pub tank: String,
    /// In words
    pub text: Vec<String>,
    /// The day; today where not said
    #[arg(long, value_name = "DATE", value_parser = day)]
    pub on: Option<Date>,
}

#[derive(Debug, Args)]
pub struct NoteCount {
    /// The tank
    pub tank: String,
    /// Animals
    #[arg(value_parser = clap::value_parser!(u32).range(1..))]
    pub count: u32,
    /// Answer in advance: so many are meant
    #[arg(long)]
    pub sure: bool,
    /// In words
    pub text: Vec<String>,
    /// The day; today where not said
    #[arg(long, value_name = "DATE", value_parser = day)]
    pub on: Option<Date>,
}

#[derive(Debug, Subcommand)]
pub enum NoteCommand {
    /// In quarantine until a day: nothing is sold from it
    Quarantine {
        #[command(flatten)]
        note: NoteText,
        /// The day on which it ends
        #[arg(long, value_name = "DATE", value_parser = day)]
        until: Date,
    },
    /// Released from quarantine
    Release(NoteText),
    /// Animals lost
    Loss(NoteCount),
    /// A treatment
    Treatment(NoteText),
    /// Animals moved in
    MovedIn {
        #[command(flatten)]
        note: NoteCount,
        /// Where from
        #[arg(long, value_name = "TEXT", default_value = "")]
        from: String,
    },
    /// Animals moved out
    MovedOut {
        #[command(flatten)]
        note: NoteCount,
        /// Where to
        #[arg(long, value_name = "TEXT", default_value = "")]
        to: String,
    },
    /// Anything else
    Remark(NoteText),
    /// Notes of a tank, or all, latest first
    List {
        /// A tank
        tank: Option<String>,
    },
}

#[derive(Debug, Args)]
pub struct BookArgs {
    #[command(flatten)]
    pub desk: Desk,
    #[command(subcommand)]
    pub command: BookCommand,
}

#[derive(Debug, Subcommand)]
pub enum BookCommand {
    /// Take back the last change
    Undo,
    /// Bring back the change that was taken back last
    Redo,
    /// Who changed what, latest first
    Trail {
        /// So many entries
        #[arg(long, value_name = "N", default_value_t = 30)]
        last: usize,
    },
    /// Import past records from a table, one row an animal; all of it or nothing
    Import {
        /// The table, CSV
        #[arg(value_name = "FILE.csv")]
        file: PathBuf,
        /// Leave out columns that are not understood
        #[arg(long)]
        leave_out_unknown: bool,
    },
    /// Write everything into a folder: tables for spreadsheets and one file of JSON objects
    Export {
        /// Folder to write into
        #[arg(value_name = "DIR")]
        folder: PathBuf,
    },
    /// Look for damage, in the book and in the photos beside it
    Check,
    /// Copy the book and its photos, also while it is in use
    Backup {
        /// File to write; the photos go beside it
        #[arg(value_name = "COPY")]
        to: PathBuf,
        /// The book alone
        #[arg(long)]
        without_photos: bool,
    },
    /// Go back to a copy; the present book is kept under another name
    Restore {
        /// The copy
        #[arg(value_name = "COPY")]
        from: PathBuf,
    },
    /// Print the JSON Schema of what these commands print with --json
    Schema,
}

#[derive(Debug, Args)]
pub struct DemoArgs {
    /// Folder to make; it must not be there yet
    #[arg(value_name = "DIR")]
    pub folder: PathBuf,
    /// As if it were that moment
    #[arg(long, value_name = "MOMENT", hide = true, value_parser = moment)]
    pub now: Option<DateTime>,
}

pub(super) fn day(text: &str) -> Result<Date, String> {
    let wrong = || "expected a day of the calendar, YYYY-MM-DD".to_string();
    let date: Date = text.parse().map_err(|_| wrong())?;
    let year = date.year();
    if text.len() == 10 && (1900..=2200).contains(&year) {
        Ok(date)
    } else {
        Err(wrong())
    }
}

pub(super) fn moment(text: &str) -> Result<DateTime, String> {
    let found = read_moment(text).filter(|at| (1900..=2200).contains(&at.year()));
    found.ok_or_else(|| "expected YYYY-MM-DD or \"YYYY-MM-DD HH:MM\"".to_string())
}

fn generation(text: &str) -> Result<u32, String> {
    generation_number(text).ok_or_else(|| "expected founders, F1, F2 and so on".to_string())
}

fn condition_kind(text: &str) -> Result<ConditionKind, String> {
    let words = ConditionKind::ALL.map(ConditionKind::word).join(", ");
    ConditionKind::from_word(text).ok_or_else(|| format!("expected one of: {words}"))
}
