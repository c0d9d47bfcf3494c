//! The book: tanks, lines, generations, conditions, notes and scoops of a room in one file. The only place with SQL.
//!
//! Every write is one transaction with an entry in the trail; nothing is ever deleted, so every change can be taken back.
//! The clock and the name of who writes are passed in as a [`Stamp`].

mod animals;
pub mod care;
pub mod conditions;
pub mod corrections;
pub mod cup_again;
pub mod cups;
pub mod history;
pub mod holds;
pub mod import;
pub mod intake;
pub mod journal;
pub mod lines;
pub mod names;
pub mod notes;
pub mod own_rungs;
pub mod photo_store;
pub mod proof_store;
pub mod questions;
mod rows;
pub mod rung_table;
mod schema;
pub mod scoops;
pub mod sense;
pub mod sittings;
mod sorting_cells;
pub mod sortings;
pub mod state;
pub mod table;
pub mod tanks;
pub mod when;

pub use conditions::{Condition, NewCondition};
pub use holds::{Hold, HoldRules, Holds, holds};
pub use intake::{Intake, Taken, Which};
pub use journal::TrailEntry;
pub use lines::{Generation, Line, LineChange, NewGeneration, NewLine};
pub use notes::{NewNote, Note, NoteKind};
pub use own_rungs::{NewOwnRung, OwnRung};
pub use photo_store::PhotoStore;
pub use schema::NEWEST;
pub use scoops::{NewScoop, ScoopChange, ScoopEntry};
pub use sittings::{LadderText, Sitting};
pub use sortings::{NewSorting, SortedCup, SortingEntry};
pub use state::TankState;
pub use tanks::{NewTank, Tank, TankChange};
pub use when::{WhenFrom, when_doubt, when_from};

use std::path::Path;
use std::time::Duration;

use jiff::civil::DateTime;
use rusqlite::{Connection, ErrorCode, OpenFlags};

use crate::error::Error;

/// How long a writer waits for another one before it gives up. An entry takes milliseconds; only a copy of the whole book
/// or a very slow card takes longer.
const PATIENCE: Duration = Duration::from_secs(20);

/// Who writes, and when.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Stamp {
    /// Local time.
    pub at: DateTime,
    /// Name of the person.
    pub who: String,
}

/// An open book.
#[derive(Debug)]
pub struct Book {
    db: Connection,
}

impl Book {
    /// Opens the book in the file `path`.
    ///
    /// # Errors
    /// Where there is none, it is no book, is damaged, or was written by a newer program.
    pub fn open(path: &Path) -> Result<Self, Error> {
        if !path.is_file() {
            return Err(Error::book(
                "no_book",
                format!("there is no book `{}`", path.display()),
                "begin one with your first tank: catchcup tank add A1 --line red",
            ));
        }
        Self::open_with(path, OpenFlags::SQLITE_OPEN_READ_WRITE)
    }

    /// Opens the book in the file `path`, and begins a new one where there is none.
    ///
    /// # Errors
    /// As [`Book::open`], or where the file can't be made.
    pub fn open_or_begin(path: &Path) -> Result<Self, Error> {
        let flags = OpenFlags::SQLITE_OPEN_READ_WRITE | OpenFlags::SQLITE_OPEN_CREATE;
        Self::open_with(path, flags)
    }

    /// A book that lives in memory only, for trying things out.
    ///
    /// # Errors
    /// Where the database refuses; a fault of the program.
    pub fn in_memory() -> Result<Self, Error> {
        let db = Connection::open_in_memory().map_err(failed("opening a book in memory"))?;
        Self::made_ready(db)
    }

    fn open_with(path: &Path, flags: OpenFlags) -> Result<Self, Error> {
        let db = Connection::open_with_flags(path, flags | OpenFlags::SQLITE_OPEN_NO_MUTEX)
            .map_err(failed("opening the book"))?;
        Self::made_ready(db)
    }

    /// The same book once more, for reading only; none where it lives in memory or can't be opened twice.
    fn second_reader(&self) -> Option<Self> {
        let path = self.db.path().filter(|path| !path.is_empty())?;
        let flags = OpenFlags::SQLITE_OPEN_READ_ONLY | OpenFlags::SQLITE_OPEN_NO_MUTEX;
        let db = Connection::open_with_flags(path, flags).ok()?;
        db.busy_timeout(PATIENCE).ok()?;
        Some(Self { db })
    }

    /// Settings: readers never wait for a writer (write-ahead log), and a confirmed entry has reached the disk
    /// (`synchronous = FULL`).
    fn made_ready(mut db: Connection) -> Result<Self, Error> {
        db.busy_timeout(PATIENCE)
            .map_err(failed("opening the book"))?;
        schema::bring_up_to_date(&mut db)?;
        db.execute_batch(
            "PRAGMA journal_mode = WAL; PRAGMA synchronous = FULL; PRAGMA foreign_keys = ON;
             PRAGMA cache_size = -32000;",
        )
        .map_err(failed("opening the book"))?;
        Ok(Self { db })
    }
}

