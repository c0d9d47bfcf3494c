//! fit
fn main() {}
