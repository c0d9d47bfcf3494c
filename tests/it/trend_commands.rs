//! The commands on trends, on the invented house: words, JSON and its schema, pictures.

use std::collections::BTreeSet;
use std::sync::OnceLock;

use catchcup::report::TRENDS_SCHEMA;
use serde_json::Value;

use crate::record::faults;
use crate::support::keeper::objects;
use crate::support::room::{Room, err, out};

const NOW: &str = "2026-05-08 20:00";

/// The house, made once for all tests of this file.
fn house() -> &'static Room {
    static HOUSE: OnceLock<Room> = OnceLock::new();
    HOUSE.get_or_init(|| {
        let room = Room::new("trends");
        let made = room.run(&["demo", "house", "--now", NOW]);
        assert_eq!(made.status.code(), Some(0), "{}", err(&made));
        room
    })
}

fn run(words: &str) -> std::process::Output {
    let mut command = house().command(&words.split(' ').collect::<Vec<_>>());
    command
        .args(["--now", NOW])
        .current_dir(house().0.join("house"));
    command.output().expect("the command runs")
}

fn ok(words: &str) -> String {
    let output = run(words);
    assert_eq!(output.status.code(), Some(0), "{words}: {}", err(&output));
    let text = out(&output);
    let wide = text
        .lines()
        .find(|l| l.chars().count() > 80 && !words.contains("--json"));
    assert_eq!(wide, None, "{words}");
    text
}

#[test]
fn a_fading_line_is_told_and_new_sand_is_not_called_fading() {
    let fading = ok("trend A1");
    assert!(fading.contains("Coverage falls 0.0"), "{fading}");
    assert!(
        !fading.contains("Mann"),
        "methods only on request: {fading}"
    );
    let sand = ok("trend A3");
    assert!(sand.contains("no change larger than"), "{sand}");
    assert!(sand.contains("floor: black sand, now white sand"), "{sand}");
    assert!(sand.contains("lower since"), "{sand}");
    let line = ok("trend --line R1 --by date --measure coverage");
    assert!(line.contains("Coverage falls"), "{line}");
    let detail = ok("trend A1 --detail");
    for word in [
        "Mann-Kendall",
        "Theil-Sen",
        "Pettitt",
        "standard errors",
        "chi-squared",
    ] {
        assert!(detail.contains(word), "{word}: {detail}");
    }
    let early = ok("trend C3");
    assert!(early.contains("oo early to say"), "{early}");
    let room = ok("room");
    let first = room.lines().next().expect("a line");
    assert!(
        first.contains("falls"),
        "what changes for the worse comes first: {room}"
    );
}

#[test]
fn whole_tanks_trials_mixes_and_months_are_told() {
    let share = ok("share A1 --detail");
    assert!(
        share.contains("at or above G4") && share.contains("beta-binomial"),
        "{share}"
    );
    assert!(ok("share A1 --animals 200").contains("put back"));
    let trial = ok("trial A3 A4 --since 2026-03-15");
    assert!(
        trial.contains("A4") && trial.contains("Not alike: floor"),
        "{trial}"
    );
    let early = ok("trial A3 --since 2026-04-20");
    assert!(early.contains("too early"), "{early}");
    let mixed = ok("mixed D3");
    assert!(
        mixed.contains("slides toward brown") && mixed.contains("blue"),
        "{mixed}"
    );
    let month = ok("month 2026-03");
    assert!(month.contains("moved out 40"), "{month}");
    assert!(ok("month 2020-01").contains("nothing"));
}

/// Terms of statistics stand behind --detail; without it a keeper's words say the same.
#[test]
fn plain_words_come_first() {
    for (words, plain, terms) in [
        (
            "forecast A1 --keep 15F 10M",
            "better than the middle of today's animals",
            "standard deviations",
        ),
        ("rung families", "red", "L*"),
        ("share A1", "at or above G4", "beta-binomial"),
    ] {
        let text = ok(words);
        assert!(
            text.contains(plain) && !text.contains(terms),
            "{words}: {text}"
        );
        let detail = ok(&format!("{words} --detail"));
        assert!(
            detail.contains(plain) && detail.contains(terms),
            "{words}: {detail}"
        );
        for line in text.lines().chain(detail.lines()) {
            assert!(line.chars().count() <= 80, "{words}: {line}");
        }
    }
    ok("forecast A1 --keep 15F 10M --plot trade.svg");
    let picture = |name: &str| {
        std::fs::read_to_string(house().0.join("house").join(name)).expect("a picture")
    };
    let trade = picture("trade.svg");
    assert!(
        trade.contains("of 100") && !trade.contains("standard deviation"),
        "{trade}"
    );
}

