//! Statements, packing, prices, arrivals and proofs as a keeper runs them.

use catchcup::report::PROOF_SCHEMA;
use serde_json::Value;

use crate::record::faults;
use crate::support::keeper::{Keeper, brown, good, objects};
use crate::support::room::{err, out};
use crate::support::root;

const PRICES: &str = "schema = \"catchcup.prices/1\"\ncurrency = \"coins\"\n[[size]]\nname = \"all\"\nfrom_mm = 0\nG3 = \"1.00\"\nG4 = \"1.80\"\nG5 = \"3.20\"\n";

fn sample(name: &str) -> String {
    root()
        .join("sample-images")
        .join(name)
        .display()
        .to_string()
}

fn code(keeper: &Keeper, command: &str) -> i32 {
    let output = keeper.run(command);
    output
        .status
        .code()
        .unwrap_or_else(|| panic!("{command}: {}", err(&output)))
}

/// Scoops of good animals from two places settle a declared statement; those before the declaration do not count.
#[test]
fn a_declared_statement_is_settled_scoop_by_scoop() {
    let keeper = Keeper::new("howmany");
    let file = |name: &str, count| keeper.record(name, None, good(count));
    let early = file("early", 20);
    keeper.ok_at(
        "2026-05-01 10:00",
        &format!("scoop add A1 --record {early} --new --at \"2026-05-01 10:00\""),
    );
    keeper.ok_at(
        "2026-05-02 10:00",
        "howmany A1 --rung G4 --at-least 60 --declare",
    );
    assert!(keeper.refused("howmany").contains("--at-least"));
    let none = keeper.run("howmany A1 --json");
    assert_eq!(none.status.code(), Some(3));
    assert_eq!(objects(&out(&none))[0]["answer"], "more");
    let mut answers = Vec::new();
    for (i, place) in ["front", "back", "front"].iter().enumerate() {
        let record = file(&format!("r{i}"), 20);
        keeper.ok(&format!("scoop add A1 --record {record} --new --apart --at \"2026-05-0{} 09:00\" --remark place={place}", i + 3));
        let said = keeper.run("howmany A1 --json");
        let found = objects(&out(&said)).remove(0);
        assert_eq!(found["looks"].as_array().map(Vec::len), Some(i + 1));
        answers.push((
            found["answer"].as_str().expect("a word").to_string(),
            said.status.code(),
        ));
    }
    assert_eq!(
        answers.last(),
        Some(&("supported".to_string(), Some(0))),
        "{answers:?}"
    );
    keeper.ok("note quarantine A1 --until 2026-06-01");
    let held = keeper.run("howmany A1");
    assert_eq!(held.status.code(), Some(3));
    assert!(
        out(&held).contains("nothing may be stated"),
        "{}",
        out(&held)
    );
    assert!(keeper.refused("howmany B9").contains("B9"));
}

