//! The house's own eye on the command line: rungs given, compared, learned from; every object by its schema.

use std::collections::BTreeSet;

use catchcup::report::EYE_SCHEMA;
use serde_json::Value;

use crate::record::faults;
use crate::support::keeper::{Keeper, good};
use crate::support::room::Room;

/// A table of past animals of tank A1, one a scoop: coverage rises from 0.1 to 0.99; and the rungs that an eye whose limits
/// lie 0.08 below the built-in ones gives them, with a slip every ninth animal.
fn house(keeper: &Keeper, animals: usize) {
    let mut past = String::from("tank,date,scoop,no,coverage,opacity,hue_deg,chroma\n");
    let mut rungs = String::from("scoop,animal,rung,who,blind\n");
    for i in 0..animals {
        let coverage = 0.1 + 0.89 * ((i * 37) % animals) as f64 / animals as f64;
        past += &format!("A1,2026-01-01,{},1,{coverage:.4},0.95,25,50\n", i + 1);
        let cuts = [0.17, 0.42, 0.62, 0.77, 0.87];
        let rung = cuts.iter().filter(|cut| coverage >= **cut).count();
        let slip = if i % 9 == 4 && rung > 0 {
            rung - 1
        } else {
            rung
        };
        rungs += &format!("{},1,G{slip},Ann,yes\n", i + 1);
        if i % 4 == 0 {
            rungs += &format!("{},1,G{},Ben,yes\n", i + 1, (rung + 1).min(5));
        }
    }
    keeper.0.file("past.csv", past);
    keeper.0.file("rungs.csv", rungs);
    keeper.ok("book import past.csv");
}

#[test]
fn rungs_are_kept_beside_the_measurement_and_can_be_taken_back() {
    let keeper = Keeper::new("eye-give");
    let file = keeper.record("one", None, good(3));
    keeper.ok(&format!("scoop add A1 --record {file}"));
    let before = keeper.json("scoop show 1");
    let given = keeper.json("rung give 1 1=G4 2=g2 --blind --who Ann");
    assert_eq!(
        (
            given.len(),
            given[0]["rung"].as_str(),
            given[0]["who"].as_str()
        ),
        (2, Some("G4"), Some("Ann"))
    );
    assert_eq!(
        (given[0]["blind"].as_bool(), given[0]["program"].is_string()),
        (Some(true), true)
    );
    assert_eq!(
        keeper.json("scoop show 1"),
        before,
        "the measurement stays as it was"
    );
    let refused = keeper.refused("rung give 1 1=G3 9=G4");
    assert!(
        refused.contains("no animal 9") && refused.contains("1, 2, 3"),
        "{refused}"
    );
    assert_eq!(keeper.json("rung list").len(), 2, "all or nothing");
    keeper.ok("book undo");
    assert_eq!(keeper.json("rung list").len(), 0);
    keeper.ok("book redo");
    assert_eq!(keeper.json("rung list").len(), 2);
    assert!(keeper.refused("rung give 7 1=G3").contains('7'));
    keeper
        .0
        .file("bad.csv", "scoop,animal,rung\n1,1,G9\n1,3,G2\n");
    assert!(keeper.refused("rung import bad.csv").contains("row 2"));
    assert_eq!(keeper.json("rung list").len(), 2);
}

#[test]
fn too_few_rungs_are_refused_with_what_is_missing() {
    let keeper = Keeper::new("eye-few");
    house(&keeper, 60);
    keeper.ok("rung import rungs.csv");
    let told = keeper.ok("teach R1");
    assert!(told.contains("60 more animals"), "{told}");
    let object = &keeper.json("teach R1")[0];
    assert_eq!(object["refused"][0]["code"], "too_few_animals");
    assert!(object["lesson"].is_null());
    assert!(keeper.refused("teach R1 --accept").contains("no proposal"));
}

