//! The answer for the terminal.

use catchcup::doubt::Note;
use catchcup::ladder::Rung;
use catchcup::report::text::{TextOptions, Tone, closing, error_lines, render, wrap};

use crate::ladder_animals::animal;
use crate::record_scoop::{full_scoop, scoop_of};

fn options(all: bool) -> TextOptions {
    TextOptions {
        sale_rung: Rung::from_word("G4").expect("a rung"),
        all,
    }
}

fn text(scoop: &catchcup::scoop::Scoop, all: bool) -> String {
    render(scoop, &options(all))
        .into_iter()
        .map(|line| line.text + "\n")
        .collect()
}

#[test]
fn the_answer_in_its_order() {
    let expected = "\
tank_12.jpg, line: red, shell-coloured, 1:40 min in the cup
Photo: usable: the photo is a little soft
  Cure: hold the phone still and tap on a shrimp
OFF-TYPE: animal 5: wild-type brown over 31 % of the body (limit 15 %)

Ladder                              animals
  G5 best   solid all over          1
  G4        nearly solid            2 9
    G3/G4   too close to call       3
  G3        well covered
  G2        half covered            4
  G1        patchy
  G0        mostly clear            10
  off       off-type                5
  off       can't be read           8
  off       juvenile                6
  off       cut off                 7

G4 or better: 3 sure, 1 undecided, of 7; whole tank 10 to 90 % (95 % range)
Next: look at animal 5 before this tank is sold or bred from

no  rung   cover %  opaque %  even %  mm  sex  next rung asks for; remarks
 1  G5      99 +-2    93 +-3      82  24
 2  G4      90 +-2    84 +-3      82  24    f  G5: cover 95 %; saddle
 3  G3/G4   86 +-2    90 +-3      82  24       G5: cover 95 %
 4  G2      60 +-2    75 +-3      82  24       G3: cover 70 %
 5  -       40 +-2    70 +-3      82  24       off-type: brown 31 %
 6  -       50 +-2    60 +-3      82  24       juvenile
 7  -       90 +-2    90 +-3      82  24       cut
 8  -       90 +-2                82  24       opaque: glare lies over it
 9  G4      90 +-2    75 +-3      82  24       G5: cover 95 %, opaque 80 %
10  G0       3 +-2                    24       G1: cover 25 %

Turned away, not graded: 2 snails

Doubt: the cup is cream, not white. Cure: use a white cup.
Doubt: few animals. Cure: net more.
";
    assert_eq!(text(&full_scoop(), false), expected);
}

#[test]
fn with_all_every_animal_has_its_sentence() {
    let expected = "
  1: G5, the best rung
  2: G4; G5 asks for coverage of at least 95 % (has 90 %)
  3: G4, too close to call between G3 and G4; G5 asks for coverage of at least
     95 % (has 86 %)
  4: G2; G3 asks for coverage of at least 70 % (has 60 %)
  5: off-type: wild-type brown over 31 % of the body (limit 15 %)
  6: no rung: juvenile
  7: no rung: cut
  8: no rung: opacity can't be told, glare lies over it
  9: G4; G5 asks for coverage of at least 95 % (has 90 %) and opacity of at
     least 80 % (has 75 %)
 10: G0; G1 asks for coverage of at least 25 % (has 3 %)
";
    assert!(
        text(&full_scoop(), true).contains(expected),
        "{}",
        text(&full_scoop(), true)
    );
}

#[test]
fn every_line_fits_the_width() {
    let mut scoop = full_scoop();
    scoop.photo.file = "a_very_long_file_name_".repeat(9) + ".jpg";
    scoop
        .doubts
        .push(Note::new("long", "word ".repeat(40), "x".repeat(200)));
    let many: Vec<_> = (1..=60)
        .map(|no| animal(no, f64::from(no % 21) / 20.0, 0.9))
        .collect();
    for scoop in [scoop, scoop_of(many), scoop_of(Vec::new())] {
        for all in [false, true] {
            let lines = render(&scoop, &options(all));
            for line in lines.iter().chain(&closing(true)) {
                assert!(line.text.chars().count() <= 80, "{}", line.text);
                assert_eq!(line.text.trim_end(), line.text);
                assert!(line.text.is_ascii(), "{}", line.text);
            }
        }
    }
}

