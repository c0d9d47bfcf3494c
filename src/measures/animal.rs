//! One animal's measures from its pixels.

use super::hue::{self, OffShares};
use super::line_colour::{CLEAR_ON_DARK, LineColour, SolidityModel};
use super::pigment::{nearest_in_range, paint_of};
use super::seen_colour::seen_colour;
use super::smooth::Sheet;
use super::spots::{self, Spot};
use super::{
    AnimalMeasures, Flag, Sex, SexFrom, View, milky, outline, stripe, uncertain, veil, view,
};
use crate::animals::field::Field;
use crate::animals::find::Animal;
use crate::colour;
use crate::scene::{Ground, Scene};
use crate::units::{Measured, Reading};

/// Opacity at which a pixel counts as covered.
pub const COVERED_FROM: f64 = 0.5;
/// Fewer covered pixels than this give no opacity, evenness or colour.
const LEAST_COVERED: usize = 12;

/// An animal's opacity is brought this much towards the middle: readings far from it are so in part by error (rendered scenes,
/// each photo left out of the fit: 0.95 kept, mean error 0.032 instead of 0.033).
const OPACITY_KEPT: f64 = 0.95;
const OPACITY_MIDDLE: f64 = 0.5;

/// Shade and noise add to the spread of opacity: so much of it is the pigment's own (rendered scenes).
const SPREAD_OF_PIGMENT: f64 = 0.85;

/// Standard uncertainty of the clear share of the middle on white and on dark ground: root mean square of the errors on eight
/// rendered banded animals of two scenes and on six of one, where clear bodies are nearly as dark as the ground.
const CLEAR_MIDDLE: [f64; 2] = [0.08, 0.25];

