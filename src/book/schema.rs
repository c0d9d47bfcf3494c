//! The book's tables, made and brought up to date by numbered scripts that are only ever added to.

use rusqlite::{Connection, TransactionBehavior};

use super::failed;
use crate::error::Error;

/// Scripts in order; script 1 makes a book of version 1. Never edit one: books made with it exist.
const MIGRATIONS: [&str; 4] = [
    include_str!("migrations/001_start.sql"),
    include_str!("migrations/002_sorting.sql"),
    include_str!("migrations/003_own_rungs.sql"),
    include_str!("migrations/004_corrections.sql"),
];

/// Marks a file as a book (`PRAGMA application_id`); the letters "Cbok".
const APPLICATION: i64 = 0x4362_6F6B;

/// Newest version this program knows.
pub const NEWEST: i64 = MIGRATIONS.len() as i64;

/// Makes the tables of a new book, or brings an older one up to date, all or nothing.
///
/// # Errors
/// Where the file is no book, was written by a newer program, or can't be written.
pub fn bring_up_to_date(db: &mut Connection) -> Result<(), Error> {
    let version = known_version(db)?;
    if version == NEWEST {
        return Ok(());
    }
    let change = db
        .transaction_with_behavior(TransactionBehavior::Immediate)
        .map_err(failed("bringing the book up to date"))?;
    // Another process may have done it while this one waited.
    let version = known_version(&change)?;
    let missing = usize::try_from(version).unwrap_or(0);
    for script in MIGRATIONS.iter().skip(missing) {
        change
            .execute_batch(script)
            .map_err(failed("bringing the book up to date"))?;
    }
    change
        .execute_batch(&format!(
            "PRAGMA application_id = {APPLICATION}; PRAGMA user_version = {NEWEST};"
        ))
        .map_err(failed("bringing the book up to date"))?;
    change
        .commit()
        .map_err(failed("bringing the book up to date"))
}

/// Fails where a file is no book that this program can read.
///
/// # Errors
/// As [`bring_up_to_date`], and for an empty file.
pub fn check_version(db: &Connection) -> Result<(), Error> {
    match known_version(db)? {
        0 => Err(not_a_book()),
        _ => Ok(()),
    }
}

fn not_a_book() -> Error {
    Error::book(
        "not_a_book",
        "the file is no book of this program",
        "name the book's own file: --book FILE, or book = \"FILE\" in house.toml",
    )
}

/// The version of a book, 0 for an empty file.
///
/// # Errors
/// Where the file is no book, or newer than this program.
fn known_version(db: &Connection) -> Result<i64, Error> {
    let number = |pragma: &str| {
        db.pragma_query_value(None, pragma, |row| row.get::<_, i64>(0))
            .map_err(failed("opening the book"))
    };
    let (application, version) = (number("application_id")?, number("user_version")?);
    let tables: i64 = db
        .query_row("SELECT count(*) FROM sqlite_schema", [], |row| row.get(0))
        .map_err(failed("opening the book"))?;
    if application == 0 && version == 0 && tables == 0 {
        return Ok(0);
    }
    if application != APPLICATION {
        return Err(not_a_book());
    }
    if version > NEWEST {
        return Err(Error::book(
            "book_too_new",
            format!("the book has version {version}, this program knows up to {NEWEST}"),
            "use the newer version of the program that wrote it",
        ));
    }
    Ok(version)
}
