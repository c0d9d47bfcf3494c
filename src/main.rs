//! The catchcup command.

mod cli;
#[cfg(feature = "web")]
mod web;

use std::process::ExitCode;

#[global_allocator]
static ALLOCATOR: mimalloc::MiMalloc = mimalloc::MiMalloc;

fn main() -> ExitCode {
    cli::run()
}
