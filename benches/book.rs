//! How long the book takes when it is full: ten years of 60 tanks, netted weekly, 20 animals a scoop.
//! `cargo bench --bench book`; prints milliseconds and the size, decides nothing.
//! With `CATCHCUP_BENCH_BOOK=FILE` it only fills a book there, for `benches/room.py`.

use std::time::Instant;

use catchcup::book::{Book, HoldRules, NewCondition, NewLine, NewScoop, NewTank, Stamp};
use catchcup::error::Error;
use catchcup::ladder::Rung;
use catchcup::scoop::kept::{KeptColour, Origin, Place};
use catchcup::scoop::{ConditionKind, KeptAnimal, MinutesRule, PastScoop};
use catchcup::trends::Watched;
use catchcup::trends::scatter::house_scatter;
use catchcup::trends::series::{Axis, Reading};
use catchcup::trends::tank_trend::{Question, TankTrend, tank_trend};
use catchcup::units::Measured;
use jiff::ToSpan;
use jiff::civil::{DateTime, date};

const WEEKS: i64 = 520;
const TANKS: usize = 60;
const ANIMALS: u32 = 20;

fn main() {
    let folder = std::env::temp_dir().join(format!("catchcup-bench-{}", std::process::id()));
    std::fs::create_dir_all(&folder).expect("a folder");
    let wanted = std::env::var_os("CATCHCUP_BENCH_BOOK");
    let path = wanted
        .clone()
        .map_or_else(|| folder.join("full.book"), Into::into);
    let first = date(2016, 1, 4).at(18, 0, 0, 0);
    let stamp = |at| Stamp {
        at,
        who: "bench".into(),
    };
    let begun = Instant::now();
    let mut book = Book::open_or_begin(&path).expect("a book");
    for line in 0..8 {
        let new = NewLine {
            code: format!("L{line}"),
            ladder: "red".into(),
            ..NewLine::default()
        };
        book.add_line(&new, &stamp(first)).expect("a line");
    }
    for tank in 0..TANKS {
        let new = NewTank {
            code: code(tank),
            line: Some(format!("L{}", tank % 8)),
            ..NewTank::default()
        };
        book.add_tank(&new, &stamp(first)).expect("a tank");
        let floor = NewCondition {
            tank: Some(code(tank)),
            kind: ConditionKind::Floor,
            value: "black".into(),
            since: None,
        };
        book.set_condition(&floor, &stamp(first))
            .expect("a condition");
    }
    for week in 0..WEEKS {
        let at = first.saturating_add((7 * week).days());
        let scoops: Vec<NewScoop> = (0..TANKS).map(|tank| scoop(tank, at)).collect();
        book.file_scoops(&scoops, &stamp(at))
            .expect("they are filed");
    }
    drop(book);
    println!("filling: {:.0} s", begun.elapsed().as_secs_f64());
    if wanted.is_some() {
        return;
    }
    let size = std::fs::metadata(&path).expect("the book").len();
    println!(
        "size: {:.0} MB, {} animals",
        size as f64 / 1e6,
        WEEKS as u32 * TANKS as u32 * ANIMALS
    );
    let last = first.saturating_add((7 * WEEKS).days());
    let mut book = None;
    timed("opening", 20, || {
        book = Some(Book::open(&path).expect("a book"))
    });
    let mut book = book.expect("it was opened");
    let mut next = 0;
    timed("adding a scoop", 20, || {
        next += 1;
        let at = last.saturating_add(i64::from(next).hours());
        book.file_scoop(&scoop(7, at), &stamp(at))
            .expect("it is filed");
    });
    timed("a tank's history", 10, || {
        assert!(book.history_of_tank("T7").expect("a history").len() >= WEEKS as usize);
    });
    timed("a tank as it stands", 10, || {
        book.tank_state("T7", last.date(), &HoldRules::default())
            .expect("a state");
    });
    timed("the list of tanks", 10, || {
        let all = book
            .tank_states(last.date(), &HoldRules::default(), false)
            .expect("states");
        assert_eq!(all.len(), TANKS);
    });
    timed("a tank's measures, for a trend", 10, || {
        assert!(book.measures_of_tank("T7").expect("measures").len() >= WEEKS as usize);
    });
    timed("a line's measures (7 tanks), for a trend", 10, || {
        assert!(book.measures_of_line("L7").expect("measures").len() >= 7 * WEEKS as usize);
    });
    timed("a tank's trend, all measures, house read", 10, || {
        assert_eq!(trend(&book, book.measures_of_tank("T7")).measures.len(), 7);
    });
    timed(
        "a line's trend (7 tanks), all measures, house read",
        5,
        || {
            assert_eq!(trend(&book, book.measures_of_line("L7")).measures.len(), 7);
        },
    );
    timed("a line's history (7 tanks), all of it", 5, || {
        assert!(book.history_of_line("L7").expect("a history").len() >= 7 * WEEKS as usize);
    });
    drop(book);
    std::fs::remove_dir_all(&folder).expect("it is removed");
}

