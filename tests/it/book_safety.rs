//! The book when something goes wrong: killed while filing, several at once, copies, old versions.

use std::io::{BufRead, BufReader};
use std::process::Stdio;

use serde_json::Value;

use crate::support::keeper::{Keeper, NOW, good, objects, record};
use crate::support::room::{err, out};
use crate::support::root;

/// Scoops in a file of records, and animals in each.
const SCOOPS: usize = 25;
const ANIMALS: usize = 3;

/// A file with records of its own, all on one evening.
fn records(keeper: &Keeper, name: &str) -> String {
    let file = format!("{name}.jsonl");
    let text: String = (0..SCOOPS)
        .map(|i| {
            record(
                &format!("{name}-{i}"),
                Some("2026-05-08T19:00:00"),
                good(ANIMALS as u32),
            )
        })
        .collect();
    keeper.0.file(&file, text);
    file
}

/// The arguments that file those records.
fn filing(file: &str) -> [&str; 12] {
    [
        "scoop",
        "add",
        "A1",
        "--record",
        file,
        "--new",
        "--json",
        "--book",
        "room.book",
        "--who",
        "tester",
        "--now",
    ]
}

/// `kill -9` after each possible number of confirmed scoops, over and over, a hundred times and more.
#[test]
fn killed_while_filing_every_confirmed_scoop_is_there_whole() {
    let keeper = Keeper::new("killed");
    let (mut confirmed, mut in_the_middle) = (Vec::new(), 0);
    for round in 0..105usize {
        let file = records(&keeper, &format!("k{round}"));
        let mut child = keeper
            .0
            .command(&filing(&file))
            .arg(NOW)
            .stdin(Stdio::null())
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .expect("the command runs");
        let mut lines = BufReader::new(child.stdout.take().expect("a pipe")).lines();
        let mut said: Vec<String> = lines
            .by_ref()
            .take(round % SCOOPS)
            .map(|l| l.expect("text"))
            .collect();
        std::thread::sleep(std::time::Duration::from_micros(700 * (round as u64 % 7)));
        child.kill().expect("it is killed");
        child.wait().expect("it has ended");
        said.extend(lines.map_while(Result::ok));
        // A line that was cut off confirms nothing.
        let numbers = said
            .iter()
            .filter_map(|line| serde_json::from_str::<Value>(line).ok()?["scoop"].as_i64());
        let before = confirmed.len();
        confirmed.extend(numbers);
        in_the_middle += usize::from((1..SCOOPS).contains(&(confirmed.len() - before)));
        if round % 15 == 0 {
            assert_eq!(keeper.json("book check")[0]["in_order"], true);
        }
    }
    assert!(
        in_the_middle >= 60,
        "{in_the_middle} were killed in the middle"
    );
    let scoops = keeper.json("scoop list A1 --last 100000");
    let there: Vec<i64> = scoops.iter().filter_map(|s| s["scoop"].as_i64()).collect();
    let lost: Vec<i64> = confirmed
        .iter()
        .copied()
        .filter(|n| !there.contains(n))
        .collect();
    assert_eq!(lost, Vec::<i64>::new());
    assert!(
        scoops
            .iter()
            .all(|s| s["animals"].as_array().map(Vec::len) == Some(ANIMALS))
    );
    let check = &keeper.json("book check")[0];
    assert_eq!(
        (check["in_order"].as_bool(), check["scoops"].as_u64()),
        (Some(true), Some(there.len() as u64))
    );
}

