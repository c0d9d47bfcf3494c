//! Signs of the flanks at many neighbouring stations at once: every number is a row with a lane a station, so that all of
//! the work is plain loops over lanes.

use super::additive::{self, Additive};
use super::profile::{Contrast, SQUASHED};
use super::ribbon::{ACROSS, HALF, Ribbon};
use super::squash::squash;
use crate::lanes::{Simd, WithSimd, each as lanes, widest_simd};

/// Stations at once.
pub(super) const LANES: usize = 16;
/// One number a station.
type Lanes = [f32; LANES];

/// Window lengths in samples across.
const NARROW: usize = (ACROSS * 0.17) as usize;
const WIDE: usize = (ACROSS * 0.42) as usize;
const THIN: usize = NARROW / 2;

/// A line runs from this many samples beyond the axis...
const AXIS: usize = WIDE;
/// ...to the rim of the ribbon.
const LINE: usize = AXIS + 1 + HALF;
/// Samples across the ribbon.
const WIDTH: usize = 2 * HALF + 1;
/// Darkness, a*, b*, chroma, evidence, share of the core.
const CHANNELS: usize = 6;
/// Features of an edge: the signs and five more.
pub(super) const FEATURES: usize = 25;

/// What does not change from station to station of a body.
#[derive(Debug, Clone, Copy)]
pub(super) struct Setting<'a> {
    pub ribbon: &'a Ribbon,
    pub contrast: &'a Contrast,
    /// The body's typical half-width in samples.
    pub width: f32,
    /// Contrast at which signs are compressed.
    pub scale: f32,
}

/// Up to [`LANES`] stations from `first` on; the share of the body length at which each lies, 0..=1.
#[derive(Debug, Clone, Copy)]
pub(super) struct Block {
    pub first: usize,
    pub count: usize,
    pub places: Lanes,
}

/// By offset the features of an edge there, one lane a station.
pub(super) type Features = [[Lanes; FEATURES]; HALF];

/// Log-odds of an edge are kept between these.
const KEPT: [f32; 2] = [-8.0, 6.0];

/// By offset the log-odds of an edge there, kept in -8..=6, one lane a station.
pub(super) type Odds = [Lanes; HALF];

/// Features of the edges on the side of smaller (-1) or larger t (1).
pub(super) fn features(setting: Setting<'_>, block: Block, side: i32) -> Box<Features> {
    let mut room = Room::new();
    room.samples.fill(setting, block);
    room.sums.fill(&room.samples, side);
    let about = About::new(setting, block);
    Box::new(std::array::from_fn(|offset| {
        about.features(&room.sums, offset)
    }))
}

/// Log-odds of the edges on the sides of smaller and of larger t, put into `out`.
pub(super) fn log_odds(
    setting: Setting<'_>,
    block: Block,
    model: &Additive,
    room: &mut Room,
    out: &mut [Odds; 2],
) {
    widest_simd(OddsOf {
        setting,
        block,
        model,
        room,
        out,
    });
}

/// The work of [`log_odds`].
struct OddsOf<'a> {
    setting: Setting<'a>,
    block: Block,
    model: &'a Additive,
    room: &'a mut Room,
    out: &'a mut [Odds; 2],
}

impl WithSimd for OddsOf<'_> {
    type Output = ();

    #[inline(always)]
    fn with_simd<S: Simd>(self, simd: S) {
        let Room { samples, sums } = self.room;
        samples.fill(self.setting, self.block);
        let about = About::new(self.setting, self.block);
        for (out, side) in self.out.iter_mut().zip([-1, 1]) {
            sums.fill(samples, side);
            for (offset, out) in out.iter_mut().enumerate() {
                let features = about.features(sums, offset);
                let column = |i: usize| S::as_simd_f32s(&features[i]).0;
                *out = [self.model.bias; LANES];
                let out = S::as_mut_simd_f32s(out).0;
                additive::add::<S, 2>(simd, &self.model.curves, column, out);
                let (least, most) = (simd.splat_f32s(KEPT[0]), simd.splat_f32s(KEPT[1]));
                for odds in out {
                    *odds = simd.min_f32s(simd.max_f32s(*odds, least), most);
                }
            }
        }
    }
}

