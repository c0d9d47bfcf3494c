//! What can be said to `catchcup howmany`, `pack`, `price`, `arrival` and `proof`.

use std::path::PathBuf;

use catchcup::ladder::Rung;
use catchcup::scoop::Netted;
use clap::{Args, Subcommand};
use jiff::civil::Date;

use super::args::{GroundArg, PhotoArgs, SexArg, netted, positive, rung};
use super::book_args::{Desk, day};

#[derive(Debug, Args)]
#[command(after_help = "Example:\n  \
    catchcup howmany --rung G4 --at-least 80           what it would take\n  \
    catchcup howmany A3 --rung G4 --at-least 80 --declare\n  \
    catchcup scoop add A3 one.jpg --apart --netted 1m20s --remark place=front\n  \
    catchcup howmany A3                                how it stands\n\
    Exit code: 0 supported or plan told, 3 not supported (yet), 2 wrong use.")]
pub struct HowmanyArgs {
    #[command(flatten)]
    pub desk: Desk,
    /// Tank of the book
    pub tank: Option<String>,
    #[command(flatten)]
    pub wanted: Wanted,
    /// Declare it: scoops filed from now on count, looked at after each
    #[arg(long, requires = "tank", requires = "rung", requires = "at_least")]
    pub declare: bool,
    /// Methods by name
    #[arg(long)]
    pub detail: bool,
}

/// The wanted statement.
#[derive(Debug, Args)]
pub struct Wanted {
    /// The rung, G1 to G5; else the one from which the house sells
    #[arg(long, value_name = "RUNG", value_parser = rung)]
    pub rung: Option<Rung>,
    /// Share of the lot that stands there or better, per cent
    #[arg(long, value_name = "PER CENT", value_parser = per_cent)]
    pub at_least: Option<u32>,
    /// Confidence, per cent
    #[arg(long, value_name = "PER CENT", default_value = "95", value_parser = confidence)]
    pub confidence: u32,
    /// Scoops at most
    #[arg(long, value_name = "N", default_value_t = catchcup::proof::plan::USUAL_LOOKS, value_parser = clap::value_parser!(u32).range(1..=50))]
    pub looks: u32,
    /// Animals to the scoop
    #[arg(long, value_name = "N", default_value_t = catchcup::proof::plan::USUAL_SCOOP, value_parser = clap::value_parser!(u32).range(1..=200))]
    pub scoop: u32,
    /// Animals in the tank, where they were counted
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u32).range(2..=100_000))]
    pub count: Option<u32>,
    /// How alike animals of one scoop are, 0 to 0.5; else the tank's own from ten scoops on, else 0.05
    #[arg(long, value_name = "ICC", value_parser = icc)]
    pub alike: Option<f64>,
}

#[derive(Debug, Args)]
#[command(after_help = "Photograph the packed lot whole, all animals in view.\n\
    Exit code: 0 ready, 3 not ready, 2 wrong use.")]
pub struct PackArgs {
    #[command(flatten)]
    pub shot: PhotoArgs,
    /// The rung it is sold as; else the one from which the house sells
    #[arg(long, value_name = "RUNG", value_parser = rung)]
    pub rung: Option<Rung>,
    /// Animals promised
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u32).range(1..=1000))]
    pub promised: Option<u32>,
    /// Write the photo with the animals to swap ringed into this folder
    #[arg(long, value_name = "DIR")]
    pub rings: Option<PathBuf>,
    /// JSON instead of text
    #[arg(long)]
    pub json: bool,
}

#[derive(Debug, Args)]
pub struct PriceArgs {
    #[command(flatten)]
    pub desk: Desk,
    /// The house's price list; else prices.toml beside house.toml or here
    #[arg(long, value_name = "FILE", global = true)]
    pub prices: Option<PathBuf>,
    #[command(subcommand)]
    pub command: PriceCommand,
}

#[derive(Debug, Subcommand)]
pub enum PriceCommand {
    /// Print a price list to begin with
    Start,
    /// Prices of all tanks by their last scoop; tanks on hold are not for sale
    List,
    /// What a tank is worth, with its range
    Tank {
        /// Its code
        tank: String,
        /// Animals in it
        #[arg(long, value_name = "N", value_parser = clap::value_parser!(u32).range(1..=100_000))]
        count: u32,
    },
    /// What animals of records are worth together (see `catchcup grade --json`)
    Lot {
        /// Files with records
        #[arg(required = true, value_name = "RECORDS")]
        records: Vec<PathBuf>,
    },
    /// What a changed ladder would make of the value of records
    Try {
        /// The changed rules file
        #[arg(value_name = "FILE.toml")]
        file: PathBuf,
        /// Files with records
        #[arg(required = true, value_name = "RECORDS")]
        records: Vec<PathBuf>,
    },
    /// Scoops most like an earlier one, under like conditions
    Like {
        /// Its number
        scoop: i64,
        /// So many
        #[arg(long, value_name = "N", default_value_t = 5)]
        most: usize,
    },
}