/// Turns a failure of the database while `doing` something into words with the cure.
fn failed(doing: &'static str) -> impl Fn(rusqlite::Error) -> Error {
    move |cause| {
        let (code, hint) = match cause.sqlite_error_code() {
            Some(ErrorCode::DiskFull) => (
                "disk_full",
                "make room on the disk and do it again; all earlier entries stand, of this one nothing was kept",
            ),
            Some(ErrorCode::DatabaseBusy | ErrorCode::DatabaseLocked) => (
                "book_busy",
                "another program is writing into the book; wait until it has finished, then do it again",
            ),
            Some(ErrorCode::DatabaseCorrupt | ErrorCode::NotADatabase) => (
                "book_damaged",
                "keep the damaged file, and go back to your last copy: catchcup book restore COPY",
            ),
            Some(ErrorCode::ReadOnly | ErrorCode::PermissionDenied | ErrorCode::CannotOpen) => (
                "book_locked",
                "check who may write to the book's file and its folder",
            ),
            _ => (
                "book_failed",
                "check the disk, then `catchcup book check`; all earlier entries stand",
            ),
        };
        Error::book(code, format!("{doing}: {cause}"), hint)
    }
}

#[cfg(test)]
mod tests {
    use jiff::civil::date;

    use super::*;
    use crate::scoop::KeptAnimal;
    use crate::scoop::kept::Origin;

    fn scoop(no: u32) -> NewScoop {
        NewScoop {
            tank: "A1".into(),
            at: date(2026, 5, 1).at(18, 0, 0, 0),
            who: "tester".into(),
            kept_apart: false,
            second_of: None,
            remark: "x".repeat(300),
            import_label: Some(no.to_string()),
            origin: Origin::default(),
            animals: (1..=20).map(KeptAnimal::blank).collect(),
        }
    }

    /// A file that can grow no more is what SQLite sees of a full disk (its error code SQLITE_FULL).
    #[test]
    fn a_full_disk_keeps_every_confirmed_scoop_and_no_half_one() {
        let path = std::env::temp_dir().join(format!("catchcup-full-{}.book", std::process::id()));
        let sides = ["", "-wal", "-shm"].map(|end| format!("{}{end}", path.display()));
        let clean = || {
            sides
                .iter()
                .for_each(|side| drop(std::fs::remove_file(side)))
        };
        clean();
        let stamp = Stamp {
            at: date(2026, 5, 1).at(20, 0, 0, 0),
            who: "tester".into(),
        };
        let mut book = Book::open_or_begin(&path).expect("a book");
        let tank = NewTank {
            code: "A1".into(),
            ..NewTank::default()
        };
        book.add_tank(&tank, &stamp).expect("a tank");
        let pages: i64 = book
            .db
            .pragma_query_value(None, "page_count", |row| row.get(0))
            .expect("a count");
        book.db
            .pragma_update(None, "max_page_count", pages + 20)
            .expect("a limit");
        let mut confirmed = Vec::new();
        let refusal = (1..1000).find_map(|no| match book.file_scoop(&scoop(no), &stamp) {
            Ok(number) => {
                confirmed.push(number);
                None
            }
            Err(error) => Some(error),
        });
        let refusal = refusal.expect("the disk gets full");
        assert_eq!(refusal.code(), "disk_full");
        assert!(refusal.hint().contains("make room"), "{}", refusal.hint());
        assert!(confirmed.len() > 3, "{}", confirmed.len());
        drop(book);
        let mut book = Book::open(&path).expect("it opens");
        let checked = book.check(None).expect("it is checked");
        assert_eq!(checked.faults, Vec::<String>::new());
        assert_eq!(checked.scoops as usize, confirmed.len());
        assert_eq!(checked.animals as usize, 20 * confirmed.len());
        book.file_scoop(&scoop(2000), &stamp)
            .expect("there is room again");
        clean();
    }

    #[test]
    fn other_files_are_no_books() {
        let path = std::env::temp_dir().join(format!("catchcup-other-{}", std::process::id()));
        let code = |content: &[u8]| {
            std::fs::write(&path, content).expect("a file");
            let opened = Book::open_or_begin(&path);
            let code = opened.map_or_else(|e| e.code(), |_| "opened");
            let left = std::fs::read(&path).expect("the file");
            assert!(code == "opened" || left == content, "it is left alone");
            code
        };
        assert_eq!(code(&[b'x'; 5000]), "book_damaged");
        let db = rusqlite::Connection::open_in_memory().expect("a database");
        db.execute_batch("CREATE TABLE other (a)").expect("a table");
        std::fs::remove_file(&path).expect("it is there");
        let name = path.to_string_lossy().into_owned();
        db.execute("VACUUM INTO ?1", [name]).expect("a file");
        let foreign = std::fs::read(&path).expect("a database file");
        assert_eq!(code(&foreign), "not_a_book");
        let newer = Book::in_memory().expect("a book");
        newer
            .db
            .pragma_update(None, "user_version", NEWEST + 1)
            .expect("a version");
        std::fs::remove_file(&path).expect("it is there");
        let name = path.to_string_lossy().into_owned();
        newer.db.execute("VACUUM INTO ?1", [name]).expect("a file");
        let newer = std::fs::read(&path).expect("a book file");
        assert_eq!(code(&newer), "book_too_new");
        std::fs::remove_file(&path).expect("it is there");
    }
}
