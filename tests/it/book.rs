//! The book as a keeper uses it every week: tanks, lines, notes, scoops, alarms, taking back.

use crate::support::keeper::{Keeper, brown, good};
use crate::support::room::{err, out};

#[test]
fn tanks_are_added_shown_changed_and_retired() {
    let keeper = Keeper::empty("tanks");
    assert!(
        keeper.refused("tank list").contains("tank add"),
        "the cure begins a book"
    );
    keeper.ok("tank add a3 --line red --place \"left rack\" --litres 25 --since 2026-01-02");
    let tank = &keeper.json("tank show A3")[0];
    assert_eq!(tank["tank"], "a3");
    assert_eq!(
        tank["line"], "red",
        "a ladder's name is a line's name where none is noted"
    );
    assert_eq!(tank["ladder"], "red");
    assert_eq!(tank["litres"], 25.0);
    assert_eq!(tank["since"], "2026-01-02");
    assert!(
        keeper.refused("tank add A3").contains("a3"),
        "capital or small is the same"
    );
    assert!(keeper.refused("tank add \"a b\"").contains("a b"));
    assert!(
        keeper
            .refused("tank add B1 --line nosuch")
            .contains("nosuch")
    );
    assert!(
        keeper.refused("tank show B9").contains("a3"),
        "the tanks there are, are named"
    );
    keeper.ok("tank edit a3 --code A4 --place \"right rack\"");
    let page = keeper.ok("tank show a4");
    assert!(
        page.contains("A4") && page.contains("right rack") && page.contains("25 litres"),
        "{page}"
    );
    keeper.ok("tank retire A4 --on 2026-05-01");
    assert_eq!(keeper.json("tank list").len(), 0);
    assert_eq!(keeper.json("tank list --all")[0]["retired"], "2026-05-01");
    keeper.ok("tank retire A4 --again");
    assert_eq!(keeper.json("tank list").len(), 1);
}

#[test]
fn a_line_is_a_family_tree() {
    let keeper = Keeper::new("lines");
    for tank in ["A2", "A3", "B1"] {
        keeper.ok(&format!("tank add {tank} --line R1 --since 2025-01-01"));
    }
    keeper.ok(
        "generation begin A1 founders --females 8 --males 4 --origin \"a swap\" --on 2025-01-01",
    );
    keeper.ok("generation begin A2 F1 --from A1 --on 2025-06-01");
    keeper.ok("generation begin A3 F1 --from A1 --on 2025-06-10");
    keeper.ok("generation begin B1 F2 --from A2 --from A3 --females 12 --males 5 --on 2025-12-01");
    let tree = keeper.ok("line show r1");
    let depth = |start: &str| {
        let line = tree.lines().find(|l| l.trim_start().starts_with(start));
        let line = line.unwrap_or_else(|| panic!("no {start} in\n{tree}"));
        line.len() - line.trim_start().len()
    };
    assert!(depth("founders of R1 in tank A1") < depth("F1 of R1 in tank A2"));
    assert_eq!(depth("F1 of R1 in tank A2"), depth("F1 of R1 in tank A3"));
    assert!(depth("F1 of R1 in tank A2") < depth("F2 of R1 in tank B1"));
    let generations = keeper.json("generation list R1");
    assert_eq!(generations.len(), 4);
    let last = generations.iter().find(|g| g["tank"] == "B1").expect("F2");
    assert_eq!(last["parents"], serde_json::json!(["A2", "A3"]));
    assert_eq!(
        (last["females"].as_u64(), last["males"].as_u64()),
        (Some(12), Some(5))
    );
    assert!(keeper.refused("generation begin C1 F1").contains("C1"));
    assert_eq!(keeper.json("tank show B1")[0]["generation"]["number"], 2);
}

