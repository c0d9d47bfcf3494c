//! Is a shaped body an animal? An additive logistic model over signs of the whole body.

use super::body::{self, Body};
use super::field::Field;
use super::orient::{self, Shaped};

/// Names of the features.
pub const NAMES: [&str; 16] = [
    "evidence",
    "length",
    "slenderness",
    "eye",
    "eye_depth",
    "edge",
    "green",
    "contrast",
    "chroma",
    "width_spread",
    "tone_spread",
    "head",
    "ends",
    "darkness",
    "fill",
    "units_long",
];

/// Features of a body; `usual_length` is the scoop's usual length in fine pixels.
pub fn features(field: &Field, shaped_body: &Body, usual_length: f32) -> [f32; 16] {
    let b = shaped_body;
    let scale = body::sign_scale(field);
    let squash = |v: f32| v.signum() * (1.0 + v.abs() / scale).ln();
    let shaped = Shaped {
        ribbon: &b.ribbon,
        first: b.first,
        last: b.last,
        left: &b.left,
        right: &b.right,
    };
    let eyes = [false, true].map(|rear| orient::eye(&shaped, rear));
    let eye = if eyes[0].0 > eyes[1].0 {
        eyes[0]
    } else {
        eyes[1]
    };
    let tones = inside(b);
    let n = tones.len().max(1) as f32;
    let mean: [f32; 3] = std::array::from_fn(|c| tones.iter().map(|t| t[c]).sum::<f32>() / n);
    let spread = (tones.iter().map(|t| (t[0] - mean[0]).powi(2)).sum::<f32>() / n).sqrt();
    let green = tones
        .iter()
        .filter(|t| t[1] < -8.0 && t[2] > t[1].abs() * 0.3)
        .count() as f32
        / n;
    let widths: Vec<f32> = b
        .left
        .iter()
        .zip(&b.right)
        .map(|(l, r)| (l + r) as f32)
        .collect();
    let mean_width = widths.iter().sum::<f32>() / widths.len() as f32;
    let width_spread =
        (widths.iter().map(|w| (w - mean_width).powi(2)).sum::<f32>() / widths.len() as f32).sqrt()
            / mean_width.max(1.0);
    let positive = inside_evidence(b).iter().filter(|z| **z > 0.0).count() as f32 / n;
    [
        b.mean_evidence(),
        (b.length() / usual_length).ln(),
        (b.length() / b.mean_width().max(1.0)).ln(),
        squash(eye.0),
        squash(eye.1),
        b.edge_score,
        green,
        (1.0 + b.contrast.size / 10.0).ln(),
        squash(mean[1].hypot(mean[2])),
        width_spread,
        squash(spread),
        b.head_log_odds.min(6.0),
        b.end_score,
        squash(mean[0]),
        positive,
        (b.length() / (8.0 * field.unit)).ln(),
    ]
    .map(|v: f32| if v.is_finite() { v } else { 0.0 })
}

/// Natural logarithm of length over mean width of a body: mean of 170 rendered dwarf shrimp, 2.22 with a spread of
/// 0.10; outlines of real prawns lie between 1.85 and 2.47.
const BUILD: f32 = 2.2;
/// Spread allowed, shapes being measured with error and kinds differing.
const BUILD_SPREAD: f32 = 0.22;

/// Log-odds lost by a body too slender or too stout for one animal: two end to end, or half of one.
pub fn build_penalty(b: &Body) -> f32 {
    let slenderness = (b.length() / b.mean_width().max(1.0)).max(0.1).ln();
    (0.5 * ((slenderness - BUILD) / BUILD_SPREAD).powi(2)).min(8.0)
}

/// Share of an outline that looks like body, from which less speaks against an animal: of 150 found on rendered scenes one
/// in a hundred has less than 0.85. Ground between feelers and legs that were taken for a body shows through more.
const LEAST_FILL: f32 = 0.8;
/// Log-odds lost for each hundredth less.
const HOLLOW: f32 = 0.5;

/// Evidence inside an outline over the log-odds of its edges, from which less speaks against an animal: feelers and legs on
/// bare ground have crisp edges and little between them. Faint animals on rendered scenes (evidence below 2) have 1.2 at least.
const LEAST_BETWEEN: f32 = 0.8;
/// Edges crisper than this ask for no more evidence: what has so much is no bare ground, log-odds.
const CRISP: f32 = 2.5;
/// Log-odds lost for each unit of evidence less.
const LINES: f32 = 5.0;

/// Log-odds lost by an outline around feelers and legs, given the body's [`features`]: it holds too much bare ground, or
/// too little for edges that crisp. On dark ground a clear middle looks like bare ground (0.6 of a banded animal looks like
/// body there), so that only crisp edges speak against an animal.
pub fn hollow_penalty(features: &[f32; 16], dark: bool) -> f32 {
    let [evidence, _, _, _, _, edge, .., fill, _] = features;
    let hollow = if dark {
        0.0
    } else {
        HOLLOW * 100.0 * (LEAST_FILL - fill)
    };
    let lines = LINES * (LEAST_BETWEEN * edge.min(CRISP) - evidence);
    (hollow.max(0.0) + lines.max(0.0)).min(8.0)
}

fn each_inside(b: &Body) -> impl Iterator<Item = usize> + '_ {
    let w = b.ribbon.width();
    (0..b.left.len()).flat_map(move |k| {
        let row = (b.first + k) * w + b.ribbon.half;
        row - b.left[k]..=row + b.right[k]
    })
}

fn inside(b: &Body) -> Vec<[f32; 3]> {
    each_inside(b)
        .map(|i| std::array::from_fn(|c| b.ribbon.channels[c][i]))
        .collect()
}

fn inside_evidence(b: &Body) -> Vec<f32> {
    each_inside(b).map(|i| b.ribbon.channels[3][i]).collect()
}
