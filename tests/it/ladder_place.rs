//! Where animals stand: against brute force, and at the edges.

use catchcup::ladder::shelf::load_built_in;
use catchcup::ladder::{Ladder, OffLadder, Rung, place};
use catchcup::measures::{AnimalMeasures, BodyColour, Flag};
use catchcup::units::Reading;

use crate::ladder_animals::{animal, colour, flagged, read};

fn ladder(line: &str) -> Ladder {
    load_built_in(line)
        .expect("a built-in line")
        .expect("it loads")
}

fn rung(word: &str) -> Option<Rung> {
    Rung::from_word(word)
}

/// Seeded uniform and normal numbers (splitmix64, Box and Muller), so that the draw is the same everywhere.
struct Draws(u64);

impl Draws {
    fn uniform(&mut self) -> f64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        ((z ^ (z >> 31)) >> 11) as f64 / (1u64 << 53) as f64
    }

    fn normal(&mut self, mean: f64, deviation: f64) -> f64 {
        let (u, v) = (1.0 - self.uniform(), self.uniform());
        mean + deviation * (-2.0 * u.ln()).sqrt() * (std::f64::consts::TAU * v).cos()
    }

    fn share(&mut self, reading: Reading) -> Reading {
        reading.measured().map_or(reading, |m| {
            read(self.normal(m.value, m.uncertainty).clamp(0.0, 1.0), 0.0)
        })
    }

    /// The animal as it might be: every measure drawn, no uncertainty left.
    fn animal(&mut self, of: &AnimalMeasures) -> AnimalMeasures {
        let mut drawn = of.clone();
        drawn.coverage = self.share(of.coverage);
        drawn.opacity = self.share(of.opacity);
        drawn.evenness = self.share(of.evenness);
        drawn.clear_middle = self.share(of.clear_middle);
        // 0.06 and 2.0: the uncertainties that the rules files state for thirds, lightness and chroma.
        drawn.coverage_thirds = of
            .coverage_thirds
            .map(|t| t.map(|v| self.normal(v, 0.06).clamp(0.0, 1.0)));
        let islands = of
            .islands
            .measured()
            .map(|m| self.normal(m.value, m.uncertainty));
        drawn.islands = islands.map_or(of.islands, |v| read(v, 0.0));
        drawn.colour = of.colour.as_ref().map(|c| {
            let lightness = self.normal(c.lab[0], 2.0);
            BodyColour {
                lab: [lightness, c.lab[1], c.lab[2]],
                chroma: self.normal(c.chroma, 2.0),
                ..*c
            }
        });
        drawn
    }
}

const DRAWS: u32 = 20_000;

/// Two-sided normal limit for 1 % in all comparisons together (6 rungs, 7 animals; 0.01 / 84 a side).
const Z: f64 = 3.676;

fn cases() -> Vec<(&'static str, AnimalMeasures)> {
    let mut top = animal(1, 0.96, 0.82);
    (top.coverage, top.opacity) = (read(0.96, 0.03), read(0.82, 0.06));
    let mut edge = animal(2, 0.86, 0.70);
    (edge.coverage, edge.opacity) = (read(0.86, 0.08), read(0.70, 0.10));
    let mut low = animal(3, 0.04, 0.55);
    low.coverage = read(0.04, 0.15);
    let mut full = animal(4, 1.0, 1.0);
    (full.coverage, full.opacity) = (read(1.0, 0.05), read(1.0, 0.2));
    let mut deep = animal(5, 0.83, 0.8);
    deep.colour = Some(colour([52.0, 24.5, 13.0]));
    (deep.coverage, deep.evenness) = (read(0.83, 0.03), read(0.72, 0.05));
    let mut banded = animal(6, 0.6, 0.75);
    banded.coverage_thirds = [Some(0.88), Some(0.15), Some(0.68)];
    (banded.clear_middle, banded.islands) = (read(0.8, 0.08), read(3.6, 0.8));
    let mut yellow = animal(7, 0.9, 0.66);
    (yellow.coverage, yellow.opacity) = (read(0.9, 0.06), read(0.66, 0.05));
    vec![
        ("red", top),
        ("red", edge),
        ("orange", low),
        ("black", full),
        ("red-tissue", deep),
        ("rili-red", banded),
        ("yellow", yellow),
    ]
}

