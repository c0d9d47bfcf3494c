//! The house's own eye: how far people and program agree on rungs, what limits the house's own rungs ask for, which
//! families of colour live in the room.
//!
//! Takes plain records, never the book.

pub mod agreement;
pub mod borders;
pub mod claims;
pub mod cumulative;
pub mod dice;
pub mod draw;
pub mod errors;
pub mod examples;
pub mod families;
pub mod kappa;
pub mod rank;
pub mod raters;
pub mod scale;
pub mod steps;
pub mod subject;
pub mod teach;

pub use agreement::{Agreement, Bias, Pair, agreement};
pub use subject::Subject;
pub use teach::teach;
