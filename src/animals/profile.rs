//! Signs of an edge in a line of samples that runs from inside the body outward.

use super::ribbon::{ACROSS, Ribbon};
use super::squash::squash;

/// How the body's own core differs from the ground around it.
#[derive(Debug, Clone, Copy)]
pub struct Contrast {
    /// Darkness, a*, b* of the ground beside the body.
    pub ground: [f32; 3],
    /// From the ground to the core.
    pub toward: [f32; 3],
    /// Length of `toward`, CIELAB units.
    pub size: f32,
}

impl Contrast {
    /// Medians of the core strip and of the outer samples between two stations.
    pub fn of(ribbon: &Ribbon, first: usize, last: usize) -> Self {
        let (core, rim) = ((0.18 * ACROSS) as i32, (0.95 * ACROSS) as i32);
        let w = ribbon.width();
        let (from, to) = if last >= first {
            (first, last + 1)
        } else {
            (first, first)
        };
        let axis = ribbon.half as i32;
        let column = |t: i32| (axis + t).clamp(0, w as i32) as usize;
        let pick = |inside: bool, c: usize| {
            let mut v: Vec<f32> = Vec::new();
            for row in ribbon.channels[c][from * w..to * w].chunks_exact(w) {
                if inside {
                    v.extend_from_slice(&row[column(-core)..column(core + 1)]);
                } else {
                    v.extend_from_slice(&row[..column(1 - rim)]);
                    v.extend_from_slice(&row[column(rim)..]);
                }
            }
            let mid = v.len() / 2;
            if v.is_empty() {
                0.0
            } else {
                *v.select_nth_unstable_by(mid, f32::total_cmp).1
            }
        };
        let ground: [f32; 3] = std::array::from_fn(|c| pick(false, c));
        let toward: [f32; 3] = std::array::from_fn(|c| pick(true, c) - ground[c]);
        let size = toward.iter().map(|v| v * v).sum::<f32>().sqrt();
        Self {
            ground,
            toward,
            size,
        }
    }

    /// Where a colour stands between the ground (0) and the core (1), kept in -1..=2.
    pub fn share(&self, tone: [f32; 3]) -> f32 {
        let part = |c: usize| (tone[c] - self.ground[c]) * self.toward[c];
        let dot = part(0) + part(1) + part(2);
        (dot / (self.size * self.size + 9.0)).clamp(-1.0, 2.0)
    }
}

/// Running sums of a line of samples: darkness, a*, b*, chroma, evidence, share of the core.
#[derive(Debug, Clone)]
pub struct Line {
    /// Count of samples.
    len: usize,
    /// By channel: 0, the sums, and the last of them [`BEHIND`] times more.
    sums: Vec<f32>,
}

/// Channels of a line.
const CHANNELS: usize = 6;
/// Windows reach so many samples behind the end of a line, at most.
const BEHIND: usize = 16;
/// Places on one side of a station, at most.
const MOST_PLACES: usize = 64;