#[test]
fn several_at_once_wait_for_each_other() {
    let keeper = Keeper::new("at-once");
    let files: Vec<String> = (0..4).map(|i| records(&keeper, &format!("p{i}"))).collect();
    let children: Vec<_> = files
        .iter()
        .map(|file| {
            let mut command = keeper.0.command(&filing(file));
            command
                .arg(NOW)
                .stdin(Stdio::null())
                .stdout(Stdio::piped())
                .stderr(Stdio::piped());
            command.spawn().expect("the command runs")
        })
        .collect();
    // A reader and a copy meanwhile.
    keeper.ok("tank list");
    keeper.ok("book backup copy.book");
    for child in children {
        let output = child.wait_with_output().expect("it ends");
        assert_eq!(
            output.status.code(),
            Some(0),
            "{}{}",
            err(&output),
            out(&output)
        );
    }
    assert_eq!(keeper.json("tank show A1")[0]["scoops"], 4 * SCOOPS);
    for book in ["room.book", "copy.book"] {
        let check = &keeper.json(&format!("book check --book {book}"))[0];
        assert_eq!(check["in_order"], true, "{book}");
    }
}

#[test]
fn a_copy_brings_the_book_back() {
    let keeper = Keeper::new("copies");
    let photo = crate::support::truth::sample("clutter").bytes();
    keeper.0.file("room.book-photos/ab/abcd.jpg", &photo);
    let said = keeper.ok("book backup safe/copy.book");
    assert!(said.contains("1 new photos"), "{said}");
    assert!(
        keeper
            .ok("book backup safe/copy.book")
            .contains("0 new photos")
    );
    keeper.ok("tank add A2 --line R1");
    let said = keeper.ok("book restore safe/copy.book");
    assert!(said.contains("before-20260508T200000"), "{said}");
    assert_eq!(keeper.json("tank list").len(), 1);
    let kept = keeper.json("tank list --book room.book.before-20260508T200000");
    assert_eq!(kept.len(), 2, "the book as it was is kept");
    // A damaged book is moved aside, a damaged copy is refused.
    let path = keeper.0.0.join("room.book");
    let _ = std::fs::remove_file(keeper.0.0.join("room.book-wal"));
    std::fs::write(&path, vec![7u8; 9000]).expect("it is spoiled");
    std::fs::remove_dir_all(keeper.0.0.join("room.book-photos")).expect("photos");
    assert!(
        keeper.refused("tank list").contains("restore"),
        "the cure is told"
    );
    keeper.ok_at("2026-05-09 08:00", "book restore safe/copy.book");
    assert_eq!(keeper.json("tank list").len(), 1);
    assert!(keeper.0.0.join("room.book-photos/ab/abcd.jpg").exists());
    let copy = keeper.0.0.join("safe/copy.book");
    let mut bytes = std::fs::read(&copy).expect("the copy");
    bytes[20_000..24_000].fill(0xAA);
    std::fs::write(&copy, bytes).expect("it is spoiled");
    assert!(
        keeper
            .refused("book restore safe/copy.book")
            .contains("damaged")
    );
    assert_eq!(keeper.json("tank list").len(), 1);
    assert!(
        keeper
            .refused("book restore nosuch.book")
            .contains("nosuch.book")
    );
}

/// A book of every past version opens, reads the same and goes on; `version-N.book` was written by the first program that
/// knew version N, `version-N.jsonl` is what it exported.
#[test]
fn old_books_open_and_read_the_same() {
    for version in 1..=catchcup::book::NEWEST {
        let data = root().join("tests/data/books");
        let keeper = Keeper::empty(&format!("version-{version}"));
        let bytes =
            std::fs::read(data.join(format!("version-{version}.book"))).expect("a stored book");
        keeper.0.file("room.book", bytes);
        keeper.ok("book export out");
        let now = std::fs::read_to_string(keeper.0.0.join("out/book.jsonl")).expect("the export");
        let then = std::fs::read_to_string(data.join(format!("version-{version}.jsonl")))
            .expect("the stored export");
        assert_eq!(objects(&now), objects(&then));
        assert!(objects(&now).len() > 20);
        assert_eq!(keeper.json("book check")[0]["in_order"], true);
        let file = keeper.record("new", Some("2026-05-08T19:00:00"), good(4));
        keeper.ok(&format!("scoop add A1 --record {file}"));
        keeper.ok("book undo");
        keeper.ok("book undo");
    }
}
