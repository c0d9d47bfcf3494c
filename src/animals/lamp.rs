//! Which way the shade of a lone lamp falls: the same for all bodies of a photo, so that many small signs tell it.

use super::additive::Additive;
use super::body::Body;
use super::ribbon::Ribbon;
use std::ops::Range;

/// Names of the signs: what lies on one flank less what lies on the other.
pub const NAMES: [&str; 6] = [
    "dark_strip",
    "grain_strip",
    "chroma_strip",
    "dark_beside",
    "dark_far",
    "crispness",
];

/// Share of the body length left out at each end: a tail fan and a head have no flanks.
const ENDS: f32 = 0.12;
/// Fewest stations from which flanks are compared.
const FEWEST_STATIONS: usize = 8;
/// Samples from the edge inward in which the strip within it lies.
const STRIP: Range<i32> = -6..-1;
/// The same for the ground beside the body...
const BESIDE: Range<i32> = 2..8;
/// ...and for the ground further out.
const FAR: Range<i32> = 8..14;
/// Samples on each side of the edge that tell how crisp it is.
const CRISP: [Range<i32>; 2] = [-2..1, 1..4];
/// Log-odds of one body count up to this: many bodies tell, not one.
const MOST_SAID: f32 = 4.0;
/// Bodies' worth of saying that there is no lamp.
const PRIOR: f32 = 0.5;
/// Strength, mean log-odds of bodies square to the light, below which nothing is made of a direction (scenes in soft light
/// show up to 2)...
const LEAST_STRENGTH: f32 = 1.6;
/// ...and from which it is sure.
const FULL_STRENGTH: f32 = 2.8;

/// A lamp that casts shade to one side.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Lamp {
    /// Unit vector in the picture, the way that shade falls.
    pub toward: [f32; 2],
    /// How sure it is, 0..=1.
    pub sure: f32,
}

impl Lamp {
    /// The lamp that these bodies were seen in; none where they show no common direction.
    pub fn of<'a>(bodies: impl Iterator<Item = &'a Body>, model: &Additive) -> Option<Self> {
        let (mut square, mut said) = ([PRIOR, 0.0, PRIOR], [0.0f32; 2]);
        for (signs, [x, y]) in bodies.filter_map(signs) {
            let score = shade_odds(&signs, model);
            square[0] += x * x;
            square[1] += x * y;
            square[2] += y * y;
            said[0] += score * x;
            said[1] += score * y;
        }
        let [a, b, c] = square;
        let whole = a * c - b * b;
        let v = [
            (c * said[0] - b * said[1]) / whole,
            (a * said[1] - b * said[0]) / whole,
        ];
        let strength = v[0].hypot(v[1]);
        let sure = (strength - LEAST_STRENGTH) / (FULL_STRENGTH - LEAST_STRENGTH);
        (sure > 0.0).then(|| Self {
            toward: v.map(|c| c / strength),
            sure: sure.min(1.0),
        })
    }

    /// A lamp on the other side.
    pub fn opposite(self) -> Self {
        Self {
            toward: self.toward.map(|v| -v),
            sure: self.sure,
        }
    }

    /// How far a flank lies in the shade, 0..=1, given its unit normal that points away from the body.
    pub fn shades(&self, outward: [f32; 2]) -> f32 {
        let facing = outward[0] * self.toward[0] + outward[1] * self.toward[1];
        self.sure * ((facing - FACING[0]) / (FACING[1] - FACING[0])).clamp(0.0, 1.0)
    }
}

/// Cosine between a flank's normal and the fall of the shade below which the flank is lit, and from which it is in shade.
pub const FACING: [f32; 2] = [0.1, 0.4];

/// Log-odds that the flank of larger t lies in shade and not the other one.
fn shade_odds(signs: &[f32; 6], model: &Additive) -> f32 {
    let turned = signs.map(|v| -v);
    ((model.log_odds(signs) - model.log_odds(&turned)) / 2.0).clamp(-MOST_SAID, MOST_SAID)
}

