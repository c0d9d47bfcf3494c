//! What backs a listing: the page, its parts, and the words for statements, packing, prices and checks.

pub mod answers;
mod blocks;
mod content;
mod figure;
pub mod lots;
pub mod packing;
mod page;
pub mod prices;
#[cfg(feature = "pdf")]
mod print;
mod record;
pub mod sentences;
mod square;
mod style;

pub use page::page;

use super::wire::record_json;
use crate::proof::verify::Formats;

/// The formats of a proof, for [`crate::proof::verify::check`].
pub const FORMATS: Formats = Formats {
    record: record_json,
    animals: record::kept_animals,
    page: page::page,
    #[cfg(feature = "pdf")]
    pdf: Some(print::pdf),
    #[cfg(not(feature = "pdf"))]
    pdf: None,
};