#[test]
fn holds_are_told_wherever_the_tank_is_shown() {
    let keeper = Keeper::new("holds");
    let told = |word: &str| {
        for command in ["tank list", "tank show A1"] {
            assert!(keeper.ok(command).contains(word), "{command} says {word}");
        }
    };
    let loss = keeper.ok("note loss A1 1 --on 2026-05-02");
    assert!(loss.contains("1 lost within 7 days"), "{loss}");
    told("watch this tank");
    assert_eq!(keeper.json("tank show A1")[0]["stop_selling"], false);
    keeper.ok("note loss A1 2 \"after the water change\"");
    told("HOLD: 3 lost within 7 days");
    assert_eq!(keeper.json("tank show A1")[0]["stop_selling"], true);
    let week_later = keeper.ok_at("2026-05-20", "tank show A1");
    assert!(!week_later.contains("HOLD"), "{week_later}");
    keeper.ok("note quarantine A1 --until 2026-06-01 \"new animals\"");
    told("in quarantine until 2026-06-01");
    keeper.ok_at("2026-05-21", "note release A1");
    assert!(!keeper.ok_at("2026-05-21", "tank show A1").contains("HOLD"));
    assert!(
        keeper
            .refused("note quarantine A1 --until 2026-05-08")
            .contains("later day")
    );
    keeper.ok("note moved-out A1 20 --to \"a shop\"");
    keeper.ok("note treatment A1 \"salt bath\"");
    let notes = keeper.json("note list A1");
    assert_eq!(notes.len(), 6);
    assert!(
        notes
            .iter()
            .any(|n| n["note"] == "moved-out" && n["count"] == 20 && n["other"] == "a shop")
    );
    // The house's own numbers.
    keeper.0.file(
        "house.toml",
        "loss_days = 30\nloss_warns = 4\nloss_stops = 5\n",
    );
    assert_eq!(
        keeper.json("tank show A1")[0]["holds"]
            .as_array()
            .map(Vec::len),
        Some(1)
    );
}

#[test]
fn a_scoop_is_filed_with_all_its_numbers() {
    let keeper = Keeper::new("scoop");
    keeper.ok("generation begin A1 F3 --on 2026-04-01");
    keeper.ok("condition set room lamp \"white tubes\" --since 2026-01-01");
    keeper.ok("condition set A1 floor black sand --since 2026-03-01");
    let file = keeper.record("one", Some("2026-05-08T19:00:00"), good(7));
    let filed = &keeper.json(&format!("scoop add A1 --record {file}"))[0];
    assert_eq!(
        (filed["filed"].as_bool(), filed["animals"].as_u64()),
        (Some(true), Some(7))
    );
    let number = filed["scoop"].as_i64().expect("a number");
    let kept = &keeper.json(&format!("scoop show {number}"))[0];
    let record = std::fs::read_to_string(keeper.0.0.join(&file)).expect("the record");
    let record: serde_json::Value = serde_json::from_str(&record).expect("JSON");
    for (kept, given) in kept["animals"]
        .as_array()
        .expect("animals")
        .iter()
        .zip(record["animals"].as_array().expect("animals"))
    {
        for measure in [
            "coverage",
            "opacity",
            "evenness",
            "length_mm",
            "line_de00",
            "brown_share",
        ] {
            assert_eq!(
                kept["measures"][measure]["value"], given[measure],
                "{measure}"
            );
            assert_eq!(
                kept["measures"][measure]["uncertainty"], given["uncertainty"][measure],
                "{measure}"
            );
        }
        for field in [
            "no",
            "sex",
            "view",
            "bbox",
            "coverage_thirds",
            "withheld",
            "flags",
            "rung",
            "between",
            "chances",
        ] {
            assert_eq!(kept[field], given[field], "{field}");
        }
        assert_eq!(kept["lab"], given["colour"]["lab"]);
    }
    assert_eq!(kept["at"], "2026-05-08T19:00:00");
    assert_eq!(
        (kept["who"].as_str(), kept["generation"].as_u64()),
        (Some("tester"), Some(3))
    );
    assert_eq!(
        kept["conditions"],
        serde_json::json!({"floor": "black sand", "lamp": "white tubes"})
    );
    assert_eq!(kept["ladder_sha256"], record["ladder"]["sha256"]);
    let page = keeper.ok(&format!("scoop show {number}"));
    assert!(page.contains("black sand") && page.contains("F3"), "{page}");
}