/// The names of [`SIGNS`] followed by five more, for the models that add features of their own.
pub(super) const fn signs_and(more: [&'static str; 5]) -> [&'static str; 25] {
    let mut names = [""; 25];
    let mut i = 0;
    while i < 25 {
        names[i] = if i < 20 { SIGNS[i] } else { more[i - 20] };
        i += 1;
    }
    names
}

/// Names of the edge signs, in the order of [`Line::signs`].
pub const SIGNS: [&str; 20] = [
    "dark_in",
    "dark_out",
    "dark_step",
    "dark_step_wide",
    "chroma_in",
    "chroma_out",
    "chroma_step",
    "evidence_in",
    "evidence_out",
    "evidence_step",
    "evidence_in_wide",
    "evidence_out_wide",
    "share_in",
    "share_out",
    "share_step",
    "share_in_wide",
    "share_out_wide",
    "tone_step",
    "tone_step_narrow",
    "evidence_from_axis",
];

/// Signs that are compressed.
pub const SQUASHED: [usize; 9] = [0, 1, 2, 3, 4, 5, 6, 17, 18];

impl Line {
    /// A line from samples of darkness, a*, b* and evidence, inside first.
    pub fn new(samples: impl Iterator<Item = [f32; 4]>, contrast: &Contrast) -> Self {
        let samples: Vec<[f32; 4]> = samples.collect();
        let len = samples.len();
        let values: Vec<[f32; CHANNELS]> = samples
            .iter()
            .map(|&[d, a, b, z]| {
                let chroma = (a * a + b * b).sqrt();
                [
                    d,
                    a,
                    b,
                    chroma,
                    z.clamp(-6.0, 6.0),
                    contrast.share([d, a, b]),
                ]
            })
            .collect();
        let stride = len + 1 + BEHIND;
        let mut sums = vec![0.0; CHANNELS * stride];
        let mut total = [0.0f32; CHANNELS];
        for (k, values) in values.iter().enumerate() {
            for c in 0..CHANNELS {
                total[c] += values[c];
                sums[c * stride + k + 1] = total[c];
            }
        }
        for (sums, total) in sums.chunks_exact_mut(stride).zip(total) {
            sums[len + 1..].fill(total);
        }
        Self { len, sums }
    }

    /// Count of samples.
    pub fn len(&self) -> usize {
        self.len
    }

    /// True when there are no samples.
    pub fn is_empty(&self) -> bool {
        self.len == 0
    }

    fn sums(&self, channel: usize) -> &[f32] {
        let stride = self.len + 1 + BEHIND;
        &self.sums[channel * stride..(channel + 1) * stride]
    }

    fn mean(&self, from: usize, to: usize) -> [f32; 6] {
        let (from, to) = (
            from.min(self.len() - 1),
            to.min(self.len()).max(from.min(self.len() - 1) + 1),
        );
        let n = (to - from) as f32;
        std::array::from_fn(|c| {
            let sums = self.sums(c);
            (sums[to] - sums[from]) / n
        })
    }

    /// [`Line::plain_signs`] of the places `k` from `first` on, which are at least `wide` and at most the last sample,
    /// sign by sign: as many as there is room for in each column. The four numbers are `first`, `axis`, `narrow` and `wide`.
    #[inline(always)]
    pub fn plain_columns(
        (line, [first, axis, narrow, wide], columns): (&Self, [usize; 4], &mut [Vec<f32>]),
    ) {
        let count = columns[0].len();
        let window = Window { line, first, count };
        let thin = (narrow / 2).max(1);
        let [mut inner, mut outer] = [[[0.0; MOST_PLACES]; CHANNELS]; 2];
        for c in 0..CHANNELS {
            window.inner(c, narrow, &mut inner[c]);
            window.outer(c, narrow, &mut outer[c]);
        }
        for (c, at) in [(0, 0), (3, 4), (4, 7), (5, 12)] {
            columns[at].copy_from_slice(&inner[c][..count]);
            columns[at + 1].copy_from_slice(&outer[c][..count]);
            difference(&inner[c], &outer[c], &mut columns[at + 2]);
        }
        apart(&inner, &outer, &mut columns[17]);
        for c in 0..3 {
            window.inner(c, thin, &mut inner[c]);
            window.outer(c, thin, &mut outer[c]);
        }
        apart(&inner, &outer, &mut columns[18]);
        window.inner(0, wide, &mut inner[0]);
        window.outer(0, wide, &mut outer[0]);
        difference(&inner[0], &outer[0], &mut columns[3]);
        for (c, at) in [(4, 10), (5, 15)] {
            window.inner(c, wide, &mut inner[c]);
            window.outer(c, wide, &mut outer[c]);
            columns[at].copy_from_slice(&inner[c][..count]);
            columns[at + 1].copy_from_slice(&outer[c][..count]);
        }
        let (sums, from) = (&line.sums(4)[first..], axis.min(first - 1));
        let start = line.sums(4)[from];
        for (i, (out, sum)) in columns[19].iter_mut().zip(sums).enumerate() {
            *out = (sum - start) / (first + i - from) as f32;
        }
    }

    /// Signs that the body ends after its first `k` samples; `narrow` and `wide` are window lengths in samples,
    /// `axis` the sample where the body's middle lies, `scale` the small contrast (noise) in L* units.
    pub fn signs(
        &self,
        k: usize,
        axis: usize,
        narrow: usize,
        wide: usize,
        scale: f32,
    ) -> [f32; 20] {
        let mut out = self.plain_signs(k, axis, narrow, wide);
        for i in SQUASHED {
            out[i] = squash(out[i], scale);
        }
        out
    }

    /// [`Line::signs`] before those in [`SQUASHED`] are compressed.
    pub fn plain_signs(&self, k: usize, axis: usize, narrow: usize, wide: usize) -> [f32; 20] {
        let inner = self.mean(k.saturating_sub(narrow), k);
        let outer = self.mean(k, k + narrow);
        let inner_wide = self.mean(k.saturating_sub(wide), k);
        let outer_wide = self.mean(k, k + wide);
        let thin = (narrow / 2).max(1);
        let (inner_thin, outer_thin) =
            (self.mean(k.saturating_sub(thin), k), self.mean(k, k + thin));
        let tone = |p: &[f32; 6], q: &[f32; 6]| {
            let (d, a, b) = (p[0] - q[0], p[1] - q[1], p[2] - q[2]);
            (d * d + a * a + b * b).sqrt()
        };
        let all = self.mean(axis.min(k.saturating_sub(1)), k);
        [
            inner[0],
            outer[0],
            inner[0] - outer[0],
            inner_wide[0] - outer_wide[0],
            inner[3],
            outer[3],
            inner[3] - outer[3],
            inner[4],
            outer[4],
            inner[4] - outer[4],
            inner_wide[4],
            outer_wide[4],
            inner[5],
            outer[5],
            inner[5] - outer[5],
            inner_wide[5],
            outer_wide[5],
            tone(&inner, &outer),
            tone(&inner_thin, &outer_thin),
            all[4],
        ]
    }
}

/// Means of windows at places one after the other.
struct Window<'a> {
    line: &'a Line,
    /// First place.
    first: usize,
    /// Count of places.
    count: usize,
}

