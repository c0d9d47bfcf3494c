//! One animal in one photo, as far as it matters for knowing it again and for comparing its numbers.

use crate::ladder::Rung;
use crate::measures::{AnimalMeasures, Flag};
use crate::scoop::{GradedAnimal, KeptAnimal, Scoop};

/// One animal in one photo.
#[derive(Debug, Clone, PartialEq)]
pub struct Sighting {
    /// Its number in that photo.
    pub no: u32,
    /// Middle of the body, full-size pixels.
    pub centre: [f64; 2],
    /// Length in pixels.
    pub length_px: f64,
    /// Length in millimetres, where the scale is known.
    pub length_mm: Option<f64>,
    /// Coverage, 0..=1.
    pub coverage: Option<f64>,
    /// Opacity, 0..=1.
    pub opacity: Option<f64>,
    /// CIELAB of the covered part relative to the floor.
    pub lab: Option<[f64; 3]>,
    /// Rung and, where it is too close to call, the rungs on both sides.
    pub rung: Option<(Rung, Option<(Rung, Rung)>)>,
}

/// The animals of a scoop that are whole, by number.
pub fn sightings(scoop: &Scoop) -> Vec<Sighting> {
    let whole = |animal: &&GradedAnimal| !animal.measures.flags.contains(&Flag::Cut);
    scoop.animals.iter().filter(whole).map(sighting).collect()
}

/// The same for animals as they are kept, cut ones too; those without a place lie at the origin.
pub fn sightings_of_kept(animals: &[KeptAnimal]) -> Vec<Sighting> {
    let one = |animal: &KeptAnimal| {
        let place = animal.place;
        let ends = place.map(|p| [0, 1].map(|axis| f64::from(p.head[axis] - p.tail[axis])));
        Sighting {
            no: animal.no,
            centre: place.map_or([0.0; 2], |p| {
                let [x, y, w, h] = p.bbox.map(f64::from);
                [x + w / 2.0, y + h / 2.0]
            }),
            length_px: ends.map_or(1.0, |[dx, dy]| dx.hypot(dy).max(1.0)),
            length_mm: animal.length_mm.map(|l| l.value),
            coverage: animal.coverage.map(|c| c.value),
            opacity: animal.opacity.map(|o| o.value),
            lab: animal.colour.and_then(|c| c.lab),
            rung: animal.rung.map(|rung| (rung, animal.between)),
        }
    };
    animals.iter().map(one).collect()
}

fn sighting(animal: &GradedAnimal) -> Sighting {
    let m = &animal.measures;
    Sighting {
        no: m.no,
        centre: centre(m),
        length_px: m.length_px.value,
        length_mm: m.length_mm.map(|l| l.value),
        coverage: m.coverage.value(),
        opacity: m.opacity.value(),
        lab: m.colour.as_ref().map(|c| c.lab),
        rung: animal
            .placing
            .rung
            .map(|rung| (rung, animal.placing.between)),
    }
}

/// Middle of the border pixels' box: steadier than head and tail, whose ends may be swapped.
fn centre(m: &AnimalMeasures) -> [f64; 2] {
    let [x, y, w, h] = m.bbox.map(f64::from);
    [x + w / 2.0, y + h / 2.0]
}
