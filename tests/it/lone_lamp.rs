//! Scoops in the light of one lamp from the side: shade is no body. Rendered scenes with their truth, into which the shade
//! of a lamp of some width is put by geometry: a place of the ground is dark where a body lies between it and the lamp.

use catchcup::animals::find::find;
use catchcup::animals::models::Models;
use catchcup::photo::Photo;
use catchcup::scene::read_scene;
use catchcup::scoop::grade_photo;
use catchcup::{colour, ladder::Shelf};

use crate::support::picture::{Extras, png};
use crate::support::truth::{Sample, Tally, Truth, alpha, matches, sample, truth};

/// A lamp: the way its shade falls (degrees, clockwise from the right as pictures are drawn), how far in body widths, and the
/// share of the light that it takes.
struct LoneLamp {
    toward: f64,
    reach: f64,
    depth: f64,
}

/// Beginnings of sample names and lamps (drawn once from a generator, not chosen for the outcome).
const SCENES: [(&str, LoneLamp); 6] = [
    (
        "red-clear-to-solid",
        LoneLamp {
            toward: 318.0,
            reach: 0.6,
            depth: 0.7,
        },
    ),
    (
        "red-clear-to-solid",
        LoneLamp {
            toward: 101.0,
            reach: 0.4,
            depth: 0.5,
        },
    ),
    (
        "red-mostly-clear",
        LoneLamp {
            toward: 217.0,
            reach: 0.5,
            depth: 0.6,
        },
    ),
    (
        "orange-beside-chart",
        LoneLamp {
            toward: 29.0,
            reach: 0.7,
            depth: 0.6,
        },
    ),
    (
        "blue-dark-and-light",
        LoneLamp {
            toward: 160.0,
            reach: 0.5,
            depth: 0.75,
        },
    ),
    (
        "mixed-banded",
        LoneLamp {
            toward: 262.0,
            reach: 0.6,
            depth: 0.6,
        },
    ),
];

/// Half the lamp's width as seen from the cup, degrees.
const LAMP_HALF_WIDTH: f64 = 8.0;
/// Points of the lamp from which shade is cast.
const LAMP_POINTS: usize = 7;
/// Share of a solid body's shade that a clear body casts.
const OF_CLEAR: f64 = 0.3;
/// Body lengths to a body width (rendered dwarf shrimp).
const SLENDERNESS: f64 = 6.6;

/// The sample in the light of the lamp, as PNG.
fn lit_by(sample: &Sample, truth: &Truth, lamp: &LoneLamp) -> Vec<u8> {
    let photo = Photo::from_bytes(&sample.file, sample.bytes()).expect("a photo");
    let mut picture = photo.rgb8_upright();
    let (w, h) = (truth.mask.width, truth.mask.height);
    let stops = blocking(sample, truth);
    let mut lengths: Vec<f64> = truth.animals.iter().map(|a| a.length_px).collect();
    lengths.sort_by(f64::total_cmp);
    let reach = lamp.reach * lengths[lengths.len() / 2] / SLENDERNESS;
    let points: Vec<[f64; 2]> = (0..LAMP_POINTS)
        .map(|j| {
            let aside = 2.0 * j as f64 / (LAMP_POINTS - 1) as f64 - 1.0;
            let (sine, cosine) = (lamp.toward + aside * LAMP_HALF_WIDTH)
                .to_radians()
                .sin_cos();
            let far = reach * (1.0 + 0.2 * aside);
            [cosine * far, sine * far]
        })
        .collect();
    let steps = reach.ceil() as usize;
    let shade = |x: usize, y: usize| -> f64 {
        let from = |[dx, dy]: &[f64; 2]| {
            (0..=steps)
                .map(|k| {
                    let t = k as f64 / steps as f64;
                    let (u, v) = (x as f64 - t * dx, y as f64 - t * dy);
                    let inside = u >= 0.0 && v >= 0.0 && u < w as f64 - 1.0 && v < h as f64 - 1.0;
                    if inside {
                        stops[v.round() as usize * w + u.round() as usize]
                    } else {
                        0.0
                    }
                })
                .fold(0.0, f64::max)
        };
        points.iter().map(from).sum::<f64>() / points.len() as f64
    };
    for (x, y, pixel) in picture.enumerate_pixels_mut() {
        let (x, y) = (x as usize, y as usize);
        if truth.mask.ids[y * w + x] == 0 {
            let left = 1.0 - lamp.depth * shade(x, y);
            for value in &mut pixel.0 {
                let light = colour::srgb_decode(f64::from(*value) / 255.0) * left;
                *value = (colour::srgb_encode(light) * 255.0).round() as u8;
            }
        }
    }
    png(w, h, picture.as_raw(), &Extras::default())
}

/// Share of the light that each pixel's body stops.
fn blocking(sample: &Sample, truth: &Truth) -> Vec<f64> {
    let pigment = alpha(sample);
    let stops = |(id, a): (&u8, u8)| match id {
        0 => 0.0,
        _ => OF_CLEAR + (1.0 - OF_CLEAR) * f64::from(a) / 255.0,
    };
    truth.mask.ids.iter().zip(pigment).map(stops).collect()
}

#[test]
fn bodies_are_found_without_the_shade_of_a_lone_lamp() {
    let (mut tally, mut told) = (Tally::default(), 0);
    for (name, lamp) in &SCENES {
        let sample = sample(name);
        let truth = truth(&sample);
        let bytes = lit_by(&sample, &truth, lamp);
        let graded = grade_photo("lit.png", &bytes, &sample.order(), &Shelf::default());
        let graded = graded.expect("a graded photo");
        tally.add(&matches(&graded, &truth));
        if let Some(degrees) = direction_off(&bytes, &sample, lamp) {
            told += 1;
            assert!(degrees < 45.0, "{name}: {degrees} degrees off");
        }
    }
    println!("{tally:?}, directions {told}");
    assert!(tally.f1() >= FOUND && tally.overlap() >= OVERLAP);
    assert!(tally.coverage_off() <= COVERAGE && told >= DIRECTIONS);
}

/// F1 of all scenes together, at least.
const FOUND: f64 = 0.93;
/// Mean intersection over union of the matched bodies, at least.
const OVERLAP: f64 = 0.8;
/// Mean absolute error of coverage, at most.
const COVERAGE: f64 = 0.05;
/// Scenes whose lamp is told, at least: mostly clear animals cast little shade.
const DIRECTIONS: usize = 4;

/// Degrees between the way the shade falls and what is told of it; none where no lamp is seen.
fn direction_off(bytes: &[u8], sample: &Sample, lamp: &LoneLamp) -> Option<f64> {
    let photo = Photo::from_bytes("lit.png", bytes).expect("a photo");
    let scene = read_scene(&photo, &sample.order().cup);
    let [x, y] = find(&photo, &scene, &Models::built_in()).lamp?.toward;
    let off = (f64::from(y.atan2(x)).to_degrees() - lamp.toward).rem_euclid(360.0);
    Some(off.min(360.0 - off))
}
