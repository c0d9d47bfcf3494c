//! Fits the correction to the patches of a chart: what lies in glare or shadow counts less or not, light that changes across
//! the chart is taken out, and patches left out choose between the two forms.

use super::chart::published::{COLUMNS, ChartSet, PATCHES};
use super::chart::reading::PatchReading;
use super::correction::{Correction, root_terms};
use super::equations::{Normal, solve};
use crate::colour;

/// A correction with what it leaves.
#[derive(Debug, Clone, PartialEq)]
pub struct ChartFit {
    /// The correction, for light as at the chart's middle.
    pub correction: Correction,
    /// The published values it was fitted to.
    pub set: ChartSet,
    /// Mean CIEDE2000 over the patches that count, as the photo shows them.
    pub de00_before: f64,
    /// The same after correction.
    pub de00_after: f64,
    /// The same with each patch corrected by a fit that did not know it.
    pub de00_left_out: f64,
    /// Each patch, row by row.
    pub patches: [PatchResidual; PATCHES],
}

/// What became of one patch.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PatchResidual {
    /// How much it counted, 0..=1.
    pub weight: f64,
    /// Published CIELAB (D65).
    pub published: [f64; 3],
    /// CIELAB as the photo shows it, and after correction (light across the chart evened out).
    pub before: [f64; 3],
    /// After correction.
    pub after: [f64; 3],
    /// CIEDE2000 before and after.
    pub de00_before: f64,
    /// After correction.
    pub de00_after: f64,
}

/// Rounds of the robust fit; the first ones give each patch a light of its own.
const ROUNDS: usize = 14;
const OWN_LIGHT_ROUNDS: usize = 7;
/// Standard deviation of a patch's colour (CIEDE2000 units) and light (natural log) that good patches have at least:
/// cameras do not see as people do, and prints differ.
const COLOUR_SPREAD: f64 = 2.2;
const LIGHT_SPREAD: f64 = 0.035;
/// Dark patches: veil and noise of so much light (white = 1) are added to that.
const LIGHT_NOISE: f64 = 0.003;
/// A patch so many standard deviations off counts nothing (biweight, 95 % efficient for normal errors) [BeatonTukey1974].
const TUKEY: f64 = 4.685;
/// A patch counts as read from this weight on.
pub const COUNTS: f64 = 0.3;

/// Fits both forms to both sets of published values (or to `set` alone) and takes what does best on patches left out;
/// `None` where the patches can't settle a correction.
pub(super) fn fit_chart(
    readings: &[PatchReading; PATCHES],
    set: Option<ChartSet>,
) -> Option<ChartFit> {
    let fits = ChartSet::ALL
        .into_iter()
        .filter(|s| set.is_none_or(|only| only == *s))
        .filter_map(|s| fit_set(readings, s));
    fits.min_by(|a, b| a.de00_left_out.total_cmp(&b.de00_left_out))
}

/// Patches with what is known of them.
struct Patches {
    /// Published linear colour, and the matrix from a small linear change to what people see of it.
    published: [[f64; 3]; PATCHES],
    seen_change: [[[f64; 3]; 3]; PATCHES],
    lab: [[f64; 3]; PATCHES],
    /// Light in the photo.
    rgb: [[f64; 3]; PATCHES],
    usable: [bool; PATCHES],
}

fn fit_set(readings: &[PatchReading; PATCHES], set: ChartSet) -> Option<ChartFit> {
    let published = set.linear();
    let all = Patches {
        seen_change: published.map(seen_change),
        lab: published.map(colour::lab),
        published,
        rgb: readings.map(|r| r.rgb),
        usable: readings.map(|r| r.usable),
    };
    let (evened, weights) = even_out(&all)?;
    let linear = |w: &[f64; PATCHES]| fit::<3>(&all, &evened, w, |v| v).map(Correction::Linear);
    let rooted =
        |w: &[f64; PATCHES]| fit::<6>(&all, &evened, w, root_terms).map(Correction::RootPolynomial);
    let with_error = |form: &dyn Fn(&[f64; PATCHES]) -> Option<Correction>| {
        Some((form(&weights)?, left_out(&all, &evened, &weights, form)?))
    };
    let candidates = [with_error(&linear), with_error(&rooted)];
    let (correction, de00_left_out) = candidates
        .into_iter()
        .flatten()
        .min_by(|a, b| a.1.total_cmp(&b.1))?;
    let patches = std::array::from_fn(|k| {
        let (before, after) = (
            colour::lab(all.rgb[k]),
            colour::lab(correction.apply(evened[k])),
        );
        PatchResidual {
            weight: weights[k],
            published: all.lab[k],
            before,
            after,
            de00_before: colour::ciede2000(before, all.lab[k]),
            de00_after: colour::ciede2000(after, all.lab[k]),
        }
    });
    let over = |f: &dyn Fn(&PatchResidual) -> f64| mean_over(&patches.map(|p| (f(&p), p.weight)));
    Some(ChartFit {
        correction,
        set,
        de00_before: over(&|p| p.de00_before),
        de00_after: over(&|p| p.de00_after),
        de00_left_out,
        patches,
    })
}

