//! The commands of breeder selection: each reads what it needs, calls the library, prints.

pub mod forecast;
pub mod plan;
pub mod rank;
pub mod sort;

use anyhow::Result;
use catchcup::book::{Book, Tank};
use catchcup::error::Error;
use catchcup::ladder::Ladder;

use super::book::Desk;
use super::book::rooms::house_shelf;

/// A tank with its line's ladder.
///
/// # Errors
/// Where the tank is unknown or no ladder is known for it.
fn tank_and_ladder(book: &Book, code: &str, desk: &Desk) -> Result<(Tank, Ladder)> {
    let tank = book.tank(code)?;
    let shelf = house_shelf(&desk.house)?;
    let ladder = tank.ladder.as_deref().and_then(|id| shelf.ladder(id));
    let ladder = ladder.ok_or_else(|| {
        Error::book(
            "no_ladder",
            format!("no ladder is known for tank {}", tank.code),
            format!(
                "say which line lives in it: catchcup tank edit {} --line LINE",
                tank.code
            ),
        )
    })?;
    Ok((tank, ladder))
}
