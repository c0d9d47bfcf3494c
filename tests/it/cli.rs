//! The command as a user meets it.

use std::io::Read;
use std::path::Path;
use std::process::Stdio;

use crate::support::room::{Room, err, out};

#[test]
fn photos_come_out_in_their_order_and_bad_ones_do_not_stop_the_rest() {
    let room = Room::new("order");
    room.white_photo("a.png");
    room.file("bad.jpg", b"no photo at all");
    room.white_photo("sub/b.png");
    room.file("empty/notes.txt", b"no photo");
    let output = room.run(&[
        "grade",
        "a.png",
        "bad.jpg",
        "missing.jpg",
        "empty",
        "sub/b.png",
        "--json",
        "--line",
        "red",
    ]);
    assert_eq!(output.status.code(), Some(1), "{}", err(&output));
    let lines: Vec<serde_json::Value> = out(&output)
        .lines()
        .map(|line| serde_json::from_str(line).expect("one JSON object a line"))
        .collect();
    let told: Vec<_> = lines
        .iter()
        .map(|l| {
            (
                l["photo"]["file"].as_str().unwrap_or(""),
                l["schema"].as_str().unwrap_or(""),
            )
        })
        .collect();
    let (scoop, error) = ("catchcup.scoop/1", "catchcup.error/1");
    assert_eq!(
        told,
        [
            ("a.png", scoop),
            ("bad.jpg", error),
            ("missing.jpg", error),
            ("empty", error),
            ("b.png", scoop)
        ]
    );
    assert!(
        lines[1]["error"]["hint"]
            .as_str()
            .is_some_and(|hint| !hint.is_empty())
    );
    assert!(
        !out(&output).contains(&room.0.display().to_string()),
        "no folders in the record"
    );
}

#[test]
fn exit_codes() {
    let room = Room::new("codes");
    room.white_photo("a.png");
    assert_eq!(
        room.run(&["grade", "a.png", "--line", "red"]).status.code(),
        Some(0)
    );
    assert_eq!(
        room.run(&["grade", "none.png", "--line", "red"])
            .status
            .code(),
        Some(1)
    );
    for wrong in [
        &["grade"][..],
        &["grade", "a.png", "--line", "crimson"],
        &["grade", "a.png", "--cup-mm", "-3"],
        &["grade", "a.png", "--sale-rung", "G0"],
        &["grade", "a.png", "--netted", "soon"],
        &["grade", "a.png", "--house", "none.toml"],
        &["grade", "a.png", "--rules", "none.toml"],
        &["grade", "a.png", "--threads", "0"],
        &["rules", "show", "crimson"],
        &["fly"],
    ] {
        let output = room.run(wrong);
        assert_eq!(output.status.code(), Some(2), "{wrong:?}");
        assert!(
            !err(&output).is_empty() && out(&output).is_empty(),
            "{wrong:?}"
        );
    }
}

#[test]
fn an_unknown_line_is_told_with_the_known_ones() {
    let room = Room::new("unknown");
    room.white_photo("a.png");
    let said = err(&room.run(&["grade", "a.png", "--line", "crimson"]));
    assert!(
        said.contains("there is no line `crimson`")
            && said.contains("cure: take one of: red, orange"),
        "{said}"
    );
}

#[test]
fn the_house_file_is_found_here_before_the_settings_folder() {
    let room = Room::new("house");
    room.white_photo("a.png");
    room.file("settings/catchcup/house.toml", "line = \"blue\"\n");
    let line = |room: &Room| {
        let record: serde_json::Value =
            serde_json::from_str(&out(&room.run(&["grade", "a.png", "--json"]))).expect("JSON");
        record["line"].as_str().map(str::to_string)
    };
    assert_eq!(line(&room).as_deref(), Some("blue"));
    room.file("house.toml", "line = \"yellow\"\ncup_mm = 70\n");
    assert_eq!(line(&room).as_deref(), Some("yellow"));
    room.file("house.toml", "line = \"yellow\"\ncup_m = 70\n");
    let output = room.run(&["grade", "a.png"]);
    assert_eq!(output.status.code(), Some(2));
    assert!(
        err(&output).contains("house.toml:2:1: unknown key `cup_m`"),
        "{}",
        err(&output)
    );
    assert!(
        err(&output).contains("did you mean `cup_mm`?"),
        "{}",
        err(&output)
    );
}

