//! Import and export of the book: tables for spreadsheets, JSON objects, all or nothing.

use std::collections::BTreeMap;

use catchcup::book::table::{COLUMNS, read_table, unguarded};
use catchcup::report::csv::text;
use proptest::prelude::*;
use serde_json::Value;

use crate::support::keeper::{Keeper, brown, good, objects};
use crate::support::room::out;

const TABLE: &str =
    "tank,line,generation,date,scoop,no,sex,length_mm,coverage,opacity,evenness,hue_deg,chroma,rung
A7,red,F2,2024-03-01,s1,1,f,24.5,0.91,0.88,0.9,28.5,51.2,G4
A7,red,F2,2024-03-01,s1,2,male,19,0.55,,,31,,G2
A7,red,F3,2024-09-01 18:30,s2,1,,22,0.3,0.5,0.4,60,20,off-type
A8,,,2024-09-02,,,,,0.8,,,,,
";

fn imported(name: &str) -> Keeper {
    let keeper = Keeper::empty(name);
    keeper.0.file("past.csv", TABLE);
    let done = &keeper.json("book import past.csv")[0];
    assert_eq!(
        (done["scoops"].as_u64(), done["animals"].as_u64()),
        (Some(3), Some(4))
    );
    assert_eq!(done["new_tanks"], serde_json::json!(["A7", "A8"]));
    assert_eq!(done["new_lines"], serde_json::json!(["red"]));
    keeper
}

#[test]
fn past_records_become_tanks_lines_generations_and_scoops() {
    let keeper = imported("import");
    let scoops = keeper.json("scoop list A7");
    assert_eq!(scoops.len(), 2);
    let (last, first) = (&scoops[0], &scoops[1]);
    assert_eq!(
        (first["generation"].as_u64(), last["generation"].as_u64()),
        (Some(2), Some(3))
    );
    assert_eq!(
        (first["at"].as_str(), last["at"].as_str()),
        (Some("2024-03-01T12:00:00"), Some("2024-09-01T18:30:00"))
    );
    let animal = &first["animals"][0];
    assert_eq!(animal["sex"], "female");
    assert_eq!(animal["measures"]["coverage"]["value"], 0.91);
    assert_eq!(animal["measures"]["length_mm"]["value"], 24.5);
    assert_eq!(
        (animal["hue_deg"].as_f64(), animal["chroma"].as_f64()),
        (Some(28.5), Some(51.2))
    );
    assert_eq!(animal["rung"], "G4");
    assert_eq!(
        first["animals"][1]["measures"].get("opacity"),
        None,
        "an empty cell is no number"
    );
    assert_eq!(last["animals"][0]["off_ladder"], "off_type");
    assert!(
        keeper
            .refused("book import past.csv")
            .contains("row 2: this scoop was imported before")
    );
    keeper.ok("book undo");
    assert_eq!(
        keeper.json("tank list").len(),
        0,
        "an import is taken back whole"
    );
    keeper.ok("book import past.csv");
    assert!(keeper.ok("book check").contains("3 scoops with 4 animals"));
}

#[test]
fn faulty_tables_are_refused_whole_with_rows_and_columns() {
    let keeper = Keeper::empty("faulty");
    keeper.0.file(
        "columns.csv",
        "tank,date,covrage,shine\nA1,2024-01-01,0.5,1\n",
    );
    let said = keeper.refused("book import columns.csv");
    assert!(
        said.contains("covrage, shine") && said.contains("--leave-out-unknown"),
        "{said}"
    );
    keeper.0.file(
        "rows.csv",
        "tank,date,no,coverage,rung,sex\nA1,2024-01-01,1,0.5,G3,f\nA1,2024-13-01,2,0.5,G3,f\nA1,2024-01-01,2,85,G3,f\n\
         A1,2024-01-01,3,0.5,G9,f\n,2024-01-01,4,0.5,G3,f\nA1,2024-01-01,1,0.5,G3,f\nA1,2024-01-01,6,0.5\n",
    );
    let said = keeper.refused("book import rows.csv");
    for part in [
        "row 3: date is `2024-13-01`",
        "row 4: coverage is 85",
        "write 0.85",
        "row 5: rung is `G9`",
        "row 6: ",
        "row 7: animal 1 stands there twice",
        "row 8: ",
        "6 faulty rows, nothing was imported",
    ] {
        assert!(said.contains(part), "{part} in {said}");
    }
    assert!(!keeper.0.0.join("room.book").exists() || keeper.json("tank list").is_empty());
    keeper
        .0
        .file("line.csv", "tank,date,line\nA1,2024-01-01,R9\n");
    assert!(
        keeper
            .refused("book import line.csv")
            .contains("line add R9")
    );
    keeper.0.file("none.csv", "coverage\n0.5\n");
    assert!(
        keeper
            .refused("book import none.csv")
            .contains("no column `tank`")
    );
    keeper
        .0
        .file("columns.csv", "tank,date,covrage\nA1,2024-01-01,0.5\n");
    let done = &keeper.json("book import columns.csv --leave-out-unknown")[0];
    assert_eq!(done["left_out_columns"], serde_json::json!(["covrage"]));
}

