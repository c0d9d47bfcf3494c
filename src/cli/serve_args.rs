//! What can be said to `catchcup serve`.

use std::net::IpAddr;
use std::path::PathBuf;

use clap::Args;

use super::book_args::Desk;

#[derive(Debug, Args)]
pub struct ServeArgs {
    #[command(flatten)]
    pub desk: Desk,
    /// This computer's address in the room's network; without it, only this computer reaches the page
    #[arg(long, value_name = "ADDRESS")]
    pub lan: Option<IpAddr>,
    /// Port to listen on; 0 takes any free one
    #[arg(long, default_value_t = 8017)]
    pub port: u16,
    /// Folder of the house's key, which signs proofs; else the settings folder
    #[arg(long, value_name = "DIR")]
    pub keys: Option<PathBuf>,
    /// Another name under which the page is asked for, as behind a TLS proxy
    #[arg(long, value_name = "NAME")]
    pub name: Vec<String>,
}
