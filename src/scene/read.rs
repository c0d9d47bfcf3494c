//! Reads the setting of one photo: chart, cup, ground, scale, what is to be searched, and the doubts.

use super::casts;
use super::chart::{ChartSeen, find_chart, read_chart};
use super::chart_facts::{self, ChartFacts};
use super::colour::{self, ColourFrom, ColourSpec};
use super::cup::{self, CupSeen};
use super::doubts::{colour_doubts, doubts};
use super::facts::{Facts, measure};
use super::grid::Grid;
use super::ground::{GroundLight, brighter_half, ground_light, judge};
use super::quality::{Quality, Sources, quality};
use super::searched::{bar_quad, black_border, searched};
use super::white::white_in_view;
use super::{Cup, Ground, ScaleFrom, Scene, SceneColour};
use crate::doubt::Note;
use crate::photo::{LinearImage, Photo};
use crate::units::Measured;

/// What the user says about the cup.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct CupSpec {
    /// Inner diameter of the floor (longer side of a square or oval cup), mm.
    pub floor_mm: Option<f64>,
    /// Pixels to the millimetre at the floor, full size; wins over the cup.
    pub px_per_mm: Option<f64>,
    /// The cup is dark.
    pub dark: bool,
    /// What is known of colours.
    pub colour: ColourSpec,
}

/// Longer side, in pixels, of the grid on which cup edges and chart are looked for, at most.
const SEARCH_SIDE: usize = 320;

/// Longer side, in pixels, of the reduced picture that is read, at most.
const READ_SIDE: usize = 640;

/// The setting of a photo: chart, cup, ground, scale, what is to be searched, and the doubts.
pub fn read_scene(photo: &Photo, spec: &CupSpec) -> Scene {
    let step = photo.width().max(photo.height()).div_ceil(READ_SIDE).max(1);
    read_scene_from(&photo.reduced(step), step, spec)
}

/// The setting of a photo from its reduced picture, `step` full-size pixels to one of its pixels (longer side 500 to 700).
///
/// `searched` of the result is on the grid of `small`. With anything in `withheld` nothing is searched (all zero).
pub fn read_scene_from(small: &LinearImage, step: usize, spec: &CupSpec) -> Scene {
    let light = Grid::luminance(small);
    let k = light.w.max(light.h).div_ceil(SEARCH_SIDE).max(1);
    if light.w / (2 * k) < 8 || light.h / (2 * k) < 8 {
        return nothing(small, step, too_small(small, step));
    }
    let mut barred = black_border(&light.px, light.w, light.h);
    // Most photos show no chart: the cup is looked for meanwhile, and once more where there is one.
    let (chart, mut seen) = rayon::join(|| chart_on(small, k), || cup::find(&light, &barred, k));
    if let Some(chart) = &chart {
        bar_quad(&mut barred, light.w, &chart.corners, 2.0);
        seen = cup::find(&light, &barred, k);
    }
    let on_ground = match &seen {
        Some(seen) => searched(Some(&seen.outline.scaled(0.88)), &barred, light.w),
        None => brighter_half(small, &barred),
    };
    let tone = ground_light(small, &on_ground);
    let ground = match judge(
        &tone,
        spec.dark,
        chart.as_ref().and_then(chart_facts::white),
    ) {
        Ok(ground) => ground,
        Err(why) => {
            let facts = chart.map(|seen| chart_facts::chart_facts(&seen, step, &spec.colour, None));
            return Scene {
                chart: facts.map(|facts| facts.chart),
                ..nothing(small, step, why)
            };
        }
    };
    put_together(
        small,
        step,
        spec,
        Parts {
            light,
            chart,
            barred,
            seen,
            tone,
            ground,
            coarser: k,
        },
    )
}

/// What was found on the way.
struct Parts {
    light: Grid,
    chart: Option<ChartSeen>,
    barred: Vec<bool>,
    seen: Option<CupSeen>,
    tone: GroundLight,
    ground: Ground,
    coarser: usize,
}

/// The scene from its parts.
fn put_together(small: &LinearImage, step: usize, spec: &CupSpec, parts: Parts) -> Scene {
    let mask = searched(
        parts.seen.as_ref().map(|s| &s.outline),
        &parts.barred,
        small.width,
    );
    let facts = measure(small, &parts.light, &mask, parts.ground == Ground::Dark);
    let floor = parts.seen.as_ref().filter(|s| s.is_floor);
    let cup = floor.map(|s| full_size(s, step));
    let chart = parts.chart.as_ref().map(|seen| {
        chart_facts::chart_facts(
            seen,
            step,
            &spec.colour,
            parts.seen.as_ref().map(|s| &s.outline),
        )
    });
    let by_chart = chart.as_ref().and_then(ChartFacts::scale);
    let scale = scale(spec, cup.as_ref(), floor).or(by_chart.map(|s| (s, ScaleFrom::Chart)));
    let sources = Sources {
        small,
        light: &parts.light,
        barred: &parts.barred,
        searched: &mask,
        cup: parts.seen.as_ref(),
        ground: parts.ground,
        coarser: parts.coarser,
        step,
        px_per_mm: scale.map(|s| s.0.value),
    };
    let (quality, (colour, casts)) = rayon::join(
        || quality(&sources, &parts.tone, &facts),
        || {
            (
                scene_colour(small, spec, &parts, chart.as_ref()),
                casts::casts(small, &mask),
            )
        },
    );
    let edge_unsure =
        parts.seen.is_some() && cup.is_none() && scale.is_none() && spec.floor_mm.is_some();
    let mut notes = doubts(&facts, &parts.tone, parts.ground, cup.as_ref(), edge_unsure);
    notes.extend(colour_doubts(&casts, parts.ground, &spec.colour, &colour));
    if let Some(chart) = &chart {
        notes.extend(chart.doubts(scale));
    }
    Scene {
        ground: parts.ground,
        colour,
        chart: chart.map(|c| c.chart),
        px_per_mm: scale.map(|s| s.0),
        scale_from: scale.map(|s| s.1),
        doubts: notes,
        cup,
        quality,
        ..blank(small, step, mask, facts)
    }
}