#[test]
fn rules_of_the_house_take_the_place_of_the_built_in_ones() {
    let room = Room::new("rules");
    room.white_photo("a.png");
    let own = out(&room.run(&["rules", "start", "red"]))
        .replace("title = \"red, shell-coloured\"", "title = \"our red\"");
    room.file("rules/own.toml", own);
    let title = |args: &[&str]| {
        let record: serde_json::Value = serde_json::from_str(&out(&room.run(args))).expect("JSON");
        record["ladder"]["name"].as_str().map(str::to_string)
    };
    assert_eq!(
        title(&["grade", "a.png", "--json", "--rules", "rules/own.toml"]).as_deref(),
        Some("our red")
    );
    room.file(
        "rules/house.toml",
        "rules = [\"own.toml\"]\nline = \"red\"\n",
    );
    assert_eq!(
        title(&["grade", "a.png", "--json", "--house", "rules/house.toml"]).as_deref(),
        Some("our red")
    );
    assert_eq!(
        title(&[
            "grade",
            "a.png",
            "--json",
            "--line",
            "orange",
            "--rules",
            "rules/own.toml"
        ])
        .as_deref(),
        Some("orange, shell-coloured")
    );
    room.file("rules/own.toml", "schema = 3\n");
    let output = room.run(&["grade", "a.png", "--rules", "rules/own.toml"]);
    assert!(
        err(&output).starts_with("error: own.toml:1:10: `schema` is a number"),
        "{}",
        err(&output)
    );
}

#[test]
fn lines_and_schema_are_printed() {
    let room = Room::new("rules-list");
    let lines = out(&room.run(&["rules", "list"]));
    assert_eq!(lines.lines().count(), 16);
    assert!(
        lines.lines().all(|line| line.len() <= 80) && lines.contains("rili-red"),
        "{lines}"
    );
    let schema: serde_json::Value =
        serde_json::from_str(&out(&room.run(&["schema"]))).expect("JSON");
    assert_eq!(schema["title"], "catchcup record");
}

#[test]
fn no_colour_goes_into_pipes() {
    let room = Room::new("colour");
    room.white_photo("a.png");
    room.file("bad.jpg", "x");
    let output = room.run(&["grade", "a.png", "bad.jpg", "--line", "red"]);
    assert!(!output.stdout.contains(&0x1b) && !output.stderr.contains(&0x1b));
    let forced = room
        .command(&["grade", "a.png", "--line", "red"])
        .env("CLICOLOR_FORCE", "1")
        .output()
        .expect("it runs");
    assert!(
        forced.stdout.contains(&0x1b),
        "colour can be forced, so the check above can fail"
    );
    let both = room
        .command(&["grade", "a.png", "--line", "red"])
        .env("NO_COLOR", "1")
        .output()
        .expect("it runs");
    assert!(!both.stdout.contains(&0x1b));
}

#[test]
fn a_closed_pipe_is_success() {
    let room = Room::new("pipe");
    room.white_photo("a.png");
    let photos = vec!["a.png"; 40];
    let args: Vec<&str> = ["grade", "--json", "--line", "red"]
        .into_iter()
        .chain(photos)
        .collect();
    let mut child = room
        .command(&args)
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .expect("it starts");
    let mut pipe = child.stdout.take().expect("a pipe");
    let mut first = [0u8; 1];
    pipe.read_exact(&mut first).expect("something is printed");
    drop(pipe);
    let output = child.wait_with_output().expect("it ends");
    assert_eq!(output.status.code(), Some(0), "{}", err(&output));
    assert!(output.stderr.is_empty(), "{}", err(&output));
}

#[test]
fn overlays_get_names_of_their_own() {
    let room = Room::new("overlay");
    room.white_photo("a.png");
    room.white_photo("sub/a.png");
    room.white_photo("b.png");
    let output = room.run(&[
        "grade",
        "a.png",
        "sub/a.png",
        "b.png",
        "--line",
        "red",
        "--overlay",
        "marked",
    ]);
    assert_eq!(output.status.code(), Some(0), "{}", err(&output));
    for name in ["a-1-graded.jpg", "a-2-graded.jpg", "b-graded.jpg"] {
        let path: &Path = &room.0.join("marked").join(name);
        assert!(image::open(path).is_ok(), "{name}");
    }
}

#[test]
fn any_number_of_threads_gives_the_same_bytes() {
    let room = Room::new("threads");
    room.white_photo("a.png");
    let run = |threads: &str| {
        room.run(&[
            "grade",
            "a.png",
            "--json",
            "--line",
            "red",
            "--threads",
            threads,
        ])
        .stdout
    };
    assert_eq!(run("1"), run("2"));
}
