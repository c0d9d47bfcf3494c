//! What can be said to the commands on trends, whole tanks, trials and months.

use std::path::PathBuf;

use catchcup::ladder::Rung;
use catchcup::trends::Watched;
use clap::{Args, ValueEnum};
use jiff::civil::Date;

use super::args::{positive, rung};
use super::book_args::{Desk, day};
use super::measured_args::share;

/// The axis of a trend.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum AxisArg {
    /// Generations
    Generation,
    /// Dates, a month together
    Date,
}

#[derive(Debug, Args)]
#[command(
    after_help = "Only like is compared with like: a change of floor, lamp, feed, cup, camera or minutes in the\n\
                  cup is marked and splits the comparison. A colour grade is no health certificate."
)]
pub struct TrendArgs {
    #[command(flatten)]
    pub desk: Desk,
    /// The tank
    #[arg(required_unless_present = "line")]
    pub tank: Option<String>,
    /// A whole line, over all its tanks
    #[arg(long, value_name = "LINE", conflicts_with = "tank")]
    pub line: Option<String>,
    /// Measure: coverage, opacity, hue, sale-share, off-type, size or spread; all where none is named
    #[arg(long, value_name = "MEASURE", value_parser = watched)]
    pub measure: Option<Watched>,
    /// Along generations or dates; generations where enough are known
    #[arg(long, value_enum)]
    pub by: Option<AxisArg>,
    /// Rung from which you sell
    #[arg(long, value_name = "RUNG", value_parser = rung)]
    pub sale_rung: Option<Rung>,
    /// Methods and numbers
    #[arg(long)]
    pub detail: bool,
    /// Draw it
    #[arg(long, value_name = "FILE.svg|png")]
    pub plot: Option<PathBuf>,
    /// Draw the grades over time
    #[arg(long, value_name = "FILE.svg|png")]
    pub mix: Option<PathBuf>,
}

#[derive(Debug, Args)]
pub struct RoomArgs {
    #[command(flatten)]
    pub desk: Desk,
    /// Measure: coverage, opacity, hue, sale-share, off-type, size or spread
    #[arg(long, value_name = "MEASURE", value_parser = watched, default_value = "coverage")]
    pub measure: Watched,
    /// Rung from which you sell
    #[arg(long, value_name = "RUNG", value_parser = rung)]
    pub sale_rung: Option<Rung>,
    /// Draw all tanks side by side
    #[arg(long, value_name = "FILE.svg|png")]
    pub plot: Option<PathBuf>,
}

#[derive(Debug, Args)]
#[command(
    after_help = "Scoops of the latest weeks in the present state of the tank are taken together; that scoops differ\n\
                  is allowed for. Say how many animals the tank holds only if you counted them."
)]
pub struct ShareArgs {
    #[command(flatten)]
    pub desk: Desk,
    /// The tank
    pub tank: String,
    /// Rung from which you sell
    #[arg(long, value_name = "RUNG", value_parser = rung)]
    pub sale_rung: Option<Rung>,
    /// Weeks that are taken together
    #[arg(long, value_name = "N", default_value_t = 8.0, value_parser = positive)]
    pub weeks: f64,
    /// Animals in the tank, where you counted them
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u64).range(1..=5000))]
    pub animals: Option<u64>,
    /// Range wanted, either way, in points of a hundred
    #[arg(long, value_name = "POINTS", default_value_t = 10.0, value_parser = positive)]
    pub within: f64,
    /// Method
    #[arg(long)]
    pub detail: bool,
}

#[derive(Debug, Args)]
#[command(after_help = "Two tanks:             catchcup trial A3 A4\n\
                  One, before and after: catchcup trial A3 --since 2026-03-01")]
pub struct TrialArgs {
    #[command(flatten)]
    pub desk: Desk,
    /// The tank
    pub tank: String,
    /// The other tank
    #[arg(required_unless_present = "since")]
    pub other: Option<String>,
    /// Day of the change, to compare one tank before and after; for two tanks the first day that counts
    #[arg(long, value_name = "DATE", value_parser = day)]
    pub since: Option<Date>,
    /// Measures; coverage and the share at the sale rung where none is named
    #[arg(long, value_name = "MEASURE", value_parser = watched)]
    pub measure: Vec<Watched>,
    /// Difference that would be worth knowing, in the measure's unit (shares 0 to 1)
    #[arg(long, value_name = "X", default_value_t = 0.05, value_parser = positive)]
    pub worth: f64,
    /// Weeks that it must have run; else `trial_weeks` of house.toml, else 6
    #[arg(long, value_name = "N", value_parser = positive)]
    pub weeks: Option<f64>,
    /// Rung from which you sell
    #[arg(long, value_name = "RUNG", value_parser = rung)]
    pub sale_rung: Option<Rung>,
}

#[derive(Debug, Args)]
pub struct MixedArgs {
    #[command(flatten)]
    pub desk: Desk,
    /// The tank
    pub tank: String,
    /// Weeks that are taken together for today's shares
    #[arg(long, value_name = "N", default_value_t = 8.0, value_parser = positive)]
    pub weeks: f64,
    /// Method
    #[arg(long)]
    pub detail: bool,
    /// Draw the hues around a wheel
    #[arg(long, value_name = "FILE.svg|png")]
    pub plot: Option<PathBuf>,
}

#[derive(Debug, Args)]
pub struct MonthArgs {
    #[command(flatten)]
    pub desk: Desk,
    /// The month, for example 2026-10; the last full one where none is named
    #[arg(value_name = "YYYY-MM", value_parser = month)]
    pub month: Option<Date>,
    /// Rung from which you sell
    #[arg(long, value_name = "RUNG", value_parser = rung)]
    pub sale_rung: Option<Rung>,
    /// Write it as one page
    #[arg(long, value_name = "FILE.svg|png")]
    pub plot: Option<PathBuf>,
}

fn watched(text: &str) -> Result<Watched, String> {
    let words: Vec<&str> = Watched::ALL.into_iter().map(Watched::word).collect();
    Watched::from_word(text).ok_or_else(|| format!("expected one of {}", words.join(", ")))
}

/// First day of `YYYY-MM`.
fn month(text: &str) -> Result<Date, String> {
    let first = format!("{text}-01").parse::<Date>();
    first
        .ok()
        .filter(|_| text.len() == 7)
        .ok_or_else(|| "expected a month such as 2026-10".to_string())
}

/// Points of a hundred as a share.
pub fn points(points: f64) -> Result<f64, String> {
    share(&format!("{}", points / 100.0))
}