/// As `catchcup trend` does it.
fn trend(book: &Book, past: Result<Vec<PastScoop>, Error>) -> TankTrend {
    let reading = Reading {
        axis: Axis::Date,
        sale_rung: Rung::from_word("G4").expect("a rung"),
        minutes: MinutesRule::default(),
    };
    let house = book.measures_of_latest(400).expect("scoops");
    let question = Question {
        scatter: house_scatter(&house, &reading),
        reading,
        axis: None,
        measures: Watched::ALL.to_vec(),
        generation_days: None,
        founders: Vec::new(),
        heritability: None,
        ladder: None,
    };
    tank_trend(&past.expect("measures"), &question)
}

fn code(tank: usize) -> String {
    format!("T{tank}")
}

fn scoop(tank: usize, at: DateTime) -> NewScoop {
    NewScoop {
        tank: code(tank),
        at,
        who: "bench".into(),
        kept_apart: false,
        second_of: None,
        remark: String::new(),
        import_label: None,
        origin: Origin {
            ladder: Some("red".into()),
            ground: Some("white".into()),
            ..Origin::default()
        },
        animals: (1..=ANIMALS).map(|no| animal(no, tank)).collect(),
    }
}

/// An animal with every measure, so that the size is honest.
fn animal(no: u32, tank: usize) -> KeptAnimal {
    let share = |n: u32| {
        Some(Measured::new(
            f64::from((no * 37 + n * 11 + tank as u32) % 997) / 997.0,
            0.0512,
        ))
    };
    KeptAnimal {
        place: Some(Place {
            bbox: [100, 200, 310, 95],
            head: [101.5, 220.25],
            tail: [405.5, 260.75],
        }),
        length_mm: share(1),
        coverage: share(2),
        coverage_thirds: [0.123_4, 0.234_5, 0.345_6].map(Some),
        opacity: share(3),
        evenness: share(4),
        clear_window: share(5),
        islands: share(6),
        colour: Some(KeptColour {
            lab: Some([41.53, 48.21, 30.77]),
            lab_abs: None,
            chroma: Some(57.19),
            hue_deg: Some(32.5),
        }),
        line_de00: share(7),
        wrong_hue_share: share(8),
        brown_share: share(9),
        clear_middle: share(10),
        withheld: [("legs".to_string(), "legs_not_seen".to_string())].into(),
        rung: Rung::from_index(no as usize % 6),
        chances: Some([0.0, 0.01, 0.09, 0.4, 0.5, 0.0]),
        off_ladder: None,
        ..KeptAnimal::blank(no)
    }
}

/// Prints the middle and the longest of `times` runs, and the middle of the time on the processor, which other work on the machine
/// lengthens less.
fn timed(what: &str, times: usize, mut run: impl FnMut()) {
    let (mut all, mut busy) = (Vec::new(), Vec::new());
    for _ in 0..times {
        let (begun, on) = (Instant::now(), on_processor());
        run();
        all.push(begun.elapsed().as_secs_f64() * 1000.0);
        busy.extend(on_processor().zip(on).map(|(after, before)| after - before));
    }
    all.sort_by(f64::total_cmp);
    busy.sort_by(f64::total_cmp);
    let busy = busy
        .get(busy.len() / 2)
        .map_or(String::new(), |ms| format!(", on the processor {ms:.1}"));
    println!(
        "{what}: {:.1} ms (longest {:.1}{busy})",
        all[times / 2],
        all[times - 1]
    );
}

/// Milliseconds that this thread has run so far; `None` where the system does not say (it does on Linux).
fn on_processor() -> Option<f64> {
    let text = std::fs::read_to_string("/proc/thread-self/schedstat").ok()?;
    let nanoseconds: f64 = text.split(' ').next()?.parse().ok()?;
    Some(nanoseconds / 1e6)
}