#[derive(Debug, Args)]
#[command(after_help = "Example:\n  \
    catchcup arrival --lot 60 --limit 6.5               how many to look at\n  \
    catchcup arrival Q1 --lot 60 --rung G4 --on 2026-05-01\n\
    Exit code: 0 passes, or plan told, or wait; 3 fails or too few; 2 wrong use.")]
pub struct ArrivalArgs {
    #[command(flatten)]
    pub desk: Desk,
    /// Tank into which the lot was put
    #[arg(requires = "on", requires = "rung")]
    pub tank: Option<String>,
    /// Animals in the lot
    #[arg(long, value_name = "N", value_parser = lot_size)]
    pub lot: u32,
    /// Quality limit, per cent of failing animals that is still taken as usual
    #[arg(long, value_name = "PER CENT", default_value = "6.5", value_parser = limit)]
    pub limit: u32,
    /// Look at more (III) or fewer (I) than usual (II)
    #[arg(long, value_name = "LEVEL", default_value = "II", value_parser = ["I", "II", "III"])]
    pub level: String,
    /// The rung that was paid for
    #[arg(long, value_name = "RUNG", value_parser = rung)]
    pub rung: Option<Rung>,
    /// Day of arrival
    #[arg(long, value_name = "DATE", value_parser = day)]
    pub on: Option<Date>,
}

#[derive(Debug, Args)]
pub struct ProofArgs {
    #[command(subcommand)]
    pub command: ProofCommand,
}

#[derive(Debug, Subcommand)]
pub enum ProofCommand {
    /// Write the page that backs a listing, with its folder
    Make(Box<MakeArgs>),
    /// Is a proof unchanged, and do its numbers follow from its photo?
    #[command(
        after_help = "Exit code: 0 unchanged, signed with the key you named; 3 consistent, but nobody said whose key it should be;\n\
        4 changed, or not what its photo gives; 5 signed with another key; 6 this version can't make the same numbers; 2 wrong use."
    )]
    Check(CheckArgs),
    /// The house's key: its fingerprint; made on first use
    Key {
        #[command(flatten)]
        keys: KeysArgs,
        #[command(subcommand)]
        command: Option<KeyCommand>,
    },
    /// Write a card with lot and day to lie in the cup
    Card {
        /// Code of the lot
        lot: String,
        /// File to write
        #[arg(value_name = "FILE.svg")]
        file: PathBuf,
        /// The day; today where not said
        #[arg(long, value_name = "DATE", value_parser = day)]
        on: Option<Date>,
    },
    /// A buyer's photo beside a proof's
    Compare {
        /// Folder of the proof
        folder: PathBuf,
        /// The buyer's photo
        photo: PathBuf,
        /// Inner diameter of the buyer's cup, millimetres
        #[arg(long, value_name = "MM", value_parser = positive)]
        cup_mm: Option<f64>,
        /// JSON instead of text
        #[arg(long)]
        json: bool,
    },
}

#[derive(Debug, Args)]
pub struct KeysArgs {
    /// Folder of the house's key; else your settings folder
    #[arg(long, value_name = "DIR", global = true)]
    pub keys: Option<PathBuf>,
    /// JSON instead of text
    #[arg(long, global = true)]
    pub json: bool,
}

#[derive(Debug, Subcommand)]
pub enum KeyCommand {
    /// Replace it; the old key signs a handover to the new one, which buyers get
    Replace {
        /// File of the handover
        #[arg(value_name = "HANDOVER.json", required_unless_present = "lost")]
        handover: Option<PathBuf>,
        /// Others may have the old key: nothing it signs from today on counts
        #[arg(long, conflicts_with = "lost")]
        leaked: bool,
        /// The old key is gone: a new one without handover; tell its fingerprint to your buyers as you told the old
        #[arg(long, conflicts_with = "handover")]
        lost: bool,
    },
}

