//! The chart's part of the record.

use serde::Serialize;

use super::{point, round};
use crate::scene::{
    Chart, ChartFit, ColourFrom, Correction, PATCH_NAMES, PatchResidual, SceneColour, WhiteFrom,
};

#[derive(Serialize)]
pub(super) struct ChartObject {
    corners: [[f64; 2]; 4],
    pitch_px: f64,
    de00_before: Option<f64>,
    de00_after: Option<f64>,
    de00_left_out: Option<f64>,
    reference: Option<&'static str>,
    correction: Option<&'static str>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub patches: Option<Vec<PatchObject>>,
}

#[derive(Serialize)]
pub(super) struct PatchObject {
    name: &'static str,
    weight: f64,
    lab_reference: [f64; 3],
    lab_before: [f64; 3],
    lab_after: [f64; 3],
    de00_before: f64,
    de00_after: f64,
}

pub(super) fn chart(chart: &Chart) -> ChartObject {
    let of_fit = |value: fn(&ChartFit) -> f64| chart.fit.as_ref().map(|fit| round(value(fit), 2));
    ChartObject {
        corners: chart.corners.map(point),
        pitch_px: round(chart.pitch_px, 1),
        de00_before: of_fit(|fit| fit.de00_before),
        de00_after: of_fit(|fit| fit.de00_after),
        de00_left_out: of_fit(|fit| fit.de00_left_out),
        reference: chart.fit.as_ref().map(|fit| fit.set.word()),
        correction: chart.fit.as_ref().map(|fit| match fit.correction {
            Correction::Linear(_) => "linear",
            Correction::RootPolynomial(_) => "root_polynomial",
        }),
        patches: None,
    }
}

/// Each patch, row by row.
pub(super) fn patches(fit: &ChartFit) -> Vec<PatchObject> {
    let lab = |lab: [f64; 3]| lab.map(|v| round(v, 2));
    let one = |(name, patch): (&&'static str, &PatchResidual)| PatchObject {
        name,
        weight: round(patch.weight, 2),
        lab_reference: lab(patch.published),
        lab_before: lab(patch.before),
        lab_after: lab(patch.after),
        de00_before: round(patch.de00_before, 2),
        de00_after: round(patch.de00_after, 2),
    };
    PATCH_NAMES.iter().zip(&fit.patches).map(one).collect()
}

/// What colours were measured against beside the ground.
pub(super) fn colour_from(colour: &SceneColour) -> Option<&'static str> {
    let corrected = colour.correction.map(|(_, from)| match from {
        ColourFrom::Chart => "chart",
        ColourFrom::RememberedLight => "remembered_light",
        ColourFrom::CupRecord => "cup_record",
    });
    let white = || {
        colour.white.map(|(_, from)| match from {
            WhiteFrom::Card => "card",
            WhiteFrom::Rim => "rim",
        })
    };
    corrected.or_else(white)
}
