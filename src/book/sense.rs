//! What is asked before the book takes an entry that can hardly be meant: generations out of their order, days before a tank
//! was in use or still to come, more animals than a tank holds.

use jiff::civil::Date;

use super::lines::generation_name;
use super::{Generation, NewNote, Tank};
use crate::doubt::Note;
use crate::error::Error;

/// So many animals lost or moved at once are more than a tank of a shrimp room holds (house rule: some hundreds are usual;
/// common practice, no source).
pub const MOST_AT_ONCE: u32 = 1000;

/// Refuses a day before the tank was in use, or after today.
pub(super) fn day_of_tank(tank: &Tank, on: Date, today: Date, what: &str) -> Result<(), Error> {
    if on > today {
        return Err(Error::book(
            "in_the_future",
            format!("{what} of {on} is still to come: today is {today}"),
            "nothing was noted: say the day it was, --on YYYY-MM-DD, or note it on that day",
        ));
    }
    if on < tank.since {
        return Err(Error::book(
            "before_the_tank",
            format!(
                "{what} of {on} lies before tank {} was in use ({})",
                tank.code, tank.since
            ),
            format!(
                "nothing was noted: say another day, --on YYYY-MM-DD; was the tank in use by then? catchcup tank edit {} --since {on}",
                tank.code
            ),
        ));
    }
    Ok(())
}

/// Refuses a generation that does not stand between those before and after it in its tank; `all` are those of the book.
pub(super) fn order_of_generations(
    tank: &Tank,
    number: u32,
    since: Date,
    all: &[Generation],
) -> Result<(), Error> {
    let own = || {
        all.iter()
            .filter(|g| g.tank == tank.code && Some(&g.line) == tank.line.as_ref())
    };
    let before = own().filter(|g| g.since <= since).max_by_key(|g| g.number);
    let after = own().filter(|g| g.since > since).min_by_key(|g| g.number);
    let wrong = before
        .filter(|g| g.number >= number)
        .or(after.filter(|g| g.number <= number));
    let Some(other) = wrong else {
        return Ok(());
    };
    let cure = if other.since <= since {
        format!(
            "the next one is {}; was {} a mistake? Take it back where it was the last entry: catchcup book undo",
            generation_name(other.number + 1),
            generation_name(other.number)
        )
    } else {
        "say the day on which it began: --on YYYY-MM-DD".to_string()
    };
    Err(Error::book(
        "generation_order",
        format!(
            "tank {} has {} since {}, so {} can't begin there on {since}",
            tank.code,
            generation_name(other.number),
            other.since,
            generation_name(number)
        ),
        format!("nothing was noted: {cure}"),
    ))
}

/// The doubt about a generation whose forebears the book does not know; `None` where it does, or where it was said where its
/// founders came from. `all` are those of the book, `begun` among them.
pub fn unknown_forebears(begun: &Generation, all: &[Generation]) -> Option<Note> {
    let known = |tank: &str| {
        let own = all
            .iter()
            .filter(|g| g.tank == tank && g.line == begun.line);
        own.filter(|g| g.since <= begun.since && g.number < begun.number)
            .map(|g| g.number)
            .max()
    };
    let sources = std::iter::once(&begun.tank).chain(&begun.parents);
    let last = sources.filter_map(|tank| known(tank)).max();
    let first_missing = last.map_or(1, |last| last + 1);
    if first_missing >= begun.number || !begun.origin.is_empty() {
        return None;
    }
    let missing = match begun.number - 1 {
        same if same == first_missing => generation_name(same),
        other => format!(
            "{} to {}",
            generation_name(first_missing),
            generation_name(other)
        ),
    };
    Some(Note::new(
        "unknown_forebears",
        format!("{missing} of {} are not in the book", begun.line),
        format!(
            "is {} right? If not: catchcup book undo. Where its founders came from is said with --from TANK or --origin TEXT",
            generation_name(begun.number)
        ),
    ))
}

/// Refuses more animals than a tank holds, unless the keeper says that it is meant.
pub(super) fn animals_of_note(new: &NewNote) -> Result<(), Error> {
    match new.count {
        Some(count) if count > MOST_AT_ONCE && !new.sure => Err(Error::book(
            "many_animals",
            format!("{count} animals at once are more than a tank holds"),
            "nothing was noted: is the number right? Then say --sure, or note it in parts",
        )),
        _ => Ok(()),
    }
}
