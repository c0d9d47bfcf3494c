//! Plain statistics on slices.
