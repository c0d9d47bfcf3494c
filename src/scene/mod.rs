//! The setting: ground, cup, scale, chart, glare, focus. Knows no line colours.

pub mod light;

pub use chart::published::{ChartSet, PATCH_NAMES};
pub use colour::{ColourFrom, ColourSpec, RememberedLight, SceneColour, WhiteFrom, day_number};
pub use correction::Correction;
pub use correction_fit::{ChartFit, PatchResidual};

use crate::doubt::Note;
use crate::units::{Measured, Point};

mod casts;
mod chart;
mod chart_facts;
mod colour;
mod correction;
mod correction_fit;
mod cup;
mod doubts;
pub mod edges;
mod equations;
mod facts;
mod glare;
mod grid;
mod ground;
mod lookup;
pub mod obstacle;
pub mod quality;
pub mod read;
mod regions;
mod searched;
mod slant;
mod softness;
mod white;

pub use obstacle::Obstacle;
pub use quality::Quality;
pub use read::{CupSpec, read_scene, read_scene_from};

/// What the animals lie on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Ground {
    /// White or light cup or surface.
    White,
    /// Dark cup.
    Dark,
}

/// Where the scale came from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ScaleFrom {
    /// The cup's known inner floor diameter.
    Cup,
    /// A chart of known pitch.
    Chart,
    /// Given by the user.
    Given,
}

/// The inner floor of the cup: an ellipse, or a rounded rectangle for square cups.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Cup {
    /// Centre of the floor, full-size upright pixels.
    pub centre: Point,
    /// Half-axes of the floor, longer first, full-size pixels.
    pub axes: [f32; 2],
    /// Direction of the longer axis, degrees from the x axis towards y, [0, 180).
    pub angle_deg: f32,
}

/// A colour chart seen in the photo.
#[derive(Debug, Clone, PartialEq)]
pub struct Chart {
    /// Corners in order around the chart, full-size upright pixels.
    pub corners: [Point; 4],
    /// Full-size pixels from patch to patch at its middle.
    pub pitch_px: f64,
    /// The correction read from it; `None` where it was refused.
    pub fit: Option<ChartFit>,
}

/// The setting of one photo. All coordinates are full-size upright pixels, except `searched`.
#[derive(Debug, Clone)]
pub struct Scene {
    /// White or dark ground.
    pub ground: Ground,
    /// The cup's floor, where it was found.
    pub cup: Option<Cup>,
    /// A colour chart in view.
    pub chart: Option<Chart>,
    /// What colours are measured against.
    pub colour: SceneColour,
    /// Pixels to the millimetre at the floor.
    pub px_per_mm: Option<Measured>,
    /// Where the scale came from; `None` exactly when `px_per_mm` is.
    pub scale_from: Option<ScaleFrom>,
    /// Where animals may lie: 1 on the floor (and the lower wall), 0 elsewhere, on the grid of the picture
    /// that was searched (`searched_width` wide), `searched_step` full-size pixels to one of its pixels.
    pub searched: Vec<u8>,
    /// Width of the grid of `searched`.
    pub searched_width: usize,
    /// Height of the grid of `searched`.
    pub searched_height: usize,
    /// Full-size pixels to one pixel of `searched`.
    pub searched_step: usize,
    /// Share of the searched ground under glare, 0..=1.
    pub glare_share: f64,
    /// Sharpness, 0..=1 (1 = edges as sharp as the pixels allow).
    pub sharpness: f64,
    /// Share of the searched ground with a clipped channel, 0..=1.
    pub clipped_share: f64,
    /// What the ground says about the photo.
    pub quality: Quality,
    /// Doubts about the whole photo, costliest first.
    pub doubts: Vec<Note>,
    /// Reasons why nothing can be graded; empty when the photo can be.
    pub withheld: Vec<Note>,
}
