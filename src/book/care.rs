//! Looking after the book: check, copy while in use, go back to a copy.

use std::path::{Path, PathBuf};
use std::time::Duration;

use jiff::civil::DateTime;
use rusqlite::backup::{Backup, StepResult};
use rusqlite::{Connection, OpenFlags};

use super::{Book, PhotoStore, failed};
use crate::error::Error;

/// What a check found.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Checked {
    /// Tanks, lines, scoops and animals that are there.
    pub tanks: u32,
    /// Lines.
    pub lines: u32,
    /// Scoops.
    pub scoops: u32,
    /// Animals.
    pub animals: u32,
    /// Photos that are there and whole.
    pub photos: u32,
    /// Bytes of the book's file.
    pub bytes: u64,
    /// What is wrong, in words; empty for a book in order.
    pub faults: Vec<String>,
}

impl Book {
    /// Looks through the whole book and, where `photos` are given, whether every photo is there and unchanged.
    ///
    /// # Errors
    /// Where the book can't be read at all.
    pub fn check(&self, photos: Option<&PhotoStore>) -> Result<Checked, Error> {
        let doing = "checking the book";
        let count = |sql: &str| -> Result<u32, Error> {
            self.db
                .query_row(sql, [], |row| row.get(0))
                .map_err(failed(doing))
        };
        let mut found = Checked {
            tanks: count("SELECT count(*) FROM tank WHERE void = 0")?,
            lines: count("SELECT count(*) FROM line WHERE void = 0")?,
            scoops: count("SELECT count(*) FROM scoop WHERE void = 0")?,
            animals: count(
                "SELECT count(*) FROM animal JOIN scoop ON scoop.id = animal.scoop WHERE void = 0",
            )?,
            bytes: u64::from(count("PRAGMA page_count")?) * u64::from(count("PRAGMA page_size")?),
            ..Checked::default()
        };
        found.faults.extend(self.damage()?);
        found.faults.extend(self.half_scoops()?);
        if let Some(store) = photos {
            self.check_photos(store, &mut found)?;
        }
        Ok(found)
    }

    /// Damage that SQLite itself finds.
    fn damage(&self) -> Result<Vec<String>, Error> {
        let doing = "checking the book";
        let mut query = self
            .db
            .prepare("PRAGMA integrity_check")
            .map_err(failed(doing))?;
        let lines: Vec<String> = query
            .query_map([], |row| row.get(0))
            .map_err(failed(doing))?
            .collect::<Result<_, _>>()
            .map_err(failed(doing))?;
        let mut faults: Vec<String> = lines.into_iter().filter(|line| line != "ok").collect();
        let mut query = self
            .db
            .prepare("PRAGMA foreign_key_check")
            .map_err(failed(doing))?;
        let loose: Vec<String> = query
            .query_map([], |row| {
                let (table, target): (String, String) = (row.get(0)?, row.get(2)?);
                Ok(format!("a {table} belongs to a {target} that is not there"))
            })
            .map_err(failed(doing))?
            .collect::<Result<_, _>>()
            .map_err(failed(doing))?;
        faults.extend(loose);
        Ok(faults)
    }

    /// Scoops without animals: no way of filing leaves one behind.
    fn half_scoops(&self) -> Result<Vec<String>, Error> {
        let doing = "checking the book";
        let mut query = self
            .db
            .prepare(
                "SELECT id FROM scoop WHERE NOT EXISTS
                 (SELECT 1 FROM animal WHERE animal.scoop = scoop.id) ORDER BY id",
            )
            .map_err(failed(doing))?;
        let rows = query
            .query_map([], |row| {
                let number: i64 = row.get(0)?;
                Ok(format!("scoop {number} has no animals"))
            })
            .map_err(failed(doing))?;
        rows.collect::<Result<_, _>>().map_err(failed(doing))
    }

    fn check_photos(&self, store: &PhotoStore, found: &mut Checked) -> Result<(), Error> {
        for (number, sha256, file) in self.photos()? {
            if store.is_whole(&sha256, &file)? {
                found.photos += 1;
            } else {
                let place = store.place(&sha256, &file);
                let what = if place.is_file() {
                    "is changed or damaged"
                } else {
                    "is missing"
                };
                found.faults.push(format!(
                    "the photo of scoop {number} {what}: {}",
                    place.file_name().unwrap_or_default().to_string_lossy()
                ));
            }
        }
        Ok(())
    }

    /// Number, digest and file name of every scoop whose photo was kept.
    fn photos(&self) -> Result<Vec<(i64, String, String)>, Error> {
        let doing = "reading the scoops";
        let mut query = self
            .db
            .prepare(
                "SELECT id, photo_sha256, ifnull(photo_file, '') FROM scoop
                 WHERE void = 0 AND photo_sha256 IS NOT NULL AND photo_kept = 1 ORDER BY id",
            )
            .map_err(failed(doing))?;
        let rows = query
            .query_map([], |row| Ok((row.get(0)?, row.get(1)?, row.get(2)?)))
            .map_err(failed(doing))?;
        rows.collect::<Result<_, _>>().map_err(failed(doing))
    }