/// What is measured of one animal, and its covered pixels in the fine picture.
#[derive(Debug)]
pub struct Measurement {
    /// The numbers.
    pub measures: AnimalMeasures,
    /// Covered fine pixels (x, y).
    pub covered: Vec<(i32, i32)>,
    /// What the stated uncertainties are made of.
    pub parts: uncertain::Parts,
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
    // The last animals of a scoop keep few threads busy: what does not hang together is told apart.
    let ((pixels, (chain, holes)), (spots, unexplained)) = rayon::join(
        || {
            let pixels = outline::full_pixels(animal, field, size.0, size.1);
            let chains = outline::chains(&pixels);
            (pixels, chains)
        },
        || {
            let mut spots = spots::spots(animal, field);
            let unexplained = read_opacity(&mut spots, animal, field, &line.on(scene.ground));
            (spots, unexplained)
        },
    );
    let why = withheld(scene, line);
    let seen_from = if scene.ground == Ground::Dark {
        View::Unsure
    } else {
        view::view(animal, &spots)
    };
    let length_px = f64::from(animal.body.length()) * field.step as f64;
    let head = field.full_of_fine(animal.body.ribbon.axis[animal.body.first]);
    let tail = field.full_of_fine(animal.body.ribbon.axis[animal.body.last]);
    let covered: Vec<&Spot> = spots.iter().filter(|s| s.covered).collect();
    let read = spots.iter().filter(|s| !s.unread).count();
    let coverage = covered.len() as f64 / read.max(1) as f64;
    let opacities: Vec<f64> = covered.iter().map(|s| s.opacity).collect();
    let raw = opacities.iter().sum::<f64>() / opacities.len().max(1) as f64;
    let opacity = OPACITY_MIDDLE + OPACITY_KEPT * (raw - OPACITY_MIDDLE);
    let spread = crate::stats::standard_deviation(&opacities).unwrap_or(0.0);
    let parts = uncertain::parts(
        &spots,
        &animal.pixels,
        &animal.body,
        uncertain::Conditions {
            unexplained,
            cut: COVERED_FROM,
        },
    );
    let give = |value: f64, uncertainty: f64| match why {
        Some(code) => Reading::Withheld(code),
        None => Reading::Value(Measured::new(value, uncertainty)),
    };
    let enough = covered.len() >= LEAST_COVERED;
    let of_covered = |value: f64, uncertainty: f64| {
        if enough || why.is_some() {
            give(value, uncertainty)
        } else {
            Reading::Withheld("too_little_colour")
        }
    };
    let even = (1.0 - 2.0 * SPREAD_OF_PIGMENT * spread).clamp(0.0, 1.0);
    let dark = scene.ground == Ground::Dark;
    let (body_colour, OffShares { wrong, brown }) = rayon::join(
        || {
            let told = enough && why.is_none();
            told.then(|| seen_colour(&covered, animal, field, scene))
                .flatten()
        },
        || hue::off_shares(line, &spots, &animal.pixels, thin(field.unit), dark),
    );
    let saddle = hue::saddle_share(&spots) >= SADDLE_SHARE;
    let (sex, sex_from) = sex(given_sex, saddle);
    let (window, islands) = super::patches::patches(
        animal,
        &covered.iter().map(|s| (s.x, s.y)).collect::<Vec<_>>(),
    );
    let measures = AnimalMeasures {
        no,
        bbox: [
            pixels.origin[0],
            pixels.origin[1],
            pixels.width as i32,
            pixels.height as i32,
        ],
        area_px: pixels.area() as f64,
        outline: chain,
        holes,
        head,
        tail,
        head_sure: f64::from(1.0 / (1.0 + (-animal.body.head_log_odds).exp())),
        sex,
        sex_from,
        view: seen_from,
        length_px: Measured::new(length_px, parts.length() * length_px),
        length_mm: scene.px_per_mm.map(|scale| in_mm(length_px, &parts, scale)),
        coverage: give(coverage, parts.coverage()),
        coverage_thirds: if why.is_some() {
            [None; 3]
        } else {
            thirds(&spots)
        },
        opacity: of_covered(opacity, parts.opacity()),
        evenness: of_covered(even, uncertain::evenness(even, coverage)),
        clear_window: give(window, 0.03),
        islands: give(islands as f64, 1.0),
        line_de00: match &body_colour {
            Some(c) => give(line_distance(line, c.lab), 1.5),
            None if dark && enough && why.is_none() => Reading::Withheld("no_white_in_view"),
            None => Reading::Withheld(why.unwrap_or("too_little_colour")),
        },
        colour: body_colour,
        wrong_hue_share: give(wrong, 0.03),
        brown_share: give(brown, 0.03),
        legs: Reading::Withheld("legs_not_seen"),
        stripe: stripe::stripe(&animal.body, field, seen_from),
        clear_middle: match thirds(&spots)[1] {
            Some(m) if why.is_none() => give(1.0 - m, CLEAR_MIDDLE[usize::from(dark)]),
            _ => Reading::Withheld(why.unwrap_or("too_few_pixels")),
        },
        flags: flags(animal, field, &spots, saddle),
        doubts: Vec::new(),
    };
    Measurement {
        measures,
        covered: covered.iter().map(|s| (s.x, s.y)).collect(),
        parts,
    }
}

/// A pixel brighter than the floor by this in every channel is glare.
const GLARE: f64 = 1.06;
/// On dark ground white animals come near the white they are measured against.
const GLARE_ON_DARK: f64 = 1.4;
/// More of the body than this under glare is told.
const GLARE_SHARE: f64 = 0.03;
/// Thin structures (gut line, eyes, joints) that drab lines must not take for pigment: up to about a quarter of a body width,
/// which is 1.2 units (0.2 lets gut lines through, 0.3 takes spots of pigment with them on the rendered scenes).
const THIN_UNITS: f32 = 0.3;

/// Width of the rim, in body units, whose opacity is read from further in (0.03 to 0.05 measure alike).
const RIM_UNITS: f32 = 0.03;