/// Room for the numbers of a block, made once for a body: clearing it for each block would cost as much as filling it.
#[derive(Debug)]
pub(super) struct Room {
    samples: Samples,
    sums: Sums,
}

impl Room {
    pub fn new() -> Box<Self> {
        Box::new(Self {
            samples: Samples {
                values: [[[0.0; LANES]; WIDTH]; CHANNELS],
            },
            sums: Sums {
                values: [[[0.0; LANES]; LINE + 1]; CHANNELS],
            },
        })
    }
}

/// The samples of a block's stations by channel, from one rim of the ribbon to the other.
#[derive(Debug)]
struct Samples {
    values: [[Lanes; WIDTH]; CHANNELS],
}

impl Samples {
    #[inline(always)]
    fn fill(&mut self, setting: Setting<'_>, block: Block) {
        let values = &mut self.values;
        for (from, to) in [(0, 0), (1, 1), (2, 2), (3, 4)] {
            let stations = setting.ribbon.channels[from][block.first * WIDTH..].chunks_exact(WIDTH);
            for (lane, station) in stations.take(block.count).enumerate() {
                for (row, value) in values[to].iter_mut().zip(station) {
                    row[lane] = *value;
                }
            }
        }
        let [dark, a, b, chroma, evidence, share] = values;
        for t in 0..WIDTH {
            let (d, a, b) = (&dark[t], &a[t], &b[t]);
            chroma[t] = lanes(|i| (a[i] * a[i] + b[i] * b[i]).sqrt());
            share[t] = lanes(|i| setting.contrast.share([d[i], a[i], b[i]]));
            let z = evidence[t];
            evidence[t] = lanes(|i| z[i].clamp(-6.0, 6.0));
        }
    }
}

/// Running sums of the lines outward from [`AXIS`] samples beyond the axis, by channel and sample; the first is 0.
#[derive(Debug)]
struct Sums {
    values: [[Lanes; LINE + 1]; CHANNELS],
}

impl Sums {
    #[inline(always)]
    fn fill(&mut self, samples: &Samples, side: i32) {
        for (sums, samples) in self.values.iter_mut().zip(&samples.values) {
            let mut total = [0.0; LANES];
            for (k, sum) in sums[1..].iter_mut().enumerate() {
                let t = if side > 0 {
                    HALF - AXIS + k
                } else {
                    HALF + AXIS - k
                };
                let next = &samples[t];
                total = lanes(|i| total[i] + next[i]);
                *sum = total;
            }
        }
    }

    /// Means of the samples `from..to`.
    #[inline(always)]
    fn mean(&self, channel: usize, from: usize, to: usize) -> Lanes {
        let (before, after) = (&self.values[channel][from], &self.values[channel][to]);
        let n = (to - from) as f32;
        lanes(|i| (after[i] - before[i]) / n)
    }

    /// Means of the `n` samples before the edge behind `k` samples and of the `n` behind it, as far as they are there.
    #[inline(always)]
    fn sides(&self, channel: usize, k: usize, n: usize) -> [Lanes; 2] {
        let outer = self.mean(channel, k, (k + n).min(LINE));
        [self.mean(channel, k - n, k), outer]
    }

    /// [`Sums::sides`] of several channels.
    #[inline(always)]
    fn sides_of<const N: usize>(
        &self,
        channels: [usize; N],
        k: usize,
        n: usize,
    ) -> [[Lanes; 2]; N] {
        let mut out = [[[0.0; LANES]; 2]; N];
        for (sides, channel) in out.iter_mut().zip(channels) {
            *sides = self.sides(channel, k, n);
        }
        out
    }
}

/// What is added to the signs of a block.
struct About {
    scale: f32,
    width: f32,
    /// Size of the contrast, compressed.
    size: f32,
    /// 1 at the ends of the body, 0 in the middle.
    ends: Lanes,
}

impl About {
    #[inline(always)]
    fn new(setting: Setting<'_>, block: Block) -> Self {
        Self {
            scale: setting.scale,
            width: setting.width,
            size: (1.0 + setting.contrast.size / 10.0).ln(),
            ends: lanes(|i| {
                let off = 2.0 * block.places[i] - 1.0;
                off * off
            }),
        }
    }

