//! `catchcup proof`: pages that back listings, their keys and their checks.

mod check;
pub mod keys;
pub mod make;

use anyhow::Result;
use catchcup::error::Error;
use catchcup::report::tags;

use super::book::now;
use super::output::Out;
use super::proof_args::{ProofArgs, ProofCommand};

/// Runs the part of `proof` that was asked for; the exit code.
///
/// # Errors
/// Where a file can't be read or written, or a photo can't be published.
pub fn run(args: &ProofArgs, out: &mut Out) -> Result<u8> {
    match &args.command {
        ProofCommand::Make(args) => make::run(args, out),
        ProofCommand::Check(args) => check::run(args, out),
        ProofCommand::Key { keys, command } => keys::run(keys, command.as_ref(), out),
        ProofCommand::Card { lot, file, on } => {
            let day = on.unwrap_or(now().date()).to_string();
            let name = file.display().to_string();
            std::fs::write(file, tags::lot_card(lot, &day)?).map_err(|e| Error::io(&name, &e))?;
            out.line(&format!(
                "wrote {name}: print it, and lay it in the cup beside the animals, whole in view"
            ))?;
            Ok(0)
        }
        ProofCommand::Compare {
            folder,
            photo,
            cup_mm,
            json,
        } => check::compare(folder, photo, *cup_mm, *json, out),
    }
}