/// The signs of the flank of larger t less those of the other one, and that flank's mean normal; none for stubs.
pub fn signs(body: &Body) -> Option<([f32; 6], [f32; 2])> {
    let count = body.left.len();
    let skipped = (ENDS * count as f32) as usize;
    let stations = skipped..count - skipped;
    if stations.len() < FEWEST_STATIONS {
        return None;
    }
    let (mut sums, mut normal) = ([0.0f32; 6], [0.0f32; 2]);
    for k in stations.clone() {
        let s = body.first + k;
        let [left, right] = [(-1, body.left[k]), (1, body.right[k])]
            .map(|(side, edge)| Flank::new(&body.ribbon, s, side, edge).signs());
        for (sum, (l, r)) in sums.iter_mut().zip(left.iter().zip(right)) {
            *sum += r - l;
        }
        normal = [0, 1].map(|c| normal[c] + body.ribbon.normals[s][c]);
    }
    let n = stations.len() as f32;
    Some((sums.map(|v| v / n), normal.map(|v| v / n)))
}

/// One side of a station.
struct Flank<'a> {
    ribbon: &'a Ribbon,
    station: usize,
    side: i32,
    /// Samples from the axis to the edge.
    edge: i32,
}

impl<'a> Flank<'a> {
    fn new(ribbon: &'a Ribbon, station: usize, side: i32, edge: usize) -> Self {
        Self {
            ribbon,
            station,
            side,
            edge: edge as i32,
        }
    }

    fn signs(&self) -> [f32; 6] {
        let strip = self.samples(&STRIP);
        let [inner, outer] = CRISP.each_ref().map(|range| self.tone(range));
        let apart = (0..3)
            .map(|c| (inner[c] - outer[c]).powi(2))
            .sum::<f32>()
            .sqrt();
        [
            self.mean(0, &strip),
            (self.grain(&strip) + 0.01).ln(),
            self.chroma(&strip).ln_1p(),
            self.mean(0, &self.samples(&BESIDE)),
            self.mean(0, &self.samples(&FAR)),
            apart.ln_1p(),
        ]
    }

    /// Places in a row of the ribbon, `range` counted from the edge outward.
    fn samples(&self, range: &Range<i32>) -> Vec<usize> {
        let half = self.ribbon.half as i32;
        let from = (self.edge + range.start).clamp(0, half);
        let to = (self.edge + range.end).clamp(from + 1, half + 1);
        (from..to)
            .map(|t| (half + self.side * t).clamp(0, 2 * half) as usize)
            .collect()
    }

    fn value(&self, channel: usize, station: usize, place: usize) -> f32 {
        self.ribbon.channels[channel][station * self.ribbon.width() + place]
    }

    fn mean(&self, channel: usize, places: &[usize]) -> f32 {
        let sum: f32 = places
            .iter()
            .map(|p| self.value(channel, self.station, *p))
            .sum();
        sum / places.len() as f32
    }

    fn tone(&self, range: &Range<i32>) -> [f32; 3] {
        let places = self.samples(range);
        [0, 1, 2].map(|c| self.mean(c, &places))
    }

    fn chroma(&self, places: &[usize]) -> f32 {
        let chroma = |p: &usize| {
            self.value(1, self.station, *p)
                .hypot(self.value(2, self.station, *p))
        };
        places.iter().map(chroma).sum::<f32>() / places.len() as f32
    }

    /// Mean step of the logarithm of light along the body: shade is smooth, a body has segments and pigment cells.
    fn grain(&self, places: &[usize]) -> f32 {
        let last = self.ribbon.stations() - 1;
        let (before, after) = (self.station.saturating_sub(1), (self.station + 1).min(last));
        // Lightness is 116 times the cube root of light, less 16 [CIE15].
        let root = |s: usize, p: usize| (116.0 - self.value(0, s, p)).max(17.0);
        let step = |p: &usize| 3.0 * (root(after, *p) / root(before, *p)).ln().abs();
        places.iter().map(step).sum::<f32>() / places.len() as f32
    }
}
