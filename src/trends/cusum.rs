//! The cumulative sum chart: small departures in one direction add up.

/// Sums after each value, upwards and downwards, never below 0.
#[derive(Debug, Clone, PartialEq)]
pub struct Cusum {
    /// What has piled up above the target and its slack.
    pub up: Vec<f64>,
    /// What has piled up below.
    pub down: Vec<f64>,
}

impl Cusum {
    /// Index of the first value at which a sum goes beyond `limit`, and whether it was the upper one.
    pub fn first_beyond(&self, limit: f64) -> Option<(usize, bool)> {
        let beyond = |i: usize| self.up[i] > limit || self.down[i] > limit;
        let at = (0..self.up.len()).find(|i| beyond(*i))?;
        Some((at, self.up[at] > limit))
    }
}

/// The sums of `values` about `target`, with a slack of `slack` in their unit.
///
/// # Source
/// [NIST-Handbook] 6.3.2.3.
pub fn cusum(values: &[f64], target: f64, slack: f64) -> Cusum {
    let pile = |sign: f64| {
        let mut sum = 0.0f64;
        let step = |v: &f64| {
            sum = (sum + sign * (v - target) - slack).max(0.0);
            sum
        };
        values.iter().map(step).collect()
    };
    Cusum {
        up: pile(1.0),
        down: pile(-1.0),
    }
}
