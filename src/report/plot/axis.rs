//! From values to places on paper, and round numbers beside them.

/// A stretch of values laid over a stretch of paper.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Scale {
    /// Values at both ends.
    pub values: (f64, f64),
    /// Their places.
    pub paper: (f64, f64),
}

impl Scale {
    /// Place of a value.
    pub fn at(&self, value: f64) -> f64 {
        let share = (value - self.values.0) / (self.values.1 - self.values.0);
        self.paper.0 + share * (self.paper.1 - self.paper.0)
    }

    /// About `count` round numbers within the values.
    pub fn ticks(&self, count: usize) -> Vec<f64> {
        let (low, high) = self.values;
        let step = round_step((high - low) / count.max(1) as f64);
        let first = (low / step - 1e-9).ceil();
        (0..=4 * count)
            .map(|i| (first + i as f64) * step)
            .take_while(|v| *v <= high + 1e-9 * step)
            .collect()
    }

    /// Digits behind the point that its ticks need.
    pub fn digits(&self, count: usize) -> usize {
        let step = round_step((self.values.1 - self.values.0) / count.max(1) as f64);
        (-step.log10() - 1e-9).ceil().clamp(0.0, 6.0) as usize
    }
}

/// 1, 2 or 5 times a power of ten, at least `least`.
fn round_step(least: f64) -> f64 {
    let least = least.max(1e-9);
    let ten = 10f64.powf(least.log10().floor());
    let factors = [1.0, 2.0, 5.0, 10.0];
    let factor = factors
        .into_iter()
        .find(|f| f * ten >= least * (1.0 - 1e-9));
    factor.unwrap_or(10.0) * ten
}

/// A stretch that holds all of `values` with some room, never of no length.
pub fn stretch(values: impl Iterator<Item = f64>, room: f64) -> (f64, f64) {
    let (low, high) = values
        .filter(|v| v.is_finite())
        .fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), v| {
            (l.min(v), h.max(v))
        });
    if low > high {
        return (0.0, 1.0);
    }
    let more = room * (high - low).max(1e-3 * high.abs()).max(1e-6);
    (low - more, high + more)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ticks_are_round() {
        let scale = Scale {
            values: (0.61, 0.96),
            paper: (0.0, 100.0),
        };
        let ticks = scale.ticks(4);
        let want = [0.7, 0.8, 0.9];
        assert_eq!(ticks.len(), want.len());
        assert!(ticks.iter().zip(want).all(|(a, b)| (a - b).abs() < 1e-9));
        assert_eq!(scale.digits(4), 1);
        assert!((scale.at(0.785) - 50.0).abs() < 1e-9);
    }
}
