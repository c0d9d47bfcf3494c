//! CIELAB of the flattened picture, plane by plane.

use crate::plane::Plane;
use crate::scene::light::FlatPicture;
use rayon::prelude::*;

/// CIELAB (D65) of the ratio to the floor: the floor is (100, 0, 0).
#[derive(Debug, Clone)]
pub struct Tones {
    /// Lightness; above 100 where brighter than the floor.
    pub lightness: Plane,
    /// Green to red.
    pub a: Plane,
    /// Blue to yellow.
    pub b: Plane,
}

/// CIELAB planes of a flattened picture.
pub fn tones(flat: &FlatPicture) -> Tones {
    let (w, h) = (flat.ratio[0].width, flat.ratio[0].height);
    let mut lightness = Plane::filled(w, h, 0.0);
    let mut a = Plane::filled(w, h, 0.0);
    let mut b = Plane::filled(w, h, 0.0);
    let rows = lightness
        .values
        .par_chunks_mut(w)
        .zip(a.values.par_chunks_mut(w).zip(b.values.par_chunks_mut(w)))
        .enumerate();
    rows.for_each(|(y, (l, (a, b)))| {
        for x in 0..w {
            let i = y * w + x;
            let lab = crate::colour::lab_of_ratio_fast(std::array::from_fn(|k| flat.ratio[k].values[i]));
            (l[x], a[x], b[x]) = (lab[0], lab[1], lab[2]);
        }
    });
    Tones { lightness, a, b }
}
