//! The sample images against their truth. The bounds stand in one table; tighten them as the program gets better.

use catchcup::ladder::Shelf;
use catchcup::measures::AnimalMeasures;
use catchcup::scoop::grade_photo;

use crate::support::truth::{Pair, fill, graded, matches, median, sample, samples, truth};

/// What a sample must at least show. Errors are against the truth of the rendered scene.
struct Bounds {
    /// Beginning of the file name.
    file: &'static str,
    missed: usize,
    extra: usize,
    /// Mean intersection over union of the matched bodies, at least.
    iou: f64,
    /// Mean absolute error of coverage, at most.
    coverage: f64,
    /// Mean error of coverage with its sign, either way at most.
    bias: f64,
    /// Mean absolute error of opacity where there is colour to measure, at most.
    opacity: f64,
    /// Median relative error of the length in pixels, at most.
    length: f64,
    /// Median relative error of the length in millimetres, at most: beside the chart one animal of six is cut short by its fan.
    length_mm: f64,
    /// Animals whose head end is taken for the tail, at most.
    heads_wrong: usize,
}

#[rustfmt::skip]
const BOUNDS: [Bounds; 5] = [
    Bounds { file: "red-clear-to-solid",  missed: 0, extra: 0, iou: 0.85, coverage: 0.03, bias: 0.02, opacity: 0.04, length: 0.04, length_mm: 0.05, heads_wrong: 0 },
    Bounds { file: "red-mostly-clear",    missed: 0, extra: 0, iou: 0.82, coverage: 0.03, bias: 0.02, opacity: 0.04, length: 0.04, length_mm: 0.05, heads_wrong: 0 },
    Bounds { file: "orange-beside-chart", missed: 0, extra: 0, iou: 0.82, coverage: 0.095, bias: 0.06, opacity: 0.07, length: 0.04, length_mm: 0.105, heads_wrong: 0 },
    Bounds { file: "blue-dark-and-light", missed: 0, extra: 0, iou: 0.87, coverage: 0.06, bias: 0.04, opacity: 0.04, length: 0.04, length_mm: 0.05, heads_wrong: 0 },
    Bounds { file: "mixed-banded",        missed: 0, extra: 0, iou: 0.81, coverage: 0.065, bias: 0.06, opacity: 0.05, length: 0.04, length_mm: 0.08, heads_wrong: 0 },
];

/// True coverage below which there is too little colour to measure an opacity.
const COLOUR_ENOUGH: f64 = 0.1;

#[test]
fn samples_are_near_their_truth() {
    let faults: Vec<String> = BOUNDS.iter().flat_map(faults_of).collect();
    assert!(faults.is_empty(), "{}", faults.join("\n"));
}

fn faults_of(bounds: &Bounds) -> Vec<String> {
    let sample = sample(bounds.file);
    let truth = truth(&sample);
    let matched = matches(graded(&sample), &truth);
    let pairs = &matched.pairs;
    let coverage = errors(pairs, |m| m.coverage.value(), |p| Some(p.true_one.coverage));
    let opacity = errors(
        pairs,
        |m| m.opacity.value(),
        |p| {
            p.true_one
                .opacity
                .filter(|_| p.true_one.coverage > COLOUR_ENOUGH)
        },
    );
    let mut length = lengths(pairs, |p| {
        Some(p.found.length_px.value / p.true_one.length_px)
    });
    let mut length_mm = lengths(pairs, |p| {
        Some(p.found.length_mm?.value / p.true_one.length_mm)
    });
    let rows = [
        (
            "missed animals",
            matched.missed as f64,
            bounds.missed as f64,
        ),
        ("extra animals", matched.extra as f64, bounds.extra as f64),
        (
            "1 - mean IoU",
            1.0 - mean(pairs.iter().map(|p| p.iou)),
            1.0 - bounds.iou,
        ),
        (
            "coverage error",
            mean(coverage.iter().map(|e| e.abs())),
            bounds.coverage,
        ),
        (
            "coverage bias",
            mean(coverage.iter().copied()).abs(),
            bounds.bias,
        ),
        (
            "opacity error",
            mean(opacity.iter().map(|e| e.abs())),
            bounds.opacity,
        ),
        ("length error", median(&mut length), bounds.length),
        (
            "length error in mm",
            median(&mut length_mm),
            bounds.length_mm,
        ),
        (
            "heads wrong",
            heads_wrong(pairs) as f64,
            bounds.heads_wrong as f64,
        ),
    ];
    println!("{}: {:.3?}", sample.file, rows.map(|r| (r.0, r.1)));
    rows.into_iter()
        .filter(|(_, found, most)| found.is_nan() || found > most)
        .map(|(what, found, most)| format!("{}: {what} {found:.3}, {most:.3} at most", sample.file))
        .collect()
}

/// Found minus true where both are known; every found animal must have a value where the truth has one.
fn errors(
    pairs: &[Pair],
    found: impl Fn(&AnimalMeasures) -> Option<f64>,
    truth: impl Fn(&Pair) -> Option<f64>,
) -> Vec<f64> {
    pairs
        .iter()
        .filter_map(|p| Some(found(p.found).unwrap_or(f64::NAN) - truth(p)?))
        .collect()
}

/// Relative errors; infinite where there is no length.
fn lengths(pairs: &[Pair], ratio: impl Fn(&Pair) -> Option<f64>) -> Vec<f64> {
    pairs
        .iter()
        .map(|p| ratio(p).map_or(f64::INFINITY, |r| (r - 1.0).abs()))
        .collect()
}