/// Mean over the patches that count.
fn mean_over(values: &[(f64, f64)]) -> f64 {
    let counted = || values.iter().filter(|(_, w)| *w >= COUNTS);
    counted().map(|(v, _)| v).sum::<f64>() / counted().count().max(1) as f64
}

/// From a small change of linear colour to lightness, chroma and hue, each over the tolerance of people
/// (the weights of CIE94, which CIEDE2000 refines).
fn seen_change(linear: [f64; 3]) -> [[f64; 3]; 3] {
    const SMALL: f64 = 1e-4;
    let here = colour::lab(linear);
    let chroma = colour::chroma(here);
    let (cos, sin) = if chroma > 1e-6 {
        (here[1] / chroma, here[2] / chroma)
    } else {
        (1.0, 0.0)
    };
    let mut out = [[0.0; 3]; 3];
    for k in 0..3 {
        let mut moved = linear;
        moved[k] += SMALL;
        let there = colour::lab(moved);
        let [l, a, b]: [f64; 3] = std::array::from_fn(|c| (there[c] - here[c]) / SMALL);
        out[0][k] = l;
        out[1][k] = (cos * a + sin * b) / (1.0 + 0.045 * chroma);
        out[2][k] = (cos * b - sin * a) / (1.0 + 0.015 * chroma);
    }
    out
}

/// Coefficients of a form with `N` terms by weighted least squares of what people see.
fn fit<const N: usize>(
    all: &Patches,
    light: &[[f64; 3]; PATCHES],
    weights: &[f64; PATCHES],
    terms: impl Fn([f64; 3]) -> [f64; N],
) -> Option<[[f64; N]; 3]> {
    // The three rows of coefficients are coupled through lightness, chroma and hue: 18 unknowns at most.
    let mut normal = Normal::<18>::new();
    for k in (0..PATCHES).filter(|k| weights[*k] > 0.0) {
        let t = terms(light[k]);
        for change in &all.seen_change[k] {
            let mut row = [0.0; 18];
            for c in 0..3 {
                for (n, t) in t.iter().enumerate() {
                    row[c * N + n] = change[c] * t;
                }
            }
            let value: f64 = (0..3).map(|c| change[c] * all.published[k][c]).sum();
            normal.add(&row, value, weights[k]);
        }
    }
    let x = normal.solved()?;
    let out = std::array::from_fn(|c| std::array::from_fn(|n| x[c * N + n]));
    let finite = |rows: &[[f64; N]; 3]| rows.iter().flatten().all(|v| v.is_finite());
    finite(&out).then_some(out)
}

/// Mean CIEDE2000 of the patches that count, each corrected by a fit without it.
fn left_out(
    all: &Patches,
    light: &[[f64; 3]; PATCHES],
    weights: &[f64; PATCHES],
    form: &dyn Fn(&[f64; PATCHES]) -> Option<Correction>,
) -> Option<f64> {
    let mut sum = (0.0, 0usize);
    for k in (0..PATCHES).filter(|k| weights[*k] >= COUNTS) {
        let mut others = *weights;
        others[k] = 0.0;
        let seen = form(&others)?.apply(light[k]);
        sum.0 += colour::ciede2000(colour::lab(seen), all.lab[k]);
        sum.1 += 1;
    }
    (sum.1 > 0).then(|| sum.0 / sum.1 as f64)
}

/// The light of the patches with its change across the chart taken out, and how much each counts.
///
/// Colour and light of a patch are told apart: the matrix is fitted with a light of its own for each patch, then the lights
/// of most patches must lie on a plane (in logarithms); what lies off it is in shadow or under glare.
///
/// # Source
/// [Finlayson2019] for the matrix with free lights, [BeatonTukey1974] for the weights.
fn even_out(all: &Patches) -> Option<([[f64; 3]; PATCHES], [f64; PATCHES])> {
    let mut factor = [1.0; PATCHES];
    let mut weights: [f64; PATCHES] = std::array::from_fn(|k| f64::from(u8::from(all.usable[k])));
    let mut evened = all.rgb;
    for round in 0..ROUNDS {
        let matrix = fit::<3>(all, &evened, &weights, |v| v)?;
        let own: [f64; PATCHES] =
            std::array::from_fn(|k| own_light(all, k, colour::apply(&matrix, all.rgb[k])));
        let plane = plane_of(&own, &weights)?;
        let off: [f64; PATCHES] = std::array::from_fn(|k| {
            let seen = colour::apply(&matrix, all.rgb[k].map(|v| v * own[k].exp()));
            colour::ciede2000(colour::lab(seen), all.lab[k])
        });
        let lights: [f64; PATCHES] = std::array::from_fn(|k| (own[k] - plane[k]).abs());
        let (colour_unit, light_unit) = (
            COLOUR_SPREAD.max(1.4826 * usable_median(&off, &all.usable)),
            LIGHT_SPREAD.max(1.4826 * usable_median(&lights, &all.usable)),
        );
        let free = round < OWN_LIGHT_ROUNDS;
        for k in 0..PATCHES {
            factor[k] = if free { own[k] } else { plane[k] }.exp();
            evened[k] = all.rgb[k].map(|v| v * factor[k]);
            let luminance = all.published[k].iter().sum::<f64>() / 3.0;
            let by_light =
                lights[k] / (light_unit.min(3.0 * LIGHT_SPREAD) + LIGHT_NOISE / luminance);
            let by_colour = off[k] / colour_unit.min(3.0 * COLOUR_SPREAD);
            let kept = if free {
                tukey(by_colour)
            } else {
                tukey(by_colour) * tukey(by_light)
            };
            weights[k] = if all.usable[k] { kept } else { 0.0 };
        }
        let middle = weighted_mean(&factor.map(f64::ln), &weights)?.exp();
        evened.iter_mut().flatten().for_each(|v| *v /= middle);
    }
    Some((evened, weights))
}

