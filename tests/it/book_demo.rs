//! The invented house: every command of the README's walk-through works on it, and it holds what it is said to hold.

use serde_json::Value;

use crate::support::keeper::objects;
use crate::support::room::{Room, err, out};
use crate::support::root;

const NOW: &str = "2026-05-08 20:00";

/// Commands of the README's walk-through, without their remarks.
fn walk_through() -> Vec<String> {
    let readme = std::fs::read_to_string(root().join("README.md")).expect("the README");
    let part = readme.split("### Try it on an invented house").nth(1);
    let block = part.and_then(|part| part.split("```").nth(1));
    let lines = block.expect("a block of commands").lines().skip(1);
    lines
        .map(|line| line.split('#').next().unwrap_or("").trim().to_string())
        .filter(|line| !line.is_empty())
        .collect()
}

#[test]
fn the_walk_through_works_and_the_house_is_as_said() {
    let room = Room::new("demo");
    let mut inside = false;
    let mut said = Vec::new();
    for line in walk_through() {
        if line == "cd house" {
            inside = true;
            continue;
        }
        let words: Vec<&str> = line.split_whitespace().skip(1).collect();
        let mut command = room.command(&words);
        command
            .args(["--now", NOW])
            .stdin(std::process::Stdio::null());
        if inside {
            command.current_dir(room.0.join("house"));
        }
        let output = command.output().expect("the command runs");
        assert_eq!(
            output.status.code(),
            Some(0),
            "{line}: {}{}",
            out(&output),
            err(&output)
        );
        said.push(out(&output));
    }
    assert!(inside && said.len() >= 8);
    assert!(said[0].contains("invented"), "{}", said[0]);
    let json = |words: &[&str]| -> Vec<Value> {
        let mut command = room.command(words);
        command
            .args(["--json", "--now", NOW])
            .current_dir(room.0.join("house"));
        objects(&out(&command.output().expect("the command runs")))
    };
    assert_eq!(json(&["tank", "list", "--all"]).len(), 12);
    assert_eq!(json(&["book", "check"])[0]["in_order"], true);
    let holds = |tank: &str| json(&["tank", "show", tank])[0]["holds"][0]["hold"].clone();
    assert_eq!(holds("C3"), "quarantine");
    assert_eq!(holds("D1"), "losses");
    assert_eq!(holds("A4"), "watch");
    let off_type = |tank: &str| json(&["tank", "show", tank])[0]["last_off_type"].is_object();
    assert!(off_type("B2") && !off_type("A1"));
    // Mean coverage of each generation's scoops.
    let mean = |tank: &str, wanted: &dyn Fn(&Value) -> bool| {
        let scoops = json(&["scoop", "list", tank, "--last", "1000"]);
        let animals: Vec<f64> = scoops
            .iter()
            .filter(|scoop| scoop["photo"].is_null() && wanted(scoop))
            .flat_map(|scoop| scoop["animals"].as_array().cloned().unwrap_or_default())
            .filter_map(|animal| animal["measures"]["coverage"]["value"].as_f64())
            .collect();
        assert!(animals.len() > 30, "{tank}: {}", animals.len());
        animals.iter().sum::<f64>() / animals.len() as f64
    };
    let of = |number: u64| move |scoop: &Value| scoop["generation"].as_u64() == Some(number);
    assert!(
        mean("A1", &of(0)) - mean("A1", &of(6)) > 0.1,
        "the old line fades"
    );
    assert!(
        (mean("A4", &of(3)) - mean("A4", &of(6))).abs() < 0.04,
        "the bought-in line holds"
    );
    let floor = |sand: &'static str| move |scoop: &Value| scoop["conditions"]["floor"] == sand;
    assert!(mean("A3", &floor("black sand")) - mean("A3", &floor("white sand")) > 0.04);
    let again = room.run(&["demo", "house"]);
    assert_eq!(
        again.status.code(),
        Some(2),
        "a folder that is there is left alone"
    );
}
