//! How far a run of many photos has come, on a terminal only.

use std::io::{IsTerminal, Write, stderr};

/// One line on standard error that is written over; silent where there is one photo or no terminal.
pub struct Progress {
    count: usize,
    shown: bool,
}

impl Progress {
    /// For `count` photos.
    pub fn new(count: usize) -> Self {
        Self {
            count,
            shown: count > 1 && stderr().is_terminal(),
        }
    }

    /// Says that `done` photos are finished. A terminal that can't be written to is no reason to stop.
    pub fn say(&self, done: usize) {
        if self.shown && done < self.count {
            let _ = write!(stderr(), "\r{done} of {} photos ", self.count);
            let _ = stderr().flush();
        }
    }

    /// Takes the line away before something else is printed.
    pub fn clear(&self) {
        if self.shown {
            let _ = write!(stderr(), "\r{:<40}\r", "");
        }
    }
}
