//! One body shaped from its rough axis: ends, flanks, direction, then once more along the refined axis.

use super::additive::Additive;
use super::edge::{self, Scores};
use super::ends;
use super::field::Field;
use super::lamp::Lamp;
use super::models::Models;
use super::orient::{self, Shaped};
use super::profile::Contrast;
use super::ribbon::{self, ALONG, BEYOND, Ribbon};
use super::stations::Setting;

/// A body in the unwrapped picture, head first.
#[derive(Debug, Clone)]
pub struct Body {
    /// The unwrapped body; station 0 lies before the head.
    pub ribbon: Ribbon,
    /// Station of the rostrum tip.
    pub first: usize,
    /// Station of the end of the tail fan.
    pub last: usize,
    /// Edge offsets in samples on the side of smaller t, stations `first..=last`.
    pub left: Vec<usize>,
    /// Edge offsets in samples on the side of larger t.
    pub right: Vec<usize>,
    /// How the core differs from the ground.
    pub contrast: Contrast,
    /// Log-odds that head and tail are the right way round, never negative.
    pub head_log_odds: f32,
    /// Mean log-odds of the two ends.
    pub end_score: f32,
    /// Mean log-odds of the edges along the flanks.
    pub edge_score: f32,
}

/// Smoothing of the axis in body units: strong for skeletons, weak for midlines between flanks.
const ROUGH_SMOOTHING: f32 = 0.6;
const FINE_SMOOTHING: f32 = 0.45;

/// Contrast at which signs are compressed: noise of the ground and one L* unit.
pub fn sign_scale(field: &Field) -> f32 {
    1.0 + field.noise
}

/// First and last station of the rough path itself in a ribbon unwrapped along it.
pub fn rough_ends(ribbon: &Ribbon) -> (usize, usize) {
    let beyond = (BEYOND * ALONG) as usize;
    (beyond, ribbon.stations() - 1 - beyond)
}

/// The body along a rough axis.
pub fn shape(field: &Field, path: &[[f32; 2]], models: &Models) -> Body {
    let first_pass = Pass::new(field, path, ROUGH_SMOOTHING, models);
    let flanks = first_pass.flanks();
    let midline = first_pass.midline(&flanks);
    Pass::new(field, &midline, FINE_SMOOTHING, models).head_first(models)
}

/// Looks along the axis of a body in the light of a lamp: an outline that took in the shade has its axis half in it.
const LOOKS: usize = 2;
/// An end may be found this far beyond where it was, in stations: shade beside it is no body either.
const MOST_BEYOND: usize = 4;

/// The body shaped anew with the flanks away from `lamp` sought by what edges in shade look like.
pub fn relit(field: &Field, body: &Body, lamp: &Lamp, models: &Models) -> Body {
    let mut out = body.clone();
    for _ in 0..LOOKS {
        let mut pass = Pass::new(field, &midline(&out), FINE_SMOOTHING, models);
        pass.shorten(models);
        pass.light(lamp, models);
        out = pass.head_first(models);
    }
    out
}

/// What one look along an axis shows, before it is decided which end is the head.
struct Pass {
    ribbon: Ribbon,
    first: usize,
    last: usize,
    contrast: Contrast,
    /// Contrast at which signs are compressed.
    scale: f32,
    end_score: f32,
    /// Log-odds of an edge by station and offset, on the side of smaller and of larger t.
    edges: [Vec<Scores>; 2],
}

impl Pass {
    fn new(field: &Field, path: &[[f32; 2]], smoothing: f32, models: &Models) -> Self {
        let ribbon = ribbon::unwrap(field, path, smoothing);
        let scale = sign_scale(field);
        let (rough_first, rough_last) = rough_ends(&ribbon);
        let contrast = Contrast::of(&ribbon, rough_first, rough_last);
        let end = |rear| {
            ends::end_station(
                &ribbon,
                rough_first,
                rough_last,
                rear,
                &contrast,
                scale,
                &models.ends,
            )
        };
        let ((first, front_odds), (last, rear_odds)) = (end(false), end(true));
        let (first, last) = if last > first + 4 {
            (first, last)
        } else {
            (rough_first, rough_last)
        };
        let end_score = (front_odds + rear_odds) / 2.0;
        let mut pass = Self {
            ribbon,
            first,
            last,
            contrast,
            scale,
            end_score,
            edges: Default::default(),
        };
        pass.edges = pass.scores(&models.edge);
        pass
    }

    /// Brings ends that lie more than [`MOST_BEYOND`] the path back to there.
    fn shorten(&mut self, models: &Models) {
        let (rough_first, rough_last) = rough_ends(&self.ribbon);
        let first = self.first.max(rough_first.saturating_sub(MOST_BEYOND));
        let last = self.last.min(rough_last + MOST_BEYOND);
        if (first, last) != (self.first, self.last) && last > first + 4 {
            (self.first, self.last) = (first, last);
            self.edges = self.scores(&models.edge);
        }
    }

    /// Log-odds of an edge by station and offset, on both sides.
    fn scores(&self, model: &Additive) -> [Vec<Scores>; 2] {
        let setting = Setting {
            ribbon: &self.ribbon,
            contrast: &self.contrast,
            width: edge::typical_half_width(&self.ribbon, self.first, self.last),
            scale: self.scale,
        };
        edge::scores(setting, self.first, self.last, model)
    }

