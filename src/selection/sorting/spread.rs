//! How the animals of today's tank are spread: learned from earlier scoops, shifted to what today's cups show.

/// How far a day's readings may stray from those of earlier days, in standard deviations between animals: a part that all
/// animals share (lamp, cup, minutes) and a part of each sex (house rule; tried from 0.1 to 0.4 on simulated sortings, where
/// it moved the result by less than a hundredth).
const STRAY_SHARED: f64 = 0.25;
const STRAY_OWN: f64 = 0.15;

/// A logistic bell with standard deviation 1 has this steepness, pi / sqrt(3); it is nearly normal, and its share above a
/// value is one exponential.
const BELL: f64 = 1.813_799_364_234_217_8;

/// Values of one sex.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Seen {
    /// From earlier scoops.
    pub earlier: Vec<f64>,
    /// From the cups of this sorting.
    pub today: Vec<f64>,
}

/// How the animals still to come are spread, for one sex.
#[derive(Debug, Clone, PartialEq)]
pub struct Spread {
    /// Expected mean of today's animals.
    pub mean: f64,
    /// Standard uncertainty of that mean.
    pub mean_uncertainty: f64,
    /// Standard deviation between animals.
    pub sd: f64,
    /// Middles of the bells that make up the distribution.
    middles: Vec<f64>,
    /// Width of each bell.
    width: f64,
}

/// How far today's animals stand from the earlier ones, both sexes taken together.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Shift {
    /// Today's mean minus the earlier one, in standard deviations between animals.
    pub by_sd: f64,
    /// Its standard uncertainty.
    pub uncertainty: f64,
}

/// A shift of today's animals beyond so many standard deviations between animals is no drift of a tank (house rule).
const FAR: f64 = 1.0;

impl Shift {
    /// True where it is more than chance and more than a tank drifts from one sorting to the next: another tank, lamp, cup or
    /// time in the cup is likelier.
    pub fn is_far(&self) -> bool {
        self.is_noticed() && self.by_sd.abs() > FAR
    }

    /// True where it is more than chance: beyond two standard uncertainties.
    pub fn is_noticed(&self) -> bool {
        self.by_sd.abs() > 2.0 * self.uncertainty
    }
}

/// Mean, squares about it, and count.
fn moments(values: &[f64]) -> (f64, f64, f64) {
    let n = values.len() as f64;
    if values.is_empty() {
        return (0.0, 0.0, 0.0);
    }
    let mean = values.iter().sum::<f64>() / n;
    let squares = values.iter().map(|v| (v - mean).powi(2)).sum();
    (mean, squares, n)
}

/// Standard deviation within the earlier and within today's animals; `None` below three of them, or where all are alike.
fn sd(seen: &Seen) -> Option<f64> {
    let ((_, first, n), (_, second, m)) = (moments(&seen.earlier), moments(&seen.today));
    let freedom = (n - 1.0).max(0.0) + (m - 1.0).max(0.0);
    let sd = ((first + second) / freedom).sqrt();
    (freedom >= 2.0 && sd.is_finite() && sd > 0.0).then_some(sd)
}

/// The spread of both sexes (females, males), each `None` where too few of that sex were seen.
///
/// Today's mean is believed to lie near the earlier one, with a shift that the sexes partly share; what the cups show moves it
/// there by Bayes' rule. The shape is that of all animals seen, smoothed.
pub fn spreads(seen: &[Seen; 2]) -> [Option<Spread>; 2] {
    let sds = [sd(&seen[0]), sd(&seen[1])];
    let believed = shifts(seen, sds);
    std::array::from_fn(|sex| Some(spread(&seen[sex], sds[sex]?, believed[sex])))
}

