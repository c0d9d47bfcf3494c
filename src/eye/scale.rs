//! The scale on which measures are compared: the present ladder's own steps.
//!
//! A point of coverage means more near the top than in the middle: limits lie closer there. On the steps of the ladder an
//! error of the eye is about as wide everywhere.

use crate::ladder::{Bounds, Ladder, Measure, Rung};
use crate::measures::Sex;
use crate::units::Measured;

/// Step of a share where the ladder gives fewer than two limits for it.
const USUAL_STEP: f64 = 0.1;

/// From a measure to its height on the present ladder: 3.0 at the limit of G3, and so on, straight between the limits and
/// on beyond the last two.
#[derive(Debug, Clone, PartialEq)]
pub struct Scale {
    /// The measure.
    pub measure: Measure,
    /// True where less is better.
    pub is_less_better: bool,
    /// Value (with its sign turned where less is better) and height, both rising; two at least.
    knots: Vec<(f64, f64)>,
}

impl Scale {
    /// Scales of the measures that can be taught for the ladder: those it limits on one side, and coverage, opacity and
    /// evenness where it does not name them. Banded lines leave the coverage of the whole body out: it is no aim there.
    pub fn of_ladder(ladder: &Ladder) -> Vec<Scale> {
        let named: Vec<Scale> = Measure::all()
            .filter(|m| m.is_share() && *m != Measure::WrongHueShare && *m != Measure::BrownShare)
            .filter_map(|measure| Self::named(ladder, measure))
            .collect();
        let banded = named
            .iter()
            .any(|scale| scale.measure == Measure::ClearMiddle);
        let mut all = named;
        for measure in [Measure::Coverage, Measure::Opacity, Measure::Evenness] {
            let known = all.iter().any(|scale| scale.measure == measure);
            let told_by_the_middle = banded && measure == Measure::Coverage;
            if !known && !told_by_the_middle {
                all.push(Scale {
                    measure,
                    is_less_better: false,
                    knots: vec![(0.5, 2.0), (0.5 + USUAL_STEP, 3.0)],
                });
            }
        }
        all
    }

    fn named(ladder: &Ladder, measure: Measure) -> Option<Self> {
        let mut knots: Vec<(f64, f64)> = Vec::new();
        let mut less = None;
        for rung in Rung::all().skip(1) {
            let asked = ladder
                .asks(rung, Sex::Unsure)
                .iter()
                .find(|c| c.measure == measure);
            let (value, is_less) = match asked.map(|condition| condition.bounds) {
                Some(Bounds::Range {
                    at_least: Some(low),
                    at_most: None,
                }) => (low, false),
                Some(Bounds::Range {
                    at_least: None,
                    at_most: Some(high),
                }) => (-high, true),
                Some(_) => return None,
                None => continue,
            };
            if less.is_some_and(|less| less != is_less) {
                return None;
            }
            less = Some(is_less);
            if knots.last().is_none_or(|(last, _)| value > *last) {
                knots.push((value, rung.index() as f64));
            }
        }
        if let [(value, height)] = knots[..] {
            knots.push((value + USUAL_STEP, height + 1.0));
        }
        (knots.len() > 1).then_some(Scale {
            measure,
            is_less_better: less?,
            knots,
        })
    }

    /// The value with its sign turned where less is better, and back.
    pub fn signed(&self, value: f64) -> f64 {
        if self.is_less_better { -value } else { value }
    }

    /// Height of a value.
    pub fn height(&self, value: f64) -> f64 {
        let value = self.signed(value);
        along(&self.knots, value, |k| (k.0, k.1))
    }

    /// Value at a height, kept within the range of the measure.
    pub fn value(&self, height: f64) -> f64 {
        let value = along(&self.knots, height, |k| (k.1, k.0));
        let (low, high) = self.measure.range();
        self.signed(value).clamp(low, high)
    }

    /// Height of a measured value with its standard uncertainty in steps.
    pub fn measured(&self, measured: Measured) -> (f64, f64) {
        let (v, u) = (measured.value, measured.uncertainty.max(0.0));
        let spread = 0.5 * (self.height(v + u) - self.height(v - u)).abs();
        (self.height(v), spread)
    }
}

fn along(knots: &[(f64, f64)], at: f64, side: impl Fn(&(f64, f64)) -> (f64, f64)) -> f64 {
    let last = knots.len() - 1;
    let k = knots
        .partition_point(|knot| side(knot).0 <= at)
        .clamp(1, last);
    let (a, b) = (side(&knots[k - 1]), side(&knots[k]));
    a.1 + (at - a.0) / (b.0 - a.0) * (b.1 - a.1)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::ladder::Shelf;

    #[test]
    fn limits_are_heights_and_back() {
        let red = Shelf::default().ladder("red").expect("built in");
        let scales = Scale::of_ladder(&red);
        let coverage = scales
            .iter()
            .find(|s| s.measure == Measure::Coverage)
            .expect("named");
        for (value, height) in [
            (0.25, 1.0),
            (0.95, 5.0),
            (0.775, 3.5),
            (0.975, 5.25),
            (0.0, 0.0),
        ] {
            assert!((coverage.height(value) - height).abs() < 1e-9, "{value}");
            assert!((coverage.value(height) - value).abs() < 1e-9, "{height}");
        }
        assert!(coverage.value(9.0) <= 1.0);
        let (height, spread) = coverage.measured(Measured::new(0.90, 0.05));
        assert!((height - 4.5).abs() < 1e-9 && (spread - 0.5).abs() < 1e-9);
    }

    #[test]
    fn every_built_in_ladder_can_be_taught_something() {
        for ladder in Shelf::default().ladders() {
            let scales = Scale::of_ladder(&ladder);
            assert!(!scales.is_empty(), "{}", ladder.line);
            let banded = scales.iter().any(|s| s.measure == Measure::ClearMiddle);
            assert_eq!(banded, ladder.line.starts_with("rili"), "{}", ladder.line);
        }
    }
}
