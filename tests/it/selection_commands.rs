//! The commands of breeder selection on a real photo and a book: what they say, their JSON and its schema, undo, resuming.

use std::fmt::Write;

use catchcup::report::SELECTION_SCHEMA;
use serde_json::Value;

use crate::record::faults;
use crate::support::keeper::Keeper;
use crate::support::root;

const PHOTO: &str = "sample-images/red-clear-to-solid_8-animals.jpg";

/// A keeper whose tank A1 has three past scoops of 20 females and 20 males each, and the photo of a cup, also turned upside
/// down.
pub fn keeper(name: &str) -> Keeper {
    let keeper = Keeper::new(name);
    let mut table = String::from("tank,date,scoop,sex,coverage,opacity,length_mm,rung\n");
    for scoop in 0..3 {
        for i in 0..40 {
            let (sex, mean, length) = if i % 2 == 0 {
                ("female", 0.72, 24.0)
            } else {
                ("male", 0.6, 19.0)
            };
            let step = f64::from((7 * i + 11 * scoop) % 20) - 9.5;
            let coverage = mean + 0.02 * step;
            let rung = if coverage > 0.8 { "G4" } else { "G3" };
            let _ = writeln!(
                table,
                "A1,2026-04-0{},{scoop},{sex},{coverage:.3},{:.3},{length},{rung}",
                scoop + 1,
                0.6 + 0.01 * step
            );
        }
    }
    keeper.0.file("past.csv", table);
    keeper.ok("book import past.csv");
    let bytes = std::fs::read(root().join(PHOTO)).expect("the sample image");
    let turned = image::load_from_memory(&bytes)
        .expect("a picture")
        .rotate180()
        .to_rgb8();
    let mut jpeg = Vec::new();
    image::codecs::jpeg::JpegEncoder::new_with_quality(&mut jpeg, 95)
        .encode_image(&turned)
        .expect("a JPEG");
    keeper.0.file("cup.jpg", bytes);
    keeper.0.file("turned.jpg", jpeg);
    keeper
}

#[test]
fn a_tank_is_sorted_cup_by_cup() {
    let keeper = keeper("sorting");
    let start = keeper.ok("sort start A1 --keep 3F 2M --tub 2 --about 60");
    assert!(start.contains("60 females and 60 males"), "{start}");
    assert!(
        start.contains("Never release") && start.contains("local law"),
        "{start}"
    );
    assert!(
        keeper
            .refused("sort start A1 --keep 3F 2M --about 60")
            .contains("being sorted")
    );
    let said = keeper.ok(
        "sort cup A1 cup.jpg --cup-mm 97 --sweeps 3 --sexes 1=female 2=female 3=female 4=female 5=male 6=male 7=male --overlay orders",
    );
    for word in [
        "cup 1",
        "KEEP",
        "MOVE OUT",
        "largest",
        "So far",
        "left in the tank",
    ] {
        assert!(said.contains(word), "{word}: {said}");
    }
    assert!(!said.to_lowercase().contains("kill"));
    assert!(
        said.lines().all(|line| line.chars().count() <= 80),
        "{said}"
    );
    assert!(keeper.0.0.join("orders/A1-cup-1.jpg").is_file());
    assert!(keeper.0.0.join("orders/A1-cup-1-animals.jpg").is_file());
    assert!(
        keeper
            .refused("sort cup A1 cup.jpg")
            .contains("in the book")
    );
    let before = keeper.json("sort show A1")[0]["tally"].clone();
    assert_eq!(before["cups"], 1);
    let filed = keeper.json("scoop list A1")[0]["animals"].clone();
    assert!(
        filed.as_array().is_some_and(|animals| animals.len() >= 8),
        "{filed}"
    );
    let again = keeper.json("sort cup A1 turned.jpg --cup-mm 97 --again");
    assert_eq!(again[0]["again"], true, "{again:?}");
    assert_eq!(
        keeper.json("sort show A1")[0]["tally"]["cups"],
        1,
        "the same cup, not another"
    );
    keeper.ok("book undo");
    assert_eq!(
        keeper.json("sort show A1")[0]["tally"],
        before,
        "the second photo is taken back"
    );
    keeper.ok("book undo");
    assert_eq!(keeper.json("sort show A1")[0]["tally"]["cups"], 0);
    keeper.ok("book redo");
    assert_eq!(keeper.json("sort show A1")[0]["tally"], before);
    let end = keeper.ok("sort finish A1");
    assert!(
        end.contains("ended") && end.contains("fewer than wanted"),
        "{end}"
    );
    assert!(
        keeper
            .refused("sort cup A1 turned.jpg")
            .contains("not being sorted")
    );
    keeper.ok("book undo");
    assert_eq!(keeper.json("sort show A1")[0]["state"], "under_way");
    assert_eq!(keeper.json("book check")[0]["in_order"], true);
}

