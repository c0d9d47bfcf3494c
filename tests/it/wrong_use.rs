//! What is said where a keeper writes something else than was expected: what to write instead, in lines that fit.

use crate::support::room::{Room, err};

/// Files of the cases below, in a folder of that name.
fn room(name: &str) -> Room {
    let room = Room::new(name);
    room.white_photo("a.png");
    room.file("comma.toml", "line = \"red\"\ncup_mm = 96,87\n");
    room.file("empty.toml", "");
    room.file("taken", "a file in the place of a folder");
    let red = catchcup::ladder::shelf::built_in_text("red").expect("built in");
    room.file(
        "limit.toml",
        red.replacen("at_least = 0.70", "at_least = 0,70", 1),
    );
    room
}

#[test]
fn numbers_and_files_are_told_with_what_to_write() {
    let room = room("wrong-numbers");
    let comma = "has a comma, expected a point";
    let cases: [(&[&str], &[&str]); 11] = [
        (
            &["grade", "a.png", "--house", "comma.toml"],
            &["comma.toml:2:10", comma, "96.87"],
        ),
        (
            &["rules", "check", "limit.toml"],
            &["limit.toml:", "`0,70`", comma, "0.70"],
        ),
        (
            &["grade", "a.png", "--cup-mm", "96,87"],
            &["`96,87`", comma, "96.87"],
        ),
        (
            &["rules", "check", "empty.toml"],
            &["no rules file", "catchcup rules start red > my-red.toml"],
        ),
        (
            &["note", "loss", "A3", "two"],
            &["`two`", "no whole number", "digits"],
        ),
        (&["grade", "a.png", "--threads", "300"], &["1 to 256"]),
        (
            &["grade", "a.png", "--overlay", "taken"],
            &["taken", "name another folder"],
        ),
        (
            &["arrival", "--lot", "1"],
            &["a single animal needs no plan"],
        ),
        (&["arrival", "--lot", "0"], &["how many were bought"]),
        (
            &["arrival", "--lot", "many"],
            &["how many animals were bought"],
        ),
        (
            &["grade", "a.png", "--line", "rot"],
            &["there is no line `rot`", "red-tissue"],
        ),
    ];
    for (words, parts) in cases {
        let output = room.run(words);
        let said = err(&output);
        assert!(
            matches!(output.status.code(), Some(1 | 2)),
            "{words:?}: {said}"
        );
        for part in parts {
            assert!(said.contains(part), "{words:?} without {part:?}: {said}");
        }
        assert!(!said.contains("invalid digit"), "{said}");
        let lines = String::from_utf8_lossy(&output.stderr).into_owned();
        let wide = lines.lines().find(|l| l.chars().count() > 80);
        assert_eq!(wide, None, "{words:?}");
    }
}

/// Lines are named as they are shown, in small letters or capitals.
#[test]
fn a_line_is_known_by_its_id_and_by_its_shown_name() {
    let room = room("wrong-lines");
    for (said, line) in [
        ("Red", "red"),
        ("RILI-RED", "rili-red"),
        ("red rili", "rili-red"),
        ("Deep red (tissue)", "red-tissue"),
    ] {
        let output = room.run(&["grade", "a.png", "--line", said, "--json"]);
        let text = crate::support::room::out(&output);
        let found: serde_json::Value = serde_json::from_str(text.trim()).expect("JSON");
        assert_eq!(found["line"], line, "{said}: {}", err(&output));
        let shown = room.run(&["rules", "show", said]);
        assert_eq!(shown.status.code(), Some(0), "{said}: {}", err(&shown));
        let text = crate::support::room::out(&shown);
        assert!(text.lines().all(|l| l.chars().count() <= 80), "{text}");
    }
}

/// A line that no built-in ladder has may be meant, or be a slip: it is said.
#[test]
fn a_rules_file_of_an_unknown_line_is_told() {
    let room = room("wrong-rules");
    let red = catchcup::ladder::shelf::built_in_text("red").expect("built in");
    room.file(
        "own.toml",
        red.replacen("line = \"red\"", "line = \"rot\"", 1),
    );
    room.file("red.toml", red);
    let told = |file: &str| {
        let output = room.run(&["rules", "check", file]);
        assert_eq!(output.status.code(), Some(0), "{}", err(&output));
        crate::support::room::out(&output)
    };
    assert!(told("own.toml").contains("No built-in line is called rot"));
    assert!(!told("red.toml").contains("No built-in line"));
}
