//! What the measuring promises beside its errors: order, line, view, fairness to pale animals, words for every reason.
//! Truth is that of the rendered sample images.

use catchcup::ladder::Shelf;
use catchcup::measures::{AnimalMeasures, View};
use catchcup::report::words;
use catchcup::scoop::{Order, grade_photo};
use catchcup::units::Reading;
use serde_json::Value;

use crate::support::root;
use crate::support::truth::{Sample, graded, matches, sample, samples, truth};

/// Animals whose true coverage differs by less than this may be measured in either order.
const APART: f64 = 0.15;

#[test]
fn more_pigment_is_measured_as_more() {
    let sample = sample("red-clear-to-solid");
    let truth = truth(&sample);
    let matched = matches(graded(&sample), &truth);
    let pairs: Vec<(f64, f64)> = matched
        .pairs
        .iter()
        .filter_map(|p| Some((p.true_one.coverage, p.found.coverage.value()?)))
        .collect();
    let mut compared = 0;
    for (true_one, measured) in &pairs {
        for (true_other, other) in &pairs {
            if true_one - true_other > APART {
                compared += 1;
                assert!(
                    measured > other,
                    "{true_one:.2} and {true_other:.2} measured as {measured:.2} and {other:.2}"
                );
            }
        }
    }
    assert!(compared > 10, "only {compared} pairs");
}

#[test]
fn a_pale_animal_is_never_off_type_by_its_hue() {
    let sample = sample("red-mostly-clear");
    let truth = truth(&sample);
    let matched = matches(graded(&sample), &truth);
    let pale: Vec<&AnimalMeasures> = matched
        .pairs
        .iter()
        .filter(|p| p.true_one.coverage < 0.2)
        .map(|p| p.found)
        .collect();
    assert!(pale.len() >= 4, "{} pale animals", pale.len());
    for animal in pale {
        let wrong = animal.wrong_hue_share.value().expect("measured on white");
        assert!(wrong < 0.2, "animal {}: {wrong:.2}", animal.no);
    }
}

/// The sample graded without saying the line: the line guessed.
fn guessed(sample: &Sample) -> (String, String) {
    let order = Order {
        ladder: None,
        ..sample.order()
    };
    let graded = grade_photo(&sample.file, sample.bytes(), &order, &Shelf::default())
        .unwrap_or_else(|e| panic!("{}: {e}", sample.file));
    let doubt = graded
        .scoop
        .doubts
        .iter()
        .find(|d| d.code == "line_guessed");
    let doubt = doubt.unwrap_or_else(|| panic!("{}: no doubt about the line", sample.file));
    let line = graded.scoop.ladder.map_or(String::new(), |l| l.line);
    (line, format!("{}; {}", doubt.message, doubt.hint))
}

#[test]
fn the_line_is_guessed_and_the_guess_is_said() {
    for start in ["red-mostly-clear", "blue-dark-and-light", "mixed-banded"] {
        let sample = sample(start);
        let (line, doubt) = guessed(&sample);
        assert_eq!(line, sample.line, "{start}");
        assert!(doubt.contains("no line was given"), "{doubt}");
        assert!(doubt.contains("--line"), "{doubt}");
    }
}

/// Calls of the view that must be right, of all calls; and animals that must be called, of all.
const VIEWS_RIGHT: f64 = 0.9;
const VIEWS_CALLED: f64 = 0.5;

#[test]
fn the_view_is_right_where_it_is_called() {
    let (mut all, mut called, mut right) = (0, 0, 0);
    for sample in samples().iter().filter(|s| s.animals > 0) {
        let views = true_views(sample);
        let truth = truth(sample);
        for pair in &matches(graded(sample), &truth).pairs {
            let top = views
                .iter()
                .any(|v| v.0 == u64::from(pair.true_one.id) && v.1 == "dorsal");
            all += 1;
            called += usize::from(pair.found.view != View::Unsure);
            right += usize::from(match pair.found.view {
                View::Top => top,
                View::Side => !top,
                View::Unsure => false,
            });
        }
    }
    assert!(
        right as f64 >= VIEWS_RIGHT * f64::from(called as u32),
        "{right} of {called} right"
    );
    assert!(
        called as f64 >= VIEWS_CALLED * f64::from(all),
        "{called} of {all} called"
    );
}

/// Number and view of each true animal.
fn true_views(sample: &Sample) -> Vec<(u64, String)> {
    let stem = sample.file.strip_suffix(".jpg").expect("a .jpg file");
    let path = root()
        .join("sample-images/truth")
        .join(format!("{stem}.json"));
    let text = std::fs::read_to_string(path).expect("a truth file");
    let json: Value = serde_json::from_str(&text).expect("a JSON file");
    let animals = json["animals"].as_array().expect("a list of animals");
    let view = |a: &Value| Some((a["id"].as_u64()?, a["view"].as_str()?.to_string()));
    animals.iter().filter_map(view).collect()
}

#[test]
fn a_reading_is_a_share_or_says_why_not() {
    for sample in samples() {
        for animal in &graded(&sample).scoop.animals {
            let m = &animal.measures;
            for reading in [
                m.coverage,
                m.opacity,
                m.evenness,
                m.legs,
                m.stripe,
                m.clear_middle,
            ] {
                match reading {
                    Reading::Value(v) => {
                        assert!((0.0..=1.0).contains(&v.value), "{}: {v:?}", sample.file);
                        assert!(v.uncertainty > 0.0, "{}: {v:?}", sample.file);
                    }
                    Reading::Withheld(code) => {
                        assert_ne!(words::reason(code), code.replace('_', " "))
                    }
                }
            }
        }
    }
}

/// Every code that the measuring gives as a reason is put into words for people.
#[test]
fn every_reason_has_words() {
    let mut codes = 0;
    for file in std::fs::read_dir(root().join("src/measures")).expect("the measuring") {
        let path = file.expect("a file").path();
        if path.is_dir() {
            continue; // weight files
        }
        let text = std::fs::read_to_string(path).expect("text");
        for part in text
            .split("Withheld(\"")
            .skip(1)
            .chain(text.split("unwrap_or(\"").skip(1))
        {
            let code = part.split('"').next().unwrap_or_default();
            assert_ne!(
                words::reason(code),
                code.replace('_', " "),
                "{code} has no words"
            );
            codes += 1;
        }
    }
    assert!(codes >= 5, "only {codes} codes found");
}
