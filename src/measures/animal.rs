//! One animal's measures from its pixels.

use super::line_colour::{LineColour, SolidityModel};
use super::pigment::{Paint, mean, nearest_in_range, paint_of};
use super::{AnimalMeasures, BodyColour, Flag, Sex, SexFrom, View, outline};
use crate::animals::field::Field;
use crate::animals::find::Animal;
use crate::colour;
use crate::scene::{Ground, Scene};
use crate::units::{Measured, Reading};

/// A body pixel as the measuring sees it.
#[derive(Debug, Clone, Copy)]
struct Spot {
    x: i32,
    y: i32,
    /// 0 = head, 1 = middle, 2 = tail.
    third: usize,
    ratio: [f64; 3],
    opacity: f64,
    covered: bool,
}

/// Opacity at which a pixel counts as covered.
pub const COVERED_FROM: f64 = 0.5;
/// Fewer covered pixels than this give no opacity, evenness or colour.
const LEAST_COVERED: usize = 12;

/// What is measured of one animal, and its covered pixels in the fine picture.
pub struct Measurement {
    /// The numbers.
    pub measures: AnimalMeasures,
    /// Covered fine pixels (x, y).
    pub covered: Vec<(i32, i32)>,
}

/// The measures of one animal against one line's colour.
pub fn measure(
    no: u32,
    animal: &Animal,
    field: &Field,
    scene: &Scene,
    line: &LineColour,
    given_sex: Option<Sex>,
    size: (usize, usize),
) -> Measurement {
    let mut spots = spots(animal, field);
    let ratios: Vec<[f64; 3]> = spots.iter().map(|s| s.ratio).collect();
    let paint = paint_of(line, &ratios);
    for s in &mut spots {
        s.opacity = paint.opacity(s.ratio);
        s.covered = s.opacity >= COVERED_FROM && hue_fits(line, s.ratio);
    }
    let why = withheld(scene, line);
    let pixels = outline::full_pixels(animal, field, size.0, size.1);
    let (chain, holes) = outline::chains(&pixels);
    let length_px = f64::from(animal.body.length()) * field.step as f64;
    let length = Measured::new(length_px, 0.025 * length_px);
    let head = field.full_of_fine(animal.body.ribbon.axis[animal.body.first]);
    let tail = field.full_of_fine(animal.body.ribbon.axis[animal.body.last]);
    let covered: Vec<&Spot> = spots.iter().filter(|s| s.covered).collect();
    let coverage = covered.len() as f64 / spots.len().max(1) as f64;
    let uncertain = coverage_uncertainty(&spots, animal);
    let give = |value: f64, uncertainty: f64| match why {
        Some(code) => Reading::Withheld(code),
        None => Reading::Value(Measured::new(value, uncertainty)),
    };
    let enough = covered.len() >= LEAST_COVERED;
    let of_covered = |value: f64, uncertainty: f64| {
        if enough || why.is_some() { give(value, uncertainty) } else { Reading::Withheld("too_little_colour") }
    };
    let opacities: Vec<f64> = covered.iter().map(|s| s.opacity).collect();
    let opacity = opacities.iter().sum::<f64>() / opacities.len().max(1) as f64;
    let spread = crate::stats::standard_deviation(&opacities).unwrap_or(0.0);
    let body_colour = (enough && why.is_none()).then(|| body_colour(&covered));
    let (wrong, brown) = off_shares(line, &spots);
    let (window, islands) = super::patches::patches(animal, &covered.iter().map(|s| (s.x, s.y)).collect::<Vec<_>>());
    let measures = AnimalMeasures {
        no,
        bbox: [pixels.origin[0], pixels.origin[1], pixels.width as i32, pixels.height as i32],
        area_px: pixels.area() as f64,
        outline: chain,
        holes,
        head,
        tail,
        head_sure: f64::from(1.0 / (1.0 + (-animal.body.head_log_odds).exp())),
        sex: given_sex.unwrap_or(Sex::Unsure),
        sex_from: if given_sex.is_some() { SexFrom::Given } else { SexFrom::None },
        view: View::Unsure,
        length_px: length,
        length_mm: scene.px_per_mm.map(|scale| in_mm(length, scale)),
        coverage: give(coverage, uncertain),
        coverage_thirds: if why.is_some() { [None; 3] } else { thirds(&spots) },
        opacity: of_covered(opacity, 0.04),
        evenness: of_covered((1.0 - 2.0 * spread).clamp(0.0, 1.0), 0.06),
        clear_window: give(window, 0.03),
        islands: give(islands as f64, 1.0),
        line_de00: match &body_colour {
            Some(c) => give(line_distance(line, c.lab), 1.5),
            None => Reading::Withheld(why.unwrap_or("too_little_colour")),
        },
        colour: body_colour,
        wrong_hue_share: give(wrong, 0.03),
        brown_share: give(brown, 0.03),
        legs: Reading::Withheld("not_measured"),
        stripe: Reading::Withheld("not_measured"),
        clear_middle: match thirds(&spots)[1] {
            Some(m) if why.is_none() => give(1.0 - m, 0.06),
            _ => Reading::Withheld(why.unwrap_or("too_few_pixels")),
        },
        flags: flags(animal),
        doubts: Vec::new(),
    };
    Measurement { measures, covered: covered.iter().map(|s| (s.x, s.y)).collect() }
}

