//! Rules files: the built-in ones, and what is said about broken ones.

use catchcup::ladder::shelf::{built_in_text, load_built_in};
use catchcup::ladder::{Ladder, Rung, Shelf, load, place};
use catchcup::measures::{AnimalMeasures, Sex, SolidityModel};
use palette::white_point::D65;
use palette::{IntoColor, Lab, LinSrgb};

use crate::ladder_animals::{animal, colour, read};

const LINES: [&str; 16] = [
    "red",
    "orange",
    "yellow",
    "blue",
    "blue-light",
    "black",
    "chocolate",
    "white",
    "green",
    "red-tissue",
    "rili-red",
    "rili-orange",
    "rili-black",
    "rili-blue",
    "wild",
    "mixed",
];

fn ladder(line: &str) -> Ladder {
    load_built_in(line)
        .expect("a built-in line")
        .unwrap_or_else(|e| panic!("{e}; {}", e.hint))
}

#[test]
fn every_built_in_file_loads_and_is_embedded_as_it_stands() {
    assert_eq!(Shelf::default().lines(), LINES);
    for line in LINES {
        assert_eq!(ladder(line).line, line);
        let path = crate::support::root().join(format!("grading-rules/{line}.toml"));
        assert_eq!(
            built_in_text(line),
            std::fs::read_to_string(path).ok().as_deref(),
            "{line}"
        );
    }
}

#[test]
fn brown_is_off_type_in_all_lines_but_chocolate_wild_and_mixed() {
    for line in LINES {
        let ladder = ladder(line);
        let own = ["chocolate", "wild", "mixed"].contains(&line);
        assert_eq!(ladder.colour.brown_allowed, own, "{line}");
        assert_eq!(ladder.off_type.brown_share.is_none(), own, "{line}");
    }
    let mixed = ladder("mixed").off_type;
    assert_eq!((mixed.wrong_hue_share, mixed.brown_share), (None, None));
}

#[test]
fn no_line_is_as_strict_on_opacity_as_red_unless_as_opaque() {
    let at_the_top = |line: &str| {
        let ladder = ladder(line);
        let asks = ladder
            .asks(Rung::BEST, Sex::Unsure)
            .iter()
            .find(|c| c.measure.word() == "opacity")
            .copied();
        asks.map(|c| match c.bounds {
            catchcup::ladder::Bounds::Range { at_least, .. } => at_least.unwrap_or(0.0),
            catchcup::ladder::Bounds::Hue(_) => 0.0,
        })
    };
    let red = at_the_top("red").expect("red asks for opacity");
    for line in ["orange", "yellow", "blue", "blue-light", "green", "mixed"] {
        assert!(at_the_top(line).is_some_and(|limit| limit < red), "{line}");
    }
    assert_eq!(at_the_top("red-tissue"), None);
}

/// CIELAB of a linear-light ratio to the floor, by the palette crate.
fn lab([r, g, b]: [f64; 3]) -> [f64; 3] {
    let lab: Lab<D65, f64> = LinSrgb::new(r, g, b).into_color();
    [lab.l, lab.a, lab.b]
}

/// Opacity of `seen` between `clear` (0) and `full` (1), least squares over the channels.
fn opacity_between(seen: [f64; 3], clear: [f64; 3], full: [f64; 3]) -> f64 {
    let along: f64 = (0..3)
        .map(|i| (seen[i] - clear[i]) * (full[i] - clear[i]))
        .sum();
    let whole: f64 = (0..3).map(|i| (full[i] - clear[i]).powi(2)).sum();
    (along / whole).clamp(0.0, 1.0)
}

/// A top animal of the line: its full colour at 0.9 of full opacity, judged against the deepest full colour of the line,
/// which is the hardest judge; evenly coloured all over, or in clean bands.
fn best_animal(ladder: &Ladder) -> AnimalMeasures {
    let colours = &ladder.colour;
    let shown = colours.full[colours.full.len() / 2];
    let deepest = *colours.full.last().expect("one full colour at least");
    let (shown, judge) = if ladder.line == "mixed" {
        (shown, shown)
    } else {
        (shown, deepest)
    };
    // White pigment is seen on a dark floor, where a clear body shows little more than the floor.
    let clear = if colours.model == SolidityModel::White {
        [0.1; 3]
    } else {
        colours.clear
    };
    let seen: [f64; 3] = std::array::from_fn(|i| 0.9 * shown[i] + 0.1 * clear[i]);
    let mut best = animal(1, 0.99, opacity_between(seen, clear, judge));
    best.colour = Some(colour(lab(seen)));
    best.evenness = read(0.85, 0.03);
    if ladder.line.starts_with("rili") {
        best.coverage = read(0.62, 0.02);
        best.coverage_thirds = [Some(0.96), Some(0.06), Some(0.90)];
        best.clear_middle = read(0.93, 0.03);
    }
    best
}