    /// The features of an edge after `offset` samples, in the order of [`super::edge::NAMES`].
    #[inline(always)]
    fn features(&self, sums: &Sums, offset: usize) -> [Lanes; FEATURES] {
        let k = AXIS + 1 + offset;
        let narrow = sums.sides_of([0, 1, 2, 3, 4, 5], k, NARROW);
        let thin = sums.sides_of([0, 1, 2], k, THIN);
        let [dark_wide, evidence_wide, share_wide] = sums.sides_of([0, 4, 5], k, WIDE);
        let [dark, _, _, chroma, evidence, share] = &narrow;
        let step = difference(evidence);
        let off = ((offset as f32 + 1.0) / (self.width + 1.0)).ln();
        let mut out = [
            dark[0],
            dark[1],
            difference(dark),
            difference(&dark_wide),
            chroma[0],
            chroma[1],
            difference(chroma),
            evidence[0],
            evidence[1],
            step,
            evidence_wide[0],
            evidence_wide[1],
            share[0],
            share[1],
            difference(share),
            share_wide[0],
            share_wide[1],
            apart([&narrow[0], &narrow[1], &narrow[2]]),
            apart([&thin[0], &thin[1], &thin[2]]),
            sums.mean(4, AXIS, k),
            [off; LANES],
            [self.size; LANES],
            [self.size * off; LANES],
            lanes(|i| self.size * step[i]),
            lanes(|i| self.ends[i] * off),
        ];
        for i in SQUASHED {
            let plain = out[i];
            out[i] = lanes(|k| squash(plain[k], self.scale));
        }
        out
    }
}

#[inline(always)]
fn difference([inner, outer]: &[Lanes; 2]) -> Lanes {
    lanes(|i| inner[i] - outer[i])
}

/// Distance between two colours.
#[inline(always)]
fn apart([d, a, b]: [&[Lanes; 2]; 3]) -> Lanes {
    lanes(|i| {
        let (d, a, b) = (d[0][i] - d[1][i], a[0][i] - a[1][i], b[0][i] - b[1][i]);
        (d * d + a * a + b * b).sqrt()
    })
}

#[cfg(test)]
mod tests {
    use super::super::profile::Line;
    use super::*;

    #[test]
    fn each_lane_holds_the_signs_of_its_station() {
        let contrast = Contrast {
            ground: [1.0, 0.0, 2.0],
            toward: [20.0, 10.0, -5.0],
            size: 23.0,
        };
        let value = |c: usize, i: usize| (((i * 7 + c * 13 + 3) * 31 % 97) as f32 - 40.0) / 3.0;
        let stations = 5;
        let ribbon = Ribbon {
            axis: vec![[0.0; 2]; stations],
            normals: vec![[0.0, 1.0]; stations],
            half: HALF,
            across_px: 1.0,
            along_px: 2.0,
            channels: std::array::from_fn(|c| (0..stations * WIDTH).map(|i| value(c, i)).collect()),
        };
        let setting = Setting {
            ribbon: &ribbon,
            contrast: &contrast,
            width: 12.0,
            scale: 1.5,
        };
        let block = Block {
            first: 1,
            count: 4,
            places: [0.25; LANES],
        };
        for side in [-1i32, 1] {
            let all = features(setting, block, side);
            for lane in 0..block.count {
                let at = |k: i32| {
                    let t = (HALF as i32 + side * k) as usize;
                    std::array::from_fn(|c| value(c, (block.first + lane) * WIDTH + t))
                };
                let line = Line::new((-(AXIS as i32)..=HALF as i32).map(at), &contrast);
                for (offset, of_edge) in all.iter().enumerate() {
                    let signs = line.signs(AXIS + 1 + offset, AXIS, NARROW, WIDE, setting.scale);
                    for (sign, expected) in signs.iter().enumerate() {
                        assert_eq!(
                            of_edge[sign][lane], *expected,
                            "{side} {lane} {offset} {sign}"
                        );
                    }
                }
            }
        }
    }
}
