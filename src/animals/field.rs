//! The pictures in which bodies are sought: fine tones for edges and colour, coarse evidence for where bodies are.

use super::evidence;
use super::features;
use super::models::Models;
use super::tones::{self, Tones};
use crate::photo::Photo;
use crate::plane::Plane;
use crate::scene::light::{self, FlatPicture};
use rayon::prelude::*;
use std::ops::Range;
use std::sync::Arc;

/// Body unit in pixels that the coarse picture is brought to: below about 15 the legs merge with the belly,
/// above about 25 nothing is gained (measured on the rendered scenes).
const COARSE_UNIT: f32 = 18.0;
/// Body unit in pixels that the fine picture is brought to at the least...
const FINE_UNIT: f32 = 36.0;
/// ...and where only every second step is at hand, so that the next finer picture would have four times the pixels.
const FINE_UNIT_OF_LARGE: f32 = 30.0;
/// Adult body width over body unit; an adult is about eight units long.
const WIDTH_UNITS: f32 = 1.2;

/// The searched pictures. Fine coordinates have pixel centres at whole numbers.
#[derive(Debug)]
pub struct Field {
    /// Full-size pixels to one fine pixel.
    pub step: usize,
    /// Fine pixels to one coarse pixel.
    pub coarse_step: usize,
    /// Body unit in fine pixels.
    pub unit: f32,
    /// Ratio to the floor at the fine size.
    pub flat: FlatPicture,
    /// CIELAB of the ratio at the fine size, ground far outside the searched area.
    pub fine: Tones,
    /// CIELAB of the ratio at the coarse size.
    pub coarse: Tones,
    /// Log-odds that a coarse pixel belongs to a body.
    pub evidence: Plane,
    /// 1 where bodies may be, coarse grid.
    pub searched: Vec<u8>,
    /// Noise of the ground's lightness at the coarse size, L* units.
    pub noise: f32,
}

/// Pixels of the fine picture, at most: bounds memory and time where a wrong unit would ask for the whole photo.
const MOST_FINE_PIXELS: f32 = 3.2e6;

/// Full-size pixels to a fine pixel, and fine pixels to a coarse pixel, for a body unit in full-size pixels
/// and a photo of `pixels` pixels of which steps that are multiples of `finest` are at hand.
pub fn steps(unit_full: f32, pixels: usize, finest: usize) -> (usize, usize) {
    let least = (pixels as f32 / MOST_FINE_PIXELS).sqrt().ceil() as usize;
    let least = least.next_multiple_of(finest);
    let wanted = match finest {
        1 => (unit_full / FINE_UNIT) as usize,
        _ => (unit_full / FINE_UNIT_OF_LARGE) as usize / finest * finest,
    };
    let step = wanted.max(least).clamp(1, 14);
    let coarse = ((unit_full / step as f32 / COARSE_UNIT).round() as usize).max(1);
    (step, coarse)
}

