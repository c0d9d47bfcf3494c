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
///
/// On dark ground lightness is 100 less the step from the ground up to the pixel, so that bodies are darker than 100
/// there too, and a*, b* are the steps from the ground's own.
pub fn tones(flat: &FlatPicture) -> Tones {
    let mut out = plain(&flat.ratio);
    if let Some(white) = flat.white {
        let (w, h) = (out.a.width, out.a.height);
        let ground = flat
            .floor
            .each_ref()
            .map(|f| f.enlarged(flat.floor_step, w, h).map(|v| v / white));
        let ground = plain(&ground);
        out.lightness = out.lightness.zip(&ground.lightness, |l, g| 100.0 - (l - g));
        out.a = out.a.zip(&ground.a, |v, g| v - g);
        out.b = out.b.zip(&ground.b, |v, g| v - g);
    }
    out
}

fn plain(ratio: &[Plane; 3]) -> Tones {
    let (w, h) = (ratio[0].width, ratio[0].height);
    let mut lightness = Plane::filled(w, h, 0.0);
    let mut a = Plane::filled(w, h, 0.0);
    let mut b = Plane::filled(w, h, 0.0);
    const ROWS: usize = 32;
    let [red, green, blue] = ratio.each_ref().map(|p| p.values.par_chunks(w * ROWS));
    let seen = red.zip(green).zip(blue);
    let rows = lightness
        .values
        .par_chunks_mut(w * ROWS)
        .zip(a.values.par_chunks_mut(w * ROWS));
    rows.zip(b.values.par_chunks_mut(w * ROWS))
        .zip(seen)
        .for_each(|(((l, a), b), ((red, green), blue))| {
            let seen = red.iter().zip(green).zip(blue);
            for (((l, a), b), ((red, green), blue)) in l.iter_mut().zip(a).zip(b).zip(seen) {
                [*l, *a, *b] = crate::colour::lab_of_ratio_fast([*red, *green, *blue]);
            }
        });
    Tones { lightness, a, b }
}