#[derive(Debug, Args)]
pub struct MakeArgs {
    /// Photo of the whole scoop or lot, as the camera made it
    pub photo: PathBuf,
    /// Folder to make
    #[arg(long, value_name = "DIR")]
    pub into: PathBuf,
    /// The page as a PDF too: page.pdf beside it, signed with the same key
    #[arg(long)]
    pub pdf: bool,
    /// Code of the lot
    #[arg(long, value_name = "LOT")]
    pub lot: String,
    /// Line in the cup
    #[arg(long, value_name = "LINE")]
    pub line: Option<String>,
    /// Tank of the book, whose declared scoops make the statement
    #[arg(long, value_name = "TANK", conflicts_with = "whole")]
    pub tank: Option<String>,
    /// The photo shows the whole lot: it is its own statement
    #[arg(long, requires = "at_least")]
    pub whole: bool,
    /// The rung of the statement; else the one from which the house sells
    #[arg(long, value_name = "RUNG", value_parser = rung)]
    pub rung: Option<Rung>,
    /// Share of the lot at the rung or better, per cent
    #[arg(long, value_name = "PER CENT", value_parser = per_cent_or_all)]
    pub at_least: Option<u32>,
    /// Confidence, per cent
    #[arg(long, value_name = "PER CENT", default_value = "95", value_parser = confidence)]
    pub confidence: u32,
    /// When the animals were netted: a clock time (14:05), or how long before the photo (1m40s)
    #[arg(long, value_name = "TIME", value_parser = netted)]
    pub netted: Option<Netted>,
    /// Inner diameter of the cup's floor, millimetres
    #[arg(long, value_name = "MM", value_parser = positive)]
    pub cup_mm: Option<f64>,
    /// Ground the animals lie on
    #[arg(long, value_enum, default_value_t = GroundArg::White)]
    pub ground: GroundArg,
    /// All animals are of this sex
    #[arg(long, value_enum)]
    pub sex: Option<SexArg>,
    /// Your own rules file
    #[arg(long, value_name = "FILE")]
    pub rules: Option<PathBuf>,
    /// Points of coverage by which your own repeated photos differ (see `catchcup steady`)
    #[arg(long, value_name = "POINTS", value_parser = positive)]
    pub repeat: Option<f64>,
    #[command(flatten)]
    pub desk: Desk,
    /// Folder of the house's key; else your settings folder
    #[arg(long, value_name = "DIR")]
    pub keys: Option<PathBuf>,
}

#[derive(Debug, Args)]
pub struct CheckArgs {
    /// Folder of the proof
    pub folder: PathBuf,
    /// Fingerprint of the seller's key, got by another way than the page
    #[arg(long, value_name = "FINGERPRINT", value_parser = fingerprint)]
    pub key: Option<String>,
    /// Handover from that key to the next
    #[arg(long, value_name = "FILE", requires = "key")]
    pub handover: Option<PathBuf>,
    /// For the seller: the photo as the camera made it
    #[arg(long, value_name = "PHOTO")]
    pub original: Option<PathBuf>,
    /// JSON instead of text
    #[arg(long)]
    pub json: bool,
    /// Without vector instructions, to try that they change nothing
    #[arg(long, hide = true)]
    pub plain: bool,
}

/// Per cent with one digit behind the point at most, as thousandths, 0.1 to 99.9.
fn per_cent(text: &str) -> Result<u32, String> {
    tenths(text)
        .filter(|n| (1..=999).contains(n))
        .ok_or_else(|| "expected per cent from 0.1 to 99.9, for example 80".to_string())
}

/// The same up to all.
fn per_cent_or_all(text: &str) -> Result<u32, String> {
    tenths(text)
        .filter(|n| (1..=1000).contains(n))
        .ok_or_else(|| "expected per cent from 0.1 to 100, for example 80".to_string())
}

fn confidence(text: &str) -> Result<u32, String> {
    tenths(text)
        .filter(|n| (500..=999).contains(n))
        .ok_or_else(|| "expected per cent from 50 to 99.9, for example 95".to_string())
}

fn tenths(text: &str) -> Option<u32> {
    let (whole, part) = text.split_once('.').unwrap_or((text, "0"));
    let digits = |s: &str| !s.is_empty() && s.len() <= 3 && s.bytes().all(|b| b.is_ascii_digit());
    if !digits(whole) || !digits(part) || part.len() > 1 {
        return None;
    }
    Some(whole.parse::<u32>().ok()? * 10 + part.parse::<u32>().ok()?)
}

fn icc(text: &str) -> Result<f64, String> {
    let number = text.parse().ok().filter(|n: &f64| (0.0..=0.5).contains(n));
    number.ok_or_else(|| "expected a number from 0 to 0.5, for example 0.05".to_string())
}

/// A quality limit of the published table, thousandths of a per cent.
fn limit(text: &str) -> Result<u32, String> {
    let found = text.parse().ok().map(|n: f64| (n * 1000.0).round() as u32);
    let known: Vec<u32> = catchcup::proof::inspection::limits().collect();
    found.filter(|n| known.contains(n)).ok_or_else(|| {
        let all: Vec<String> = known
            .iter()
            .map(|n| (f64::from(*n) / 1000.0).to_string())
            .collect();
        format!("expected one of the table's limits: {}", all.join(", "))
    })
}

/// Largest lot that is told of: nobody sells more animals at once, and the chances stay exact.
const LARGEST_LOT: u32 = 100_000;

/// A bought-in lot that a plan can be made for.
fn lot_size(text: &str) -> Result<u32, String> {
    match text.parse::<u32>() {
        Ok(0) => Err("a lot of none can't be looked at: say how many were bought".into()),
        Ok(1) => Err("a single animal needs no plan: look at it".into()),
        Ok(lot) if lot <= LARGEST_LOT => Ok(lot),
        _ => Err(format!(
            "expected how many animals were bought, 2 to {LARGEST_LOT}, for example 60"
        )),
    }
}

fn fingerprint(text: &str) -> Result<String, String> {
    catchcup::proof::key::fingerprint_of(text).ok_or_else(|| {
        "expected the 32 hexadecimal digits of a fingerprint, blanks and hyphens allowed"
            .to_string()
    })
}