fn spots(animal: &Animal, field: &Field) -> Vec<Spot> {
    let w = field.flat.ratio[0].width;
    let n = animal.pixels.stations as f32;
    animal
        .pixels
        .iter()
        .map(|(x, y, station)| {
            let i = y as usize * w + x as usize;
            let ratio = std::array::from_fn(|c| f64::from(field.flat.ratio[c].values[i]));
            let third = ((f32::from(station) - 0.5) / n * 3.0) as usize;
            Spot { x, y, third: third.min(2), ratio, opacity: 0.0, covered: false }
        })
        .collect()
}

/// White pigment on white ground can't be told from ground; everything else can.
fn withheld(scene: &Scene, line: &LineColour) -> Option<&'static str> {
    (line.model == SolidityModel::White && scene.ground == Ground::White).then_some("white_on_white")
}

/// True when the colour's hue is the line's, or too weak to be judged.
fn hue_fits(line: &LineColour, ratio: [f64; 3]) -> bool {
    let lab = colour::lab(ratio);
    match line.hue {
        Some(gate) if colour::chroma(lab) >= line.chroma_floor => gate.contains(colour::hue_deg(lab)),
        _ => true,
    }
}

fn thirds(spots: &[Spot]) -> [Option<f64>; 3] {
    std::array::from_fn(|k| {
        let all = spots.iter().filter(|s| s.third == k).count();
        let covered = spots.iter().filter(|s| s.third == k && s.covered).count();
        (all >= 20).then(|| covered as f64 / all as f64)
    })
}

/// Shares of the body with pigment of a wrong hue, and with wild-type brown.
fn off_shares(line: &LineColour, spots: &[Spot]) -> (f64, f64) {
    let n = spots.len().max(1) as f64;
    let (mut wrong, mut brown) = (0.0, 0.0);
    for s in spots {
        let lab = colour::lab(s.ratio);
        let (chroma, hue) = (colour::chroma(lab), colour::hue_deg(lab));
        let is_brown = (45.0..110.0).contains(&hue) && (8.0..32.0).contains(&chroma) && lab[0] < 62.0;
        if is_brown && !line.brown_allowed {
            brown += 1.0;
        } else if let Some(gate) = line.hue
            && chroma >= line.chroma_floor.max(12.0)
            && !gate.contains(hue)
            && lab[0] < 80.0
        {
            wrong += 1.0;
        }
    }
    (wrong / n, brown / n)
}

fn body_colour(covered: &[&Spot]) -> BodyColour {
    let ratios: Vec<[f64; 3]> = covered.iter().map(|s| s.ratio).collect();
    let lab = colour::lab(mean(&ratios));
    BodyColour { lab, lab_abs: None, chroma: colour::chroma(lab), hue_deg: colour::hue_deg(lab) }
}

fn line_distance(line: &LineColour, lab: [f64; 3]) -> f64 {
    let nearest = nearest_in_range(&line.full, colour::linear_from_lab(lab));
    colour::ciede2000(lab, colour::lab(nearest))
}

/// Standard uncertainty of coverage: pixels near the cut may fall either way, the outline may be off,
/// and nothing is known better than the truth itself is (0.02: the cut moved by 0.05 moves coverage that much).
fn coverage_uncertainty(spots: &[Spot], animal: &Animal) -> f64 {
    let n = spots.len().max(1) as f64;
    let near = spots.iter().filter(|s| (s.opacity - COVERED_FROM).abs() < 0.12).count() as f64 / n;
    let rim = 0.02 / f64::from(animal.body.mean_width().max(8.0) / 40.0).min(1.0);
    (0.02f64.powi(2) + (0.5 * near).powi(2) + rim.powi(2)).sqrt()
}

fn in_mm(length: Measured, scale: Measured) -> Measured {
    let value = length.value / scale.value;
    let relative = (length.uncertainty / length.value).hypot(scale.uncertainty / scale.value);
    Measured::new(value, value * relative)
}

fn flags(animal: &Animal) -> Vec<Flag> {
    let mut out = Vec::new();
    if animal.cut {
        out.push(Flag::Cut);
    }
    if animal.body.touching {
        out.push(Flag::Touching);
    }
    out
}

/// Paint and mean opacity of pigment of one line over an animal, for guessing the line.
pub fn fit_of_line(animal: &Animal, field: &Field, line: &LineColour) -> (f64, Paint) {
    let ratios: Vec<[f64; 3]> = spots(animal, field).iter().map(|s| s.ratio).collect();
    let paint = paint_of(line, &ratios);
    let mut sum = 0.0;
    for r in &ratios {
        let o = paint.opacity(*r);
        let shown: [f64; 3] = std::array::from_fn(|c| (1.0 - o) * paint.clear[c] + o * paint.full[c]);
        sum += (0..3).map(|c| (shown[c] - r[c]).powi(2)).sum::<f64>();
    }
    (sum / ratios.len().max(1) as f64, paint)
}
