//! Reads the setting of one photo: chart, cup, ground, scale, what is to be searched, and the doubts.

use super::chart::{ChartSeen, find_chart};
use super::cup::{self, CupSeen};
use super::doubts::doubts;
use super::facts::{Facts, measure};
use super::grid::Grid;
use super::ground::{GroundLight, brighter_half, ground_light, judge};
use super::quality::{Quality, Sources, quality};
use super::searched::{bar_quad, black_border, searched};
use super::{Chart, Cup, Ground, ScaleFrom, Scene};
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
    let chart = chart_on(small, k);
    let mut barred = black_border(&light.px, light.w, light.h);
    if let Some(chart) = &chart {
        bar_quad(&mut barred, light.w, &chart.corners, 2.0);
    }
    let seen = cup::find(&light, &barred, k);
    let on_ground = match &seen {
        Some(seen) => searched(Some(&seen.outline.scaled(0.88)), &barred, light.w),
        None => brighter_half(small, &barred),
    };
    let tone = ground_light(small, &on_ground);
    let ground = match judge(&tone, spec.dark, chart.as_ref().map(|c| c.white)) {
        Ok(ground) => ground,
        Err(why) => return nothing(small, step, why),
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
    let scale = scale(spec, cup.as_ref(), floor);
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
    let quality = quality(&sources, &parts.tone, &facts);
    let edge_unsure =
        parts.seen.is_some() && cup.is_none() && scale.is_none() && spec.floor_mm.is_some();
    Scene {
        ground: parts.ground,
        chart: parts.chart.map(|c| Chart {
            corners: c.corners.map(|p| full_point(p, step)),
        }),
        px_per_mm: scale.map(|s| s.0),
        scale_from: scale.map(|s| s.1),
        doubts: doubts(&facts, &parts.tone, parts.ground, cup.as_ref(), edge_unsure),
        cup,
        quality,
        ..blank(small, step, mask, facts)
    }
}

/// A scene with nothing in it but the mask and the facts.
fn blank(small: &LinearImage, step: usize, mask: Vec<u8>, facts: Facts) -> Scene {
    Scene {
        ground: Ground::White,
        cup: None,
        chart: None,
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
    find_chart(&planes).map(|c| ChartSeen {
        corners: c.corners.map(|[x, y]| [finer(x, k), finer(y, k)]),
        ..c
    })
}

/// A pixel coordinate on a grid `k` times as fine (pixel centres on whole numbers).
fn finer(v: f32, k: usize) -> f32 {
    (v + 0.5) * k as f32 - 0.5
}

fn full_point([x, y]: [f32; 2], step: usize) -> [f32; 2] {
    [finer(x, step), finer(y, step)]
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
