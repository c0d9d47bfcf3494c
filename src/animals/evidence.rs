//! Evidence model.
