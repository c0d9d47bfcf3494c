//! Bodies found without knowing the line's colour.

pub mod additive;
pub mod agreed;
pub mod attempt;
pub mod blobs;
pub mod body;
pub mod candidates;
pub mod edge;
pub mod ends;
pub mod evidence;
pub mod features;
pub mod field;
pub mod find;
pub mod lamp;
pub mod models;
pub mod orient;
pub mod profile;
pub mod raster;
pub mod reject;
pub mod ribbon;
pub mod runs;
pub mod settle;
pub mod squash;
mod stations;
pub mod thinning;
pub mod tones;
pub mod unscaled;
pub mod worth;