#[test]
fn chances_agree_with_brute_force() {
    let mut draws = Draws(20_260_101);
    for (line, animal) in cases() {
        let ladder = ladder(line);
        let chances = place(&ladder, &animal)
            .chances
            .expect("it stands on a rung");
        assert!(
            (chances.iter().sum::<f64>() - 1.0).abs() < 1e-12,
            "{line}: {chances:?}"
        );
        let mut counts = [0u32; 6];
        for _ in 0..DRAWS {
            let rung = place(&ladder, &draws.animal(&animal))
                .rung
                .expect("it stands on a rung");
            counts[rung.index()] += 1;
        }
        for (count, p) in counts.iter().zip(chances) {
            let (n, seen) = (f64::from(DRAWS), f64::from(*count) / f64::from(DRAWS));
            // Half a count for the step from whole counts to the normal curve.
            let limit = Z * (p * (1.0 - p) / n).sqrt() + 0.5 / n;
            assert!(
                (seen - p).abs() <= limit,
                "{line}: {counts:?} against {chances:?}"
            );
        }
    }
}

#[test]
fn the_rung_is_that_of_the_values() {
    // Limits of the common default: 0.25, 0.50, 0.70, 0.85, 0.95; red's opacity 0.55, 0.70, 0.80.
    let cases = [
        (0.0, 0.9, "G0"),
        (0.2499, 0.9, "G0"),
        (0.25, 0.9, "G1"),
        (0.50, 0.5, "G2"),
        (0.70, 0.54, "G2"),
        (0.70, 0.55, "G3"),
        (0.85, 0.69, "G3"),
        (0.85, 0.70, "G4"),
        (0.95, 0.79, "G4"),
        (0.95, 0.80, "G5"),
        (1.0, 1.0, "G5"),
    ];
    for (coverage, opacity, expected) in cases {
        assert_eq!(
            place(&ladder("red"), &animal(1, coverage, opacity)).rung,
            rung(expected),
            "{coverage} {opacity}"
        );
    }
}

#[test]
fn too_close_to_call_at_an_edge_and_not_amid_a_rung() {
    let red = ladder("red");
    let at_edge = place(&red, &animal(1, 0.86, 0.9));
    assert_eq!(
        (at_edge.rung, at_edge.between),
        (rung("G4"), rung("G3").zip(rung("G4")))
    );
    let below = place(&red, &animal(1, 0.84, 0.9));
    assert_eq!(
        (below.rung, below.between),
        (rung("G3"), rung("G3").zip(rung("G4")))
    );
    assert_eq!(place(&red, &animal(1, 0.78, 0.9)).between, None);
    // A quarter of a normal lies beyond 0.6745 standard deviations (table of the normal distribution).
    for (away, between) in [(0.66, true), (0.69, false)] {
        let placing = place(&red, &animal(1, 0.85 + away * 0.02, 0.99));
        assert_eq!(placing.between.is_some(), between, "{away}");
    }
}

#[test]
fn what_the_next_rung_lacks() {
    let placing = place(&ladder("red"), &animal(1, 0.93, 0.75));
    let next = placing.next.expect("a rung above G4");
    assert_eq!(Some(next.rung), rung("G5"));
    let short: Vec<_> = next
        .short_of
        .iter()
        .map(|s| (s.measure.word(), s.value, s.needs, s.too_high))
        .collect();
    assert_eq!(
        short,
        [
            ("coverage", 0.93, 0.95, false),
            ("opacity", 0.75, 0.80, false)
        ]
    );
    assert_eq!(place(&ladder("red"), &animal(1, 0.99, 0.95)).next, None);
    let mut pale = animal(1, 0.9, 0.9);
    pale.colour = Some(colour([60.0, 30.0, 10.0]));
    let next = place(&ladder("red-tissue"), &pale)
        .next
        .expect("a rung above");
    assert_eq!(
        (next.short_of[0].measure.word(), next.short_of[0].too_high),
        ("lightness", true)
    );
}

