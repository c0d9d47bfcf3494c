//! An additive logistic model: the log-odds are a sum of one piecewise-linear curve a feature.
//!
//! The weights stand as text, a line a feature, so that a person can read what each feature does:
//! `name | knots... | slopes...` where the first slope holds everywhere and each further one is added above its knot.

use crate::lanes::{Scalar, Simd, WithSimd, widest, widest_simd};
use crate::plane::Plane;
use rayon::prelude::*;

/// One feature's curve.
#[derive(Debug, Clone, PartialEq)]
pub struct Curve {
    /// Name of the feature.
    pub name: String,
    /// Where the slope changes, rising.
    pub knots: Vec<f32>,
    /// Slope below the first knot, then the change of slope at each knot; one more than `knots`.
    pub slopes: Vec<f32>,
}

/// The model: bias plus a curve a feature; log-odds (natural).
#[derive(Debug, Clone, PartialEq)]
pub struct Additive {
    /// Log-odds with every feature at 0 below its first knot.
    pub bias: f32,
    /// Curves in the order of the features.
    pub curves: Vec<Curve>,
}

impl Additive {
    /// The model written in `text`; `None` when a line is malformed or a feature of `names` is missing or out of order.
    pub fn parse(text: &str, names: &[&str]) -> Option<Self> {
        let mut lines = text
            .lines()
            .filter(|l| !l.trim().is_empty() && !l.starts_with('#'));
        let bias = lines.next()?.strip_prefix("bias |")?.trim().parse().ok()?;
        let curves: Vec<Curve> = lines.map(parse_curve).collect::<Option<_>>()?;
        let fits =
            curves.len() == names.len() && curves.iter().zip(names).all(|(c, n)| c.name == **n);
        fits.then_some(Self { bias, curves })
    }

    /// The model as text that [`Additive::parse`] reads.
    pub fn to_text(&self) -> String {
        let list = |v: &[f32]| {
            v.iter()
                .map(|x| format!("{x:.5}"))
                .collect::<Vec<_>>()
                .join(" ")
        };
        let mut out = format!("bias | {:.5}\n", self.bias);
        for c in &self.curves {
            out.push_str(&format!(
                "{} | {} | {}\n",
                c.name,
                list(&c.knots),
                list(&c.slopes)
            ));
        }
        out
    }

    /// Log-odds for one set of feature values.
    pub fn log_odds(&self, features: &[f32]) -> f32 {
        self.curves
            .iter()
            .zip(features)
            .fold(self.bias, |sum, (c, &x)| sum + c.value(x))
    }

    /// Adds the values of the curves from number `first` on at each pixel of their feature planes, which are of the size
    /// of `out`; `change` makes the feature's value of the plane's.
    pub fn add_planes(
        &self,
        first: usize,
        features: &[&Plane],
        change: impl Fn(f32) -> f32 + Copy + Sync,
        out: &mut Plane,
    ) {
        let w = out.width;
        let curves = &self.curves[first..first + features.len()];
        let rows = out.values.par_chunks_mut(w).enumerate();
        rows.for_each_init(Vec::new, |changed: &mut Vec<Vec<f32>>, (y, out)| {
            changed.resize_with(features.len(), || vec![0.0; w]);
            for (row, plane) in changed.iter_mut().zip(features) {
                widest(
                    (&mut row[..], &plane.values[y * w..][..w], change),
                    change_row,
                );
            }
            widest_simd(OfRow {
                curves,
                features: changed,
                out,
            });
        });
    }
}

/// The row of changed values.
#[inline(always)]
fn change_row<F: Fn(f32) -> f32>((changed, values, change): (&mut [f32], &[f32], F)) {
    for (changed, &v) in changed.iter_mut().zip(values) {
        *changed = change(v);
    }
}

/// Adds the values of the curves at the feature values that `column` gives for a curve's number, `GROUP` vectors at once:
/// enough to hide the time that a sum takes, few enough to stay in registers over all curves.
#[inline(always)]
pub(super) fn add<'a, S: Simd, const GROUP: usize>(
    simd: S,
    curves: &[Curve],
    column: impl Fn(usize) -> &'a [S::f32s],
    out: &mut [S::f32s],
) {
    let (groups, singles) = out.as_chunks_mut::<GROUP>();
    let of_singles = groups.len() * GROUP;
    for (k, group) in groups.iter_mut().enumerate() {
        let values = |i: usize| {
            let mut group = [simd.splat_f32s(0.0); GROUP];
            group.copy_from_slice(&column(i)[k * GROUP..][..GROUP]);
            group
        };
        *group = added(simd, curves, values, *group);
    }
    for (k, single) in singles.iter_mut().enumerate() {
        [*single] = added(simd, curves, |i| [column(i)[of_singles + k]], [*single]);
    }
}

