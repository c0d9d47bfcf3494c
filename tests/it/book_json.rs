//! Everything that the commands of the book print with `--json` is described by its schema.

use std::collections::BTreeSet;

use catchcup::report::BOOK_SCHEMA;
use serde_json::Value;

use crate::record::faults;
use crate::support::keeper::{Keeper, brown, good, objects};
use crate::support::room::out;

#[test]
fn every_object_is_described() {
    let schema: Value = serde_json::from_str(BOOK_SCHEMA).expect("the schema is JSON");
    let keeper = Keeper::new("json");
    let mixed = keeper.record(
        "one",
        Some("2026-05-08T19:00:00"),
        crate::record_scoop::full_scoop()
            .animals
            .into_iter()
            .map(|a| a.measures)
            .collect(),
    );
    let off = keeper.record("two", None, [good(6), vec![brown(7)]].concat());
    keeper.0.file(
        "past.csv",
        "tank,date,coverage,shine\nB1,2024-01-01,0.5,1\n",
    );
    let commands = [
        "line add R2 --ladder blue --title \"dark\"".to_string(),
        "line edit R2 --ended 2026-05-01".into(),
        "generation begin A1 founders --females 3 --origin shop --on 2026-01-01".into(),
        "condition set A1 floor black".into(),
        "condition set room lamp white".into(),
        "note loss A1 4 --on 2026-05-07".into(),
        "note quarantine A1 --until 2026-06-01".into(),
        format!("scoop add A1 --record {mixed}"),
        format!("scoop add A1 --record {off} --new"),
        "scoop edit 1 --apart".into(),
        "rung give 1 1=G4 --blind".into(),
        "scoop correct 1 1=male 2=two-animals --looked-through".into(),
        "scoop errors".into(),
        "book import past.csv --leave-out-unknown".into(),
        "scoop list".into(),
        "scoop show 2".into(),
        "tank list".into(),
        "tank show A1".into(),
        "tank edit A1 --litres 30".into(),
        "tank retire B1".into(),
        "tank tags tags.svg".into(),
        "line list".into(),
        "line show R1".into(),
        "generation list".into(),
        "condition list A1".into(),
        "note list".into(),
        "book check".into(),
        "book backup copy.book".into(),
        "book undo".into(),
        "book redo".into(),
        "book trail".into(),
        "book export out".into(),
        "scoop remove 2".into(),
        "book restore copy.book".into(),
    ];
    let mut kinds = BTreeSet::new();
    let mut look = |what: &str, object: &Value| {
        kinds.insert(object["schema"].as_str().unwrap_or("none").to_string());
        let found = faults(object, &schema, &schema, what);
        assert!(found.is_empty(), "{found:#?}");
    };
    for command in &commands {
        for object in keeper.json(command) {
            look(command, &object);
        }
    }
    let refused = keeper.run(&format!("scoop add A1 --record {mixed} --json"));
    objects(&out(&refused))
        .iter()
        .for_each(|object| look("refused", object));
    let everything =
        std::fs::read_to_string(keeper.0.0.join("out/book.jsonl")).expect("the export");
    objects(&everything)
        .iter()
        .for_each(|object| look("export", object));
    let described: BTreeSet<String> = schema["oneOf"]
        .as_array()
        .expect("a list")
        .iter()
        .filter_map(|rule| rule["$ref"].as_str()?.strip_prefix("#/$defs/"))
        .map(|kind| format!("catchcup.{kind}/1"))
        .collect();
    assert_eq!(kinds, described);
    assert_eq!(keeper.ok("book schema"), BOOK_SCHEMA);
}