#[test]
fn a_learned_ladder_is_proposed_accepted_and_taken_back() {
    let keeper = Keeper::new("eye-teach");
    keeper.0.file("house.toml", "rules = [\"red.toml\"]\n");
    keeper.0.file(
        "red.toml",
        catchcup::ladder::shelf::built_in_text("red").expect("built in"),
    );
    house(&keeper, 180);
    keeper.ok("rung import rungs.csv");
    // A statement that the imported scoops count for: the plan is declared before them.
    keeper.0.file(
        "plans.toml",
        "[[plan]]\ntank = \"A1\"\nrung = \"G4\"\npermille = 200\nconfidence_permille = 950\nlooks = 50\nper_look = 1\n\
         icc = 0.0\ndeclared = \"2025-12-31T00:00:00\"\n",
    );
    let before = std::fs::read_to_string(keeper.0.0.join("red.toml")).expect("the rules");
    let object = &keeper.json("teach R1 --by Ann")[0];
    let schema: Value = serde_json::from_str(EYE_SCHEMA).expect("the schema is JSON");
    assert_eq!(
        faults(object, &schema, &schema, "taught"),
        Vec::<String>::new()
    );
    let lesson = &object["lesson"];
    assert_eq!(lesson["proposed"], true, "{object}");
    statement_on_both_ladders(&keeper, lesson);
    let agreement = &lesson["agreement"];
    assert!(agreement["new"].as_f64() > agreement["old"].as_f64());
    // The cuts of that eye, known from how the table was made.
    for (rung, cut) in [("G2", 0.42), ("G3", 0.62), ("G4", 0.77), ("G5", 0.87)] {
        let limits = lesson["limits"].as_array().expect("limits");
        let limit = limits
            .iter()
            .find(|l| l["rung"] == rung && l["measure"] == "coverage")
            .expect("taught");
        let new = limit["new"].as_f64().expect("a number");
        assert!((new - cut).abs() < 0.05, "{rung}: {new}");
        let (low, high) = (
            limit["range"]["low"].as_f64(),
            limit["range"]["high"].as_f64(),
        );
        assert!(low.is_some_and(|low| low <= new) && high.is_some_and(|high| high >= new));
    }
    let unchanged = std::fs::read_to_string(keeper.0.0.join("red.toml")).expect("the rules");
    assert_eq!(unchanged, before, "nothing changes until accepted");
    let done = keeper.ok("teach R1 --by Ann --accept");
    assert!(done.contains("in force"), "{done}");
    let after = std::fs::read_to_string(keeper.0.0.join("red.toml")).expect("the rules");
    assert!(after != before && after.starts_with("# Limits learned from 180 animals"));
    let checked = keeper.0.run(&["rules", "check", "red.toml"]);
    assert!(checked.status.success(), "{checked:?}");
    let again = &keeper.json("teach R1 --by Ann")[0]["lesson"];
    assert_eq!(
        again["proposed"], false,
        "the new ladder has nothing left to gain"
    );
    let versions = keeper.ok("teach R1 --versions");
    assert_eq!(versions.lines().count(), 2, "{versions}");
    let first = versions.split_whitespace().next().expect("a digest");
    keeper.ok(&format!("teach R1 --take {first}"));
    let back = std::fs::read_to_string(keeper.0.0.join("red.toml")).expect("the rules");
    assert_eq!(back, before);
    assert!(
        keeper
            .refused("teach R1 --take ffffffffffff")
            .contains("no single text")
    );
}

/// The declared statement counts what stands at 85 % coverage now and at 77 % as learned, among the first 50 scoops.
fn statement_on_both_ladders(keeper: &Keeper, lesson: &Value) {
    let claims = lesson["claims"].as_array().expect("claims");
    assert_eq!(claims.len(), 1, "{lesson}");
    let coverage = |i: usize| 0.1 + 0.89 * ((i * 37) % 180) as f64 / 180.0;
    let at_least = |cut: f64| (0..50).filter(|i| coverage(*i) >= cut).count() as f64;
    let counts = |when: &str| claims[0][when]["counts"].as_f64().expect("a number");
    assert_eq!(claims[0]["now"]["judged"], 50);
    assert!((counts("now") - at_least(0.85)).abs() < 0.5, "{claims:?}");
    assert!((counts("then") - at_least(0.77)).abs() < 2.5, "{claims:?}");
    assert!(counts("then") > counts("now"), "{claims:?}");
    let text = keeper.ok("teach R1 --by Ann");
    assert!(text.contains("Statements being worked on"), "{text}");
    assert!(
        text.lines().all(|line| line.chars().count() <= 80),
        "{text}"
    );
}

#[test]
fn people_and_program_are_compared() {
    let keeper = Keeper::new("eye-agree");
    house(&keeper, 160);
    keeper.ok("rung import rungs.csv");
    let told = keeper.ok("agree R1");
    assert!(told.contains("Ben grades softer by"), "{told}");
    assert!(
        told.lines().all(|line| line.chars().count() <= 80),
        "{told}"
    );
    assert!(!told.contains("kappa") && keeper.ok("agree R1 --detail").contains("kappa"));
    let both = keeper.json("agree R1");
    let people = both
        .iter()
        .find(|c| c["first"]["who"] == "Ann")
        .expect("Ann and Ben");
    assert_eq!(
        (people["second"]["who"].as_str(), people["animals"].as_u64()),
        (Some("Ben"), Some(40))
    );
    assert_eq!(people["bias"]["called"], true);
    assert!(
        people["bias"]["shift"]
            .as_f64()
            .is_some_and(|s| (0.5..1.5).contains(&s))
    );
}

