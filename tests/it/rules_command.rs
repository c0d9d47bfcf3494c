//! `catchcup rules` as a keeper meets it.

use catchcup::ladder::{Shelf, load};
use catchcup::report::card::{ladder_card, swatches};
use catchcup::report::text::WIDTH;

use crate::support::room::{Room, err, out};
use crate::support::truth::sample;

#[test]
fn every_ladder_is_said_in_plain_words_within_the_width() {
    for ladder in Shelf::default().ladders() {
        let card = ladder_card(&ladder);
        let text: Vec<&str> = card.iter().map(|line| line.text.as_str()).collect();
        assert!(
            text.iter().all(|line| line.chars().count() <= WIDTH),
            "{}: {text:#?}",
            ladder.line
        );
        for rung in ["G5 best", "G4", "G3", "G2", "G1", "G0"] {
            assert!(
                text.iter().any(|line| line.starts_with(rung)),
                "{}: {rung}",
                ladder.line
            );
        }
    }
}

#[test]
fn limits_are_said_as_they_stand_in_the_file() {
    let room = Room::new("rules-show");
    let said = out(&room.run(&["rules", "show", "red"]));
    assert!(
        said.contains("coverage at least 95 % and opacity at least 80 %"),
        "{said}"
    );
    assert!(said.contains("wrong hue over more than 20 %"), "{said}");
    assert!(
        !said.contains('\u{1b}'),
        "no colour codes in a pipe: {said}"
    );
}

/// Swatches are the line's linear ratios encoded by IEC 61966-2-1; 0.36 encodes to 0.636 (162 of 255).
#[test]
fn swatches_are_encoded_srgb() {
    let red = Shelf::default().ladder("red").expect("built in");
    let strip = swatches(&red);
    assert_eq!(strip.len(), 1 + red.colour.full.len());
    let at = red
        .colour
        .full
        .iter()
        .position(|full| full[0] == 0.36)
        .expect("red has this colour");
    assert_eq!(strip[at + 1][0], 162);
}

#[test]
fn a_ladder_of_ones_own_is_started_checked_and_tried() {
    let room = Room::new("rules-try");
    let red = sample("red-clear-to-solid").bytes();
    room.file("red.jpg", red);
    let records = room
        .run(&["grade", "--json", "--line", "red", "red.jpg"])
        .stdout;
    room.file("records.jsonl", &records);
    assert_eq!(
        room.run(&["rules", "start", "red", "my.toml"])
            .status
            .code(),
        Some(0)
    );
    let again = room.run(&["rules", "start", "red", "my.toml"]);
    assert!(
        again.status.code() == Some(2) && err(&again).contains("left as it is"),
        "{}",
        err(&again)
    );
    let same = out(&room.run(&["rules", "try", "my.toml", "records.jsonl"]));
    assert!(same.starts_with("Nothing changes for the "), "{same}");

    // The best rung made unreachable: who stood on it now stands on the one below.
    let text = std::fs::read_to_string(room.0.join("my.toml")).expect("it was written");
    room.file(
        "my.toml",
        text.replace(
            "coverage = { at_least = 0.95 }",
            "coverage = { at_least = 1.0 }",
        ),
    );
    let record: serde_json::Value = serde_json::from_slice(&records).expect("JSON");
    let best = record["animals"]
        .as_array()
        .expect("animals")
        .iter()
        .filter(|a| a["rung"] == "G5" && a["coverage"].as_f64() < Some(1.0))
        .count();
    assert!(best > 0, "the sample has solid animals");
    let said = out(&room.run(&["rules", "try", "my.toml", "records.jsonl"]));
    let verb = if best == 1 { "falls" } else { "fall" };
    assert!(
        said.contains(&format!("{best} {verb} from G5 to G4")),
        "{said}"
    );
    let checked = room.run(&["rules", "check", "my.toml"]);
    assert!(
        out(&checked).starts_with("my.toml: in order; line red"),
        "{}",
        out(&checked)
    );
}

#[test]
fn what_is_no_record_is_told_with_its_line() {
    let room = Room::new("rules-records");
    room.run(&["rules", "start", "red", "my.toml"]);
    room.file(
        "notes.jsonl",
        "\n{\"schema\":\"catchcup.error/1\"}\n{\"hello\":1}\n",
    );
    let output = room.run(&["rules", "try", "my.toml", "notes.jsonl"]);
    assert_eq!(output.status.code(), Some(2));
    assert!(
        err(&output).contains("notes.jsonl:3: this line is no record"),
        "{}",
        err(&output)
    );
    room.file("other.jsonl", "{\"schema\":\"catchcup.scoop/9\"}\n");
    let output = room.run(&["rules", "try", "my.toml", "other.jsonl"]);
    assert!(
        err(&output).contains("expected \"catchcup.scoop/1\""),
        "{}",
        err(&output)
    );
}

#[test]
fn a_wrong_file_is_told_with_place_and_cure() {
    let room = Room::new("rules-check");
    room.file(
        "bad.toml",
        "schema = \"catchcup.ladder/1\"\nline = \"Red\"\n",
    );
    let output = room.run(&["rules", "check", "bad.toml"]);
    assert_eq!(output.status.code(), Some(2));
    assert!(
        err(&output).starts_with("error: bad.toml:2:8: "),
        "{}",
        err(&output)
    );
    let error = load(
        "bad.toml",
        "schema = \"catchcup.ladder/1\"\nline = \"Red\"\n",
    )
    .expect_err("a bad id");
    assert!(err(&output).contains(&error.hint));
}

#[test]
fn help_for_shells_and_for_newcomers() {
    let room = Room::new("help");
    let overview = out(&room.run(&[]));
    assert!(overview.contains("catchcup grade scoop.jpg"), "{overview}");
    assert!(overview.lines().all(|line| line.chars().count() <= 80));
    for shell in ["bash", "zsh", "fish", "powershell"] {
        let script = out(&room.run(&["completions", shell]));
        assert!(
            script.contains("catchcup") && script.contains("overlay"),
            "{shell}"
        );
    }
    assert_eq!(room.run(&["manual", "man"]).status.code(), Some(0));
    let page = std::fs::read_to_string(room.0.join("man/catchcup-grade.1"))
        .expect("a page for each command");
    assert!(page.contains("cup\\-mm"), "{page}");
}