/// What colours are measured against: the chart in view, else the light remembered, else the cup's own record.
fn scene_colour(
    small: &LinearImage,
    spec: &CupSpec,
    parts: &Parts,
    chart: Option<&ChartFacts>,
) -> SceneColour {
    let floor = parts.tone.rgb.map(f64::from);
    let of_chart = chart.and_then(|c| Some((c.chart.fit.as_ref()?.correction, ColourFrom::Chart)));
    // Exposure and white balance are carried over by the ground, which tells nothing on a dark one.
    let white = parts.ground == Ground::White;
    let of_light = || {
        let correction = spec.colour.light?.correction_for(floor)?;
        white.then_some((correction, ColourFrom::RememberedLight))
    };
    let of_cup = || {
        let correction = colour::white_of(spec.colour.cup_floor?, floor)?;
        white.then_some((correction, ColourFrom::CupRecord))
    };
    let outline = parts.seen.as_ref().map(|s| &s.outline);
    let needs_white = !white && of_chart.is_none();
    SceneColour {
        floor,
        correction: of_chart.or_else(of_light).or_else(of_cup),
        white: needs_white
            .then(|| white_in_view(&Grid::planes(small), outline))
            .flatten(),
    }
}

/// A scene with nothing in it but the mask and the facts.
fn blank(small: &LinearImage, step: usize, mask: Vec<u8>, facts: Facts) -> Scene {
    Scene {
        ground: Ground::White,
        cup: None,
        chart: None,
        colour: SceneColour::default(),
        px_per_mm: None,
        scale_from: None,
        searched: mask,
        searched_width: small.width,
        searched_height: small.height,
        searched_step: step,
        glare_share: facts.glare_share,
        sharpness: facts.sharpness,
        clipped_share: facts.clipped_share,
        quality: Quality::default(),
        doubts: Vec::new(),
        withheld: Vec::new(),
    }
}

/// A scene in which nothing is searched, and why.
fn nothing(small: &LinearImage, step: usize, why: Note) -> Scene {
    let mask = vec![0; small.width * small.height];
    Scene {
        withheld: vec![why],
        ..blank(small, step, mask, Facts::default())
    }
}

fn too_small(small: &LinearImage, step: usize) -> Note {
    Note::new(
        "too_small",
        format!(
            "the photo is {} by {} pixels, far too few to see an animal",
            small.width * step,
            small.height * step
        ),
        "send the photo as the camera took it, not a preview",
    )
}

/// The chart, in pixels of the small picture.
fn chart_on(small: &LinearImage, k: usize) -> Option<ChartSeen> {
    let planes: [Grid; 3] = std::array::from_fn(|c| {
        Grid::reduced_plane(&small.planes[c], small.width, small.height, k)
    });
    let place = find_chart(&planes, k)?;
    let [r, g, b] = &Grid::planes(small);
    Some(read_chart([r, g, b], place))
}

/// A pixel coordinate on a grid `k` times as fine (pixel centres on whole numbers).
pub(super) fn finer(v: f32, k: usize) -> f32 {
    (v + 0.5) * k as f32 - 0.5
}

/// The cup in full-size pixels, longer half-axis first.
fn full_size(seen: &CupSeen, step: usize) -> Cup {
    let o = seen.outline.on_finer_grid(step as f32);
    let (axes, turn) = if o.a >= o.b {
        ([o.a, o.b], o.turn)
    } else {
        ([o.b, o.a], o.turn + std::f32::consts::FRAC_PI_2)
    };
    Cup {
        centre: [o.cx, o.cy],
        axes,
        angle_deg: turn.to_degrees().rem_euclid(180.0),
    }
}

/// Standard uncertainties of the floor's size in pixels, as shares: of the fit itself (measured on rendered cups, tilt up
/// to 8 degrees), for each share of the edge out of frame, and of a scale that the user gives (a ruler read by eye).
const FIT_UNCERTAINTY: f64 = 0.015;
const UNSEEN_UNCERTAINTY: f64 = 0.02;
const GIVEN_UNCERTAINTY: f64 = 0.01;

/// Pixels to the millimetre at the floor and where that is from.
fn scale(
    spec: &CupSpec,
    cup: Option<&Cup>,
    seen: Option<&CupSeen>,
) -> Option<(Measured, ScaleFrom)> {
    let sensible = |v: &f64| v.is_finite() && *v > 0.0;
    if let Some(given) = spec.px_per_mm.filter(sensible) {
        return Some((
            Measured::new(given, GIVEN_UNCERTAINTY * given),
            ScaleFrom::Given,
        ));
    }
    let (floor_mm, cup, seen) = (spec.floor_mm.filter(sensible)?, cup?, seen?);
    // A round floor looks shortened one way by tilt: the mean of both axes is the scale of animals lying all ways.
    let [a, b] = cup.axes.map(f64::from);
    let half = if seen.is_round { (a * b).sqrt() } else { a };
    let value = 2.0 * half / floor_mm;
    let share = FIT_UNCERTAINTY
        .hypot(UNSEEN_UNCERTAINTY * (1.0 - f64::from(seen.in_frame)))
        .hypot(f64::from(seen.unsure));
    Some((Measured::new(value, share * value), ScaleFrom::Cup))
}
