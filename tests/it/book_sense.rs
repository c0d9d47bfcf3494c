//! Entries that can hardly be meant are refused or doubted, each with what to do next; "holds" is said of a line only where a
//! fall that matters would have shown.

use std::fmt::Write;

use crate::room_work::Phone;
use crate::support::keeper::Keeper;

#[test]
fn generations_stand_in_their_order() {
    let keeper = Keeper::new("sense-generations");
    let plain = |text: String| text.replace("\n  ", " ");
    let begun = plain(keeper.ok("generation begin A1 F9"));
    assert!(
        begun.contains("F1 to F8 of R1 are not in the book") && begun.contains("book undo"),
        "{begun}"
    );
    let refused = |words: &str| plain(keeper.refused(&format!("generation begin A1 {words}")));
    let said = refused("F6");
    assert!(
        said.contains("has F9 since 2026-05-08") && said.contains("F10"),
        "{said}"
    );
    // What was before may be entered later, in its place.
    let earlier = plain(keeper.ok("generation begin A1 F6 --on 2025-06-01 --origin \"a swap\""));
    assert!(!earlier.contains("Doubt"), "{earlier}");
    assert!(refused("F3 --on 2025-09-01").contains("has F6"));
    assert!(refused("F10 --on 2025-09-01").contains("has F9"));
    let old = refused("F7 --on 2020-01-01");
    assert!(
        old.contains("before tank A1 was in use (2025-01-01)") && old.contains("--since"),
        "{old}"
    );
    assert!(refused("F10 --on 2026-06-01").contains("still to come"));
    // The next one, and one from another tank's generation, are no doubt.
    assert!(!keeper.ok("generation begin A1 F10").contains("Doubt"));
    keeper.ok("tank add A2 --line R1");
    assert!(
        !keeper
            .ok("generation begin A2 F11 --from A1")
            .contains("Doubt")
    );
    keeper.ok("tank add A3 --line R1");
    let jump = plain(keeper.ok("generation begin A3 F13 --from A1"));
    assert!(jump.contains("F11 to F12 of R1"), "{jump}");
    assert_eq!(keeper.json("generation list A1").len(), 3);
}

#[test]
fn more_animals_than_a_tank_holds_are_asked_about() {
    let keeper = Keeper::new("sense-many");
    let said = keeper.refused("note loss A1 5000");
    assert!(
        said.contains("5000 animals") && said.contains("--sure"),
        "{said}"
    );
    assert!(keeper.json("note list A1").is_empty());
    keeper.ok("note loss A1 5000 --sure");
    keeper.ok("note loss A1 2");
    assert_eq!(keeper.json("note list A1").len(), 2);
}

#[test]
fn a_tank_is_not_held_against_itself() {
    let keeper = Keeper::new("sense-itself");
    for words in ["trial A1 A1", "trial A1 a1"] {
        let said = keeper.refused(words);
        assert!(
            said.contains("against itself") && said.contains("--since"),
            "{said}"
        );
    }
}

#[test]
fn labels_that_no_phone_opens_are_not_printed() {
    let keeper = Keeper::new("sense-labels");
    let page = Phone::new(&keeper).page("/labels");
    assert!(
        page.contains("--lan") && !page.contains("class=\"qr\""),
        "{page}"
    );
}

/// Scoops each 60 days for two years, so many animals each, that lie by `wide` around a coverage of 0.85.
fn steady(name: &str, animals: u32, wide: f64) -> Keeper {
    let keeper = Keeper::new(name);
    let mut table = String::from("tank,date,scoop,coverage,opacity\n");
    for scoop in 0..13u32 {
        let day = jiff::civil::date(2024, 5, 1).saturating_add(jiff::Span::new().days(60 * scoop));
        for i in 0..animals {
            // The same values in each scoop, in another order: nothing changes.
            let at = f64::from((i + scoop) % animals) + 0.5;
            let coverage = 0.85 + wide * (at / f64::from(animals) - 0.5);
            let _ = writeln!(table, "A1,{day},{scoop},{coverage:.3},0.75");
        }
    }
    keeper.0.file("past.csv", table);
    keeper.ok("book import past.csv");
    keeper
}

/// On the built-in red ladder G4 asks for a coverage of 0.85 and G3 for 0.70: 0.15 within five generations is 0.03 a generation.
#[test]
fn holds_is_said_only_where_a_fall_that_matters_would_have_shown() {
    let verdict = |keeper: &Keeper| {
        let found = &keeper.json("trend A1 --measure coverage")[0]["measures"][0];
        let shown = found["would_have_shown"].as_f64().expect("a number");
        (found["verdict"].as_str().map(str::to_string), shown)
    };
    let sure = steady("sense-holds", 30, 0.1);
    let (word, shown) = verdict(&sure);
    assert!(word.as_deref() == Some("holds") && shown <= 0.03, "{shown}");
    let blind = steady("sense-blind", 2, 0.3);
    let (word, shown) = verdict(&blind);
    assert!(
        word.as_deref() == Some("cant_tell") && shown > 0.03,
        "{word:?} {shown}"
    );
    let told = blind.ok("trend A1");
    let told = told.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(
        told.contains("Can't tell yet whether coverage holds") && told.contains("0.03"),
        "{told}"
    );
    let room = blind.ok("room");
    assert!(
        room.contains("can't tell yet whether coverage holds"),
        "{room}"
    );
}