#[test]
fn packing_and_proof_of_a_sample() {
    let keeper = Keeper::empty("proof");
    let photo = sample("red-clear-to-solid_8-animals.jpg");
    let run = |words: &[&str]| keeper.0.run(words);
    let packed = run(&[
        "pack", &photo, "--line", "red", "--cup-mm", "97", "--rung", "G3", "--rings", "rings",
    ]);
    assert_eq!(packed.status.code(), Some(3));
    assert!(
        out(&packed).contains(" at G3 or better; swap the "),
        "{}",
        out(&packed)
    );
    assert!(
        keeper
            .0
            .0
            .join("rings/red-clear-to-solid_8-animals-swap.jpg")
            .is_file()
    );
    let make = [
        "proof",
        "make",
        &photo,
        "--line",
        "red",
        "--cup-mm",
        "97",
        "--lot",
        "L7",
        "--netted",
        "1m20s",
        "--whole",
        "--rung",
        "G1",
        "--keys",
        "keys",
        "--now",
        "2026-01-02 12:00",
        "--house",
    ];
    keeper.0.file("house.toml", "cup_mm = 97\n");
    let make = |at_least: &str, into: &str| {
        run(&[
            &make[..],
            &["house.toml", "--at-least", at_least, "--into", into],
        ]
        .concat())
    };
    let refused = make("80", "p0");
    assert_eq!(refused.status.code(), Some(3), "{}", err(&refused));
    assert!(!keeper.0.0.join("p0").exists());
    let made = make("20", "p1");
    assert_eq!(made.status.code(), Some(0), "{}{}", out(&made), err(&made));
    assert_eq!(
        make("20", "p1").status.code(),
        Some(2),
        "it is there already"
    );
    let page = std::fs::read_to_string(keeper.0.0.join("p1/page.html")).expect("a page");
    for word in ["verified", "certified", "guaranteed", "pure", "genuine"] {
        assert!(
            !page
                .to_lowercase()
                .replace("base64", "")
                .split("</style>")
                .nth(1)
                .expect("a body")
                .contains(word),
            "{word}"
        );
    }
    assert!(page.contains("Unchanged since signed on") && page.contains("no health certificate"));
    let shown = objects(&out(&run(&["proof", "key", "--keys", "keys", "--json"])));
    let print = shown[0]["fingerprint"]
        .as_str()
        .expect("a fingerprint")
        .to_string();
    let check = |more: &[&str]| {
        run(&[&["proof", "check", "p1", "--json"], more].concat())
            .status
            .code()
    };
    assert_eq!(check(&[]), Some(3));
    assert_eq!(check(&["--key", &print]), Some(0));
    assert_eq!(
        check(&["--key", &print, "--plain"]),
        Some(0),
        "without vector instructions"
    );
    assert_eq!(check(&["--key", &print, "--original", &photo]), Some(0));
    assert_eq!(
        check(&[
            "--key",
            &print,
            "--original",
            &sample("orange-beside-chart_6-animals.jpg")
        ]),
        Some(4)
    );
    assert_eq!(
        check(&["--key", "00000000000000000000000000000000"]),
        Some(5)
    );
    assert_eq!(check(&["--key", "abc"]), Some(2));
    replaced_keys(&keeper, &print);
    keeper.0.file("p1/more.txt", "x");
    assert_eq!(check(&["--key", &print]), Some(4));
    std::fs::remove_file(keeper.0.0.join("p1/more.txt")).expect("removed");
    #[cfg(unix)]
    {
        let photo = keeper.0.0.join("p1/photo.jpg");
        std::fs::rename(&photo, keeper.0.0.join("elsewhere.jpg")).expect("moved");
        std::os::unix::fs::symlink(keeper.0.0.join("elsewhere.jpg"), &photo).expect("a link");
        assert_eq!(check(&["--key", &print]), Some(4), "links are not followed");
    }
}

/// The key in good order, leaked, lost, and open to others.
fn replaced_keys(keeper: &Keeper, print: &str) {
    let run = |words: &[&str]| keeper.0.run(words);
    let new = run(&[
        "proof",
        "key",
        "--keys",
        "keys",
        "replace",
        "handover.json",
        "--json",
    ]);
    assert_eq!(new.status.code(), Some(0), "{}", err(&new));
    let make = [
        "proof",
        "make",
        &sample("red-clear-to-solid_8-animals.jpg"),
        "--line",
        "red",
        "--lot",
        "L8",
        "--into",
        "p2",
        "--keys",
        "keys",
    ];
    assert_eq!(run(&make).status.code(), Some(0));
    let check = |more: &[&str]| {
        run(&[&["proof", "check", "p2", "--key", print], more].concat())
            .status
            .code()
    };
    assert_eq!(check(&[]), Some(5));
    assert_eq!(check(&["--handover", "handover.json"]), Some(0));
    let key = keeper.0.0.join("keys/house.key");
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        let mode = |mode| {
            std::fs::set_permissions(&key, std::fs::Permissions::from_mode(mode)).expect("a mode")
        };
        let found = std::fs::metadata(&key).expect("a key").permissions().mode();
        assert_eq!(found & 0o777, 0o600);
        mode(0o644);
        let open = run(&["proof", "key", "--keys", "keys"]);
        assert_eq!(open.status.code(), Some(2));
        assert!(err(&open).contains("chmod 600"), "{}", err(&open));
        mode(0o600);
    }
    assert_eq!(
        run(&["proof", "key", "--keys", "keys", "replace", "--lost"])
            .status
            .code(),
        Some(2),
        "it is there"
    );
    std::fs::remove_file(&key).expect("lost");
    let missing = run(&["proof", "key", "--keys", "keys"]);
    assert_eq!(missing.status.code(), Some(2));
    assert!(err(&missing).contains("--lost"), "{}", err(&missing));
    assert_eq!(
        run(&["proof", "key", "--keys", "keys", "replace", "--lost"])
            .status
            .code(),
        Some(0)
    );
}