/// `sums` and the values of the curves, each at what `values` gives for its number.
#[inline(always)]
fn added<S: Simd, const G: usize>(
    simd: S,
    curves: &[Curve],
    values: impl Fn(usize) -> [S::f32s; G],
    mut sums: [S::f32s; G],
) -> [S::f32s; G] {
    let zero = simd.splat_f32s(0.0);
    for (i, curve) in curves.iter().enumerate() {
        let values = values(i);
        let first = simd.splat_f32s(curve.slopes[0]);
        for (sum, x) in sums.iter_mut().zip(values) {
            *sum = simd.add_f32s(*sum, simd.mul_f32s(first, x));
        }
        for (&knot, &slope) in curve.knots.iter().zip(&curve.slopes[1..]) {
            let (knot, slope) = (simd.splat_f32s(knot), simd.splat_f32s(slope));
            for (sum, x) in sums.iter_mut().zip(values) {
                let above = simd.max_f32s(simd.sub_f32s(x, knot), zero);
                *sum = simd.add_f32s(*sum, simd.mul_f32s(slope, above));
            }
        }
    }
    sums
}

/// Adds the values of the curves at the features' values of a row.
struct OfRow<'a> {
    curves: &'a [Curve],
    features: &'a [Vec<f32>],
    out: &'a mut [f32],
}

impl WithSimd for OfRow<'_> {
    type Output = ();

    #[inline(always)]
    fn with_simd<S: Simd>(self, simd: S) {
        let features = self.features;
        let count = self.out.len();
        let (vectors, rest) = S::as_mut_simd_f32s(self.out);
        let of_rest = count - rest.len()..count;
        let column = |i: usize| S::as_simd_f32s(&features[i]).0;
        add::<S, 4>(simd, self.curves, column, vectors);
        let column = |i: usize| &features[i][of_rest.clone()];
        add::<Scalar, 1>(Scalar::new(), self.curves, column, rest);
    }
}

impl Curve {
    /// The curve's value at `x`.
    pub fn value(&self, x: f32) -> f32 {
        self.knots
            .iter()
            .zip(&self.slopes[1..])
            .fold(self.slopes[0] * x, |sum, (k, s)| sum + s * (x - k).max(0.0))
    }
}

fn parse_curve(line: &str) -> Option<Curve> {
    let mut parts = line.split('|').map(str::trim);
    let name = parts.next()?.to_string();
    let numbers = |s: &str| {
        s.split_whitespace()
            .map(|v| v.parse().ok())
            .collect::<Option<Vec<f32>>>()
    };
    let (knots, slopes) = (numbers(parts.next()?)?, numbers(parts.next()?)?);
    (slopes.len() == knots.len() + 1).then_some(Curve {
        name,
        knots,
        slopes,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn text_goes_both_ways_and_the_plane_agrees_with_the_single_value() {
        let text = "bias | -1.00000\ndark | 1.00000 2.00000 | 0.50000 1.00000 -1.50000\nedge |  | 2.00000\n";
        let model = Additive::parse(text, &["dark", "edge"]).expect("well formed");
        assert_eq!(model.to_text(), text);
        // dark 3: 0.5*3 + 1*(3-1) - 1.5*(3-2) = 2; edge 1: 2; with the bias 3.
        assert!((model.log_odds(&[3.0, 1.0]) - 3.0).abs() < 1e-6);
        let planes = [Plane::filled(2, 1, 3.0), Plane::filled(2, 1, 1.0)];
        let mut sums = Plane::filled(2, 1, model.bias);
        model.add_planes(0, &[&planes[0], &planes[1]], |v| v, &mut sums);
        assert!((sums.values[1] - 3.0).abs() < 1e-6);
    }

    #[test]
    fn a_missing_feature_or_a_bad_number_is_refused() {
        let text = "bias | 0\ndark | | 1\n";
        assert!(Additive::parse(text, &["dark"]).is_some());
        assert!(Additive::parse(text, &["edge"]).is_none());
        assert!(Additive::parse("bias | 0\ndark | 1 | 1\n", &["dark"]).is_none());
    }
}
