//! What people and other programs are given: record, text and picture. Formats numbers, computes none.

pub mod book;
mod canvas;
pub mod card;
mod crops;
pub mod csv;
pub mod eye;
pub mod fade;
mod footer;
mod labels;
pub mod overlay;
pub mod page;
mod patches;
pub mod plot;
pub mod proof;
mod rings;
pub mod selection;
pub mod steady;
mod straighten;
pub mod table;
pub mod tags;
pub mod text;
pub mod trend;
pub mod trial;
pub mod wire;
pub mod words;

pub use crops::{crop_jpegs, sheet_jpeg};
pub use overlay::{overlay_jpeg, overlay_with_rings, small_screen_jpeg};
pub use patches::patch_lines;
pub use text::{TextLine, Tone, render};
pub use wire::fade::fade_json;
pub use wire::steady::steady_json;
pub use wire::{error_json, record_json, record_json_with_patches};

/// JSON Schema of the record of a scoop and of the error object.
pub const RECORD_SCHEMA: &str = include_str!("record.schema.json");

/// JSON Schema of what `steady --json` prints.
pub const STEADY_SCHEMA: &str = include_str!("steady.schema.json");
/// JSON Schema of what `fade --json` prints.
pub const FADE_SCHEMA: &str = include_str!("fade.schema.json");
/// JSON Schema of what `sort`, `rank`, `forecast` and `plan` print with `--json`.
pub const SELECTION_SCHEMA: &str = include_str!("selection.schema.json");
/// JSON Schema of what `rung`, `agree` and `teach` print with `--json`.
pub const EYE_SCHEMA: &str = include_str!("eye.schema.json");
/// JSON Schema of what the commands of the book print with `--json`.
pub const BOOK_SCHEMA: &str = include_str!("book.schema.json");
/// JSON Schema of what the commands on trends, whole tanks, trials and months print with `--json`.
pub const TRENDS_SCHEMA: &str = include_str!("trends.schema.json");
/// JSON Schema of what statements, packing, prices and proofs print with `--json`.
pub const PROOF_SCHEMA: &str = include_str!("proof.schema.json");
