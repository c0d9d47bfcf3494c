//! Standard uncertainties of the measures of one animal.
//!
//! Each is the root of a sum of squares of stated parts: how far the measure moves when the opacity scale or the outline do,
//! how much an end of the body is in doubt, how much of the colour is left unexplained. A part's weight stands in `weights/uncertainty.txt`;
//! `fit-uncertainty` fits the weights to the errors on the rendered scenes.

use super::spots::Spot;
use crate::animals::body::Body;
use crate::animals::raster::Pixels;
use std::sync::OnceLock;

/// Parts of the uncertainty of coverage: at the least; the opacity scale is off; the outline is a pixel off; an end of the body
/// is in doubt; the body is too stubby for a whole one; the direction is in doubt.
pub const COVERAGE: [&str; 6] = ["least", "scale", "rim", "end", "stub", "direction"];
/// The part of the uncertainty of opacity: the square root of what the paint leaves unexplained of the covered colours. Any part
/// beside it takes away what it tells (see DEVELOPERS.md).
pub const OPACITY: [&str; 1] = ["unexplained"];
/// Parts of the relative uncertainty of length: at the least; an end is in doubt; stubby; the direction is in doubt.
pub const LENGTH: [&str; 4] = ["least", "end", "stub", "direction"];

/// The opacity scale may be off by this for all pixels together.
const SCALE: f64 = 0.07;
/// What can't be read is half likely to be covered; fixed, as few animals of the scenes have glare on them.
const UNREAD: f64 = 0.5;
/// Natural logarithm of length over width of a whole body, less its spread (rendered scenes: 2.22 +- 0.10).
const SLENDER: f64 = 2.17;
/// Animals stand above the floor and bend towards the lens: length in millimetres is known no better than this.
const LENGTH_MM: f64 = 0.035;
/// Parts of the uncertainty of evenness: at the least, by unevenness, by lack of colour (set by hand on the rendered scenes).
const EVENNESS: [f64; 3] = [0.024, 0.08, 0.03];

/// Values of the parts for one animal, in the order of [`COVERAGE`], [`OPACITY`] and [`LENGTH`].
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Parts {
    /// Of coverage.
    pub coverage: [f64; 6],
    /// Of opacity.
    pub opacity: [f64; 1],
    /// Of relative length.
    pub length: [f64; 4],
    /// Share of the body that can't be read.
    pub unread: f64,
}

/// Under which conditions the opacity of an animal was read.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Conditions {
    /// What the paint leaves unexplained of the covered colours: root mean square, linear light relative to the floor.
    pub unexplained: f64,
    /// Opacity at which a pixel counts as covered.
    pub cut: f64,
}

/// The parts for one animal.
pub fn parts(spots: &[Spot], pixels: &Pixels, body: &Body, conditions: Conditions) -> Parts {
    let read = spots.iter().filter(|s| !s.unread).count().max(1) as f64;
    let share = |level: f64| {
        let above = spots.iter().filter(|s| !s.unread && s.broad >= level);
        above.count() as f64 / read
    };
    let covered = share(conditions.cut);
    let by_scale = 0.5 * (share(conditions.cut - SCALE) - share(conditions.cut + SCALE));
    let by_rim = by_rim(spots, pixels, conditions.cut, read, covered);
    let [end, direction] = [doubt(body.end_score), doubt(body.head_log_odds)];
    let stub = (SLENDER - f64::from((body.length() / body.mean_width().max(1.0)).ln())).max(0.0);
    // A missed or added clear part moves coverage the more, the more colour the rest has.
    let colour = covered.sqrt();
    Parts {
        coverage: [
            1.0,
            by_scale,
            by_rim,
            end * colour,
            stub * colour,
            direction * colour,
        ],
        opacity: [conditions.unexplained.sqrt()],
        length: [1.0, end, stub, direction],
        unread: 1.0 - read / spots.len().max(1) as f64,
    }
}

/// How far coverage moves when the outline runs one pixel further out or in.
fn by_rim(spots: &[Spot], pixels: &Pixels, cut: f64, read: f64, covered: f64) -> f64 {
    let outermost = spots
        .iter()
        .filter(|s| !s.unread && is_outermost(pixels, s));
    let (rim, rim_covered) = outermost.fold((0.0, 0.0), |(n, c), s| {
        (n + 1.0, c + if s.broad >= cut { 1.0 } else { 0.0 })
    });
    rim / read * (rim_covered / f64::max(rim, 1.0) - covered).abs()
}

fn is_outermost(pixels: &Pixels, s: &Spot) -> bool {
    [(1, 0), (-1, 0), (0, 1), (0, -1)]
        .iter()
        .any(|(dx, dy)| pixels.at(s.x + dx, s.y + dy) == 0)
}

impl Parts {
    /// Standard uncertainty of coverage.
    pub fn coverage(&self) -> f64 {
        weighted(&self.coverage, &weights().coverage).hypot(UNREAD * self.unread)
    }

    /// Standard uncertainty of opacity.
    pub fn opacity(&self) -> f64 {
        weighted(&self.opacity, &weights().opacity)
    }

