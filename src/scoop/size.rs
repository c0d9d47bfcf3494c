//! Whether the scale that was given can be right: dwarf shrimp are of a known size.

use crate::doubt::Note;
use crate::measures::AnimalMeasures;
use crate::stats::quantile;

/// Body lengths in millimetres between which the middle one of a scoop lies: young ones just let go of are 2 to 3 long, which
/// no photo of a cup shows, and the largest females stay below 40 (common practice, no source).
const LENGTHS_MM: [f64; 2] = [4.0, 40.0];
/// Inner floor in millimetres below which no scoop fits into a cup, and above which it is a tank (common practice, no source).
const FLOOR_MM: [f64; 2] = [30.0, 400.0];
/// From so many animals on it is worth a word that all of them are young.
const SEVERAL: usize = 3;

const AGAIN: &str =
    "measure the inner floor of the cup and say it: --cup-mm 88, or cup_mm = 88 in house.toml";

/// A doubt where the floor that was given (`floor_mm`) or the lengths that follow from it are not those of a cup of dwarf
/// shrimp, or where all animals come out shorter than `juvenile_mm`. None where no length is known.
pub(super) fn size_doubt(
    floor_mm: Option<f64>,
    animals: &[AnimalMeasures],
    juvenile_mm: f64,
) -> Option<Note> {
    if let Some(floor) = floor_mm.filter(|floor| !within(*floor, FLOOR_MM)) {
        return Some(Note::new(
            "scale_unlikely",
            format!(
                "a cup with a floor of {floor:.0} mm was given; {:.0} to {:.0} mm were expected",
                FLOOR_MM[0], FLOOR_MM[1]
            ),
            AGAIN,
        ));
    }
    let lengths = animals.iter().filter_map(|animal| animal.length_mm);
    let lengths: Vec<f64> = lengths.map(|length| length.value).collect();
    let middle = quantile(&lengths, 0.5)?;
    if !within(middle, LENGTHS_MM) {
        return Some(Note::new(
            "scale_unlikely",
            format!(
                "the animals come out at {middle:.0} mm; dwarf shrimp of {:.0} to {:.0} mm were expected",
                LENGTHS_MM[0], LENGTHS_MM[1]
            ),
            AGAIN,
        ));
    }
    let young = lengths
        .iter()
        .filter(|length| **length < juvenile_mm)
        .count();
    (young == lengths.len() && young >= SEVERAL).then(|| {
        Note::new(
            "all_juvenile",
            format!(
                "all {young} animals come out shorter than {juvenile_mm:.0} mm, so none is graded"
            ),
            format!("right for a cup of young ones; else {AGAIN}"),
        )
    })
}

fn within(value: f64, [low, high]: [f64; 2]) -> bool {
    (low..=high).contains(&value)
}