/// Both photos of a cup count: the readings of an animal found again are averaged, so its uncertainty falls to 0.7 of one.
#[test]
fn a_second_photo_of_the_cup_finds_the_animals_again() {
    let keeper = keeper("again");
    keeper.ok("sort start A1 --keep 3F 2M --animals 60");
    let typical = |answer: &[Value]| {
        let all = answer[0]["animals"].as_array().expect("animals").iter();
        let read: Vec<f64> = all
            .filter_map(|a| a["worth"]["uncertainty"].as_f64())
            .collect();
        catchcup::stats::median(&read).expect("some are read")
    };
    let first =
        typical(&keeper.json("sort cup A1 cup.jpg --cup-mm 97 --sexes 1=female 2=female 3=female 4=female 5=male 6=male 7=male 8=male"));
    let both = typical(&keeper.json("sort cup A1 turned.jpg --cup-mm 97 --again"));
    assert!(both < 0.85 * first && both > 0.5 * first, "{first} {both}");
}

#[test]
fn answers_are_described_by_the_schema() {
    let schema: Value = serde_json::from_str(SELECTION_SCHEMA).expect("the schema is JSON");
    let keeper = keeper("schema");
    let commands = [
        "generation begin A1 F1 --females 12 --males 5 --on 2026-03-01",
        "sort start A1 --keep 3F 2M --tub 2 --about 60",
        "sort cup A1 cup.jpg --cup-mm 97 --wells 2x3 --left 40",
        "sort cup A1 turned.jpg --cup-mm 97 --sex female --last",
        "sort show A1",
        "sort finish A1",
        "rank A1 --keep 3F 2M --scoop 3",
        "rank A1 --young --scoop 3",
        "forecast A1 --keep 15F 10M --plot trade.svg",
        "plan R1 --keep 15F 10M --or 5F 2M --times 20 --animals 40 --generations 3 --plot plan.svg",
    ];
    let mut kinds = std::collections::BTreeSet::new();
    for command in &commands[1..] {
        let objects = keeper.json(command);
        assert!(!objects.is_empty(), "{command}");
        for object in objects {
            let wrong = faults(&object, &schema, &schema, "");
            assert!(wrong.is_empty(), "{command}: {wrong:?}\n{object}");
            kinds.insert(object["schema"].as_str().unwrap_or_default().to_string());
        }
    }
    assert_eq!(kinds.len(), 6, "{kinds:?}");
    for picture in ["trade.svg", "plan.svg"] {
        let svg = std::fs::read_to_string(keeper.0.0.join(picture)).expect("a picture");
        assert!(
            svg.starts_with("<svg") && svg.contains("</svg>") && !svg.contains("NaN"),
            "{picture}"
        );
    }
}

/// A table of a house's own records gives its heritability; three generations of response are needed.
#[test]
fn own_generations_give_a_heritability() {
    let keeper = keeper("own");
    let rows = [
        (0.0, 1.4),
        (0.44, 1.4),
        (0.83, 1.4),
        (1.27, 1.4),
        (1.66, 1.4),
        (2.1, 1.4),
    ];
    let table = |count: usize| {
        let mut text = String::from("mean,sd,measured,differential,females,males\n");
        for (mean, s) in &rows[..count] {
            let _ = writeln!(text, "{mean},1,150,{s},20,12");
        }
        text
    };
    keeper.0.file("own.csv", table(6));
    keeper.0.file("short.csv", table(3));
    keeper.0.file(
        "bad.csv",
        "mean,sd,measured,differential,females\n1,1,1,1,1\n",
    );
    let found =
        &keeper.json("forecast A1 --keep 15F 10M --table own.csv")[0]["realised_heritability"];
    let number = |key: &str| found[key].as_f64().expect("a number");
    assert!((number("value") - 0.3).abs() < 0.03, "{found}");
    assert!(
        number("low") < 0.3 && number("high") > 0.3 && found["told_from_zero"] == true,
        "{found}"
    );
    let said = keeper.ok("forecast A1 --keep 15F 10M --table short.csv");
    assert!(said.contains("2 with what was selected"), "{said}");
    assert!(
        said.lines().all(|line| line.chars().count() <= 80),
        "{said}"
    );
    assert!(
        keeper
            .refused("forecast A1 --keep 15F 10M --table bad.csv")
            .contains("column")
    );
    assert!(
        keeper
            .refused("forecast A1 --keep 500F 10M")
            .contains("500 females")
    );
}

#[test]
fn wrong_use_is_told_with_the_cure() {
    let keeper = keeper("wrong");
    assert!(keeper.refused("sort cup A1 cup.jpg").contains("sort start"));
    assert!(
        keeper
            .refused("sort start A1 --keep 3F 2M")
            .contains("--about")
    );
    assert!(
        keeper
            .refused("rank A1 --keep 3F 2M --scoop 99")
            .contains("99")
    );
    keeper.ok("line add R9 --ladder red");
    assert!(
        keeper
            .refused("plan R9 --keep 3F 2M")
            .contains("30 are needed")
    );
    let said = keeper.ok("plan R1 --keep 5F 3M --times 20 --animals 40 --generations 2");
    assert!(
        said.contains("diversity") && said.lines().all(|line| line.chars().count() <= 80),
        "{said}"
    );
}
