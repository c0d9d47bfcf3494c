//! A proof changed anywhere is caught; one left alone is not accused.

use std::collections::BTreeMap;

use catchcup::proof::Manifest;
use catchcup::proof::make::{Published, assemble};
use catchcup::proof::manifest::{MANIFEST, PAGE, RECORD, RULES, SIGNATURE, photo_name};
use catchcup::proof::verify::{Asked, Files, Verdict, check};
use catchcup::report::proof::FORMATS;

use crate::proof_png::sample_png;
use crate::support::dice::{Dice, one_byte};
use crate::support::lot::{VERSION, asked, draft, key, published_bytes};
use crate::support::root;

pub fn published(name: &str, line: &str) -> Published {
    let bytes = std::fs::read(root().join("sample-images").join(name)).expect("a sample");
    published_bytes(name, &bytes, line)
}

/// A proof of a sample, signed with the key of that secret.
pub fn proof(published: &Published, line: &str, secret: u8) -> Files {
    let draft = draft(published, line, secret, "L7");
    assemble(draft, &key(secret), FORMATS).expect("it is assembled")
}

pub fn verdict(files: &Files, asked: &Asked) -> Verdict {
    check(files, &[], asked, VERSION, FORMATS).verdict
}

/// A digit somewhere in a text made another digit.
fn one_digit(bytes: &mut [u8], dice: &mut Dice) {
    loop {
        let at = dice.below(bytes.len());
        if bytes[at].is_ascii_digit() {
            bytes[at] = b'0' + (bytes[at] - b'0' + 1 + dice.below(9) as u8) % 10;
            return;
        }
    }
}

/// Two neighbouring, different words of the page's visible text swapped.
fn words_of_page(page: &mut Vec<u8>, dice: &mut Dice) {
    let text = String::from_utf8(page.clone()).expect("text");
    let start = text.find("<body>").expect("a body");
    let places: Vec<usize> = text[start..]
        .match_indices(' ')
        .map(|(at, _)| start + at)
        .collect();
    loop {
        let first = places[dice.below(places.len() - 2)];
        let rest = &text[first + 1..];
        let Some((one, tail)) = rest.split_once(' ') else {
            continue;
        };
        let two = tail.split([' ', '<', '\n']).next().unwrap_or("");
        if one != two && !one.is_empty() && !two.is_empty() && !one.contains(['<', '\n']) {
            let swapped = format!("{}{two} {one}{}", &text[..=first], &tail[two.len()..]);
            *page = swapped.into_bytes();
            return;
        }
    }
}

fn file<'a>(files: &'a mut Files, name: &str) -> &'a mut Vec<u8> {
    files.get_mut(name).expect("a file")
}

/// Ten thousand random single changes, every one caught.
#[test]
fn ten_thousand_changes_are_caught() {
    ten_thousand_changes(
        &published(NAMES[0], "red"),
        &published(NAMES[1], "red"),
        20_260_508,
    );
}

/// The same with a PNG photo.
#[test]
fn ten_thousand_changes_of_a_png_proof_are_caught() {
    let [red, other] = NAMES.map(|name| published_bytes("a.png", &sample_png(name), "red"));
    ten_thousand_changes(&red, &other, 20_260_509);
}

const NAMES: [&str; 2] = [
    "red-clear-to-solid_8-animals.jpg",
    "red-mostly-clear-and-plant_9-animals.jpg",
];

fn ten_thousand_changes(red: &Published, other: &Published, seed: u64) {
    let photo = photo_name(&red.photo);
    let whole = proof(red, "red", 1);
    let asked = asked(1);
    assert_eq!(verdict(&whole, &asked), Verdict::Unchanged);
    let others = proof(other, "red", 1);
    // A flawless proof of the same lot with changed numbers, signed by somebody else.
    let forged = proof(red, "red", 2);
    assert_eq!(verdict(&forged, &Asked::default()), Verdict::UnknownKey);
    let names: Vec<String> = whole.keys().cloned().collect();
    let mut dice = Dice(seed);
    let mut seen: BTreeMap<usize, u32> = BTreeMap::new();
    for run in 0..10_000 {
        let mut files = whole.clone();
        let kind = dice.below(10);
        let mut expected = Verdict::Changed;
        match kind {
            0 => one_byte(file(&mut files, photo), &mut dice),
            1 => one_byte(file(&mut files, MANIFEST), &mut dice),
            2 => one_digit(file(&mut files, MANIFEST), &mut dice),
            3 => one_digit(file(&mut files, RECORD), &mut dice),
            4 => words_of_page(file(&mut files, PAGE), &mut dice),
            5 => one_byte(file(&mut files, PAGE), &mut dice),
            6 => one_digit(file(&mut files, RULES), &mut dice),
            7 => {
                let name = names[dice.below(names.len())].as_str();
                match dice.below(3) {
                    0 => {
                        files.remove(name);
                    }
                    1 => {
                        files.insert(format!("../{name}"), Vec::new());
                    }
                    _ => {
                        let theirs = others[name].clone();
                        // The rules are the same in both.
                        if theirs == files[name] {
                            continue;
                        }
                        files.insert(name.into(), theirs);
                    }
                }
            }
            8 => one_byte(file(&mut files, SIGNATURE), &mut dice),
            _ => {
                // Signed anew with another key, over the whole or a changed manifest.
                files = forged.clone();
                if dice.below(2) == 0 {
                    let text = String::from_utf8(files[MANIFEST].clone()).expect("text");
                    let changed = text.replace("\"L7\"", &format!("\"L{}\"", dice.below(100_000)));
                    let signed = catchcup::proof::key::Signed {
                        key: key(2).public(),
                        signature: key(2).sign(changed.as_bytes()),
                    };
                    files.insert(MANIFEST.into(), changed.into_bytes());
                    files.insert(SIGNATURE.into(), signed.write().into_bytes());
                }
                expected = Verdict::OtherKey;
            }
        }
        if files == whole {
            continue;
        }
        *seen.entry(kind).or_default() += 1;
        assert_eq!(verdict(&files, &asked), expected, "run {run}, kind {kind}");
    }
    let all: u32 = seen.values().sum();
    assert!(seen.len() == 10 && all > 9_900, "{seen:?}");
}