impl Field {
    /// The field of a photo for a body unit of `unit_full` full-size pixels.
    /// `dark` is true on dark ground; `searched` tells for a full-size pixel position (x, y) whether animals may lie there.
    pub fn new(
        photo: &Photo,
        unit_full: f32,
        searched: &(dyn Fn(f32, f32) -> bool + Sync),
        dark: bool,
        models: &Models,
    ) -> Self {
        let (step, coarse_step) = steps(
            unit_full,
            photo.width() * photo.height(),
            photo.finest_step(),
        );
        let picture = Arc::new(photo.picture(step));
        let unit = unit_full / step as f32;
        let small = match coarse_step {
            1 => Arc::clone(&picture),
            _ => Arc::new(picture.reduced(coarse_step).into()),
        };
        let scale = (step * coarse_step) as f32;
        let mask: Vec<u8> = (0..small.width * small.height)
            .into_par_iter()
            .map(|i| {
                let (x, y) = ((i % small.width) as f32, (i / small.width) as f32);
                u8::from(searched((x + 0.5) * scale - 0.5, (y + 0.5) * scale - 0.5))
            })
            .collect();
        let coarse_unit = unit / coarse_step as f32;
        let coarse_flat = light::flatten(&small, &mask, coarse_unit * WIDTH_UNITS, dark);
        let coarse = tones::tones(&coarse_flat, |_| 0..small.width);
        // The small passes of the evidence keep few threads busy: the fine picture is made meanwhile, or afterwards in the
        // memory that they leave.
        let ((noise, evidence), finer) = rayon::join(
            || {
                let noise = features::ground_noise(&coarse, &mask);
                let evidence =
                    evidence::evidence(&coarse, &mask, coarse_unit, noise, dark, &models.evidence);
                (noise, evidence)
            },
            || {
                (coarse_step > 1).then(|| {
                    let flat = coarse_flat.at_finer(picture, coarse_step);
                    let reach =
                        Reach::new(&mask, small.width, (SURROUNDINGS * coarse_unit) as usize);
                    let fine = tones::tones(&flat, |y| reach.columns(y, coarse_step, flat.width()));
                    (flat, fine)
                })
            },
        );
        let (flat, fine) = finer.unwrap_or_else(|| (coarse_flat, coarse.clone()));
        Self {
            step,
            coarse_step,
            unit,
            flat,
            fine,
            coarse,
            evidence,
            searched: mask,
            noise,
        }
    }

    /// True on dark ground.
    pub fn is_dark(&self) -> bool {
        self.flat.white.is_some()
    }

    /// Body unit in coarse pixels.
    pub fn coarse_unit(&self) -> f32 {
        self.unit / self.coarse_step as f32
    }

    /// Fine position of a coarse one.
    pub fn fine_of_coarse(&self, p: [f32; 2]) -> [f32; 2] {
        let s = self.coarse_step as f32;
        p.map(|v| (v + 0.5) * s - 0.5)
    }

    /// Full-size position of a fine one.
    pub fn full_of_fine(&self, p: [f32; 2]) -> [f32; 2] {
        let s = self.step as f32;
        p.map(|v| (v + 0.5) * s - 0.5)
    }

    /// Evidence at a fine position.
    #[inline]
    pub fn evidence_at(&self, p: [f32; 2]) -> f32 {
        let [x, y] = p.map(|v| self.coarse_of_fine(v));
        self.evidence.sample(x, y)
    }

    /// Coarse column or row of a fine one.
    pub fn coarse_of_fine(&self, v: f32) -> f32 {
        (v + 0.5) / self.coarse_step as f32 - 0.5
    }
}

/// Surroundings of the searched area that are seen at the fine size too, in body units: what is beside a body at its edge.
const SURROUNDINGS: f32 = 2.0;

/// The columns of each coarse row that lie within or near the searched area.
struct Reach {
    rows: Vec<Range<usize>>,
}

impl Reach {
    fn new(searched: &[u8], width: usize, margin: usize) -> Self {
        let ends = |row: &[u8]| {
            let first = row.iter().position(|m| *m > 0)?;
            Some(first..row.iter().rposition(|m| *m > 0)? + 1)
        };
        let rows: Vec<Option<Range<usize>>> = searched.chunks_exact(width).map(ends).collect();
        let wider = |y: usize| {
            let near = rows[y.saturating_sub(margin)..(y + margin + 1).min(rows.len())]
                .iter()
                .flatten();
            let first = near.clone().map(|r| r.start).min().unwrap_or(margin);
            let end = near.map(|r| r.end).max().map_or(0, |end| end + margin);
            first.saturating_sub(margin)..end.min(width)
        };
        Self {
            rows: (0..rows.len()).map(wider).collect(),
        }
    }

    /// Columns of row `y` of a picture `times` finer and `width` pixels wide.
    fn columns(&self, y: usize, times: usize, width: usize) -> Range<usize> {
        let coarse = &self.rows[(y / times).min(self.rows.len() - 1)];
        (coarse.start * times).min(width)..(coarse.end * times).min(width)
    }
}