fn mean(values: impl Iterator<Item = f64>) -> f64 {
    let values: Vec<f64> = values.collect();
    values.iter().sum::<f64>() / values.len() as f64
}

fn heads_wrong(pairs: &[Pair]) -> usize {
    let far = |a: [f32; 2], b: [f64; 2]| (f64::from(a[0]) - b[0]).hypot(f64::from(a[1]) - b[1]);
    pairs
        .iter()
        .filter(|p| far(p.found.head, p.true_one.head) > far(p.found.head, p.true_one.tail))
        .count()
}

#[test]
fn white_on_white_is_found_and_its_coverage_withheld() {
    let sample = sample("white-on-white");
    let (truth, graded) = (truth(&sample), graded(&sample));
    let matched = matches(graded, &truth);
    assert!(
        matched.missed == 0 && matched.extra <= 1,
        "{} missed, {} extra",
        matched.missed,
        matched.extra
    );
    for animal in &graded.scoop.animals {
        assert!(
            animal.measures.coverage.withheld().is_some(),
            "animal {}",
            animal.measures.no
        );
        assert_eq!(animal.placing.rung, None);
    }
}

#[test]
fn no_white_ground_is_withheld_with_the_cure() {
    let scoop = &graded(&sample("plants-on-wood")).scoop;
    assert!(scoop.animals.is_empty());
    let why = scoop.withheld.first().expect("a reason");
    assert!(!why.code.is_empty() && !why.hint.is_empty(), "{why:?}");
}

/// Plants, snail, moult, droppings and marker text, and no animal.
#[test]
fn clutter_is_turned_away() {
    let scoop = &graded(&sample("clutter-only")).scoop;
    assert!(scoop.withheld.is_empty(), "{:?}", scoop.withheld);
    assert_eq!(scoop.animals.len(), 0);
    assert!(!scoop.turned_away.is_empty());
    assert!(
        scoop
            .turned_away
            .iter()
            .all(|thing| !thing.reason.is_empty())
    );
}

/// The truth as these tests compute it from the pictures is the one that the renderer noted (rounded to four places,
/// alpha to 1/255).
#[test]
fn truth_pictures_and_notes_agree() {
    for sample in samples() {
        let truth = truth(&sample);
        assert_eq!(truth.animals.len(), sample.animals, "{}", sample.file);
        for animal in &truth.animals {
            let [coverage, opacity] = animal.noted;
            let near = (animal.coverage - coverage).abs() < 0.01
                && animal.opacity.is_none_or(|o| (o - opacity).abs() < 0.01);
            assert!(near, "{} animal {}: {animal:?}", sample.file, animal.id);
        }
    }
}

/// Worked by hand: the border of a 5 x 4 block, with the border of a hole of 1 x 1 in it.
#[test]
fn chains_are_filled_with_their_borders() {
    let outline = [
        [1, 1],
        [2, 1],
        [3, 1],
        [4, 1],
        [5, 1],
        [5, 2],
        [5, 3],
        [5, 4],
        [4, 4],
        [3, 4],
        [2, 4],
        [1, 4],
        [1, 3],
        [1, 2],
    ];
    let filled = fill(&outline, &[], 8, 7);
    assert_eq!(filled.iter().filter(|p| **p).count(), 20);
    let hole = vec![[2, 2], [3, 1], [4, 2], [3, 3]];
    let holed = fill(&outline, &[hole], 8, 7);
    assert_eq!(holed.iter().filter(|p| **p).count(), 19);
    assert!(!holed[2 * 8 + 3] && holed[2 * 8 + 2]);
}

/// Adults are 20 to 32 mm long (common practice, no source), so a wrong cup shows in the lengths; 45 mm for one of 97 makes
/// adults of 10 to 15 mm.
#[test]
fn a_cup_size_that_makes_no_shrimp_is_doubted() {
    let sample = sample("red-clear-to-solid");
    let said = |floor_mm: f64| -> Vec<&'static str> {
        let mut order = sample.order();
        order.cup.floor_mm = Some(floor_mm);
        let graded = grade_photo(&sample.file, sample.bytes(), &order, &Shelf::default());
        let doubts = graded.expect("a whole photo").scoop.doubts;
        let of_size = ["scale_unlikely", "all_juvenile"];
        doubts
            .iter()
            .map(|note| note.code)
            .filter(|code| of_size.contains(code))
            .collect()
    };
    assert_eq!(said(9.7), ["scale_unlikely"]);
    assert_eq!(said(200.0), ["scale_unlikely"]);
    assert_eq!(said(45.0), ["all_juvenile"]);
    assert!(said(sample.cup_mm.expect("a known cup")).is_empty());
}

#[test]
fn what_is_withheld_is_not_drawn_and_a_thing_is_turned_away_once() {
    let graded = graded(&sample("white-on-white"));
    assert!(!graded.pictures.is_empty());
    assert!(
        graded
            .pictures
            .iter()
            .all(|picture| picture.covered.is_empty())
    );
    let boxes: Vec<[i32; 4]> = graded
        .scoop
        .turned_away
        .iter()
        .map(|thing| thing.bbox)
        .collect();
    for (k, [x, y, w, h]) in boxes.iter().enumerate() {
        let inside = |[a, b, c, d]: &[i32; 4]| a >= x && b >= y && a + c <= x + w && b + d <= y + h;
        let others = boxes.iter().enumerate().filter(|(other, _)| *other != k);
        assert_eq!(
            others.filter(|(_, other)| inside(other)).count(),
            0,
            "{boxes:?}"
        );
    }
}