#[test]
fn a_best_animal_of_every_line_reaches_the_top() {
    for line in LINES {
        let ladder = ladder(line);
        let best = best_animal(&ladder);
        let placing = place(&ladder, &best);
        let top = placing.rung == Some(Rung::BEST)
            || placing.between.is_some_and(|(_, high)| high == Rung::BEST);
        assert!(
            top,
            "{line}: {:?} {:?} opacity {:?} {:?}",
            placing.rung, placing.next, best.opacity, best.colour
        );
    }
}

#[test]
fn a_clear_animal_stands_at_the_bottom_and_is_never_off_type() {
    for line in LINES {
        let mut clear = animal(1, 0.02, 0.5);
        clear.opacity = catchcup::units::Reading::Withheld("too_few_covered");
        clear.evenness = catchcup::units::Reading::Withheld("too_few_covered");
        clear.colour = None;
        assert_eq!(place(&ladder(line), &clear).rung, Some(Rung::G0), "{line}");
    }
}

/// The red rules with one change.
fn red_with(from: &str, to: &str) -> String {
    let red = built_in_text("red").expect("red is built in");
    assert!(red.contains(from), "{from}");
    red.replacen(from, to, 1)
}

#[test]
fn broken_files_are_told_with_line_column_and_cure() {
    // What to change, into what, the text at the place complained of, words of the message, words of the cure.
    let cases = [
        (
            "title =",
            "titel =",
            "titel",
            "unknown key `titel`",
            "did you mean `title`",
        ),
        (
            "line = \"red\"",
            "line = red",
            "red",
            "",
            "put this place right",
        ),
        (
            "line = \"red\"",
            "line = \"Red Line\"",
            "\"Red Line\"",
            "no id of a line",
            "rili-red",
        ),
        (
            "schema = \"catchcup.ladder/1\"",
            "schema = \"other/1\"",
            "\"other/1\"",
            "expected \"catchcup.ladder/1\"",
            "write schema",
        ),
        (
            "coverage = { at_least = 0.95 }",
            "coverage = { at_least = \"high\" }",
            "\"high\"",
            "a text, expected a number",
            "write a number",
        ),
        (
            "coverage = { at_least = 0.95 }",
            "coverage = { at_least = 95 }",
            "95 }",
            "expected 0 to 1",
            "from 0 to 1",
        ),
        (
            "coverage = { at_least = 0.95 }",
            "coverage = 0.95",
            "0.95",
            "expected a table",
            "at_least",
        ),
        (
            "coverage = { at_least = 0.95 }",
            "coverage = { atleast = 0.95 }",
            "atleast",
            "unknown key `atleast`",
            "did you mean `at_least`",
        ),
        (
            "coverage = { at_least = 0.95 }",
            "coverage = {}",
            "{}",
            "no limit",
            "at_least or at_most",
        ),
        (
            "coverage = { at_least = 0.95 }",
            "coverage = { at_least = 0.9, at_most = 0.8 }",
            "0.9,",
            "above at_most",
            "swap",
        ),
        (
            "coverage = { at_least = 0.95 }",
            "coverage = { at_least = 0.80 }",
            "{ at_least = 0.80",
            "G5 asks less than the rung below",
            "rise",
        ),
        (
            "coverage = { at_least = 0.95 }",
            "coverage = { at_least = nan }",
            "nan",
            "expected a number",
            "write a number",
        ),
        (
            "opacity = { at_least = 0.80 }",
            "opacity = { at_most = 0.80 }",
            "{ at_most = 0.80",
            "has no at_least",
            "rise",
        ),
        (
            "opacity = { at_least = 0.80 }",
            "chroma = { at_least = 20 }",
            "{ at_least = 20",
            "no uncertainty of its own",
            "uncertainty = 2.0",
        ),
        (
            "opacity = { at_least = 0.80 }",
            "opacity = { at_least = 0.8, uncertainty = 0.1 }",
            "0.1 }",
            "from the photo",
            "leave `uncertainty` out",
        ),
        (
            "opacity = { at_least = 0.80 }",
            "opaqueness = { at_least = 0.80 }",
            "opaqueness",
            "unknown key",
            "known here",
        ),
        (
            "opacity = { at_least = 0.80 }",
            "hue = { from_deg = 10, to_deg = 400 }",
            "400 }",
            "expected 0 to 360",
            "0 to 360",
        ),
        (
            "from_deg = 340",
            "from_deg = 340.5.1",
            "",
            "",
            "put this place right",
        ),
        (
            "from_deg = 340",
            "from_deg = -20",
            "-20",
            "expected 0 to 360",
            "0 to 360",
        ),
        (
            "from_deg = 340, to_deg = 48",
            "from_deg = 48, to_deg = 48",
            "48 }",
            "range of hues is empty",
            "from one hue to another",
        ),
        (
            "carried_in = \"shell\"",
            "carried_in = \"skin\"",
            "\"skin\"",
            "expected \"shell\"",
            "one of the three",
        ),
        (
            "carried_in = \"shell\"",
            "",
            "[colour]",
            "has no `carried_in`",
            "add a line",
        ),
        (
            "[0.46, 0.05, 0.035]",
            "[0.46, 0.05]",
            "[0.46, 0.05]",
            "three numbers",
            "write it like",
        ),
        (
            "[0.46, 0.05, 0.035]",
            "[38, 8, 8]",
            "[38, 8, 8]",
            "three numbers from 0 to 4",
            "write it like",
        ),
        (
            "rung = \"G4\"",
            "rung = \"G6\"",
            "\"G6\"",
            "no rung, expected G0 to G5",
            "write rung",
        ),
        (
            "rung = \"G4\"",
            "rung = \"G5\"",
            "\"G5\"\nlabel = \"nearly",
            "stands twice",
            "keep one",
        ),
        (
            "rung = \"G1\"",
            "rung = \"G0\"",
            "\"G0\"\nlabel = \"patchy\"",
            "G0 has conditions",
            "below G1",
        ),
        (
            "[off_type]",
            "[of_type]",
            "of_type",
            "unknown key `of_type`",
            "did you mean `off_type`",
        ),
        (
            "wrong_hue_share = { at_most = 0.2 }",
            "wrong_hue_share = 0.2",
            "0.2",
            "expected a table",
            "{ at_least",
        ),
        ("[colour]", "[colour", "", "", "put this place right"),
    ];
    for (from, to, place, message, cure) in cases {
        let text = red_with(from, to);
        let error = load("mine.toml", &text).expect_err(to);
        let changed = built_in_text("red")
            .and_then(|red| red.find(from))
            .expect("the change is there");
        let found = text[changed..].find(place).filter(|_| !place.is_empty());
        let expected = found.map(|at| place_of(&text, changed + at));
        if let Some(expected) = expected {
            assert_eq!((error.line, error.column), expected, "{to}: {error}");
        }
        assert!(
            error.line >= 1 && error.column >= 1 && error.line <= text.lines().count() + 1,
            "{error}"
        );
        assert!(
            error.message.contains(message) && error.hint.contains(cure),
            "{to}: {error}; {}",
            error.hint
        );
        assert!(error.to_string().starts_with("mine.toml:"), "{error}");
    }
}