/// A seller who signs numbers that the photo does not give is caught too: digests and signature hold, the measuring does not.
#[test]
fn signed_lies_do_not_follow_from_the_photo() {
    let mut red = published("red-clear-to-solid_8-animals.jpg", "red");
    let asked = asked(1);
    let fault = |files: &Files| check(files, &[], &asked, VERSION, FORMATS).faults[0].code;
    let honest = red.record.clone();
    let at = honest.find("\"coverage\":0.").expect("an animal") + "\"coverage\":0.".len();
    let digit = if honest.as_bytes()[at] == b'9' {
        "8"
    } else {
        "9"
    };
    red.record = format!("{}{digit}{}", &honest[..at], &honest[at + 1..]);
    assert_eq!(fault(&proof(&red, "red", 1)), "numbers");
    red.record = honest;
    let mut statement = proof(&red, "red", 1);
    let text = String::from_utf8(statement[MANIFEST].clone()).expect("text");
    let lie = text.replace("\"supported\":true", "\"supported\":true,\"zero\":0");
    assert_ne!(lie, text);
    statement.insert(MANIFEST.into(), lie.clone().into_bytes());
    let signed = catchcup::proof::key::Signed {
        key: key(1).public(),
        signature: key(1).sign(lie.as_bytes()),
    };
    statement.insert(SIGNATURE.into(), signed.write().into_bytes());
    assert_eq!(fault(&statement), "manifest", "a member that is not known");
    let higher = text.replace("\"permille\":300", "\"permille\":990");
    assert_ne!(higher, text);
    let mut statement = proof(&red, "red", 1);
    let signed = catchcup::proof::key::Signed {
        key: key(1).public(),
        signature: key(1).sign(higher.as_bytes()),
    };
    let manifest = Manifest::read(higher.as_bytes()).expect("well-formed");
    statement.insert(
        PAGE.into(),
        (FORMATS.page)(&manifest, &statement)
            .expect("a page")
            .into_bytes(),
    );
    statement.insert(MANIFEST.into(), higher.into_bytes());
    statement.insert(SIGNATURE.into(), signed.write().into_bytes());
    assert_eq!(fault(&statement), "statement");
}

/// Nothing untouched is accused, and another version says so where it can't make the same page.
#[test]
fn what_was_left_alone_is_not_accused() {
    for (name, line) in [
        ("red-clear-to-solid_8-animals.jpg", "red"),
        ("red-mostly-clear-and-plant_9-animals.jpg", "red"),
        ("orange-beside-chart_6-animals.jpg", "orange"),
        ("blue-dark-and-light_8-animals.jpg", "blue"),
        ("clutter-only_none.jpg", "red"),
    ] {
        let files = proof(&published(name, line), line, 1);
        assert_eq!(verdict(&files, &asked(1)), Verdict::Unchanged, "{name}");
        assert_eq!(verdict(&files, &asked(2)), Verdict::OtherKey, "{name}");
        assert_eq!(
            verdict(&files, &Asked::default()),
            Verdict::UnknownKey,
            "{name}"
        );
        let later = check(&files, &[], &asked(1), "10.0.0", FORMATS);
        assert!(
            matches!(later.verdict, Verdict::Unchanged | Verdict::OtherProgram),
            "{name}"
        );
        assert!(later.faults.is_empty(), "{name}: {:?}", later.faults);
        let odd = check(&files, &["photo2.jpg".into()], &asked(1), VERSION, FORMATS);
        assert_eq!(odd.faults[0].code, "odd_file");
    }
}

/// The published photo says nothing but the picture, and measures the same.
#[test]
fn the_published_photo_says_nothing_else() {
    for entry in std::fs::read_dir(root().join("sample-images")).expect("samples") {
        let path = entry.expect("a sample").path();
        if path.extension().is_none_or(|e| e != "jpg") {
            continue;
        }
        let bytes = std::fs::read(&path).expect("a sample");
        let stripped = catchcup::photo::strip::published(&bytes).expect("it is stripped");
        let again = catchcup::photo::Photo::from_bytes("a.jpg", &stripped).expect("a photo");
        let before = catchcup::photo::Photo::from_bytes("a.jpg", &bytes).expect("a photo");
        assert_eq!(again.capture, Default::default(), "{}", path.display());
        assert_eq!(again.profile, before.profile);
        assert_eq!(
            again.rgb8_upright(),
            before.rgb8_upright(),
            "{}",
            path.display()
        );
        let text = String::from_utf8_lossy(&stripped);
        for word in ["Fenwick", "2026", "GPS", "http"] {
            assert!(!text.contains(word), "{}: {word}", path.display());
        }
    }
}