    /// Seeks the flanks that lie in the shade of `lamp` by what edges in shade look like.
    fn light(&mut self, lamp: &Lamp, models: &Models) {
        let shaded = self.scores(&models.shaded);
        let normals = &self.ribbon.normals[self.first..=self.last];
        for ((edges, shaded), side) in self.edges.iter_mut().zip(&shaded).zip([-1.0, 1.0]) {
            let shades = normals.iter().map(|n| lamp.shades(n.map(|v| side * v)));
            edge::blend(edges, shaded, shades);
        }
    }

    /// The same look from the other end.
    fn reversed(self) -> Self {
        let stations = self.ribbon.stations();
        let [mut left, mut right] = self.edges;
        left.reverse();
        right.reverse();
        Self {
            ribbon: self.ribbon.reversed(),
            first: stations - 1 - self.last,
            last: stations - 1 - self.first,
            edges: [right, left],
            ..self
        }
    }

    /// The flanks, the first station taken for the head.
    fn flanks(&self) -> Flanks {
        let [left, right] = self.edges.each_ref().map(|scores| edge::flank(scores));
        Flanks {
            edge_score: mean_odds(&left.odds, &right.odds),
            left: left.offsets,
            right: right.offsets,
        }
    }

    /// Log-odds that the first station's end is the head's.
    fn first_is_head(&self, flanks: &Flanks, models: &Models) -> f32 {
        let shaped = Shaped {
            ribbon: &self.ribbon,
            first: self.first,
            last: self.last,
            left: &flanks.left,
            right: &flanks.right,
        };
        orient::first_is_head(&shaped, &self.contrast, self.scale, &models.orient)
    }

    /// The body, travelled from its head.
    fn head_first(self, models: &Models) -> Body {
        let flanks = self.flanks();
        let head_log_odds = self.first_is_head(&flanks, models);
        if head_log_odds >= 0.0 {
            return self.body(flanks, head_log_odds);
        }
        let turned = self.reversed();
        let flanks = turned.flanks();
        let head_log_odds = turned.first_is_head(&flanks, models).abs();
        turned.body(flanks, head_log_odds)
    }

    fn midline(&self, flanks: &Flanks) -> Vec<[f32; 2]> {
        between(&self.ribbon, self.first, &flanks.left, &flanks.right)
    }

    fn body(self, flanks: Flanks, head_log_odds: f32) -> Body {
        Body {
            ribbon: self.ribbon,
            first: self.first,
            last: self.last,
            left: flanks.left,
            right: flanks.right,
            contrast: self.contrast,
            head_log_odds,
            end_score: self.end_score,
            edge_score: flanks.edge_score,
        }
    }
}

/// Edges of both sides.
struct Flanks {
    left: Vec<usize>,
    right: Vec<usize>,
    edge_score: f32,
}

/// Mean log-odds of the chosen edges on both flanks, every fourth station counted.
fn mean_odds(left: &[f32], right: &[f32]) -> f32 {
    let pairs = left.iter().zip(right).step_by(4);
    let (sum, count) = pairs.fold((0.0f32, 0.0f32), |(sum, count), (l, r)| {
        (sum + l + r, count + 2.0)
    });
    sum / count.max(1.0)
}

/// Points midway between the flanks, one a station, fine pixels.
pub fn midline(body: &Body) -> Vec<[f32; 2]> {
    between(&body.ribbon, body.first, &body.left, &body.right)
}

/// [`midline`] of flanks given as offsets from station `first` on.
fn between(ribbon: &Ribbon, first: usize, left: &[usize], right: &[usize]) -> Vec<[f32; 2]> {
    let offsets = left.iter().zip(right).enumerate();
    offsets
        .map(|(k, (l, r))| ribbon.position(first + k, (*r as f32 - *l as f32) / 2.0))
        .collect()
}

impl Body {
    /// Both edge points of station `first + k`, fine pixels: side of smaller t, side of larger t.
    pub fn edges(&self, k: usize) -> [[f32; 2]; 2] {
        let s = self.first + k;
        [
            self.ribbon.position(s, -(self.left[k] as f32 + 0.5)),
            self.ribbon.position(s, self.right[k] as f32 + 0.5),
        ]
    }

    /// Length along the axis in fine pixels.
    pub fn length(&self) -> f32 {
        super::thinning::path_length(&self.ribbon.axis[self.first..=self.last])
    }

    /// Mean full width in fine pixels.
    pub fn mean_width(&self) -> f32 {
        let sum: usize = self.left.iter().chain(&self.right).sum();
        sum as f32 / self.left.len() as f32 * self.ribbon.across_px
    }

    /// Mean evidence inside the flanks, log-odds.
    pub fn mean_evidence(&self) -> f32 {
        let w = self.ribbon.width();
        let (mut sum, mut count) = (0.0f32, 0.0f32);
        for k in 0..self.left.len() {
            let row = (self.first + k) * w;
            for t in self.ribbon.half - self.left[k]..=self.ribbon.half + self.right[k] {
                sum += self.ribbon.channels[3][row + t].clamp(-6.0, 6.0);
                count += 1.0;
            }
        }
        sum / count.max(1.0)
    }
}