/// The picture of a mixed tank shows the slide that its text tells, generation by generation.
#[test]
fn the_wheel_shows_the_slide_toward_brown() {
    let text = ok("mixed D3 --plot slide.svg");
    let svg = std::fs::read_to_string(house().0.join("house/slide.svg")).expect("a picture");
    assert!(svg.contains("It slides toward brown"), "{svg}");
    let (_, by) = text.split_once("a generation: ").expect("generations");
    let by = by.split_whitespace().collect::<Vec<_>>().join(" ");
    let told: Vec<&str> = by.trim_end_matches('.').split(", ").collect();
    assert!(told.len() >= 5, "{text}");
    for one in told {
        let (name, counts) = one.split_once(' ').expect("a name");
        assert!(
            svg.contains(&format!("{name}: {counts} brown")),
            "{one}: {svg}"
        );
    }
}

#[test]
fn every_object_is_described_by_the_schema() {
    let schema: Value = serde_json::from_str(TRENDS_SCHEMA).expect("the schema is JSON");
    let mut kinds = BTreeSet::new();
    for words in [
        "trend A1 --json",
        "trend A3 --by date --json",
        "trend --line B1 --json",
        "trend C3 --json",
        "room --json",
        "share A1 --json",
        "share C1 --animals 90 --json",
        "trial A3 A4 --json",
        "trial A3 --since 2026-04-20 --json",
        "mixed D3 --json",
        "month 2026-03 --json",
    ] {
        let found = objects(&ok(words));
        assert!(!found.is_empty(), "{words}");
        for object in &found {
            kinds.insert(object["schema"].as_str().unwrap_or("none").to_string());
            let wrong = faults(object, &schema, &schema, words);
            assert!(wrong.is_empty(), "{wrong:?}");
        }
    }
    assert_eq!(kinds.len(), 5, "{kinds:?}");
}

#[test]
fn pictures_are_whole_and_know_the_dark() {
    let commands = [
        ("trend A1 --plot 1.svg --mix 2.svg", vec!["1.svg", "2.svg"]),
        ("trend A3 --by date --plot 3.svg", vec!["3.svg"]),
        ("room --plot 4.svg", vec!["4.svg"]),
        ("mixed D3 --plot 5.svg", vec!["5.svg"]),
        ("month 2026-03 --plot 6.svg", vec!["6.svg"]),
        ("trend C3 --plot 7.svg", vec!["7.svg"]),
        ("trend A1 --measure sale-share --plot 8.svg", vec!["8.svg"]),
    ];
    for (words, files) in commands {
        ok(words);
        for file in files {
            let text =
                std::fs::read_to_string(house().0.join("house").join(file)).expect("a picture");
            assert!(
                text.starts_with("<svg xmlns=") && text.trim_end().ends_with("</svg>"),
                "{file}"
            );
            assert!(
                text.contains("prefers-color-scheme:dark") && text.contains("<title>"),
                "{file}"
            );
            assert!(!text.contains("NaN") && !text.contains("inf"), "{file}");
            assert!(text.matches("<text").count() > 5, "{file}");
        }
    }
}

#[test]
fn wrong_use_is_told_with_a_cure() {
    for (words, part) in [
        ("trend Z9", "Z9"),
        ("trend A1 --measure beauty", "coverage"),
        ("month 2026-13", "2026-10"),
        ("share D2 --within 200", "within"),
        ("trial A3", "OTHER"),
    ] {
        let output = run(words);
        assert_eq!(output.status.code(), Some(2), "{words}");
        assert!(err(&output).contains(part), "{words}: {}", err(&output));
    }
}

#[test]
fn the_schema_is_printed() {
    let printed = house().run(&["schema", "trends"]);
    assert_eq!(out(&printed), TRENDS_SCHEMA);
}
