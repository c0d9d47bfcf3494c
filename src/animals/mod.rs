//! Bodies found without knowing the line's colour.

pub mod evidence;
pub mod features;
pub mod tones;