#[test]
fn at_most_two_doubts_unless_all_are_wanted() {
    let mut scoop = full_scoop();
    scoop
        .doubts
        .push(Note::new("late", "it is late", "go to bed"));
    let short = text(&scoop, false);
    assert_eq!(short.matches("Doubt:").count(), 2);
    assert!(short.contains("1 more doubt with --all"), "{short}");
    let (cream, few) = (short.find("is cream"), short.find("few animals"));
    assert!(cream.is_some() && cream < few, "costliest first");
    assert_eq!(text(&scoop, true).matches("Doubt:").count(), 3);
    // The photo's verdict has said it already.
    assert_eq!(short.matches("a little soft").count(), 1);
}

#[test]
fn nothing_is_printed_for_what_is_unknown() {
    let text = text(&full_scoop(), false);
    assert!(
        !text.contains("legs") && !text.contains("mid %"),
        "no animal's legs were seen:\n{text}"
    );
    assert!(
        !text.contains("NaN") && !text.contains("null") && !text.contains("None"),
        "{text}"
    );
}

#[test]
fn a_withheld_photo_says_why_and_the_cure_and_nothing_else() {
    let mut scoop = scoop_of(Vec::new());
    scoop.turned_away.clear();
    scoop.withheld = vec![Note::new(
        "too_dark",
        "the cup is too dark to read",
        "move to brighter light",
    )];
    let expected = "\
tank_12.jpg, line: red, shell-coloured, 1:40 min in the cup
Photo: shoot again: the cup is too dark to read
  Cure: move to brighter light
Next: shoot again: move to brighter light
";
    assert_eq!(text(&scoop, false), expected);
}

#[test]
fn no_animals_is_a_result() {
    let mut scoop = scoop_of(Vec::new());
    scoop.turned_away.clear();
    scoop.in_cup.seconds = None;
    let expected = "\
tank_12.jpg, line: red, shell-coloured
Photo: good
Next: no animal was found: nothing to grade
";
    assert_eq!(text(&scoop, false), expected);
}

#[test]
fn alarms_are_words_and_not_colour_alone() {
    for line in render(&full_scoop(), &options(true))
        .iter()
        .filter(|line| line.tone == Tone::Alarm)
    {
        assert!(
            line.text.contains("OFF-TYPE") || line.text.starts_with("  "),
            "{}",
            line.text
        );
    }
    let error = error_lines(
        "a.jpg",
        &Note::new("x", "the file is cut off", "copy it again"),
    );
    assert_eq!(error[0].text, "a.jpg: not graded: the file is cut off");
    assert_eq!(error[1].text, "  Cure: copy it again");
}

#[test]
fn wrapping_keeps_every_word() {
    let long = (0..60)
        .map(|i| format!("word{i}"))
        .collect::<Vec<_>>()
        .join(" ");
    let lines = wrap(&long, "    ");
    assert_eq!(
        lines
            .join(" ")
            .split_whitespace()
            .collect::<Vec<_>>()
            .join(" "),
        long
    );
    assert!(lines.len() > 4 && lines[1..].iter().all(|line| line.starts_with("    ")));
}

#[test]
fn a_unit_stays_with_its_number() {
    for pad in 0..12 {
        let text = format!(
            "{} 70 % {} 24 mm, 12 %; end",
            "x".repeat(60 + pad),
            "y ".repeat(30)
        );
        for line in wrap(&text, "") {
            assert!(!line.starts_with('%') && !line.starts_with("mm"), "{line}");
        }
    }
}