#[test]
fn the_same_photo_and_the_same_scoop_are_noticed() {
    let keeper = Keeper::new("twice");
    let one = keeper.record("one", Some("2026-05-08T19:00:00"), good(7));
    let two = keeper.record("two", Some("2026-05-08T19:04:00"), good(7));
    keeper.ok(&format!("scoop add A1 --record {one}"));
    let again = keeper.run(&format!("scoop add A1 --record {one}"));
    assert_eq!(again.status.code(), Some(1));
    assert!(
        out(&again).contains("this very photo is in the book"),
        "{}",
        out(&again)
    );
    // Nobody can be asked here: refused with the options to give, never left hanging.
    let asked = keeper.run(&format!("scoop add A1 --record {two}"));
    assert_eq!(asked.status.code(), Some(1));
    let said = out(&asked);
    assert!(
        said.contains("--same") && said.contains("--new") && said.contains("sizes agree"),
        "{said}"
    );
    assert_eq!(keeper.json("scoop list A1").len(), 1);
    let filed = &keeper.json(&format!("scoop add A1 --record {two} --same"))[0];
    assert_eq!(filed["second_of"], 1);
    assert_eq!(
        keeper.json("tank show A1")[0]["scoops"],
        1,
        "the same animals are not counted twice"
    );
    let three = keeper.record("three", Some("2026-05-08T19:08:00"), good(7));
    assert_eq!(
        keeper.json(&format!("scoop add A1 --record {three} --new"))[0]["second_of"],
        serde_json::Value::Null
    );
    let later = keeper.record("later", Some("2026-05-08T19:40:00"), good(7));
    keeper.ok(&format!("scoop add A1 --record {later}"));
    assert_eq!(keeper.json("tank show A1")[0]["scoops"], 3);
}

#[test]
fn the_first_off_type_and_the_wrong_tank_are_alarms() {
    let keeper = Keeper::new("alarms");
    let clean = keeper.record("clean", Some("2026-04-01T19:00:00"), good(7));
    let first = keeper.record(
        "first",
        Some("2026-05-01T19:00:00"),
        [good(6), vec![brown(7)]].concat(),
    );
    let second = keeper.record(
        "second",
        Some("2026-05-08T19:00:00"),
        [vec![brown(1)], good(6).split_off(1)].concat(),
    );
    assert!(
        !keeper
            .ok(&format!("scoop add A1 --record {clean} --who Ada"))
            .contains("ALARM")
    );
    let said = keeper.ok(&format!("scoop add A1 --record {first}"));
    assert!(
        said.starts_with("ALARM: off-type: animal 7; never seen in tank A1 before"),
        "{said}"
    );
    let said = keeper.json(&format!("scoop add A1 --record {second}"));
    assert_eq!(said[0]["alarms"][0]["code"], "off_type");
    let message = said[0]["alarms"][0]["message"].as_str().unwrap_or("");
    assert!(
        message.contains("last seen in tank A1 7 days ago (scoop 2)"),
        "{message}"
    );
    assert!(keeper.ok("tank show A1").contains("off-type last seen"));
    // Every animal off-type: rather the wrong tank.
    let wrong = keeper.record(
        "wrong",
        Some("2026-05-15T19:00:00"),
        (1..=6).map(brown).collect(),
    );
    let refused = keeper.run(&format!("scoop add A1 --record {wrong}"));
    assert_eq!(refused.status.code(), Some(1));
    let said = out(&refused);
    assert!(
        said.contains("6 of 6 animals are off-type") && said.contains("--tank-sure"),
        "{said}"
    );
    assert_eq!(
        keeper.json("scoop list A1").len(),
        3,
        "nothing was filed silently"
    );
    keeper.ok(&format!("scoop add A1 --record {wrong} --tank-sure"));
    assert_eq!(keeper.json("scoop list A1").len(), 4);
}

