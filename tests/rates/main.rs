//! How often stated intervals hold what they promise: thousands of seeded runs, worth their time in release mode only.
//!
//! `cargo test --release --locked --test rates -- --ignored`

mod dice;
mod eye;
mod fading;
mod proof;
mod response;
mod shares;
mod sorting;
mod trends;