/// Believed shift of each sex and its variance, in standard deviations between animals.
fn shifts(seen: &[Seen; 2], sds: [Option<f64>; 2]) -> [(f64, f64); 2] {
    let prior = |sex: usize| {
        let n = seen[sex].earlier.len() as f64;
        // Without earlier animals anything is possible.
        let learned = if n > 0.0 { 1.0 / n } else { 1e6 };
        STRAY_SHARED.powi(2) + STRAY_OWN.powi(2) + learned
    };
    let shared = STRAY_SHARED.powi(2);
    let (p0, p1) = (prior(0), prior(1));
    // What was observed: today's mean against the earlier one; a very large variance where nothing was.
    let observed: [(f64, f64); 2] = std::array::from_fn(|sex| match sds[sex] {
        Some(sd) if !seen[sex].today.is_empty() => {
            let (then, now) = (moments(&seen[sex].earlier), moments(&seen[sex].today));
            let from = if then.2 > 0.0 { then.0 } else { 0.0 };
            ((now.0 - from) / sd, 1.0 / now.2)
        }
        _ => (0.0, 1e9),
    });
    let (v0, v1) = (p0 + observed[0].1, p1 + observed[1].1);
    let determinant = v0 * v1 - shared * shared;
    // Gains of the two observations for each of the two shifts: prior covariance times inverse of the observed one.
    let gain = |own: f64, other: f64, own_first: bool| {
        let (a, b) = if own_first {
            (own, other)
        } else {
            (other, own)
        };
        [
            (a * v1 - b * shared) / determinant,
            (b * v0 - a * shared) / determinant,
        ]
    };
    let gains = [gain(p0, shared, true), gain(p1, shared, false)];
    let priors = [[p0, shared], [shared, p1]];
    std::array::from_fn(|sex| {
        let g = gains[sex];
        let mean = g[0] * observed[0].0 + g[1] * observed[1].0;
        let variance = priors[sex][sex] - g[0] * priors[sex][0] - g[1] * priors[sex][1];
        (mean, variance.max(0.0))
    })
}

fn spread(seen: &Seen, sd: f64, (shift, variance): (f64, f64)) -> Spread {
    let (then, now) = (moments(&seen.earlier), moments(&seen.today));
    let from = if then.2 > 0.0 { then.0 } else { 0.0 };
    let mean = from + shift * sd;
    let residuals: Vec<f64> = (seen.earlier.iter().map(|v| v - then.0))
        .chain(seen.today.iter().map(|v| v - now.0))
        .collect();
    let n = residuals.len() as f64;
    // Half of the usual rule for the width of a bell [Silverman1986], which would fill up a steep end (coverage can't exceed
    // 1); the middles are drawn together so that the whole keeps its standard deviation.
    let width = 0.5 * 1.06 * sd * n.powf(-0.2);
    let together = (1.0 - (width / sd).powi(2)).max(0.0).sqrt();
    Spread {
        mean,
        mean_uncertainty: variance.sqrt() * sd,
        sd,
        middles: residuals.iter().map(|e| mean + together * e).collect(),
        width,
    }
}

/// How far today's animals stand from the earlier ones; `None` where one of the two is missing.
pub fn shift(seen: &[Seen; 2]) -> Option<Shift> {
    let (mut sum, mut weights) = (0.0, 0.0);
    for seen in seen {
        let Some(sd) = sd(seen) else { continue };
        if seen.earlier.is_empty() || seen.today.is_empty() {
            continue;
        }
        let (then, now) = (moments(&seen.earlier), moments(&seen.today));
        let weight = 1.0 / (1.0 / then.2 + 1.0 / now.2);
        sum += weight * (now.0 - then.0) / sd;
        weights += weight;
    }
    (weights > 0.0).then(|| Shift {
        by_sd: sum / weights,
        uncertainty: (1.0 / weights).sqrt(),
    })
}

impl Spread {
    /// Share of the animals still to come that stand above `value`, 0..=1.
    pub fn above(&self, value: f64) -> f64 {
        let all: f64 = self
            .middles
            .iter()
            .map(|middle| 1.0 / (1.0 + (BELL * (value - middle) / self.width).exp()))
            .sum();
        all / self.middles.len().max(1) as f64
    }

    /// The value above which that share of the animals to come stands; `share` is kept inside 0.0001..=0.9999.
    pub fn value_above_which(&self, share: f64) -> f64 {
        let share = share.clamp(1e-4, 1.0 - 1e-4);
        let (mut low, mut high) = (self.mean - 8.0 * self.sd, self.mean + 8.0 * self.sd);
        for _ in 0..26 {
            let middle = (low + high) / 2.0;
            if self.above(middle) > share {
                low = middle;
            } else {
                high = middle;
            }
        }
        (low + high) / 2.0
    }
}
