//! What can be said to `catchcup cup` and `light`.

use std::path::PathBuf;

use clap::{Args as ClapArgs, Subcommand};

use super::args::positive;

#[derive(Debug, Subcommand)]
pub enum CupCommand {
    /// Measure a cup by a photo of it, empty, with a colour chart or a grey card in view
    Add(CupAdd),
    /// List the cups measured
    List {
        /// Their colours in numbers too
        #[arg(long)]
        detail: bool,
        /// House file
        #[arg(long, value_name = "FILE")]
        house: Option<PathBuf>,
    },
}

#[derive(Debug, ClapArgs)]
pub struct CupAdd {
    /// Name to call it by, for example round-60
    #[arg(value_parser = super::kept::name)]
    pub name: String,
    /// Photo of the empty cup with the chart or card beside it in the same light
    #[arg(value_name = "PHOTO")]
    pub photo: PathBuf,
    /// Inner diameter of its floor (longer side of square and oval cups), millimetres
    #[arg(long, value_name = "MM", value_parser = positive)]
    pub cup_mm: Option<f64>,
    /// Box of a grey card in the photo, pixels of the upright photo, where there is no chart
    #[arg(long, value_name = "X,Y,WIDTH,HEIGHT", value_parser = pixel_box)]
    pub card: Option<[usize; 4]>,
    /// Share of the light that the card gives back: 0.18 for a grey card, 0.9 for a white one
    #[arg(long, value_name = "SHARE", default_value_t = 0.18, value_parser = share, requires = "card")]
    pub card_reflects: f64,
    /// House file; the cup is kept in cups.toml beside it
    #[arg(long, value_name = "FILE")]
    pub house: Option<PathBuf>,
    /// Its colour in numbers too
    #[arg(long)]
    pub detail: bool,
}

#[derive(Debug, Subcommand)]
pub enum LightCommand {
    /// Measure a light by a photo of a cup with a colour chart beside it
    Add(LightAdd),
    /// List the lights measured
    List {
        /// House file
        #[arg(long, value_name = "FILE")]
        house: Option<PathBuf>,
    },
}

#[derive(Debug, ClapArgs)]
pub struct LightAdd {
    /// Name to call it by, for example shelf-lamp
    #[arg(value_parser = super::kept::name)]
    pub name: String,
    /// Photo with the chart, by the usual phone in the usual cup
    #[arg(value_name = "PHOTO")]
    pub photo: PathBuf,
    /// House file; the light is kept in lights.toml beside it
    #[arg(long, value_name = "FILE")]
    pub house: Option<PathBuf>,
}

/// A share above 0 and up to 1.
pub(super) fn share(text: &str) -> Result<f64, String> {
    let number = text.parse().ok().filter(|n: &f64| *n > 0.0 && *n <= 1.0);
    number.ok_or_else(|| "expected a share above 0 and up to 1, for example 0.18".to_string())
}

/// `X,Y,WIDTH,HEIGHT` in whole pixels.
fn pixel_box(text: &str) -> Result<[usize; 4], String> {
    let numbers: Option<Vec<usize>> = text.split(',').map(|n| n.trim().parse().ok()).collect();
    numbers
        .and_then(|list| list.try_into().ok())
        .filter(|[_, _, w, h]: &[usize; 4]| *w > 0 && *h > 0)
        .ok_or_else(|| "expected four whole numbers, for example 120,80,200,150".to_string())
}
