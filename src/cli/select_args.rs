//! What can be said to the commands of breeder selection.

use std::path::PathBuf;

use catchcup::scoop::Netted;
use catchcup::selection::sorting::again::Gone;
use clap::{Args, Subcommand};

use super::args::{GroundArg, SexArg, netted, positive};
use super::book_args::Desk;

/// Wanted females and males.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Wanted {
    Females(usize),
    Males(usize),
}

/// The wanted numbers as females, males.
pub fn wanted(said: &[Wanted]) -> [usize; 2] {
    let mut both = [0, 0];
    for one in said {
        match one {
            Wanted::Females(count) => both[0] = *count,
            Wanted::Males(count) => both[1] = *count,
        }
    }
    both
}

#[derive(Debug, Args)]
pub struct SortArgs {
    #[command(flatten)]
    pub desk: Desk,
    #[command(subcommand)]
    pub command: SortCommand,
}

#[derive(Debug, Subcommand)]
pub enum SortCommand {
    /// Begin: learns the tank from its scoops and lays the line
    #[command(
        after_help = "Example:\n  catchcup sort start A1 --keep 15F 10M --tub 10 --about 160"
    )]
    Start {
        /// The tank
        tank: String,
        /// Wanted females and males: 15F 10M
        #[arg(long, value_name = "N", num_args = 1..=2, required = true, value_parser = keep)]
        keep: Vec<Wanted>,
        /// Places of a holding tub for each sex, up to 10
        #[arg(long, value_name = "N", default_value_t = 0, value_parser = clap::value_parser!(u32).range(0..=10))]
        tub: u32,
        /// Animals in the tank, counted
        #[arg(long, value_name = "N", conflicts_with = "about", value_parser = clap::value_parser!(u32).range(1..=5000))]
        animals: Option<u32>,
        /// Animals in the tank, a guess
        #[arg(long, value_name = "N", value_parser = clap::value_parser!(u32).range(1..=5000))]
        about: Option<u32>,
    },
    /// One cup: keep, tub, move out, look twice
    Cup(Box<CupArgs>),
    /// Where the sorting stands; it resumes by itself with the next cup
    Show {
        /// The tank
        tank: String,
    },
    /// End: who of the tub is kept
    Finish {
        /// The tank
        tank: String,
    },
}

#[derive(Debug, Args)]
pub struct CupArgs {
    /// The tank
    pub tank: String,
    /// Photo of the cup
    #[arg(value_name = "PHOTO")]
    pub photo: PathBuf,
    /// Another photo of the same cup: the animals are found again, and both readings count
    #[arg(long)]
    pub again: bool,
    /// With --again, of an animal that the photo before shows and this one does not, by its number there: 7=cup (it is still
    /// in the cup), 7=moved (moved already, as it was told), 7=none (no animal), 7=5 (it is number 5 here)
    #[arg(long, value_name = "NO=WHAT", num_args = 1.., requires = "again", value_parser = gone)]
    pub gone: Vec<(u32, Gone)>,
    /// With --again, of what this photo shows and the one before does not: 9=animal or 9=none
    #[arg(long, value_name = "NO=WHAT", num_args = 1.., requires = "again", value_parser = new)]
    pub new: Vec<(u32, bool)>,
    /// With --again: it is the same cup, though few animals are known again
    #[arg(long, requires = "again")]
    pub same_cup: bool,
    /// Answer in advance: tank, lamp, cup and minutes are right even where the animals read unlike the earlier ones
    #[arg(long)]
    pub tank_sure: bool,
    /// Sweeps of the net it took: they tell how many are left
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u32).range(1..=1000))]
    pub sweeps: Option<u32>,
    /// So many are left, you think
    #[arg(long, value_name = "N")]
    pub left: Option<u32>,
    /// The tank is empty now
    #[arg(long)]
    pub last: bool,
    /// A tray with wells that fills the photo: rows x columns, 2x3
    #[arg(long, value_name = "RxC", value_parser = tray)]
    pub wells: Option<(u32, u32)>,
    /// Write the photo with what to do on every animal, and a sheet of straightened pictures, into this folder
    #[arg(long, value_name = "DIR")]
    pub overlay: Option<PathBuf>,
    /// Inner diameter of the cup's floor, millimetres
    #[arg(long, value_name = "MM", value_parser = positive)]
    pub cup_mm: Option<f64>,
    /// Pixels to the millimetre at the floor
    #[arg(long, value_name = "X", value_parser = positive)]
    pub px_per_mm: Option<f64>,
    /// Ground the animals lie on
    #[arg(long, value_enum, default_value_t = GroundArg::White)]
    pub ground: GroundArg,
    /// All animals are of this sex
    #[arg(long, value_enum)]
    pub sex: Option<SexArg>,
    /// Sexes that you see, by the animal's number in the photo: 3=female 5=male
    #[arg(long, value_name = "NO=SEX", num_args = 1.., value_parser = sexed)]
    pub sexes: Vec<(u32, bool)>,
    /// When the animals were netted: a clock time (14:05), or how long before the photo (1m40s)
    #[arg(long, value_name = "TIME", value_parser = netted)]
    pub netted: Option<Netted>,
}