#[test]
fn tests_quizzes_sheets_and_families_on_the_invented_house() {
    let room = Room::new("eye-demo");
    let run = |args: &[&str]| {
        let output = room.command(args).output().expect("the command runs");
        let text = crate::support::room::out(&output);
        assert!(
            output.status.success(),
            "{args:?}: {}",
            crate::support::room::err(&output)
        );
        text
    };
    run(&["demo", "house", "--now", "2026-06-01 12:00"]);
    let at = |args: &[&str]| {
        let mut all = args.to_vec();
        all.extend(["--house", "house/house.toml", "--now", "2026-06-01 13:00"]);
        run(&all)
    };
    let schema: Value = serde_json::from_str(EYE_SCHEMA).expect("the schema is JSON");
    let mut kinds = BTreeSet::new();
    let mut check = |text: &str| -> Vec<Value> {
        let objects = crate::support::keeper::objects(text);
        for object in &objects {
            kinds.insert(object["schema"].as_str().unwrap_or("none").to_string());
            assert_eq!(
                faults(object, &schema, &schema, "object"),
                Vec::<String>::new()
            );
        }
        objects
    };
    let drawn = check(&at(&[
        "rung",
        "test",
        "red",
        "blind",
        "--animals",
        "6",
        "--json",
        "--who",
        "Tam",
    ]));
    let shown = drawn[0]["animals"].as_array().expect("animals").len();
    let pictures = std::fs::read_dir(room.0.join("blind"))
        .expect("a folder")
        .count();
    assert!(shown >= 5 && pictures == shown, "{shown} {pictures}");
    let answers = check(&at(&[
        "rung", "answer", "1", "1=G3", "2=G5", "--json", "--who", "Tam",
    ]));
    assert_eq!(
        (
            answers[0]["sitting"].as_i64(),
            answers[0]["blind"].as_bool()
        ),
        (Some(1), Some(true))
    );
    check(&at(&[
        "rung",
        "quiz",
        "R1",
        "quiz",
        "--animals",
        "3",
        "--json",
    ]));
    assert!(at(&["rung", "answer", "2", "1=G2"]).contains("scoop"));
    check(&at(&["rung", "list", "--json"]));
    check(&at(&["agree", "--json"]));
    check(&at(&["teach", "red", "--json"]));
    told_with_their_reasons(&at);
    let families = check(&at(&["rung", "families", "--json"]));
    let found = families[0]["families"].as_array().expect("families");
    // The invented house keeps red, blue, yellow, orange and black.
    assert!((5..=7).contains(&found.len()), "{}", found.len());
    for _ in 0..19 {
        assert_eq!(
            check(&at(&["rung", "families", "--json"])),
            families,
            "the same in every process"
        );
    }
    at(&["rung", "sheet", "R1", "wall"]);
    for rung in 0..=5 {
        let bytes = std::fs::read(room.0.join(format!("wall/red-G{rung}.jpg"))).expect("a sheet");
        assert!(bytes.len() > 10_000, "G{rung}: {}", bytes.len());
    }
    let described: BTreeSet<String> = schema["oneOf"]
        .as_array()
        .expect("a list")
        .iter()
        .filter_map(|rule| rule["$ref"].as_str()?.strip_prefix("#/$defs/"))
        .map(|kind| format!("catchcup.{kind}/1"))
        .collect();
    assert_eq!(kinds, described);
}

/// What is missing is said: ranges, animals of a test, halves of animals.
fn told_with_their_reasons(at: &dyn Fn(&[&str]) -> String) {
    let taught = at(&["teach", "red"]);
    let rows: Vec<&str> = taught
        .lines()
        .filter(|l| l.starts_with('G') && l.contains('%'))
        .collect();
    assert!(rows.len() >= 5, "{taught}");
    for row in rows {
        let range = row.rsplit("  ").next().unwrap_or("");
        assert!(
            range.contains(" to ")
                || range.starts_with("none")
                || range.starts_with("not learned")
                || range.starts_with("too few"),
            "{row}"
        );
    }
    let few = at(&["rung", "test", "red", "many", "--animals", "500"]);
    assert!(few.contains("Not 500: no more animals"), "{few}");
    // Counts at a rung follow from the table: by the middle of both rungs, halves at either side.
    let all = crate::support::keeper::objects(&at(&["agree", "--json"]));
    let text = at(&["agree"]);
    let mut called = 0;
    for found in &all {
        let cell = |i: usize, j: usize| found["table"][i][j].as_f64().unwrap_or(0.0);
        for rung in 0..6usize {
            let mut expected = 0.0;
            for i in 0..6usize {
                for j in 0..6usize {
                    let away = (i + j).abs_diff(2 * rung);
                    expected += match away {
                        0 => cell(i, j),
                        1 => cell(i, j) / 2.0,
                        _ => 0.0,
                    };
                }
            }
            let name = format!("G{rung}");
            let mut at_rung = found["by_rung"].as_array().expect("a list").iter();
            let Some(at_rung) = at_rung.find(|b| b["rung"] == name.as_str()) else {
                assert!(expected < 0.25, "{name}: {expected} left out");
                continue;
            };
            let said = at_rung["animals"].as_f64().expect("a number");
            assert!((said - expected).abs() < 1e-9, "{name}: {said} {expected}");
            let counted = format!(" at {name} ({expected} animals)");
            called += usize::from(text.replace("\n    ", " ").contains(&counted));
        }
    }
    assert!(called >= 3, "{text}");
}