impl Window<'_> {
    /// Means of the `n` samples before each place.
    #[inline(always)]
    fn inner(&self, channel: usize, n: usize, out: &mut [f32]) {
        let sums = self.line.sums(channel);
        let (before, here) = (&sums[self.first - n..], &sums[self.first..]);
        let n = n as f32;
        for (o, (b, h)) in out[..self.count].iter_mut().zip(before.iter().zip(here)) {
            *o = (h - b) / n;
        }
    }

    /// Means of the `n` samples behind each place, as far as there are so many.
    #[inline(always)]
    fn outer(&self, channel: usize, n: usize, out: &mut [f32]) {
        let sums = self.line.sums(channel);
        let (here, after) = (&sums[self.first..], &sums[self.first + n..]);
        let whole = (self.line.len + 1)
            .saturating_sub(self.first + n)
            .min(self.count);
        let (out, rest) = out[..self.count].split_at_mut(whole);
        let all = n as f32;
        for (o, (h, a)) in out.iter_mut().zip(here.iter().zip(after)) {
            *o = (a - h) / all;
        }
        let (here, after) = (&here[whole..], &after[whole..]);
        for (i, (o, (h, a))) in rest.iter_mut().zip(here.iter().zip(after)).enumerate() {
            *o = (a - h) / (self.line.len - self.first - whole - i).max(1) as f32;
        }
    }
}

#[inline(always)]
fn difference(one: &[f32], two: &[f32], out: &mut [f32]) {
    for (o, (p, q)) in out.iter_mut().zip(one.iter().zip(two)) {
        *o = p - q;
    }
}

/// Distance between two colours, place by place.
#[inline(always)]
fn apart(
    one: &[[f32; MOST_PLACES]; CHANNELS],
    two: &[[f32; MOST_PLACES]; CHANNELS],
    out: &mut [f32],
) {
    for (i, o) in out.iter_mut().enumerate().take(MOST_PLACES) {
        let (d, a, b) = (
            one[0][i] - two[0][i],
            one[1][i] - two[1][i],
            one[2][i] - two[2][i],
        );
        *o = (d * d + a * a + b * b).sqrt();
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn columns_hold_the_signs_of_each_place() {
        let contrast = Contrast {
            ground: [1.0, 0.0, 2.0],
            toward: [20.0, 10.0, -5.0],
            size: 23.0,
        };
        let samples = (0..43).map(|i| {
            std::array::from_fn(|c| (((i * 7 + c * 13 + 3) * 31 % 97) as f32 - 40.0) / 3.0)
        });
        let line = Line::new(samples, &contrast);
        let mut columns = vec![vec![0.0; 32]; 25];
        Line::plain_columns((&line, [11, 10, 4, 10], &mut columns));
        for (c, column) in columns[..20].iter().enumerate() {
            for (i, value) in column.iter().enumerate() {
                let signs = line.plain_signs(11 + i, 10, 4, 10);
                assert_eq!(*value, signs[c], "{i} {c}");
            }
        }
    }
}