#[derive(Debug, Args)]
#[command(after_help = "Example:\n  catchcup rank A1 --keep 15F 10M --scoop 210 --scoop 211")]
pub struct RankArgs {
    #[command(flatten)]
    pub desk: Desk,
    /// The tank
    pub tank: String,
    /// Wanted females and males: 15F 10M
    #[arg(long, value_name = "N", num_args = 1..=2, required_unless_present = "young", value_parser = keep)]
    pub keep: Vec<Wanted>,
    /// Scoop to rank, may be given more than once; else the tank's latest
    #[arg(long, value_name = "NUMBER")]
    pub scoop: Vec<i64>,
    /// First pass over a young cohort: off, keep, too young to say
    #[arg(long)]
    pub young: bool,
}

#[derive(Debug, Args)]
#[command(
    after_help = "Example:\n  catchcup forecast A1 --keep 15F 10M --animals 160 --plot costs.svg"
)]
pub struct ForecastArgs {
    #[command(flatten)]
    pub desk: Desk,
    /// The tank
    pub tank: String,
    /// Females and males to keep: 15F 10M
    #[arg(long, value_name = "N", num_args = 1..=2, required = true, value_parser = keep)]
    pub keep: Vec<Wanted>,
    /// Animals in the tank
    #[arg(long, value_name = "N", default_value_t = 160, value_parser = clap::value_parser!(u32).range(2..=5000))]
    pub animals: u32,
    /// Generations with what was selected, CSV: mean, sd, measured, differential, females, males
    #[arg(long, value_name = "FILE.csv")]
    pub table: Option<PathBuf>,
    /// Write the trade of gain against inbreeding as a picture
    #[arg(long, value_name = "FILE.svg|png")]
    pub plot: Option<PathBuf>,
    /// In the terms of breeding too
    #[arg(long)]
    pub detail: bool,
}

#[derive(Debug, Args)]
#[command(after_help = "Example:\n  catchcup plan R1 --keep 15F 10M --or 30F 20M --plot plan.svg")]
pub struct PlanArgs {
    #[command(flatten)]
    pub desk: Desk,
    /// The line
    pub line: String,
    /// Females and males to keep in each generation: 15F 10M
    #[arg(long, value_name = "N", num_args = 1..=2, required = true, value_parser = keep)]
    pub keep: Vec<Wanted>,
    /// Another policy, side by side
    #[arg(long = "or", value_name = "N", num_args = 1..=2, value_parser = keep)]
    pub or: Vec<Wanted>,
    /// Animals a generation that grow up
    #[arg(long, value_name = "N", default_value_t = 300, value_parser = clap::value_parser!(u32).range(4..=2000))]
    pub animals: u32,
    /// Share of the animals that are measured before you choose, in per cent
    #[arg(long, value_name = "PERCENT", default_value_t = 100.0, value_parser = positive)]
    pub measured: f64,
    /// Coming generations
    #[arg(long, value_name = "N", default_value_t = 10, value_parser = clap::value_parser!(u32).range(1..=50))]
    pub generations: u32,
    /// How often it is played through
    #[arg(long, value_name = "N", default_value_t = 1000, value_parser = clap::value_parser!(u32).range(20..=20000))]
    pub times: u32,
    /// Share of the differences that is inherited, 0.05 to 0.95; else three plausible ones, or the line's own
    #[arg(long, value_name = "SHARE", value_parser = positive)]
    pub inherited: Option<f64>,
    /// Seed: the same seed, the same plan
    #[arg(long, value_name = "N", default_value_t = 1)]
    pub seed: u64,
    /// Write the shares and the diversity by generation as a picture
    #[arg(long, value_name = "FILE.svg|png")]
    pub plot: Option<PathBuf>,
}

