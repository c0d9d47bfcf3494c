//! Scoops in black cups against their truth: white animals, some milky and some glassy, and banded ones.

use catchcup::ladder::Shelf;
use catchcup::measures::Flag;
use catchcup::scene::CupSpec;
use catchcup::scoop::{Graded, MinutesRule, Netted, Order, grade_photo};

use crate::support::root;
use crate::support::truth::{Matches, Tally, Truth, matches, truth_in};

/// A rendered scoop, its line, its cup's width, and the animals (by number in the truth) that are milky and show it: clear
/// parts enough. Glassy and plain ones must not be called so.
const SCOOPS: [(&str, &str, f64, &[u8]); 2] = [
    ("white", "white", 87.38, &[2, 5]),
    ("banded-red", "rili-red", 72.79, &[]),
];

/// F1 of both scoops together, at least.
const FOUND: f64 = 0.9;
/// Mean absolute error of coverage of both together, at most.
const COVERAGE: f64 = 0.08;
/// Mean intersection over union of the matched bodies, at least.
const OVERLAP: f64 = 0.8;

fn graded((name, line, floor_mm, _): (&str, &str, f64, &[u8])) -> (Graded, Truth) {
    let file = |ending: &str| root().join(format!("tests/data/dark/{name}.{ending}"));
    let order = Order {
        ladder: Shelf::default().ladder(line),
        cup: CupSpec {
            floor_mm: Some(floor_mm),
            dark: true,
            ..CupSpec::default()
        },
        sex: None,
        juvenile_mm: 15.0,
        netted: Netted::Unknown,
        minutes: MinutesRule::default(),
    };
    let bytes = std::fs::read(file("jpg")).expect("a photo");
    let graded = grade_photo("dark.jpg", &bytes, &order, &Shelf::default());
    (graded.expect("a graded photo"), truth_in(&file))
}

/// The banded animals in their black cup.
pub fn banded() -> (Graded, Truth) {
    graded(SCOOPS[1])
}

#[test]
fn animals_in_a_black_cup_are_found_whole_and_milky_ones_told_from_glassy() {
    let mut tally = Tally::default();
    for scoop in SCOOPS {
        let (graded, truth) = graded(scoop);
        let matched = matches(&graded, &truth);
        tally.add(&matched);
        assert_eq!(milky(&matched), scoop.3, "{}", scoop.0);
    }
    println!("{tally:?}");
    assert!(tally.f1() >= FOUND && tally.overlap() >= OVERLAP);
    assert!(tally.coverage_off() <= COVERAGE);
}

/// Numbers of the true animals whose partners are called milky.
fn milky(matched: &Matches) -> Vec<u8> {
    let called = |p: &&_| is_milky(p);
    let mut ids: Vec<u8> = matched
        .pairs
        .iter()
        .filter(called)
        .map(|p| p.true_one.id)
        .collect();
    ids.sort_unstable();
    ids
}

fn is_milky(pair: &crate::support::truth::Pair) -> bool {
    pair.found.flags.contains(&Flag::Milky)
}
