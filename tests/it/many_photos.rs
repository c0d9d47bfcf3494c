//! A whole evening's photos in one command: folders, the table for spreadsheets, pictures of single animals.

use std::collections::BTreeSet;

use catchcup::report::csv;

use crate::support::room::{Room, err, out};
use crate::support::truth::sample;

/// A folder with one sample and one photo of nothing.
fn evening(name: &str) -> Room {
    let room = Room::new(name);
    let red = sample("red-mostly-clear").bytes();
    room.file("evening/2.jpg", red);
    room.white_photo("evening/1.png");
    room.file("evening/.2.jpg", "left by a computer");
    room.file("evening/notes.txt", "no photo");
    room.white_photo("evening/deeper/3.png");
    room
}

#[test]
fn a_folder_stands_for_its_photos_by_name() {
    let room = evening("folder");
    let output = room.run(&["grade", "--json", "--line", "red", "evening"]);
    assert_eq!(output.status.code(), Some(0), "{}", err(&output));
    let files: Vec<String> = out(&output)
        .lines()
        .map(|line| {
            let record: serde_json::Value = serde_json::from_str(line).expect("JSON");
            record["photo"]["file"].as_str().unwrap_or("").to_string()
        })
        .collect();
    assert_eq!(files, ["1.png", "2.jpg"]);
}

#[test]
fn the_table_holds_the_numbers_of_the_record() {
    let room = evening("csv");
    room.file("evening/bad.jpg", "no photo at all");
    let table = room.run(&["grade", "--csv", "--line", "red", "evening"]);
    assert_eq!(table.status.code(), Some(1));
    assert!(err(&table).contains("bad.jpg: "), "{}", err(&table));
    let records = out(&room.run(&["grade", "--json", "--line", "red", "evening"]));
    let animals: Vec<serde_json::Value> = records
        .lines()
        .map(|line| serde_json::from_str::<serde_json::Value>(line).expect("JSON"))
        .flat_map(|record| record["animals"].as_array().cloned().unwrap_or_default())
        .collect();
    // Read by the general-purpose reader of the format (RFC 4180), not by ours.
    let text = out(&table);
    let mut reader = ::csv::Reader::from_reader(text.as_bytes());
    let headings: Vec<String> = reader
        .headers()
        .expect("headings")
        .iter()
        .map(str::to_string)
        .collect();
    let rows: Vec<::csv::StringRecord> = reader.records().map(|row| row.expect("a row")).collect();
    assert_eq!(rows.len(), animals.len());
    assert!(rows.len() >= 8, "the sample has nine animals");
    assert_eq!(
        headings.iter().collect::<BTreeSet<_>>().len(),
        headings.len()
    );
    for (row, animal) in rows.iter().zip(&animals) {
        let cell = |name: &str| {
            let at = headings.iter().position(|h| h == name).expect(name);
            row[at].to_string()
        };
        for name in [
            "no",
            "coverage",
            "opacity",
            "evenness",
            "length_mm",
            "clear_window",
        ] {
            assert_eq!(
                cell(name).parse::<f64>().ok(),
                animal[name].as_f64(),
                "{name}"
            );
        }
        assert_eq!(
            cell("coverage_uncertainty").parse::<f64>().ok(),
            animal["uncertainty"]["coverage"].as_f64()
        );
        assert_eq!(cell("rung"), animal["rung"].as_str().unwrap_or(""));
        assert_eq!(cell("photo"), "2.jpg");
    }
}

/// Cells that begin so are run as formulas by spreadsheets (OWASP, "CSV Injection").
#[test]
fn no_cell_of_text_is_a_formula() {
    for text in ["=1+1", "+1", "-1", "@sum(a1)", "\t=1", "\r=1"] {
        assert_eq!(csv::text(text), format!("'{text}"));
    }
    let room = Room::new("formula");
    let red = sample("red-mostly-clear").bytes();
    room.file("=cmd.jpg", red);
    let text = out(&room.run(&["grade", "--csv", "--line", "red", "./=cmd.jpg"]));
    assert!(
        text.lines().count() > 5
            && text
                .lines()
                .skip(1)
                .all(|row| row.starts_with("'=cmd.jpg,")),
        "{text}"
    );
}

#[test]
fn every_animal_gets_a_picture_and_all_a_sheet() {
    let room = evening("crops");
    let output = room.run(&[
        "grade", "--line", "red", "--cup-mm", "87.22", "--crops", "single", "--json", "evening",
    ]);
    assert_eq!(output.status.code(), Some(0), "{}", err(&output));
    let last = out(&output)
        .lines()
        .last()
        .map(str::to_string)
        .expect("two records");
    let record: serde_json::Value = serde_json::from_str(&last).expect("JSON");
    let count = record["animals"].as_array().map_or(0, Vec::len);
    let names: BTreeSet<String> = std::fs::read_dir(room.0.join("single"))
        .expect("the folder is made")
        .map(|entry| {
            entry
                .expect("an entry")
                .file_name()
                .to_string_lossy()
                .into_owned()
        })
        .collect();
    let mut expected: BTreeSet<String> = (1..=count).map(|no| format!("2-{no:02}.jpg")).collect();
    expected.insert("2-sheet.jpg".to_string());
    assert_eq!(names, expected);
    for name in names {
        let picture = image::open(room.0.join("single").join(&name)).expect("a picture");
        assert!(picture.width() >= 500, "{name}");
    }
}

#[test]
fn photos_at_once_or_one_by_one_give_the_same_bytes() {
    let room = evening("at-once");
    let run = |threads: &str| {
        room.run(&[
            "grade",
            "--json",
            "--line",
            "red",
            "--threads",
            threads,
            "evening",
        ])
        .stdout
    };
    assert_eq!(run("1"), run("3"));
}
