//! Completions for shells, and manual pages.

use std::path::Path;

use anyhow::Result;
use catchcup::error::Error;
use clap::CommandFactory;
use clap_complete::Shell;

use super::args::Args;
use super::output::Out;

/// The completion script for `shell`.
pub fn completions(shell: Shell) -> String {
    let mut script = Vec::new();
    clap_complete::generate(shell, &mut Args::command(), "catchcup", &mut script);
    String::from_utf8_lossy(&script).into_owned()
}

/// Writes `catchcup.1` and a page for each command into `folder`.
///
/// # Errors
/// Where the folder or a page can't be written.
pub fn manual(folder: &Path, out: &mut Out) -> Result<()> {
    let failed = |e: &std::io::Error| Error::io(&folder.display().to_string(), e);
    std::fs::create_dir_all(folder).map_err(|e| failed(&e))?;
    clap_mangen::generate_to(Args::command(), folder).map_err(|e| failed(&e))?;
    let shown = folder.display();
    out.line(&format!(
        "wrote the manual pages; read one with: man -l {shown}/catchcup.1"
    ))?;
    Ok(())
}
