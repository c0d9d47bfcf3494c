//! What may be said of a lot, at what price, and what backs it.
//!
//! Takes animals and scoops as plain records; no book, no picture, no file, no clock.

pub mod arrival;
pub mod boundary;
pub mod canonical;
pub mod compare;
pub mod count;
mod folder;
pub mod inspection;
pub mod key;
pub mod lot;
pub mod lot_plan;
pub mod make;
pub mod manifest;
pub mod money;
pub mod packing;
pub mod plan;
pub mod price;
mod remarks;
pub mod similar;
pub mod state;
pub mod statement;
pub mod verify;
pub mod weakness;

pub use count::Count;
pub use manifest::Manifest;
pub use money::Money;
pub use plan::Plan;
pub use statement::{Answer, Standing};