/// Natural log of the factor that brings a patch's corrected light nearest to the published one.
fn own_light(all: &Patches, k: usize, seen: [f64; 3]) -> f64 {
    let (published, change) = (&all.published[k], &all.seen_change[k]);
    let (mut sp, mut ss) = (0.0, 0.0);
    for row in change {
        let [s, p]: [f64; 2] = [
            (0..3).map(|c| row[c] * seen[c]).sum(),
            (0..3).map(|c| row[c] * published[c]).sum(),
        ];
        sp += s * p;
        ss += s * s;
    }
    (sp / ss.max(1e-12)).clamp(0.02, 50.0).ln()
}

/// Values of a plane over the chart through most of `values`, weighted.
///
/// Of the planes through three patches each, the one from which the patches lie least off starts: a shadow over a third
/// of the chart must not tilt it. Repeated least squares that trusts far values less ends [BeatonTukey1974].
fn plane_of(values: &[f64; PATCHES], weights: &[f64; PATCHES]) -> Option<[f64; PATCHES]> {
    let mut plane = start_plane(values, weights)?;
    for _ in 0..6 {
        let mut normal = Normal::<3>::new();
        for k in (0..PATCHES).filter(|k| weights[*k] > 0.0) {
            let [x, y] = place(k);
            let trust = weights[k] * tukey((values[k] - plane[k]) / LIGHT_SPREAD);
            normal.add(&[1.0, x, y], values[k], trust);
        }
        plane = plane_values(normal.solved()?);
    }
    Some(plane)
}

/// Column and row from the chart's middle.
fn place(k: usize) -> [f64; 2] {
    [(k % COLUMNS) as f64 - 2.5, (k / COLUMNS) as f64 - 1.5]
}

fn plane_values([start, along, down]: [f64; 3]) -> [f64; PATCHES] {
    std::array::from_fn(|k| start + along * place(k)[0] + down * place(k)[1])
}

/// Steepest change of light over one pitch (natural log): beyond that it is a shadow's edge.
const STEEPEST: f64 = 0.12;
/// A patch counts at most this far off (natural log) in choosing the first plane.
const MOST_OFF: f64 = 0.12;

/// Of the planes through three patches the one with the least sum of distances, far ones cut short
/// (every fourth of all threes: that is 500 of them).
fn start_plane(values: &[f64; PATCHES], weights: &[f64; PATCHES]) -> Option<[f64; PATCHES]> {
    let mut best: Option<(f64, [f64; 3])> = None;
    for i in 0..PATCHES {
        for j in i + 1..PATCHES {
            for k in (j + 1..PATCHES).filter(|k| (i + j + k) % 4 == 0) {
                if [i, j, k].iter().any(|n| weights[*n] < COUNTS) {
                    continue;
                }
                let rows = [i, j, k].map(|n| [1.0, place(n)[0], place(n)[1]]);
                let Some(plane) = solve(rows, [values[i], values[j], values[k]]) else {
                    continue;
                };
                if plane[1].abs() > STEEPEST || plane[2].abs() > STEEPEST {
                    continue;
                }
                let at = plane_values(plane);
                let off = |n: usize| weights[n] * (values[n] - at[n]).abs().min(MOST_OFF);
                let sum: f64 = (0..PATCHES).map(off).sum();
                if best.is_none_or(|b| sum < b.0) {
                    best = Some((sum, plane));
                }
            }
        }
    }
    best.map(|b| plane_values(b.1))
}

fn tukey(u: f64) -> f64 {
    let v = 1.0 - (u / TUKEY).powi(2);
    if v > 0.0 { v * v } else { 0.0 }
}

/// Median over the usable patches.
fn usable_median(values: &[f64; PATCHES], usable: &[bool; PATCHES]) -> f64 {
    let seen: Vec<f64> = (0..PATCHES)
        .filter(|k| usable[*k])
        .map(|k| values[k])
        .collect();
    crate::stats::median(&seen).unwrap_or(0.0)
}

fn weighted_mean(values: &[f64; PATCHES], weights: &[f64; PATCHES]) -> Option<f64> {
    let total: f64 = weights.iter().sum();
    let sum: f64 = values.iter().zip(weights).map(|(v, w)| v * w).sum();
    (total > 0.0).then(|| sum / total)
}
