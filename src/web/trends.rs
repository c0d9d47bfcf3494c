//! Does each tank's line hold? Worked out beside the requests whenever the book changed, and remembered.

use std::collections::BTreeMap;
use std::sync::Mutex;
use std::sync::atomic::{AtomicBool, Ordering};

use catchcup::book::questions::{House, question};
use catchcup::book::{Book, Generation};
use catchcup::error::Error;
use catchcup::ladder::{Ladder, Shelf};
use catchcup::report::plot::room::in_short;
use catchcup::report::trend::sentence;
use catchcup::trends::Watched;
use catchcup::trends::tank_trend::{MeasureTrend, TankTrend, tank_trend};

use super::{Settings, Shared};

/// The measure on the wall, as the command `room` takes it.
const ON_THE_WALL: Watched = Watched::Coverage;

/// How a tank's line does, as it stands on the wall.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct InShort {
    /// An arrow or another sign; its meaning stands beside it in words.
    pub sign: &'static str,
    /// Two or three words.
    pub words: &'static str,
    /// How sure it is and what it means.
    pub sentence: String,
    /// True for a change for the worse.
    pub alarm: bool,
}

/// Every tank in short, as the book stood after an entry of its trail.
#[derive(Debug, Clone, Default)]
pub struct Wall {
    entry: Option<i64>,
    pub tanks: BTreeMap<String, InShort>,
}

/// What was worked out last.
#[derive(Default)]
pub struct Trends {
    latest: Mutex<Wall>,
    at_work: AtomicBool,
}

impl Trends {
    /// What is known, and true where nothing was entered into the book since. Where something was, the work begins.
    pub fn of(&self, room: &Shared, entry: Option<i64>) -> (Wall, bool) {
        let known = self.latest.lock().map(|wall| wall.clone());
        let known = known.unwrap_or_default();
        let is_fresh = known.entry == entry;
        if !is_fresh {
            self.bring_up_to_date(room);
        }
        (known, is_fresh)
    }

    /// Works all trends out anew, beside the requests; once at a time.
    pub fn bring_up_to_date(&self, room: &Shared) {
        if self.at_work.swap(true, Ordering::SeqCst) {
            return;
        }
        let room = room.clone();
        tokio::task::spawn_blocking(move || {
            // A book that can't be read is told by the page itself.
            if let Ok(wall) = wall(&room.settings)
                && let Ok(mut latest) = room.trends.latest.lock()
            {
                *latest = wall;
            }
            room.trends.at_work.store(false, Ordering::SeqCst);
        });
    }
}

fn wall(settings: &Settings) -> Result<Wall, Error> {
    let book = Book::open(&settings.book)?;
    let entry = book.trail(1)?.first().map(|entry| entry.number);
    let house = book.house(settings.sale_rung, settings.order.minutes)?;
    let generations = book.generations()?;
    let mut tanks = BTreeMap::new();
    for tank in book.tanks()?.into_iter().filter(|t| t.retired.is_none()) {
        let ladder = ladder_of(&book, tank.line.as_deref(), &settings.shelf)?;
        let found = trend(
            &book,
            &tank.code,
            &house,
            &[ON_THE_WALL],
            &generations,
            ladder.as_ref(),
        )?;
        if let Some(trend) = found.as_ref().and_then(|found| found.measures.first()) {
            tanks.insert(tank.code, in_words(trend, settings));
        }
    }
    Ok(Wall { entry, tanks })
}

fn in_words(trend: &MeasureTrend, settings: &Settings) -> InShort {
    let words = in_short(trend);
    let verdict = &trend.judged.verdict;
    InShort {
        sign: match (words, verdict.change()) {
            ("too early to say" | "can't be told yet", _) => "\u{2026}",
            (_, None) => "\u{2192}",
            (_, Some(change)) if change < 0.0 => "\u{2198}",
            (_, Some(_)) => "\u{2197}",
        },
        words,
        sentence: sentence(trend, settings.sale_rung),
        alarm: verdict.is_alarm(trend.series.measure),
    }
}

/// The trend of a tank in these measures; `None` where nothing was netted.
///
/// # Errors
/// Where the book can't be read.
pub fn trend(
    book: &Book,
    tank: &str,
    house: &House,
    measures: &[Watched],
    generations: &[Generation],
    ladder: Option<&Ladder>,
) -> Result<Option<TankTrend>, Error> {
    let scoops = book.measures_of_tank(tank)?;
    if scoops.is_empty() {
        return Ok(None);
    }
    let own: Vec<&Generation> = generations.iter().filter(|g| g.tank == tank).collect();
    let question = question(house, measures, &own, ladder);
    Ok(Some(tank_trend(&scoops, &question)))
}

/// The ladder of a line of the book; `None` where it is unknown by now.
///
/// # Errors
/// Where the book can't be read.
pub fn ladder_of(book: &Book, line: Option<&str>, shelf: &Shelf) -> Result<Option<Ladder>, Error> {
    let Some(line) = line else { return Ok(None) };
    let line = book.find_line(line)?;
    Ok(line.and_then(|line| shelf.ladder(&line.ladder)))
}
