//! The command line: reads files, calls the library, prints. Decides nothing about animals.

mod args;
mod grade;
mod house;
mod lines;
mod output;
mod overlay;

use std::process::ExitCode;

use clap::Parser;

use args::{Args, Command};
use output::Out;

/// Something stopped the whole run before any photo: wrong options, house or rules file.
const EXIT_USAGE: u8 = 2;
/// Some photo could not be read.
const EXIT_SOME_FAILED: u8 = 1;

/// Runs the command named on the command line.
///
/// Exit codes: 0 all photos were read, 1 some were not, 2 wrong use. A closed pipe is success: the reader has had enough.
pub fn run() -> ExitCode {
    let args = Args::parse();
    let mut out = Out::new();
    let done = match args.command {
        Command::Grade(args) => grade::run(&args, &mut out),
        Command::Lines(args) => lines::run(&args, &mut out),
        Command::Schema => out
            .raw(catchcup::report::RECORD_SCHEMA)
            .map(|()| true)
            .map_err(Into::into),
    };
    match done {
        Ok(true) => ExitCode::SUCCESS,
        Ok(false) => ExitCode::from(EXIT_SOME_FAILED),
        Err(error) if output::is_closed_pipe(&error) => ExitCode::SUCCESS,
        Err(error) => {
            output::complain(&error);
            ExitCode::from(EXIT_USAGE)
        }
    }
}