/// Opacity of every pixel, which of them are covered, and which can't be read. Returns what the paint leaves unexplained of the
/// covered pixels' colours: root mean square, linear light relative to the floor.
fn read_opacity(spots: &mut [Spot], animal: &Animal, field: &Field, line: &LineColour) -> f64 {
    let on_dark = line.clear == CLEAR_ON_DARK;
    let veil = if line.achromatic || on_dark {
        0.0
    } else {
        veil::veil(spots)
    };
    let glare = if on_dark { GLARE_ON_DARK } else { GLARE };
    let ratios: Vec<[f64; 3]> = spots
        .iter()
        .map(|s| veil::unveiled(s.ratio, veil))
        .collect();
    if !on_dark {
        hue::mark_roe(line, spots, &animal.pixels, thin(field.unit));
    }
    let bare: Vec<[f64; 3]> = (ratios.iter().zip(spots.iter()))
        .filter(|(_, s)| !s.roe)
        .map(|(r, _)| *r)
        .collect();
    let paint = paint_of(line, &bare);
    let mut sheet = Sheet::new(&animal.pixels, ratios.iter().map(|r| paint.opacity(*r)));
    sheet.smooth(smoothing_passes(field.unit));
    sheet.carry_outward(((RIM_UNITS * field.unit).round() as usize).max(1));
    for (s, opacity) in spots.iter_mut().zip(sheet.values()) {
        s.opacity = opacity;
    }
    if paint.is_drab() && !on_dark {
        sheet.open(thin(field.unit));
    }
    for (s, broad) in spots.iter_mut().zip(sheet.values()) {
        s.broad = broad;
        s.unread = s.roe || s.ratio.iter().all(|v| *v > glare);
        s.covered = !s.unread && broad >= COVERED_FROM && hue::fits(line, s);
    }
    let left: Vec<f64> = (ratios.iter().zip(spots.iter()))
        .filter(|(_, s)| s.covered)
        .map(|(r, _)| paint.unexplained(*r))
        .collect();
    (left.iter().sum::<f64>() / left.len().max(1) as f64).sqrt()
}

/// Half-width in fine pixels of the thickest structure that is no pigment.
fn thin(unit: f32) -> usize {
    ((THIN_UNITS * unit - 1.0) / 2.0) as usize
}

/// Passes that smooth over about a thirtieth of a body unit (measured: 1 to 2 pixels at a unit of 36 are best).
fn smoothing_passes(unit: f32) -> usize {
    ((unit * unit / 650.0).round() as usize).clamp(1, 8)
}

/// White pigment on white ground can't be told from ground; everything else can.
fn withheld(scene: &Scene, line: &LineColour) -> Option<&'static str> {
    (line.model == SolidityModel::White && scene.ground == Ground::White)
        .then_some("white_on_white")
}

fn thirds(spots: &[Spot]) -> [Option<f64>; 3] {
    std::array::from_fn(|k| {
        let all = spots
            .iter()
            .filter(|s| usize::from(s.third) == k && !s.unread)
            .count();
        let covered = spots
            .iter()
            .filter(|s| usize::from(s.third) == k && s.covered)
            .count();
        (all >= 20).then(|| covered as f64 / all as f64)
    })
}

fn line_distance(line: &LineColour, lab: [f64; 3]) -> f64 {
    let nearest = nearest_in_range(&line.full, colour::linear_from_lab(lab));
    colour::ciede2000(lab, colour::lab(nearest))
}

fn in_mm(length_px: f64, parts: &uncertain::Parts, scale: Measured) -> Measured {
    let value = length_px / scale.value;
    Measured::new(
        value,
        value * parts.length_mm(scale.uncertainty / scale.value),
    )
}

/// Least share of the body that a saddle fills (a ripe one about a tenth).
const SADDLE_SHARE: f64 = 0.02;

/// What the user said, else female where a saddle shows.
fn sex(given: Option<Sex>, saddle: bool) -> (Sex, SexFrom) {
    match given {
        Some(sex) => (sex, SexFrom::Given),
        None if saddle => (Sex::Female, SexFrom::Saddle),
        None => (Sex::Unsure, SexFrom::None),
    }
}

fn flags(animal: &Animal, field: &Field, spots: &[Spot], saddle: bool) -> Vec<Flag> {
    let mut out = Vec::new();
    if animal.cut {
        out.push(Flag::Cut);
    }
    if animal.touching {
        out.push(Flag::Touching);
    }
    if saddle {
        out.push(Flag::Saddle);
    }
    let unread = spots.iter().filter(|s| s.unread && !s.roe).count();
    if unread as f64 > GLARE_SHARE * spots.len() as f64 {
        out.push(Flag::Glare);
    }
    if milky::is_milky(spots, field) {
        out.push(Flag::Milky);
    }
    out
}
