//! The command line: reads files, calls the library, prints. Decides nothing about animals.

mod args;
mod arrival;
mod book;
mod book_args;
mod colours;
mod eye;
mod eye_args;
mod fade;
mod grade;
mod house;
mod howmany;
mod in_order;
mod kept;
mod measured;
mod measured_args;
mod output;
mod pack;
mod photos;
mod pictures;
mod plans;
mod price;
mod progress;
mod proof;
mod proof_args;
mod rules;
mod scoop_args;
mod select;
mod select_args;
#[cfg(feature = "web")]
mod serve;
#[cfg(feature = "web")]
mod serve_args;
mod shell_help;
mod steady;
mod trend_args;
mod trends;
mod wrong_use;

use std::process::ExitCode;

use anyhow::Result;
use clap::Parser;

use args::{Args, Command, SchemaOf};
use output::Out;

/// Something stopped the whole run before any photo: wrong options, house or rules file.
const EXIT_USAGE: u8 = 2;
/// Some photo could not be read.
const EXIT_SOME_FAILED: u8 = 1;

/// Runs the command named on the command line.
///
/// Exit codes: 0 all photos were read, 1 some were not, 2 wrong use. A closed pipe is success: the reader has had enough.
pub fn run() -> ExitCode {
    let args = match Args::try_parse() {
        Ok(args) => args,
        Err(error) => match wrong_use::of_value(&error) {
            Some(note) => {
                output::complain_in_words(&note);
                return ExitCode::from(EXIT_USAGE);
            }
            None => error.exit(),
        },
    };
    let mut out = Out::new();
    match answer(args.command, &mut out) {
        Ok(code) => ExitCode::from(code),
        Err(error) if output::is_closed_pipe(&error) => ExitCode::SUCCESS,
        Err(error) => {
            output::complain(&error);
            ExitCode::from(EXIT_USAGE)
        }
    }
}

/// The exit code: commands whose answer is no plain yes have codes of their own, told in their help.
fn answer(command: Option<Command>, out: &mut Out) -> Result<u8> {
    match command {
        Some(Command::Howmany(args)) => howmany::run(&args, out),
        Some(Command::Pack(args)) => pack::run(&args, out),
        Some(Command::Arrival(args)) => arrival::run(&args, out),
        Some(Command::Proof(args)) => proof::run(&args, out),
        other => run_command(other, out).map(|done| if done { 0 } else { EXIT_SOME_FAILED }),
    }
}

/// True where everything asked for was done.
fn run_command(command: Option<Command>, out: &mut Out) -> Result<bool> {
    match command {
        None => out.raw(OVERVIEW)?,
        Some(Command::Grade(args)) => return grade::run(&args, out),
        Some(Command::Rules(args)) => return rules::run(&args, out),
        Some(Command::Steady(args)) => return steady::run(&args, out),
        Some(Command::Fade(args)) => return fade::run(&args, out),
        Some(Command::Schema { of }) => out.raw(schema(of))?,
        Some(Command::Tank(args)) => return book::tanks::run(&args, out),
        Some(Command::Line(args)) => return book::rooms::line(&args, out),
        Some(Command::Generation(args)) => return book::rooms::generation(&args, out),
        Some(Command::Condition(args)) => return book::rooms::condition(&args, out),
        Some(Command::Note(args)) => return book::keeping::run(&args, out),
        Some(Command::Scoop(args)) => return book::scoops::run(&args, out),
        Some(Command::Sort(args)) => return select::sort::run(&args, out),
        Some(Command::Rank(args)) => return select::rank::run(&args, out),
        Some(Command::Forecast(args)) => return select::forecast::run(&args, out),
        Some(Command::Plan(args)) => return select::plan::run(&args, out),
        Some(Command::Rung(args)) => return eye::rung::run(&args, out),
        Some(Command::Agree(args)) => return eye::agree::run(&args, out),
        Some(Command::Teach(args)) => return eye::teach::run(&args, out),
        Some(Command::Book(args)) => return book::care::run(&args, out),
        Some(Command::Price(args)) => return price::run(&args, out),
        // Told by `answer`.
        Some(Command::Howmany(_) | Command::Pack(_) | Command::Arrival(_) | Command::Proof(_)) => {}
        #[cfg(feature = "web")]
        Some(Command::Serve(args)) => return serve::run(&args),
        Some(Command::Demo(args)) => return book::demo::run(&args, out),
        Some(Command::Trend(args)) => return trends::trend::run(&args, out),
        Some(Command::Room(args)) => return trends::room::run(&args, out),
        Some(Command::Share(args)) => return trends::share::run(&args, out),
        Some(Command::Trial(args)) => return trends::trial::run(&args, out),
        Some(Command::Mixed(args)) => return trends::mixed::run(&args, out),
        Some(Command::Month(args)) => return trends::month::run(&args, out),
        Some(Command::Cup { command }) => return measured::cup(&command, out),
        Some(Command::Light { command }) => return measured::light(&command, out),
        Some(Command::Completions { shell }) => out.raw(&shell_help::completions(shell))?,
        Some(Command::Manual { folder }) => shell_help::manual(&folder, out)?,
    }
    Ok(true)
}

/// The schema of what a command prints with `--json`.
fn schema(of: SchemaOf) -> &'static str {
    match of {
        SchemaOf::Grade => catchcup::report::RECORD_SCHEMA,
        SchemaOf::Steady => catchcup::report::STEADY_SCHEMA,
        SchemaOf::Fade => catchcup::report::FADE_SCHEMA,
        SchemaOf::Eye => catchcup::report::EYE_SCHEMA,
        SchemaOf::Book => catchcup::report::BOOK_SCHEMA,
        SchemaOf::Trends => catchcup::report::TRENDS_SCHEMA,
        SchemaOf::Selection => catchcup::report::SELECTION_SCHEMA,
        SchemaOf::Proof => catchcup::report::PROOF_SCHEMA,
    }
}

/// What is said where no command is given.
const OVERVIEW: &str = "\
catchcup grades dwarf shrimp by colour from a photo of a scoop.

  catchcup grade scoop.jpg                     grades, reasons, what to do next
  catchcup grade --line red --cup-mm 97 FOLDER a whole evening's photos
  catchcup grade --overlay graded scoop.jpg    the photo with numbered outlines
  catchcup grade --crops single scoop.jpg      a picture of each animal
  catchcup steady A.jpg B.jpg C.jpg            how far repeated photos agree
  catchcup rules show red                      a ladder in plain words
  catchcup rules start red my-red.toml         your own ladder

  catchcup tank add A3 --line red              the book of your room
  catchcup scoop add A3 scoop.jpg              grade and file
  catchcup scoop add FOLDER                    file by the tank tags in photos
  catchcup tank list                           all tanks, holds and warnings
  catchcup trend A3                            does the tank hold or fade?
  catchcup share A3                            what the whole tank is
  catchcup sort start A3 --keep 15F 10M --about 160
                                               whom to keep, cup by cup
  catchcup plan R1 --keep 15F 10M              coming generations
  catchcup rung give 12 1=G4 2=G3              your own rungs
  catchcup agree                               your eyes against the program
  catchcup teach red                           limits learned from your rungs
  catchcup book undo                           take back the last change
  catchcup howmany --rung G4 --at-least 80     how many to net for a claim
  catchcup pack lot.jpg --rung G4              ready to send, or what to swap
  catchcup proof make lot.jpg --lot L7 ...     the page that backs a listing
  catchcup demo DIR                            an invented house to try it on

Put what is always the same (cup, line, sale rung) into a file house.toml.
More: catchcup --help, catchcup grade --help
";