/// 1-based line and column of a byte.
fn place_of(text: &str, at: usize) -> (usize, usize) {
    let before = &text[..at];
    (
        before.split('\n').count(),
        before.rsplit('\n').next().map_or(0, |l| l.chars().count()) + 1,
    )
}

#[test]
fn a_missing_rung_is_told() {
    let red = built_in_text("red").expect("red is built in");
    let start = red.find("[[rung]]\nrung = \"G3\"").expect("G3");
    let end = red.find("[[rung]]\nrung = \"G2\"").expect("G2");
    let error = load("mine.toml", &format!("{}{}", &red[..start], &red[end..])).expect_err("no G3");
    assert!(
        error.message.contains("has no G3") && error.hint.contains("rung = \"G3\""),
        "{error}; {}",
        error.hint
    );
}

#[test]
fn every_cut_off_file_gives_an_error_or_a_ladder_but_no_panic() {
    for line in ["red", "red-tissue", "rili-red", "mixed"] {
        let text = built_in_text(line).expect("built in");
        for end in (0..text.len()).filter(|end| text.is_char_boundary(*end)) {
            let _ = load("cut.toml", &text[..end]);
        }
    }
}

#[test]
fn own_labels_males_and_files_of_the_house() {
    let text = red_with(
        "coverage = { at_least = 0.95 }",
        "coverage = { at_least = 0.95 }\nmale = { coverage = { at_least = 0.88 } }",
    )
    .replace("solid all over", "Königsrot");
    let own = load("mine.toml", &text).expect("a right file");
    assert_eq!(own.label(Rung::BEST), "Königsrot");
    let mut male = animal(1, 0.92, 0.9);
    assert_eq!(place(&own, &male).rung, Rung::from_word("G4"));
    male.sex = Sex::Male;
    assert_eq!(place(&own, &male).rung, Some(Rung::BEST));
    let shelf = Shelf::with_own(vec![own.clone()]);
    assert_eq!(shelf.ladder("red"), Some(own));
    assert_eq!(shelf.lines().len(), LINES.len());
}

#[test]
fn the_digest_is_that_of_the_text() {
    // SHA-256 of the empty text is a published value (FIPS 180-4 examples); a ladder needs text, so the sums are compared.
    use sha2::{Digest, Sha256};
    let text = built_in_text("red").expect("built in");
    let expected: String = Sha256::digest(text.as_bytes())
        .iter()
        .map(|b| format!("{b:02x}"))
        .collect();
    assert_eq!(ladder("red").sha256, expected);
    assert_ne!(
        load("x", &red_with("0.95", "0.96"))
            .expect("a right file")
            .sha256,
        expected
    );
}