    /// Standard uncertainty of a length along the body, relative to it.
    pub fn length(&self) -> f64 {
        weighted(&self.length, &weights().length)
    }

    /// The same in millimetres, with the relative uncertainty of the scale.
    pub fn length_mm(&self, scale: f64) -> f64 {
        self.length().hypot(LENGTH_MM).hypot(scale)
    }
}

/// Standard uncertainty of evenness.
pub fn evenness(even: f64, coverage: f64) -> f64 {
    let [least, uneven, clear] = EVENNESS;
    least
        .hypot(uneven * (1.0 - even))
        .hypot(clear * (1.0 - coverage))
}

/// Weights of the parts of each measure, in the parts' order.
#[derive(Debug, Clone, PartialEq)]
pub struct Weights {
    /// Of coverage.
    pub coverage: [f64; 6],
    /// Of opacity.
    pub opacity: [f64; 1],
    /// Of relative length.
    pub length: [f64; 4],
}

impl Weights {
    /// The text of a weight file: a line is `measure part | weight`.
    pub fn to_text(&self) -> String {
        let lines = |measure: &str, names: &[&str], weights: &[f64]| -> String {
            let line = |(name, w): (&&str, &f64)| format!("{measure} {name} | {w:.4}\n");
            names.iter().zip(weights).map(line).collect()
        };
        lines("coverage", &COVERAGE, &self.coverage)
            + &lines("opacity", &OPACITY, &self.opacity)
            + &lines("length", &LENGTH, &self.length)
    }

    /// The weights in the text of a weight file; `None` when a part is missing or no number.
    pub fn parse(text: &str) -> Option<Self> {
        let weight = |measure: &str, name: &str| -> Option<f64> {
            let line = text
                .lines()
                .find_map(|l| l.strip_prefix(&format!("{measure} {name} | ")))?;
            line.trim().parse().ok().filter(|w: &f64| *w >= 0.0)
        };
        fn all<const N: usize>(
            names: &[&str; N],
            weight: impl Fn(&str) -> Option<f64>,
        ) -> Option<[f64; N]> {
            let mut out = [0.0; N];
            for (o, name) in out.iter_mut().zip(names) {
                *o = weight(name)?;
            }
            Some(out)
        }
        Some(Self {
            coverage: all(&COVERAGE, |n| weight("coverage", n))?,
            opacity: all(&OPACITY, |n| weight("opacity", n))?,
            length: all(&LENGTH, |n| weight("length", n))?,
        })
    }
}

/// The weights built into the program.
fn weights() -> &'static Weights {
    static BUILT_IN: OnceLock<Weights> = OnceLock::new();
    BUILT_IN.get_or_init(|| {
        Weights::parse(include_str!("weights/uncertainty.txt"))
            .expect("the built-in weight file is checked by a test")
    })
}

fn weighted(parts: &[f64], weights: &[f64]) -> f64 {
    let squares = parts.iter().zip(weights).map(|(p, w)| (p * w).powi(2));
    squares.sum::<f64>().sqrt()
}

/// Probability that something with these log-odds is not so.
fn doubt(log_odds: f32) -> f64 {
    1.0 / (1.0 + f64::from(log_odds).exp())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn doubt_is_half_at_even_odds_and_falls_with_evidence() {
        assert!((doubt(0.0) - 0.5).abs() < 1e-12);
        assert!(doubt(3.0) < 0.05 && doubt(-3.0) > 0.95);
    }

    #[test]
    fn the_built_in_weights_are_read_and_written_alike() {
        assert_eq!(
            Weights::parse(&weights().to_text()).as_ref(),
            Some(weights())
        );
        assert_eq!(Weights::parse("coverage least | 0.1"), None);
    }

    #[test]
    fn each_part_adds_and_what_is_not_read_adds_half_of_itself() {
        let parts = Parts {
            coverage: [1.0, 0.02, 0.01, 0.0, 0.0, 0.0],
            opacity: [0.1],
            length: [1.0, 0.1, 0.0, 0.0],
            unread: 0.0,
        };
        let more = |part: usize| {
            let mut other = parts;
            other.coverage[part] += 0.5;
            // A part that the fit found to say nothing has no weight.
            match weights().coverage[part] > 0.0 {
                true => other.coverage() > parts.coverage(),
                false => other.coverage() == parts.coverage(),
            }
        };
        assert!(weights().coverage.iter().filter(|w| **w > 0.0).count() > 3);
        assert!((0..6).all(more));
        let glare = Parts {
            unread: 0.2,
            ..parts
        };
        let added = glare.coverage().powi(2) - parts.coverage().powi(2);
        assert!((added - 0.01).abs() < 1e-12);
        assert!(parts.length_mm(0.02) > parts.length());
    }

    #[test]
    fn uneven_and_clear_animals_are_known_less_well() {
        assert!(evenness(0.9, 0.2) > evenness(0.9, 0.9));
        assert!(evenness(0.5, 0.9) > evenness(0.9, 0.9));
    }
}
