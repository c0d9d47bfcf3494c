//! The invented house: a dozen tanks and two years of scoops. Everything in here is made up.

use anyhow::Result;
use catchcup::book::{
    Book, NewCondition, NewGeneration, NewLine, NewNote, NewScoop, NewTank, NoteKind, Stamp,
    TankChange,
};
use catchcup::error::Error;
use catchcup::ladder::Shelf;
use catchcup::scoop::ConditionKind;
use catchcup::scoop::kept::Origin;
use jiff::ToSpan;
use jiff::civil::{Date, DateTime};

use super::animals::{Dice, Look, animals};

/// Days of the past, a scoop of every tank each two weeks.
const DAYS: i64 = 730;
const EVERY: i64 = 14;

/// Days from one generation to the next.
const GENERATION: i64 = 104;

/// White sand came into tank A3 so many days ago: its animals are the same, but look paler.
const NEW_SAND: i64 = 77;

/// A made-up tank: code, line, place, mean coverage two years ago, what it loses a generation, first day ago.
struct Plan(&'static str, &'static str, &'static str, f64, f64, i64);

const TANKS: [Plan; 12] = [
    Plan("A1", "R1", "rack A", 0.93, 0.03, DAYS),
    Plan("A2", "R1", "rack A", 0.80, 0.0, 200),
    Plan("A3", "R2", "rack A", 0.90, 0.0, DAYS),
    Plan("A4", "R2", "rack A", 0.90, 0.0, 400),
    Plan("B1", "B1", "rack B", 0.86, 0.0, DAYS),
    Plan("B2", "B1", "rack B", 0.85, 0.0, 500),
    Plan("C1", "Y1", "rack C", 0.75, -0.02, DAYS),
    Plan("C2", "Y1", "rack C", 0.78, -0.02, 300),
    Plan("C3", "O1", "window", 0.82, 0.0, 20),
    Plan("D1", "K1", "rack D", 0.88, 0.0, 600),
    Plan("D2", "K1", "rack D", 0.70, 0.0, DAYS),
    Plan("D3", "M1", "rack D", 0.70, 0.02, DAYS),
];

/// Code, ladder and words of each line, and CIELAB of a well covered animal of it.
const LINES: [(&str, &str, &str, [f64; 3]); 6] = [
    ("R1", "red", "red, the old line", [42.0, 52.0, 32.0]),
    ("R2", "red", "red, bought in", [40.0, 54.0, 34.0]),
    ("B1", "blue", "dark blue", [38.0, 0.0, -32.0]),
    ("Y1", "yellow", "yellow", [80.0, 6.0, 60.0]),
    ("O1", "orange", "orange, new", [66.0, 34.0, 58.0]),
    ("K1", "black", "black", [26.0, 1.0, 1.0]),
];

/// Colours of the mixed tank: red twice, orange, yellow and blue.
const MIXED: [[f64; 3]; 5] = [
    [42.0, 52.0, 32.0],
    [66.0, 34.0, 58.0],
    [40.0, 54.0, 34.0],
    [80.0, 6.0, 60.0],
    [38.0, 0.0, -32.0],
];

/// Those who net, in turn.
const PEOPLE: [&str; 3] = ["Mara", "Ole", "Tam"];

/// Fills the book with the past up to `now`; the count of scoops.
pub fn fill(book: &mut Book, now: DateTime) -> Result<usize> {
    let house = House {
        now,
        shelf: Shelf::default(),
    };
    house.lines_and_tanks(book)?;
    house.generations(book)?;
    house.conditions(book)?;
    let scoops = house.scoops(book)?;
    house.notes(book)?;
    super::rungs::give(book, &house.stamp(2, "Mara"))?;
    Ok(scoops)
}

struct House {
    now: DateTime,
    shelf: Shelf,
}

impl House {
    fn day(&self, ago: i64) -> Date {
        self.now.date().saturating_sub(ago.days())
    }

    fn stamp(&self, ago: i64, who: &str) -> Stamp {
        Stamp {
            at: self.day(ago).at(18, 30, 0, 0),
            who: who.into(),
        }
    }

    fn lines_and_tanks(&self, book: &mut Book) -> Result<(), Error> {
        let lines = LINES
            .iter()
            .map(|(code, ladder, title, _)| (*code, *ladder, *title));
        for (code, ladder, title) in lines.chain([("M1", "mixed", "mixed colours")]) {
            let new = NewLine {
                code: code.into(),
                title: title.into(),
                ladder: ladder.into(),
                since: None,
            };
            book.add_line(&new, &self.stamp(DAYS + 1, "Mara"))?;
        }
        for Plan(code, line, place, _, _, ago) in TANKS {
            let new = NewTank {
                code: code.into(),
                line: Some(line.into()),
                place: place.into(),
                litres: Some(25.0),
                since: None,
            };
            book.add_tank(&new, &self.stamp(ago, "Mara"))?;
        }
        Ok(())
    }

    fn generations(&self, book: &mut Book) -> Result<(), Error> {
        for Plan(code, _, _, _, _, first) in TANKS {
            let mut ago = first;
            while ago > 30 || ago == first {
                let number = u32::try_from((DAYS - ago) / GENERATION).unwrap_or(0);
                let sister = match code {
                    "A2" => Some("A1"),
                    "A4" => Some("A3"),
                    "B2" => Some("B1"),
                    "C2" => Some("C1"),
                    "D1" => Some("D2"),
                    _ => None,
                };
                let parents = if ago == first { sister } else { Some(code) };
                let new = NewGeneration {
                    tank: code.into(),
                    number,
                    since: None,
                    females: Some(16),
                    males: Some(6),
                    origin: if parents.is_none() {
                        "another keeper".into()
                    } else {
                        String::new()
                    },
                    parents: parents.into_iter().map(str::to_string).collect(),
                };
                book.begin_generation(&new, &self.stamp(ago, "Mara"))?;
                ago -= GENERATION;
            }
        }
        Ok(())
    }

    fn conditions(&self, book: &mut Book) -> Result<(), Error> {
        let all = [
            (None, ConditionKind::Lamp, "white tubes", DAYS),
            (None, ConditionKind::Cup, "white, 97 mm", DAYS),
            (None, ConditionKind::Camera, "the old phone", DAYS),
            (None, ConditionKind::Feed, "green flakes", DAYS),
            (None, ConditionKind::Floor, "black sand", DAYS),
            (Some("A3"), ConditionKind::Floor, "white sand", NEW_SAND),
            (None, ConditionKind::Camera, "the new phone", 330),
        ];
        for (tank, kind, value, ago) in all {
            let new = NewCondition {
                tank: tank.map(str::to_string),
                kind,
                value: value.into(),
                since: None,
            };
            book.set_condition(&new, &self.stamp(ago, "Ole"))?;
        }
        Ok(())
    }

    /// The scoops of each day as one change: a long past is filled in seconds.
    fn scoops(&self, book: &mut Book) -> Result<usize, Error> {
        let mut dice = Dice::new(1);
        let (mut count, mut ago) = (0, DAYS);
        while ago >= 1 {
            let who = PEOPLE[(ago / EVERY) as usize % PEOPLE.len()];
            let scoops: Vec<NewScoop> = TANKS
                .iter()
                .filter(|plan| plan.5 >= ago && !(plan.0 == "D2" && ago < 150))
                .filter_map(|plan| self.scoop(plan, ago, who, &mut dice))
                .collect();
            count += scoops.len();
            book.file_scoops(&scoops, &self.stamp(ago, who))?;
            ago -= EVERY;
        }
        Ok(count)
    }

    fn scoop(&self, plan: &Plan, ago: i64, who: &str, dice: &mut Dice) -> Option<NewScoop> {
        let Plan(code, line, _, at_first, loss, _) = *plan;
        let mixed = line == "M1";
        let line = LINES
            .iter()
            .find(|known| known.0 == line)
            .unwrap_or(&LINES[0]);
        let ladder = self.shelf.ladder(if mixed { "mixed" } else { line.1 })?;
        let generation = ((DAYS - ago) / GENERATION) as f64;
        let mut coverage = at_first - loss * generation + 0.01 * dice.bell();
        if code == "A3" && ago <= NEW_SAND {
            coverage -= 0.07;
        }
        let broken_in = code == "B2" && ago <= 30;
        let look = Look {
            coverage,
            lab: line.3,
            // The mixed tank slides toward brown, one animal more in every second generation.
            brown: if mixed {
                (0.5 * generation) as u32
            } else {
                u32::from(broken_in)
            },
            others: if mixed { &MIXED } else { &[] },
        };
        let minutes = TANKS.iter().position(|p| p.0 == code).unwrap_or(0) as i8 * 4;
        Some(NewScoop {
            tank: code.into(),
            at: self.day(ago).at(18, minutes, 0, 0),
            who: who.into(),
            kept_apart: false,
            second_of: None,
            remark: String::new(),
            import_label: None,
            origin: Origin {
                ladder: Some(ladder.line.clone()),
                ladder_sha256: Some(ladder.sha256.clone()),
                ground: Some("white".into()),
                netted_seconds: Some(80 + (60.0 * dice.even()) as u32),
                program: Some("invented".into()),
                ..Origin::default()
            },
            animals: animals(&look, &ladder, 12, dice),
        })
    }

    fn notes(&self, book: &mut Book) -> Result<(), Error> {
        let blank = |tank: &str, kind| NewNote {
            tank: tank.into(),
            kind,
            day: None,
            count: None,
            until: None,
            other: String::new(),
            text: String::new(),
            sure: false,
        };
        let moved = |tank, kind, count, other: &str| NewNote {
            count: Some(count),
            other: other.into(),
            ..blank(tank, kind)
        };
        let in_quarantine = NewNote {
            until: Some(self.now.date().saturating_add(10.days())),
            text: "new animals".into(),
            ..blank("C3", NoteKind::Quarantine)
        };
        let all = [
            (moved("A1", NoteKind::MovedOut, 40, "a shop"), 45),
            (moved("A3", NoteKind::MovedOut, 30, "a shop"), 38),
            (moved("C3", NoteKind::MovedIn, 24, "another keeper"), 20),
            (in_quarantine, 18),
            (moved("A4", NoteKind::Loss, 1, ""), 3),
            (moved("D1", NoteKind::Loss, 2, ""), 4),
            (moved("D1", NoteKind::Loss, 1, ""), 1),
            (
                NewNote {
                    text: "half of the water changed".into(),
                    ..blank("D1", NoteKind::Treatment)
                },
                1,
            ),
        ];
        for (note, ago) in all {
            book.add_note(&note, &self.stamp(ago, "Tam"))?;
        }
        let retired = TankChange {
            retired: Some(Some(self.day(140))),
            ..TankChange::default()
        };
        book.edit_tank("D2", &retired, &self.stamp(140, "Mara"))?;
        Ok(())
    }
}
