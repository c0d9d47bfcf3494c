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
    #[inline(always)]
    pub fn share(&self, tone: [f32; 3]) -> f32 {
        let part = |c: usize| (tone[c] - self.ground[c]) * self.toward[c];
        let dot = part(0) + part(1) + part(2);
        (dot / (self.size * self.size + 9.0)).clamp(-1.0, 2.0)
    }
}

/// Running sums of a line of samples: darkness, a*, b*, chroma, evidence, share of the core.
#[derive(Debug, Clone)]
pub struct Line {
    /// Sums of no sample, of the first, of the first two...
    sums: Vec<[f32; CHANNELS]>,
}

/// Channels of a line.
const CHANNELS: usize = 6;

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
        let mut total = [0.0; CHANNELS];
        let mut sums = vec![total];
        sums.extend(samples.map(|[d, a, b, z]| {
            let values = [
                d,
                a,
                b,
                (a * a + b * b).sqrt(),
                z.clamp(-6.0, 6.0),
                contrast.share([d, a, b]),
            ];
            total = std::array::from_fn(|c| total[c] + values[c]);
            total
        }));
        Self { sums }
    }

    /// Count of samples.
    pub fn len(&self) -> usize {
        self.sums.len() - 1
    }

    /// True when there are no samples.
    pub fn is_empty(&self) -> bool {
        self.len() == 0
    }

    fn mean(&self, from: usize, to: usize) -> [f32; 6] {
        let (from, to) = (
            from.min(self.len() - 1),
            to.min(self.len()).max(from.min(self.len() - 1) + 1),
        );
        let n = (to - from) as f32;
        let (before, after) = (&self.sums[from], &self.sums[to]);
        std::array::from_fn(|c| (after[c] - before[c]) / n)
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
