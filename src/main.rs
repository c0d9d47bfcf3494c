//! catchcup command line.
fn main() {}