    /// Writes a copy of the book into the file `to`, whole even while others write; an older copy there is replaced only
    /// when the new one is finished and found in order.
    ///
    /// # Errors
    /// Where the copy can't be written.
    pub fn backup(&self, to: &Path) -> Result<(), Error> {
        let part = with_ending(to, "part");
        if let Some(folder) = to.parent().filter(|f| !f.as_os_str().is_empty()) {
            std::fs::create_dir_all(folder)
                .map_err(|e| Error::io(&folder.display().to_string(), &e))?;
        }
        let _ = std::fs::remove_file(&part);
        let doing = "copying the book";
        let copy = || -> Result<(), Error> {
            let mut target = Connection::open(&part).map_err(failed(doing))?;
            copy_all(&self.db, &mut target)?;
            // One file, to be carried elsewhere: no write-ahead log beside it.
            target
                .execute_batch("PRAGMA journal_mode = DELETE;")
                .map_err(failed(doing))?;
            target.close().map_err(|(_, e)| failed(doing)(e))?;
            let whole = Connection::open_with_flags(&part, OpenFlags::SQLITE_OPEN_READ_ONLY)
                .map_err(failed(doing))?;
            let sound: String = whole
                .query_row("PRAGMA quick_check", [], |row| row.get(0))
                .map_err(failed(doing))?;
            if sound != "ok" {
                return Err(super::journal::damaged(&format!(
                    "the copy is damaged: {sound}"
                )));
            }
            Ok(())
        };
        copy().inspect_err(|_| {
            let _ = std::fs::remove_file(&part);
        })?;
        let finish = || {
            std::fs::File::open(&part)?.sync_all()?;
            std::fs::rename(&part, to)
        };
        finish().map_err(|e| Error::io(&to.display().to_string(), &e))
    }
}

/// Puts the copy `from` in the place of the book `path`. What was there is kept beside it, under the name that is returned;
/// `None` where there was no book.
///
/// # Errors
/// Where the copy is no book or damaged (then the present book is left alone), or can't be written.
pub fn restore(path: &Path, from: &Path, now: DateTime) -> Result<Option<PathBuf>, Error> {
    if !from.is_file() {
        return Err(Error::book(
            "no_copy",
            format!("there is no file `{}`", from.display()),
            "name the copy that `catchcup book backup` wrote",
        ));
    }
    let source = read_only(from)?;
    let faults = source.check(None)?.faults;
    if let Some(fault) = faults.first() {
        return Err(Error::book(
            "copy_damaged",
            format!("the copy is damaged: {fault}"),
            "take another copy; the present book was left alone",
        ));
    }
    let kept = set_aside(path, now)?;
    let doing = "going back to the copy";
    let mut target = Connection::open(path).map_err(failed(doing))?;
    copy_all(&source.db, &mut target)?;
    target
        .execute_batch("PRAGMA journal_mode = WAL;")
        .map_err(failed(doing))?;
    Ok(kept)
}

/// A copy opened without a trace: it is not brought up to date and gets no files beside it.
fn read_only(path: &Path) -> Result<Book, Error> {
    let db = Connection::open_with_flags(path, OpenFlags::SQLITE_OPEN_READ_ONLY)
        .map_err(failed("opening the copy"))?;
    super::schema::check_version(&db)?;
    Ok(Book { db })
}

/// Keeps the present book under another name: copied while it can be read (others may have it open), moved where it is
/// damaged.
fn set_aside(path: &Path, now: DateTime) -> Result<Option<PathBuf>, Error> {
    if !path.is_file() {
        return Ok(None);
    }
    let kept = with_ending(path, &format!("before-{}", now.strftime("%Y%m%dT%H%M%S")));
    let readable = Book::open(path).and_then(|book| book.backup(&kept));
    if readable.is_err() {
        for ending in ["", "-wal", "-shm"] {
            let from = with_tail(path, ending);
            if from.is_file() {
                let to = with_tail(&kept, ending);
                std::fs::rename(&from, &to)
                    .map_err(|e| Error::io(&from.display().to_string(), &e))?;
            }
        }
    }
    Ok(Some(kept))
}

fn with_ending(path: &Path, ending: &str) -> PathBuf {
    with_tail(path, &format!(".{ending}"))
}

fn with_tail(path: &Path, tail: &str) -> PathBuf {
    let mut name = path.as_os_str().to_os_string();
    name.push(tail);
    PathBuf::from(name)
}

/// All pages at once, under one read lock: with a write-ahead log no writer waits for it.
fn copy_all(from: &Connection, to: &mut Connection) -> Result<(), Error> {
    let doing = "copying the book";
    let backup = Backup::new(from, to).map_err(failed(doing))?;
    for _ in 0..200 {
        match backup.step(-1).map_err(failed(doing))? {
            StepResult::Done => return Ok(()),
            _ => std::thread::sleep(Duration::from_millis(50)),
        }
    }
    Err(Error::book(
        "book_busy",
        "the book was in use the whole time and could not be copied",
        "do it again when nobody is writing",
    ))
}