#[test]
fn semicolons_and_decimal_commas_are_understood() {
    let table = read_table(
        "a.csv",
        "\u{feff}tank;date;coverage\r\nA1;2024-01-01;0,85\r\n",
        false,
    )
    .expect("it is read");
    let coverage = table.scoops[0].animals[0].coverage.map(|m| m.value);
    assert_eq!(coverage, Some(0.85));
}

#[test]
fn everything_is_exported_and_comes_back() {
    let keeper = Keeper::new("export");
    keeper.ok("tank edit A1 --place \"=cmd()\"");
    keeper.ok("note remark A1 \"@sum(a1)\"");
    keeper.ok("generation begin A1 F4 --on 2026-01-01");
    let file = keeper.record(
        "one",
        Some("2026-05-08T19:00:00"),
        [good(5), vec![brown(6)]].concat(),
    );
    keeper.ok(&format!("scoop add A1 --record {file}"));
    keeper.ok("book export out");
    let read = |name: &str| std::fs::read_to_string(keeper.0.0.join("out").join(name)).expect(name);
    // No cell that a spreadsheet would run as a formula (OWASP, "CSV Injection"); read by the general reader of the format.
    for name in [
        "tanks.csv",
        "notes.csv",
        "scoops.csv",
        "animals.csv",
        "lines.csv",
        "generations.csv",
        "conditions.csv",
        "trail.csv",
    ] {
        let table = read(name);
        let mut reader = ::csv::Reader::from_reader(table.as_bytes());
        for row in reader.records().map(|row| row.expect("a row")) {
            assert!(
                row.iter().all(|cell| !cell.starts_with(['=', '+', '@'])),
                "{name}: {row:?}"
            );
        }
    }
    assert!(read("tanks.csv").contains("'=cmd()") && read("notes.csv").contains("'@sum(a1)"));
    let kinds: Vec<String> = objects(&read("book.jsonl"))
        .iter()
        .map(|o| o["schema"].as_str().unwrap_or("").to_string())
        .collect();
    for kind in ["tank", "line", "note", "kept", "change"] {
        assert!(kinds.contains(&format!("catchcup.{kind}/1")), "{kind}");
    }
    // The table of animals goes into another book and gives the same numbers.
    let other = Keeper::empty("export-into");
    other.ok("line add R1 --ladder red");
    other.0.file("animals.csv", read("animals.csv"));
    other.ok("book import animals.csv --leave-out-unknown");
    let (from, to) = (
        keeper.json("scoop list")[0].clone(),
        other.json("scoop list")[0].clone(),
    );
    for field in ["tank", "line", "generation", "at"] {
        assert_eq!(from[field], to[field], "{field}");
    }
    let rows = |scoop: &Value| -> Vec<BTreeMap<String, Value>> {
        let animals = scoop["animals"].as_array().expect("animals");
        animals
            .iter()
            .map(|a| {
                let measures = ["length_mm", "coverage", "opacity", "evenness"];
                let mut row: BTreeMap<String, Value> = measures
                    .map(|m| (m.to_string(), a["measures"][m]["value"].clone()))
                    .into();
                for field in ["no", "sex", "hue_deg", "chroma", "rung", "off_ladder"] {
                    row.insert(field.into(), a[field].clone());
                }
                row
            })
            .collect()
    };
    assert_eq!(rows(&from), rows(&to));
}

#[test]
fn the_columns_of_the_import_are_those_of_the_export() {
    let keeper = imported("columns");
    keeper.ok("book export out");
    let table = std::fs::read_to_string(keeper.0.0.join("out/animals.csv")).expect("the table");
    let first: Vec<&str> = table.lines().next().unwrap_or("").split(',').collect();
    assert_eq!(first[..COLUMNS.len()], COLUMNS);
    assert!(out(&keeper.run("book check")).contains("in order"));
}

proptest! {
    /// Any text is the same after it went into a cell and came back.
    #[test]
    fn guarded_cells_come_back(cell in "['=+@a\t-]{0,6}") {
        let guarded = text(&cell);
        prop_assert!(!guarded.starts_with(['=', '+', '-', '@', '\t']));
        prop_assert_eq!(unguarded(&guarded), cell);
    }
}
