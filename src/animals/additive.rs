//! An additive logistic model: the log-odds are a sum of one piecewise-linear curve a feature.
//!
//! The weights stand as text, a line a feature, so that a person can read what each feature does:
//! `name | knots... | slopes...` where the first slope holds everywhere and each further one is added above its knot.

use crate::lanes::widest;
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

    /// Log-odds for many sets of feature values, given feature by feature.
    pub fn log_odds_of_columns(&self, columns: &[Vec<f32>]) -> Vec<f32> {
        let mut out = vec![self.bias; columns.first().map_or(0, Vec::len)];
        for (curve, column) in self.curves.iter().zip(columns) {
            widest((curve, &column[..], &mut out[..]), Curve::add_row);
        }
        out
    }

    /// Log-odds at each pixel of feature planes of one size.
    pub fn log_odds_plane(&self, features: &[Plane]) -> Plane {
        let (w, h) = (features[0].width, features[0].height);
        let mut out = Plane::filled(w, h, self.bias);
        out.values
            .par_chunks_mut(w)
            .enumerate()
            .for_each(|(y, row)| {
                for (curve, plane) in self.curves.iter().zip(features) {
                    let values = &plane.values[y * w..(y + 1) * w];
                    widest((curve, values, &mut *row), Curve::add_row);
                }
            });
        out
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

    #[inline(always)]
    fn add_row((curve, values, out): (&Self, &[f32], &mut [f32])) {
        let first = curve.slopes[0];
        for (o, &x) in out.iter_mut().zip(values) {
            *o += first * x;
        }
        for (&knot, &slope) in curve.knots.iter().zip(&curve.slopes[1..]) {
            for (o, &x) in out.iter_mut().zip(values) {
                let above = x - knot;
                *o += slope * if above > 0.0 { above } else { 0.0 };
            }
        }
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
        assert!((model.log_odds_plane(&planes).values[1] - 3.0).abs() < 1e-6);
    }

    #[test]
    fn a_missing_feature_or_a_bad_number_is_refused() {
        let text = "bias | 0\ndark | | 1\n";
        assert!(Additive::parse(text, &["dark"]).is_some());
        assert!(Additive::parse(text, &["edge"]).is_none());
        assert!(Additive::parse("bias | 0\ndark | 1 | 1\n", &["dark"]).is_none());
    }
}
