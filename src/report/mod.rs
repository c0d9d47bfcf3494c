//! What people and other programs are given: record, text and picture. Formats numbers, computes none.

mod canvas;
mod footer;
mod labels;
pub mod overlay;
pub mod table;
pub mod text;
pub mod wire;
pub mod words;

pub use overlay::overlay_jpeg;
pub use text::{TextLine, Tone, render};
pub use wire::{error_json, record_json};

/// JSON Schema of the record of a scoop and of the error object.
pub const RECORD_SCHEMA: &str = include_str!("record.schema.json");
