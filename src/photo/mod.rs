//! Bytes of a photo file to upright linear light, capture data and digest.

pub mod linear;

pub use linear::LinearImage;
