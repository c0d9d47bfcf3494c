//! The past as trends take it: in order, with what was in force, the short reading equal to the long one.

use catchcup::book::{Book, NewGeneration, NewLine, NewScoop, NewTank, Stamp};
use catchcup::scoop::kept::{KeptColour, Origin};
use catchcup::scoop::{KeptAnimal, PastScoop};
use jiff::civil::{DateTime, date};

use crate::record_scoop::full_scoop;

fn at(month: i8, day: i8) -> DateTime {
    date(2026, month, day).at(18, 0, 0, 0)
}

fn stamp(at: DateTime) -> Stamp {
    Stamp {
        at,
        who: "tester".into(),
    }
}

fn file(book: &mut Book, tank: &str, at: DateTime) -> i64 {
    let scoop = full_scoop();
    let new = NewScoop {
        tank: tank.into(),
        at,
        who: "tester".into(),
        kept_apart: false,
        second_of: None,
        remark: String::new(),
        import_label: None,
        origin: Origin {
            photo_sha256: None,
            ..Origin::of(&scoop, "0")
        },
        animals: scoop.animals.iter().map(KeptAnimal::of).collect(),
    };
    book.file_scoop(&new, &stamp(at)).expect("it is filed")
}

fn begin(book: &mut Book, tank: &str, number: u32, parents: &[&str], at: DateTime) {
    let new = NewGeneration {
        tank: tank.into(),
        number,
        parents: parents.iter().map(|p| (*p).to_string()).collect(),
        ..NewGeneration::default()
    };
    book.begin_generation(&new, &stamp(at))
        .expect("it is begun");
}

/// What the short reading leaves out.
fn shortened(mut scoops: Vec<PastScoop>) -> Vec<PastScoop> {
    for animal in scoops.iter_mut().flat_map(|scoop| &mut scoop.animals) {
        animal.place = None;
        animal.colour = animal.colour.map(|c| KeptColour {
            lab: None,
            lab_abs: None,
            ..c
        });
        animal.colour = animal
            .colour
            .filter(|c| c.chroma.is_some() || c.hue_deg.is_some());
        animal.view = catchcup::measures::View::Unsure;
        animal.coverage_thirds = [None; 3];
        animal.clear_middle = None;
        animal.evenness = None;
        animal.line_de00 = None;
        animal.islands = None;
        animal.clear_window = None;
        animal.wrong_hue_share = None;
        animal.brown_share = None;
        animal.legs = None;
        animal.stripe = None;
        animal.withheld.clear();
        animal.flags.clear();
        animal.chances = None;
    }
    scoops
}

#[test]
fn a_line_is_followed_through_its_tanks() {
    let mut book = Book::in_memory().expect("a book");
    for (code, ladder) in [("R1", "red"), ("B1", "blue")] {
        let new = NewLine {
            code: code.into(),
            ladder: ladder.into(),
            ..NewLine::default()
        };
        book.add_line(&new, &stamp(at(1, 1))).expect("a line");
    }
    for code in ["A1", "A2"] {
        let new = NewTank {
            code: code.into(),
            line: Some("R1".into()),
            ..NewTank::default()
        };
        book.add_tank(&new, &stamp(at(1, 1))).expect("a tank");
    }
    begin(&mut book, "A1", 0, &[], at(1, 1));
    let first = file(&mut book, "A1", at(1, 10));
    begin(&mut book, "A2", 1, &["A1"], at(2, 1));
    let third = file(&mut book, "A2", at(2, 10));
    let second = file(&mut book, "A1", at(2, 5));
    // Another line moves into the first tank: its scoops belong to that line from then on.
    let change = catchcup::book::TankChange {
        line: Some("B1".into()),
        ..Default::default()
    };
    book.edit_tank("A1", &change, &stamp(at(3, 1)))
        .expect("it is changed");
    begin(&mut book, "A1", 0, &[], at(3, 1));
    let other = file(&mut book, "A1", at(3, 10));
    let line = book.history_of_line("r1").expect("a history");
    let seen: Vec<(i64, Option<u32>)> = line.iter().map(|s| (s.number, s.generation)).collect();
    assert_eq!(
        seen,
        [(first, Some(0)), (second, Some(0)), (third, Some(1))]
    );
    let blue = book.history_of_line("B1").expect("a history");
    assert_eq!(blue.iter().map(|s| s.number).collect::<Vec<_>>(), [other]);
    let tank = book.history_of_tank("A1").expect("a history");
    assert_eq!(
        tank.iter().map(|s| s.number).collect::<Vec<_>>(),
        [first, second, other]
    );
    assert_eq!(book.history_of_all().expect("all").len(), 4);
    assert_eq!(
        book.measures_of_line("R1").expect("measures"),
        shortened(line.clone())
    );
    assert_eq!(
        book.measures_of_tank("A1").expect("measures"),
        shortened(tank)
    );
    // What goes in comes out.
    let kept: Vec<KeptAnimal> = full_scoop().animals.iter().map(KeptAnimal::of).collect();
    assert_eq!(line[0].animals, kept);
    assert_eq!(line[0].judged().count(), full_scoop().mix.judged() as usize);
}
