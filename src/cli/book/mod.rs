//! The commands of the book: each reads what it needs, calls the library, prints.

pub mod ask;
pub mod care;
pub mod demo;
pub mod filing;
pub mod grading;
pub mod keeping;
pub mod rooms;
pub mod scoops;
pub mod tanks;

use std::path::PathBuf;

use anyhow::Result;
use catchcup::book::{Book, PhotoStore, Stamp};
use catchcup::report::TextLine;
use jiff::civil::DateTime;

use super::book_args::Desk as DeskArgs;
use super::house::{self, House};
use super::output::Out;

/// The book's file where nobody says another.
const USUAL_BOOK: &str = "catchcup.book";

/// What every command of the book works with.
pub struct Desk {
    /// The book's file.
    pub path: PathBuf,
    /// The photos beside it.
    pub photos: PhotoStore,
    /// Who writes, and when.
    pub stamp: Stamp,
    /// The house's settings.
    pub house: House,
    json: bool,
}

impl Desk {
    /// From the options; nothing is opened yet.
    ///
    /// # Errors
    /// Where the house file is wrong.
    pub fn new(args: &DeskArgs) -> Result<Self> {
        let house = house::read(args.house.as_deref())?;
        let path = args.book.clone().or_else(|| house.book.clone());
        let path = path.unwrap_or_else(|| PathBuf::from(USUAL_BOOK));
        let who = args.who.clone().or_else(|| house.who.clone());
        Ok(Self {
            photos: PhotoStore::beside(&path),
            path,
            stamp: Stamp {
                at: args.now.unwrap_or_else(now),
                who: who.or_else(user).unwrap_or_else(|| "unknown".into()),
            },
            house,
            json: args.json,
        })
    }

    /// The book, which must be there.
    ///
    /// # Errors
    /// Where there is none, or it can't be opened.
    pub fn open(&self) -> Result<Book> {
        Ok(Book::open(&self.path)?)
    }

    /// The book; a new one where there is none.
    ///
    /// # Errors
    /// Where it can't be opened or made.
    pub fn open_or_begin(&self) -> Result<Book> {
        Ok(Book::open_or_begin(&self.path)?)
    }

    /// True where JSON is asked for.
    pub fn json(&self) -> bool {
        self.json
    }

    /// Prints objects where JSON is asked for, text else.
    ///
    /// # Errors
    /// Where the output can't be written.
    pub fn answer(
        &self,
        out: &mut Out,
        objects: impl IntoIterator<Item = String>,
        text: impl FnOnce() -> Vec<TextLine>,
    ) -> Result<()> {
        if self.json {
            for object in objects {
                out.line(&object)?;
            }
        } else {
            out.lines(&text())?;
        }
        Ok(())
    }

    /// Prints one sentence of what was done.
    ///
    /// # Errors
    /// Where the output can't be written.
    pub fn done(&self, out: &mut Out, what: &str) -> Result<()> {
        let object = catchcup::report::wire::book::done(what);
        self.answer(out, [object], || {
            catchcup::report::book::sentences(&[what.to_string()], "")
        })
    }
}

/// The local time, to the second.
pub fn now() -> DateTime {
    let now = jiff::ZonedDateTime::now().datetime();
    now.with().subsec_nanosecond(0).build().unwrap_or(now)
}

/// The name of who uses this computer.
fn user() -> Option<String> {
    ["USER", "USERNAME"]
        .into_iter()
        .filter_map(|name| std::env::var(name).ok())
        .find(|name| !name.trim().is_empty())
}
