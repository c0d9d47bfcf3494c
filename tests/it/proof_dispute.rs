//! A buyer's photo beside a proof's, what a proof is refused for, and whether its cures work when they are typed.

use std::process::{Command, Output};

use crate::support::keeper::objects;
use crate::support::room::{Room, err, out};
use crate::support::truth::{sample, truth};

/// The day after the blue sample was taken, by its camera.
const NOW: &str = "2026-05-02 12:00";

fn photo(room: &Room, start: &str, name: &str) {
    room.file(name, sample(start).bytes());
}

/// The arguments that make a proof of the blue sample, with `more`.
fn make(room: &Room, into: &str, more: &[&str]) -> Output {
    let all = [
        &[
            "proof",
            "make",
            "blue.jpg",
            "--line",
            "blue",
            "--cup-mm",
            "96.87",
            "--lot",
            "Blau Ü 1",
        ][..],
        &["--keys", "keys", "--into", into],
        more,
    ]
    .concat();
    let now: &[&str] = if more.contains(&"--now") {
        &[]
    } else {
        &["--now", NOW]
    };
    room.run(&[&all, now].concat())
}

/// The text with its broken lines joined.
fn joined(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

#[test]
fn a_dispute_is_told_plainly() {
    let room = Room::new("dispute");
    photo(&room, "blue", "blue.jpg");
    photo(&room, "red-clear", "red.jpg");
    let made = make(&room, "p", &["--netted", "1m20s"]);
    assert_eq!(made.status.code(), Some(0), "{}{}", out(&made), err(&made));

    // Of another line: said first, with the line that they are of by the sample's own name, and not exit code 0.
    let other = room.run(&["proof", "compare", "p", "red.jpg", "--cup-mm", "96.87"]);
    assert_eq!(other.status.code(), Some(3), "{}", err(&other));
    let text = joined(&out(&other));
    assert!(text.starts_with("Another colour: "), "{text}");
    assert!(
        text.contains("not of the page's line, blue; on the page 0 of 8. They look like red."),
        "{text}"
    );
    assert!(
        text.contains("not whether their shades are alike"),
        "{text}"
    );
    let found = objects(&out(
        &room.run(&["proof", "compare", "p", "red.jpg", "--json"])
    ))
    .remove(0);
    // Animals that truly are red over more than half of the body can't pass for blue ones.
    let red = truth(&sample("red-clear")).animals;
    let plainly_red = red.iter().filter(|a| a.coverage > 0.5).count() as u64;
    let off = found["off_type"][1].as_u64().expect("a count");
    assert!(plainly_red >= 4 && off >= plainly_red, "{found}");
    assert!(
        found["other_line"] == true && found["same_picture"] == false,
        "{found}"
    );

    // The very picture, as the camera made it and as it was published: known again, and measured as on the page.
    for same in ["blue.jpg", "p/photo.jpg"] {
        let output = room.run(&["proof", "compare", "p", same]);
        assert_eq!(output.status.code(), Some(0), "{}", err(&output));
        let text = joined(&out(&output));
        assert!(
            text.starts_with("This is the same picture as on the page"),
            "{text}"
        );
        let found = objects(&out(&room.run(&["proof", "compare", "p", same, "--json"]))).remove(0);
        assert_eq!(found["same_picture"], true);
        for measure in ["coverage", "length_mm"] {
            assert_eq!(found[measure][0], found[measure][1], "{same}: {found}");
            assert!(found[measure][0].is_number(), "{found}");
        }
    }

    // The same animals in another picture file: neither the same picture nor another line.
    let picture = image::open(room.0.join("blue.jpg"))
        .expect("a photo")
        .rotate90();
    picture.save(room.0.join("turned.png")).expect("a picture");
    let output = room.run(&[
        "proof",
        "compare",
        "p",
        "turned.png",
        "--cup-mm",
        "96.87",
        "--json",
    ]);
    let found = objects(&out(&output)).remove(0);
    assert_eq!(
        (&found["same_picture"], &found["other_line"]),
        (&false.into(), &false.into())
    );
}

/// A command that is printed as a cure is one that works, whatever the lot is called.
#[cfg(unix)]
#[test]
fn printed_commands_can_be_typed() {
    let room = Room::new("typed");
    photo(&room, "blue", "blue.jpg");
    let made = make(&room, "p", &[]);
    let text = joined(&out(&made));
    let (_, command) = text.split_once("cup: catchcup ").expect("a command");
    let (command, _) = command.split_once(".svg").expect("a file");
    let script = format!("\"$0\" {command}.svg");
    let typed = Command::new("sh")
        .args(["-c", &script, env!("CARGO_BIN_EXE_catchcup")])
        .current_dir(&room.0)
        .output()
        .expect("a shell");
    assert!(typed.status.success(), "{script}: {}", err(&typed));
    let card = std::fs::read_to_string(room.0.join("card.svg")).expect("the card");
    assert!(card.contains("Blau Ü 1"), "the card is the lot's");
}

#[test]
fn refusals_name_what_is_wrong_and_their_cures_help() {
    let room = Room::new("refusals");
    photo(&room, "blue", "blue.jpg");
    let whole = ["--whole", "--rung", "G1", "--at-least", "20"];
    // Too long in the cup: no share helps against that, and no code of the program is shown.
    let long = make(&room, "p1", &[&["--netted", "12m"][..], &whole].concat());
    let text = joined(&out(&long));
    assert_eq!(long.status.code(), Some(3), "{text}");
    assert!(
        text.contains("Stop: animals were 12 minutes in the cup"),
        "{text}"
    );
    assert!(
        !text.contains('_') && !text.contains("Lower --at-least"),
        "{text}"
    );
    // The way out that it names.
    assert!(text.contains("leave out --whole and --at-least"), "{text}");
    let shown = make(&room, "p1", &["--netted", "12m"]);
    assert_eq!(shown.status.code(), Some(0), "{}", err(&shown));
    // Only the share is too high: lowering it helps.
    let high = make(
        &room,
        "p2",
        &[
            "--netted",
            "1m",
            "--whole",
            "--rung",
            "G5",
            "--at-least",
            "100",
        ],
    );
    assert_eq!(high.status.code(), Some(3));
    assert!(
        joined(&out(&high)).contains("Lower --at-least or --rung."),
        "{}",
        out(&high)
    );
    let low = make(&room, "p2", &[&["--netted", "1m"][..], &whole].concat());
    assert_eq!(low.status.code(), Some(0), "{}", out(&low));
}

/// The camera noted 1 May 2026.
#[test]
fn an_old_photo_is_no_proof_of_today() {
    let room = Room::new("old-photo");
    photo(&room, "blue", "blue.jpg");
    let whole = [
        "--netted",
        "1m20s",
        "--whole",
        "--rung",
        "G1",
        "--at-least",
        "20",
        "--now",
    ];
    for (now, into, code, said) in [
        ("2026-05-20 12:00", "p1", 0, None),
        (
            "2026-06-05 12:00",
            "p2",
            0,
            Some("the photo is 35 days old"),
        ),
        (
            "2026-11-26 12:00",
            "p3",
            3,
            Some("the photo is 209 days old"),
        ),
        ("2026-04-20 12:00", "p4", 3, Some("11 days after today")),
    ] {
        let output = make(&room, into, &[&whole[..], &[now]].concat());
        let text = joined(&out(&output));
        assert_eq!(output.status.code(), Some(code), "{now}: {text}");
        match said {
            Some(said) => assert!(text.contains(said), "{now}: {text}"),
            None => assert!(!text.contains("days old"), "{now}: {text}"),
        }
    }
}
