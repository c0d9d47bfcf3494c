//! Whom to keep as breeders, what the next generation should gain, and what it costs in inbreeding.
//!
//! Takes animals as numbers; never sees a picture, a file, a book or a clock. Words: keep, move out, look twice.

pub mod draws;
pub mod forecast;
pub mod inbreeding;
pub mod intensity;
pub mod plan;
pub mod ranking;
pub mod realised;
pub mod sorting;
pub mod worth;