fn keep(text: &str) -> Result<Wanted, String> {
    let wrong = || "expected females and males such as 15F 10M".to_string();
    let lower = text.to_ascii_lowercase();
    let sex = lower
        .get(lower.len().saturating_sub(1)..)
        .ok_or_else(wrong)?;
    let digits = &lower[..lower.len() - sex.len()];
    let count: usize = digits.parse().map_err(|_| wrong())?;
    match sex {
        _ if !(1..=1000).contains(&count) => Err(wrong()),
        "f" => Ok(Wanted::Females(count)),
        "m" => Ok(Wanted::Males(count)),
        _ => Err(wrong()),
    }
}

/// `3=female` or `5=male`: the number, and true for a male. A bare `3F` is a count elsewhere, so it is not guessed at.
fn sexed(text: &str) -> Result<(u32, bool), String> {
    if let Ok(count) = keep(text) {
        let (no, sex) = match count {
            Wanted::Females(no) => (no, "female"),
            Wanted::Males(no) => (no, "male"),
        };
        return Err(format!(
            "that reads like a count of animals; for \"animal no. {no} of the photo is {sex}\" say {no}={sex}"
        ));
    }
    let wrong =
        || "expected the animal's number in the photo with its sex: 3=female or 5=male".to_string();
    let (no, sex) = text.split_once('=').ok_or_else(wrong)?;
    let male = match sex.trim() {
        "female" => false,
        "male" => true,
        _ => return Err(wrong()),
    };
    Ok((no.trim().parse().map_err(|_| wrong())?, male))
}

fn gone(text: &str) -> Result<(u32, Gone), String> {
    let wrong =
        || "expected a number and what became of it: 7=cup, 7=moved, 7=none or 7=5".to_string();
    let (no, what) = text.split_once('=').ok_or_else(wrong)?;
    let no = no.trim().parse().map_err(|_| wrong())?;
    Ok((no, gone_word(what.trim()).ok_or_else(wrong)?))
}

/// What became of an animal, in a word or as its number here.
pub fn gone_word(word: &str) -> Option<Gone> {
    Some(match word {
        "cup" | "c" => Gone::InCup,
        "moved" | "m" => Gone::Moved,
        "none" | "n" => Gone::NoAnimal,
        number => Gone::Here(number.parse().ok()?),
    })
}

fn new(text: &str) -> Result<(u32, bool), String> {
    let wrong = || "expected a number and what it is: 9=animal or 9=none".to_string();
    let (no, what) = text.split_once('=').ok_or_else(wrong)?;
    let no = no.trim().parse().map_err(|_| wrong())?;
    Ok((no, new_word(what.trim()).ok_or_else(wrong)?))
}

/// True for an animal, false for none.
pub fn new_word(word: &str) -> Option<bool> {
    match word {
        "animal" | "a" => Some(true),
        "none" | "n" => Some(false),
        _ => None,
    }
}

fn tray(text: &str) -> Result<(u32, u32), String> {
    let wrong = || "expected rows x columns such as 2x3, 12 at most each way".to_string();
    let (rows, columns) = text.split_once(['x', 'X']).ok_or_else(wrong)?;
    let one = |digits: &str| {
        let count = digits.parse().ok().filter(|n| (1..=12).contains(n));
        count.ok_or_else(wrong)
    };
    Ok((one(rows)?, one(columns)?))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn wanted_numbers() {
        assert_eq!(keep("15F"), Ok(Wanted::Females(15)));
        assert_eq!(keep("10m"), Ok(Wanted::Males(10)));
        for text in ["", "F", "0F", "15", "15X", "-1M", "1.5F", "4000F", "\u{e9}"] {
            assert!(keep(text).is_err(), "{text}");
        }
        assert_eq!(tray("2x3"), Ok((2, 3)));
        assert_eq!(gone("7=moved"), Ok((7, Gone::Moved)));
        assert_eq!(gone("7=5"), Ok((7, Gone::Here(5))));
        assert_eq!(new("9=none"), Ok((9, false)));
        for text in ["", "7", "=cup", "7=", "7=away", "x=cup", "7=-1"] {
            assert!(gone(text).is_err() && new(text).is_err(), "{text}");
        }
        assert_eq!(sexed("3=female"), Ok((3, false)));
        assert_eq!(sexed("5=male"), Ok((5, true)));
        assert!(sexed("5M").is_err_and(|why| why.contains("5=male")));
        for text in ["", "=male", "3=", "3=m", "x=male", "-1=male", "male"] {
            assert!(sexed(text).is_err(), "{text}");
        }
        assert!(tray("2x").is_err() && tray("13x1").is_err());
    }
}