#[test]
fn every_object_is_described() {
    let schema: Value = serde_json::from_str(PROOF_SCHEMA).expect("the schema is JSON");
    let keeper = Keeper::new("proof-json");
    keeper.0.file("list.toml", PRICES);
    let record = keeper.record(
        "one",
        Some("2026-05-08T19:00:00"),
        [good(9), vec![brown(10)]].concat(),
    );
    let second = keeper.record("two", Some("2026-05-08T19:20:00"), good(12));
    keeper.ok(&format!("scoop add A1 --record {record} --new"));
    keeper.ok(&format!("scoop add A1 --record {second} --new"));
    let photo = sample("red-clear-to-solid_8-animals.jpg");
    let mut kinds = std::collections::BTreeSet::new();
    let commands = [
        "howmany --rung G4 --at-least 80".to_string(),
        "howmany A1 --rung G4 --at-least 60 --declare --count 60 --alike 0".into(),
        "howmany A1".into(),
        "price list --prices list.toml".into(),
        "price tank A1 --count 100 --prices list.toml".into(),
        format!("price lot {record} --prices list.toml"),
        "price like 1".into(),
        "arrival --lot 60".into(),
        "arrival A1 --lot 60 --rung G4 --on 2026-05-01".into(),
        "arrival A1 --lot 60 --rung G4 --on 2026-05-08".into(),
    ];
    let mut seen = |text: &str, command: &str| {
        let all = objects(text);
        assert!(!all.is_empty(), "{command}");
        for object in all {
            assert_eq!(
                faults(&object, &schema, &schema, ""),
                Vec::<String>::new(),
                "{command}: {object}"
            );
            kinds.insert(object["schema"].as_str().expect("a kind").to_string());
        }
    };
    for command in &commands {
        let output = keeper.run(&format!("{command} --json"));
        assert!(
            matches!(output.status.code(), Some(0 | 3)),
            "{command}: {}",
            err(&output)
        );
        seen(&out(&output), command);
        let text = keeper.run(command);
        assert!(
            out(&text).lines().all(|line| line.chars().count() <= 80),
            "{command}: {}",
            out(&text)
        );
    }
    for words in [
        &["pack", &photo, "--line", "red", "--json"][..],
        &[
            "proof", "make", &photo, "--line", "red", "--lot", "L1", "--into", "p", "--keys", "k",
            "--json",
        ],
        &["proof", "check", "p", "--json"],
        &["proof", "key", "--keys", "k", "--json"],
        &["proof", "compare", "p", &photo, "--json"],
    ] {
        let output = keeper.0.run(words);
        assert!(
            matches!(output.status.code(), Some(0 | 3)),
            "{words:?}: {}",
            err(&output)
        );
        seen(&out(&output), words[0]);
    }
    let described = schema["$defs"].as_object().expect("kinds").len();
    assert_eq!(kinds.len(), described, "{kinds:?}");
}

/// Rows of `price like` stand below their headings.
#[test]
fn like_scoops_stand_in_columns() {
    let keeper = Keeper::new("like");
    for (name, count) in [("one", 9), ("two", 12), ("three", 15)] {
        let record = keeper.record(name, None, good(count));
        keeper.ok(&format!("scoop add A1 --record {record} --new"));
    }
    let text = keeper.ok("price like 1");
    let head = text
        .lines()
        .find(|l| l.contains("rungs apart"))
        .expect("a heading");
    let end = head.find("rungs apart").expect("a column") + "rungs apart".len();
    let rows: Vec<&str> = text.lines().filter(|l| l.starts_with("  A1 ")).collect();
    assert_eq!(rows.len(), 2, "{text}");
    for row in rows {
        assert!(row[..end].ends_with(" %"), "{text}");
        assert!(row[end..].starts_with("  "), "{text}");
    }
}

#[test]
fn prices_are_exact_and_holds_are_not_for_sale() {
    let keeper = Keeper::new("price");
    keeper.0.file("list.toml", PRICES);
    let record = keeper.record("one", None, good(10));
    let worth =
        objects(&keeper.ok(&format!("price lot {record} --prices list.toml --json"))).remove(0);
    assert_eq!(worth["value"], "18.00", "{worth}");
    assert_eq!(code(&keeper, "price list"), 2, "no price list here");
    keeper.ok(&format!("scoop add A1 --record {record} --new"));
    assert!(keeper.ok("price list --prices list.toml").contains("1.80"));
    keeper.ok("note loss A1 4 --on 2026-05-08");
    assert!(
        keeper
            .ok("price list --prices list.toml")
            .contains("not for sale")
    );
    keeper.0.file(
        "soft.toml",
        catchcup::ladder::shelf::built_in_text("red")
            .expect("rules")
            .replace("at_least = 0.95", "at_least = 0.90"),
    );
    let moved = keeper.ok(&format!("price try soft.toml {record} --prices list.toml"));
    assert!(
        moved.contains("18.00") && moved.contains("present ladder"),
        "{moved}"
    );
    let start = keeper.ok("price start");
    keeper.0.file("started.toml", start);
    keeper.ok(&format!("price lot {record} --prices started.toml"));
}