#[test]
fn every_change_can_be_taken_back_and_leaves_a_trail() {
    let keeper = Keeper::new("undo");
    keeper.ok("tank edit A1 --litres 30 --place here");
    let before = keeper.json("tank show A1")[0].clone();
    let file = keeper.record("one", None, good(3));
    keeper.ok(&format!("scoop add A1 --record {file} --apart"));
    assert_eq!(keeper.json("scoop show 1")[0]["kept_apart"], true);
    keeper.ok("scoop edit 1 --put-back --remark \"jumpy\"");
    keeper.ok("scoop remove 1");
    keeper.ok("tank edit A1 --litres 60");
    assert!(keeper.refused("scoop show 1").contains("no scoop 1"));
    keeper.ok("book undo");
    keeper.ok("book undo");
    let scoop = &keeper.json("scoop show 1")[0];
    assert_eq!(
        (scoop["kept_apart"].as_bool(), scoop["remark"].as_str()),
        (Some(false), Some("jumpy"))
    );
    assert_eq!(scoop["animals"].as_array().map(Vec::len), Some(3));
    keeper.ok("book undo");
    assert_eq!(keeper.json("scoop show 1")[0]["kept_apart"], true);
    keeper.ok("book undo");
    assert_eq!(keeper.json("tank show A1")[0], before);
    assert!(
        keeper
            .ok("book redo")
            .contains("filed a scoop of 3 animals")
    );
    assert_eq!(keeper.json("scoop list A1").len(), 1);
    keeper.ok("note remark A1 \"a new change\"");
    assert!(
        keeper
            .refused("book redo")
            .contains("nothing to bring back")
    );
    let trail = keeper.json("book trail");
    assert!(
        trail
            .iter()
            .all(|entry| entry["who"] == "tester" && entry["at"] == "2026-05-08T20:00:00")
    );
    let what = |entry: &serde_json::Value| entry["what"].as_str().unwrap_or("").to_string();
    assert_eq!(
        what(&trail[0]),
        "noted for tank A1: remark a new change on 2026-05-08"
    );
    assert_eq!(
        trail
            .iter()
            .filter(|e| what(e).starts_with("took back"))
            .count(),
        4
    );
    assert_eq!(trail.iter().filter(|e| e["taken_back"] == true).count(), 3);
    for _ in 0..5 {
        keeper.ok("book undo");
    }
    assert!(keeper.refused("book undo").contains("nothing to take back"));
    assert!(keeper.ok("book check").contains("in order"));
}

#[test]
fn a_photo_is_graded_filed_and_kept_under_its_digest() {
    let keeper = Keeper::new("photo");
    let sample = crate::support::truth::sample("red-clear");
    let photo = keeper.0.file("scoop.jpg", sample.bytes());
    let said = keeper.ok("scoop add A1 scoop.jpg --cup-mm 96.87 --netted 1m40s");
    assert!(
        said.contains("filed as scoop 1 of tank A1") && said.contains("Ladder"),
        "{said}"
    );
    let scoop = &keeper.json("scoop show 1")[0];
    let sha256 = scoop["photo_sha256"]
        .as_str()
        .expect("a digest")
        .to_string();
    assert_eq!(scoop["netted_seconds"], 100);
    let kept = keeper
        .0
        .0
        .join(format!("room.book-photos/{}/{sha256}.jpg", &sha256[..2]));
    assert_eq!(
        std::fs::read(&kept).expect("the kept photo"),
        std::fs::read(photo).expect("the photo")
    );
    let check = &keeper.json("book check")[0];
    assert_eq!(
        (check["photos"].as_u64(), check["in_order"].as_bool()),
        (Some(1), Some(true))
    );
    std::fs::write(&kept, "spoiled").expect("it is written");
    let output = keeper.run("book check");
    assert_eq!(output.status.code(), Some(1));
    assert!(
        out(&output).contains("changed or damaged"),
        "{}",
        out(&output)
    );
    std::fs::remove_file(&kept).expect("it is removed");
    assert!(out(&keeper.run("book check")).contains("is missing"));
    // The blue sample in a red line's tank.
    keeper
        .0
        .file("blue.jpg", crate::support::truth::sample("blue").bytes());
    keeper.ok("tank add B2 --line blue");
    let output = keeper.run("scoop add A1 blue.jpg --cup-mm 90.28 --at \"2026-05-09 10:00\"");
    assert_eq!(output.status.code(), Some(1), "{}", out(&output));
    let said = out(&output)
        .split_whitespace()
        .collect::<Vec<_>>()
        .join(" ");
    assert!(
        said.contains("off-type for R1") && said.contains("lives in B2"),
        "{said}"
    );
    let output = keeper.run("scoop add A1 nosuch.jpg");
    assert_eq!(output.status.code(), Some(1));
    assert!(out(&output).contains("nosuch.jpg: not filed") && err(&output).is_empty());
    keeper.ok("tank retire A1");
    assert!(keeper.refused("scoop add A1 scoop.jpg").contains("--again"));
}
