//! Filing a scoop: the cautions for the animals, and the moment it is filed under.

use crate::room_work::{Phone, red};
use crate::support::keeper::Keeper;

/// A keeper with the sample photo `red.jpg`, taken on 2026-01-01 at 08:30:39 by its own clock.
fn keeper(name: &str) -> Keeper {
    let keeper = Keeper::new(name);
    keeper.0.file("red.jpg", red());
    keeper
}

#[test]
fn the_daily_command_ends_with_the_cautions() {
    let keeper = keeper("care-filing");
    let said = keeper.ok("scoop add A1 red.jpg --cup-mm 97");
    for words in [
        "Put the shrimp back within minutes",
        "no health certificate",
        "--netted 14:05",
    ] {
        assert!(said.contains(words), "{words}: {said}");
    }
    keeper.ok("book undo");
    let said = keeper.ok("scoop add A1 red.jpg --cup-mm 97 --netted 2m");
    assert!(
        said.contains("Put the shrimp back") && !said.contains("--netted 14:05"),
        "{said}"
    );
}

#[test]
fn past_the_hard_stop_the_animals_come_first() {
    let keeper = keeper("care-stop");
    // 10:39 minutes by the photo's clock; the house stops at 10.
    let first = "PUT THE ANIMALS BACK NOW";
    let graded = keeper
        .0
        .run(&["grade", "red.jpg", "--cup-mm", "97", "--netted", "08:20"]);
    let graded = crate::support::room::out(&graded);
    assert!(graded.starts_with(first), "{graded}");
    assert_eq!(
        graded.matches("min in the cup, the house stops").count(),
        1,
        "once"
    );
    assert!(graded.contains("Next: put the animals back"), "{graded}");
    let filed = keeper.ok("scoop add A1 red.jpg --cup-mm 97 --netted 08:20");
    assert!(
        filed.starts_with(first) && filed.matches(first).count() == 1,
        "{filed}"
    );
    keeper.ok("book undo");
    keeper.ok("sort start A1 --keep 3F 2M --about 60");
    let sorted = keeper.ok("sort cup A1 red.jpg --cup-mm 97 --netted 08:20");
    assert!(sorted.starts_with(first), "{sorted}");
    keeper.ok("book undo");
    let in_time = keeper.ok("sort cup A1 red.jpg --cup-mm 97 --netted 08:28");
    assert!(
        in_time.starts_with("Photo: ") && in_time.contains("Put the shrimp back"),
        "{in_time}"
    );
    let page = Phone::new(&keeper);
    let to = page.send(
        "/tank/A1/scoop",
        &[("seconds", "700")],
        &[red().as_slice(), b"x"].concat(),
    );
    let told = page.page(&to);
    assert!(told.find(first) < told.find("Photo: good"), "{told}");
}

#[test]
fn the_moment_is_said_with_where_it_is_from() {
    let keeper = keeper("care-when");
    keeper.ok("tank add A3 --line R1");
    let said = keeper
        .ok("scoop add A3 red.jpg --cup-mm 97")
        .replace("\n  ", " ");
    assert!(
        said.contains("taken 2026-01-01 08:30 by the photo's own clock"),
        "{said}"
    );
    assert!(
        said.contains("before tank A3 was in use (2026-05-08)")
            && said.contains("scoop edit 1 --at"),
        "{said}"
    );
    assert!(said.contains("tank edit A3 --since 2026-01-01"), "{said}");
    keeper.ok("book undo");
    // In use for long: only late.
    let said = keeper
        .ok("scoop add A1 red.jpg --cup-mm 97")
        .replace("\n  ", " ");
    assert!(said.contains("127 days before it was filed"), "{said}");
    keeper.ok("book undo");
    let filed = &keeper.json("scoop add A1 red.jpg --cup-mm 97 --at 2026-05-08")[0];
    assert_eq!(filed["taken_from"], "person");
    assert_eq!(filed["alarms"], serde_json::json!([]));
    keeper.ok("book undo");
    let filed = &keeper.json("scoop add A1 red.jpg --cup-mm 97 --at 2027-05-08")[0];
    assert_eq!(filed["alarms"][0]["code"], "in_the_future");
    let page = Phone::new(&keeper).page(&format!("/scoop/{}", filed["scoop"]));
    assert!(page.contains("which is after now"), "{page}");
}
