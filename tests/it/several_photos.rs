//! `steady`, `fade` and the minutes in the cup, run as a user runs them.

use serde_json::Value;

use crate::support::picture::{Extras, png};
use crate::support::room::{Room, err, out};
use crate::support::truth::samples;

/// The red sample and a turned copy of it under other names; the copy carries no capture time.
fn two_photos(room: &Room) {
    let sample = samples()
        .into_iter()
        .find(|s| s.file.starts_with("red-clear"))
        .expect("the red sample");
    let picture = image::load_from_memory(&sample.bytes())
        .expect("a JPEG")
        .to_rgb8();
    let mut png = std::io::Cursor::new(Vec::new());
    image::imageops::rotate90(&picture)
        .write_to(&mut png, image::ImageFormat::Png)
        .expect("a PNG");
    room.file("first.jpg", sample.bytes());
    room.file("turned.png", png.into_inner());
}

fn json(text: &str) -> Value {
    serde_json::from_str(text.trim()).expect("JSON")
}

const CUP: [&str; 4] = ["--line", "red", "--cup-mm", "96.87"];

#[test]
fn a_scoop_and_its_turned_copy_agree() {
    let room = Room::new("steady");
    two_photos(&room);
    let mut args = vec!["steady", "first.jpg", "turned.png", "--json"];
    args.extend(CUP);
    let output = room.run(&args);
    assert_eq!(output.status.code(), Some(0), "{}", err(&output));
    crate::record::holds_to(catchcup::report::STEADY_SCHEMA, &out(&output));
    let found = json(&out(&output));
    assert_eq!(found["photos"][1]["matched_by"], "place");
    let coverage = &found["measures"][0];
    assert!(
        coverage["icc"]["value"]
            .as_f64()
            .is_some_and(|icc| icc > 0.97),
        "{coverage}"
    );
    assert!(
        coverage["within_sd"].as_f64().is_some_and(|sd| sd < 0.03),
        "{coverage}"
    );
    args.retain(|arg| *arg != "--json");
    let text = out(&room.run(&args));
    assert!(text.contains("Smallest change worth believing"), "{text}");
}

#[test]
fn fading_says_what_is_missing() {
    let room = Room::new("fade");
    two_photos(&room);
    let mut args = vec!["fade", "first.jpg", "turned.png"];
    args.extend(CUP);
    let untimed = room.run(&args);
    assert_eq!(untimed.status.code(), Some(2));
    assert!(
        err(&untimed).contains("turned.png") && err(&untimed).contains("--minutes 1,3,5"),
        "{}",
        err(&untimed)
    );
    args.extend(["--minutes", "1,4"]);
    let two = room.run(&args);
    assert_eq!(two.status.code(), Some(0), "{}", err(&two));
    assert!(
        out(&two).contains("too few times (2, at least 3 are needed"),
        "{}",
        out(&two)
    );
    args.push("--json");
    let found = out(&room.run(&args));
    crate::record::holds_to(catchcup::report::FADE_SCHEMA, &found);
    assert_eq!(json(&found)["proposal"]["verdict"], "unknown");
}

#[test]
fn wrong_use_is_told_with_the_cure() {
    let room = Room::new("several");
    room.white_photo("a.png");
    // A hair darker, or it would be the same picture.
    let darker = png(640, 480, &[235; 640 * 480 * 3], &Extras::default());
    room.file("b.png", darker);
    room.white_photo("a-again.png");
    let cases: [(&[&str], &str); 6] = [
        (&["steady", "a.png", "a.png"], "a.png is named twice"),
        (
            &["steady", "a.png", "b.png", "a-again.png"],
            "a.png and a-again.png are the same picture",
        ),
        (&["steady", "a.png"], "two or more of the same scoop"),
        (
            &["fade", "a.png", "b.png", "--minutes", "1,2,3"],
            "3 times were given for 2 photos",
        ),
        (
            &["fade", "a.png", "b.png", "--minutes", "soon"],
            "minutes such as 1.5",
        ),
        (&["grade", "a.png", "--netted", "1:40"], "14:05"),
    ];
    for (args, told) in cases {
        let output = room.run(args);
        assert_eq!(output.status.code(), Some(2), "{args:?}");
        assert!(err(&output).contains(told), "{args:?}: {}", err(&output));
    }
    let nothing = room.run(&["steady", "a.png", "b.png"]);
    assert_eq!(nothing.status.code(), Some(0));
    assert!(
        out(&nothing).contains("No animal was known again"),
        "{}",
        out(&nothing)
    );
    for of in ["grade", "steady", "fade"] {
        let schema = json(&out(&room.run(&["schema", of])));
        assert!(
            schema["title"]
                .as_str()
                .is_some_and(|title| title.starts_with("catchcup"))
        );
    }
}

/// The red sample was taken at 08:30:39 by its camera.
#[test]
fn minutes_in_the_cup_by_the_clock() {
    let room = Room::new("minutes");
    two_photos(&room);
    let graded = |netted: &str| {
        let mut args = vec!["grade", "first.jpg", "--json", "--netted", netted];
        args.extend(CUP);
        json(&out(&room.run(&args)))
    };
    let codes = |record: &Value| -> Vec<String> {
        let doubts = record["doubts"].as_array().expect("a list");
        doubts
            .iter()
            .filter_map(|d| Some(d["code"].as_str()?.to_string()))
            .collect()
    };
    let soon = graded("08:29");
    assert_eq!(
        (&soon["netted_seconds"], &soon["minutes_from"]),
        (&Value::from(99), &Value::from("clock"))
    );
    assert!(codes(&soon).iter().all(|c| !c.contains("in_cup")));
    let late = graded("08:24");
    assert!(
        codes(&late).contains(&"too_long_in_cup".to_string()),
        "{:?}",
        codes(&late)
    );
    let wrong = graded("08:45");
    assert_eq!(
        (&wrong["minutes_in_cup"], &wrong["minutes_from"]),
        (&Value::Null, &Value::from("unknown"))
    );
    assert!(codes(&wrong).contains(&"clock_wrong".to_string()));
    let text = out(&room.run(&["grade", "first.jpg", "turned.png"]));
    assert_eq!(
        text.matches("Minutes in the cup: not known").count(),
        1,
        "once a run"
    );
}
