//! Animals made of numbers, for tests of ladder, record and text.

use catchcup::measures::{AnimalMeasures, BodyColour, Flag, Sex, SexFrom, View};
use catchcup::units::{Measured, Reading};

/// A reading with its standard uncertainty.
pub fn read(value: f64, uncertainty: f64) -> Reading {
    Reading::Value(Measured::new(value, uncertainty))
}

/// Colour of the covered part from CIELAB.
pub fn colour(lab: [f64; 3]) -> BodyColour {
    let chroma = lab[1].hypot(lab[2]);
    let hue_deg = lab[2].atan2(lab[1]).to_degrees().rem_euclid(360.0);
    BodyColour {
        lab,
        lab_abs: None,
        chroma,
        hue_deg,
    }
}

/// A readable adult of the given coverage and opacity, seen from above, legs unseen.
pub fn animal(no: u32, coverage: f64, opacity: f64) -> AnimalMeasures {
    let x = 100 * no as i32;
    AnimalMeasures {
        no,
        outline: vec![[x, 40], [x + 60, 40], [x + 60, 60], [x, 60]],
        holes: Vec::new(),
        bbox: [x, 40, 61, 21],
        head: [x as f32, 50.0],
        tail: [x as f32 + 60.0, 50.0],
        head_sure: 0.95,
        sex: Sex::Unsure,
        sex_from: SexFrom::None,
        view: View::Top,
        area_px: 1281.0,
        length_px: Measured::new(62.0, 1.5),
        length_mm: Some(Measured::new(24.0, 0.6)),
        coverage: read(coverage, 0.02),
        coverage_thirds: [Some(coverage); 3],
        opacity: read(opacity, 0.03),
        evenness: read(0.82, 0.04),
        clear_window: read(0.5 * (1.0 - coverage), 0.02),
        islands: read(2.0, 0.0),
        colour: Some(colour([42.0, 36.0, 19.0])),
        line_de00: read(3.0, 0.5),
        wrong_hue_share: read(0.01, 0.01),
        brown_share: read(0.02, 0.01),
        legs: Reading::Withheld("not_seen"),
        stripe: Reading::Withheld("not_seen"),
        clear_middle: read(1.0 - coverage, 0.04),
        flags: Vec::new(),
        doubts: Vec::new(),
    }
}

/// The same animal with a flag.
pub fn flagged(mut animal: AnimalMeasures, flag: Flag) -> AnimalMeasures {
    animal.flags.push(flag);
    animal.flags.sort();
    animal
}
