//! What a chart in the photo gives: the correction or why it is refused, the scale, and their doubts.

use super::chart::ChartSeen;
use super::chart::published::PATCHES;
use super::colour::ColourSpec;
use super::correction_fit::{COUNTS, ChartFit, fit_chart};
use super::cup::shape::Outline;
use super::grid::LUMINANCE;
use super::read::finer;
use super::{Chart, ScaleFrom};
use crate::doubt::Note;
use crate::units::Measured;

/// The chart with what follows from it.
#[derive(Debug, Clone)]
pub(super) struct ChartFacts {
    /// The chart at full size.
    pub chart: Chart,
    refused: Option<Note>,
    /// Pixels to the millimetre at the chart, where its pitch is known.
    scale: Option<Measured>,
    /// It lies over the cup's edge.
    across_edge: bool,
}

/// Fewest patches that must be read (house rule): with a third of them gone whole hues are missing.
const LEAST_PATCHES: usize = 16;
/// Smallest pitch that is read, pixels of the reduced picture: below it frames run into patches.
const LEAST_PITCH: f64 = 8.0;
/// Largest mean CIEDE2000 after correction: a faded chart, one of other colours, or a camera that can't be corrected.
const MOST_LEFT: f64 = 4.0;
/// Patches that may lie out of the picture.
const MOST_OUTSIDE: usize = 0;
/// Standard uncertainty of a scale from a chart beside the cup, as a share: its own, and up to two hundredths for the
/// height of the cup's floor over the table (4 to 8 mm under a camera at 400 mm).
const SCALE_UNCERTAINTY: f64 = 0.02;
/// The chart's scale may be larger than the floor's by so much before it is said to lie higher.
const HIGHER: f64 = 1.04;

/// Reads the chart: `step` full-size pixels to one of the picture it was seen in; `cup` is the floor in that picture.
pub(super) fn chart_facts(
    seen: &ChartSeen,
    step: usize,
    known: &ColourSpec,
    cup: Option<&Outline>,
) -> ChartFacts {
    let pitch_px = seen.pitch * step as f64;
    let (fit, refused) = match read(seen, known) {
        Ok(fit) => (Some(fit), None),
        Err(why) => (None, Some(why)),
    };
    let inside = |p: &&[f32; 2]| cup.is_some_and(|cup| cup.reach(p[0], p[1]) < 1.0);
    let corners_inside = seen.corners.iter().filter(inside).count();
    ChartFacts {
        chart: Chart {
            corners: seen.corners.map(|p| p.map(|v| finer(v, step))),
            pitch_px,
            fit,
        },
        refused,
        scale: known.chart_pitch_mm.map(|mm| {
            let value = pitch_px / mm;
            Measured::new(value, SCALE_UNCERTAINTY * value)
        }),
        across_edge: (1..4).contains(&corners_inside),
    }
}

/// The correction, or why there is none.
fn read(seen: &ChartSeen, known: &ColourSpec) -> Result<ChartFit, Note> {
    let refuse = |code, message: String, hint: &str| Err(Note::new(code, message, hint));
    if seen.pitch < LEAST_PITCH {
        return refuse(
            "chart_small",
            format!(
                "the chart's patches are {:.0} pixels apart in the reduced photo, {LEAST_PITCH:.0} were expected; it was not used",
                seen.pitch
            ),
            "go nearer, or use a larger chart",
        );
    }
    if seen.outside > MOST_OUTSIDE {
        return refuse(
            "chart_cut",
            format!(
                "{} of the chart's {PATCHES} patches are not in the photo; it was not used",
                seen.outside
            ),
            "photograph again with the whole chart in the frame",
        );
    }
    let fit = fit_chart(&seen.patches, known.chart_set);
    let legible = |fit: &ChartFit| fit.patches.iter().filter(|p| p.weight >= COUNTS).count();
    match fit {
        Some(fit) if legible(&fit) < LEAST_PATCHES => refuse(
            "chart_hidden",
            format!(
                "{} of the chart's {PATCHES} patches can be read, {LEAST_PATCHES} were expected; it was not used",
                legible(&fit)
            ),
            "lay the chart free, out of glare and shadow, and photograph again",
        ),
        Some(fit) if fit.de00_after > MOST_LEFT => refuse(
            "chart_strange",
            format!(
                "after correction the chart's patches are {:.1} CIEDE2000 off, {MOST_LEFT:.0} at most was expected; it was not used",
                fit.de00_after
            ),
            "use a clean, unfaded chart of the classic 24 patches, with the photo as the camera saved it",
        ),
        Some(fit) => Ok(fit),
        None => refuse(
            "chart_hidden",
            format!("too few of the chart's {PATCHES} patches can be read; it was not used"),
            "lay the chart free, out of glare and shadow, and photograph again",
        ),
    }
}

impl ChartFacts {
    /// Pixels to the millimetre at the chart.
    pub fn scale(&self) -> Option<Measured> {
        self.scale
    }

    /// Why the chart was refused, and whether it lies higher than the floor; `used` is the scale that was taken.
    pub fn doubts(&self, used: Option<(Measured, ScaleFrom)>) -> Vec<Note> {
        let mut out: Vec<Note> = self.refused.iter().cloned().collect();
        match (self.scale, used) {
            (Some(_), Some((_, ScaleFrom::Chart))) if self.across_edge => out.push(Note::new(
                "chart_higher",
                "the scale is from a chart that lies over the cup's edge, higher than its floor: lengths come out too short",
                "lay the chart beside the cup on the table, or give the cup's inner diameter",
            )),
            (Some(chart), Some((floor, ScaleFrom::Cup))) if chart.value > HIGHER * floor.value => {
                out.push(Note::new(
                    "chart_higher",
                    format!(
                        "the chart lies higher than the cup's floor: its scale is {:.0} % larger; the cup's was taken",
                        100.0 * (chart.value / floor.value - 1.0)
                    ),
                    "lay the chart on the table beside the cup, or check cup diameter and chart pitch",
                ));
            }
            _ => {}
        }
        out
    }
}

/// Luminance of the white patch, where it can be read.
pub(super) fn white(seen: &ChartSeen) -> Option<f32> {
    const WHITE: usize = 18;
    let patch = seen.patches[WHITE];
    let light = patch
        .rgb
        .iter()
        .zip(LUMINANCE)
        .map(|(v, l)| *v as f32 * l)
        .sum();
    patch.usable.then_some(light)
}