#[test]
fn no_rung_for_cut_juvenile_milky_and_what_cannot_be_read() {
    let red = ladder("red");
    for (flag, expected) in [
        (Flag::Cut, OffLadder::Cut),
        (Flag::Juvenile, OffLadder::Juvenile),
        (Flag::Milky, OffLadder::Milky),
    ] {
        let placing = place(&red, &flagged(animal(1, 0.9, 0.9), flag));
        assert_eq!(
            (placing.rung, placing.off, placing.between),
            (None, Some(expected), None)
        );
    }
    let mut blind = animal(1, 0.9, 0.9);
    blind.opacity = Reading::Withheld("glare");
    let off = place(&red, &blind).off.expect("it can't be placed");
    assert!(
        matches!(off, OffLadder::Withheld { measure, code: "glare" } if measure.word() == "opacity"),
        "{off:?}"
    );
    blind.coverage = read(0.4, 0.02);
    assert_eq!(
        place(&red, &blind).rung,
        rung("G1"),
        "opacity does not matter so low"
    );
    blind.coverage = Reading::Withheld("white_on_white");
    assert_eq!(place(&red, &blind).rung, None);
}

#[test]
fn unseen_legs_pass_unless_the_house_says_otherwise() {
    let red = catchcup::ladder::shelf::built_in_text("red").expect("built in");
    let with = |legs: &str| {
        let text = red.replacen(
            "opacity = { at_least = 0.80 }",
            &format!("opacity = {{ at_least = 0.80 }}\nlegs = {legs}"),
            1,
        );
        catchcup::ladder::load("mine.toml", &text).expect("a right file")
    };
    let top = animal(1, 0.99, 0.95);
    assert_eq!(place(&with("{ at_least = 0.5 }"), &top).rung, rung("G5"));
    assert_eq!(
        place(&with("{ at_least = 0.5, unseen_passes = false }"), &top).rung,
        None
    );
    let mut clear_legs = top;
    clear_legs.legs = read(0.2, 0.1);
    assert_eq!(
        place(&with("{ at_least = 0.5 }"), &clear_legs).rung,
        rung("G4")
    );
}

#[test]
fn off_type_by_share_never_by_paleness() {
    let red = ladder("red");
    let mut brown = animal(1, 0.9, 0.9);
    brown.brown_share = read(0.3, 0.05);
    let placing = place(&red, &brown);
    assert!(placing.is_off_type() && placing.rung.is_none());
    assert!(!place(&ladder("chocolate"), &brown).is_off_type());
    assert!(!place(&ladder("mixed"), &brown).is_off_type());
    brown.brown_share = Reading::Withheld("too_few_covered");
    assert!(!place(&red, &brown).is_off_type());
}

/// A file may state a larger uncertainty on a lower rung: what was found by random changes to rules files.
#[test]
fn chances_sum_to_one_whatever_uncertainties_a_file_states() {
    let file = catchcup::ladder::shelf::built_in_text("rili-red").expect("a built-in line");
    let asked = "coverage_head = { at_least = 0.40, uncertainty = 0.06 }";
    let changed = file.replace(asked, &asked.replace("0.06", "0.6"));
    assert_ne!(file, changed);
    let ladder = catchcup::ladder::load("house.toml", &changed).expect("it loads");
    for coverage in [0.1, 0.3, 0.5, 0.7, 0.9] {
        let chances = place(&ladder, &animal(1, coverage, 0.6)).chances;
        let chances = chances.expect("everything was read");
        let sum: f64 = chances.iter().sum();
        assert!((sum - 1.0).abs() < 1e-9, "{coverage}: {chances:?}");
        assert!(chances.iter().all(|c| *c >= 0.0), "{chances:?}");
    }
}

#[test]
fn any_numbers_give_a_placing() {
    let red = ladder("red-tissue");
    for value in [f64::NAN, f64::INFINITY, f64::NEG_INFINITY, -1.0, 2.0, 1e300] {
        for uncertainty in [0.0, f64::NAN, f64::INFINITY, 1e-300, 1e300] {
            let mut odd = animal(1, value, value);
            odd.coverage = read(value, uncertainty);
            odd.colour = Some(colour([value, value, value]));
            let placing = place(&red, &odd);
            let chances = placing.chances.unwrap_or([0.0; 6]);
            assert!(
                chances.iter().all(|c| (0.0..=1.0).contains(c)),
                "{value} {uncertainty}: {chances:?}"
            );
        }
    }
}
