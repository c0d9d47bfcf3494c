//! Plain statistics on slices: order statistics, intervals for shares, a threshold, circle fits.
//!
//! Nothing here knows what the numbers mean. Functions of data return `None` where the data can't carry the answer.

pub mod beta_binomial;
pub mod finite;
pub mod multinomial;
pub mod quadrature;
pub mod symmetric;

use statrs::distribution::{Beta, ChiSquared, ContinuousCDF, Normal};

/// Factor from the median absolute deviation to the standard deviation of a normal distribution: 1 / z(0.75).
pub const MAD_TO_SD: f64 = 1.482_602_218_505_602;

/// Arithmetic mean; `None` when empty.
pub fn mean(values: &[f64]) -> Option<f64> {
    (!values.is_empty()).then(|| values.iter().sum::<f64>() / values.len() as f64)
}

/// Sample standard deviation (n - 1); `None` below two values.
pub fn standard_deviation(values: &[f64]) -> Option<f64> {
    let centre = mean(values)?;
    let squares: f64 = values.iter().map(|v| (v - centre).powi(2)).sum();
    (values.len() > 1).then(|| (squares / (values.len() - 1) as f64).sqrt())
}

/// The quantile at `share` (0..=1) with linear interpolation between order statistics at share * (n - 1).
///
/// `None` when empty. Values are ordered by IEEE total order, so a NaN sorts last and does no other harm.
///
/// # Source
/// [HyndmanFan1996] definition 7.
pub fn quantile(values: &[f64], share: f64) -> Option<f64> {
    let last = values.len().checked_sub(1)?;
    let at = share.clamp(0.0, 1.0) * last as f64;
    // The two values about the place are enough: sorting all of a body's pixels takes ten times as long.
    let mut values = values.to_vec();
    let (_, below, larger) = values.select_nth_unstable_by(at.floor() as usize, f64::total_cmp);
    let below = *below;
    let next = larger.iter().copied().min_by(f64::total_cmp);
    let above = next.filter(|_| at > at.floor()).unwrap_or(below);
    Some(below + (at - at.floor()) * (above - below))
}

/// [`quantile`] of values that are already in ascending order.
pub fn quantile_of_sorted(sorted: &[f64], share: f64) -> Option<f64> {
    let last = sorted.len().checked_sub(1)?;
    let at = share.clamp(0.0, 1.0) * last as f64;
    let (below, above) = (at.floor() as usize, at.ceil() as usize);
    Some(sorted[below] + (at - at.floor()) * (sorted[above] - sorted[below]))
}

/// Median; `None` when empty.
pub fn median(values: &[f64]) -> Option<f64> {
    quantile(values, 0.5)
}

/// Median absolute deviation from the median, not scaled (times [`MAD_TO_SD`] it estimates a standard deviation).
pub fn median_absolute_deviation(values: &[f64]) -> Option<f64> {
    let centre = median(values)?;
    let away: Vec<f64> = values.iter().map(|v| (v - centre).abs()).collect();
    median(&away)
}

/// Lower and upper limit, both 0..=1 for a share.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Interval {
    /// Lower limit.
    pub low: f64,
    /// Upper limit.
    pub high: f64,
}

impl Interval {
    const WHOLE: Self = Self {
        low: 0.0,
        high: 1.0,
    };

    fn within_one(low: f64, high: f64) -> Self {
        Self {
            low: low.clamp(0.0, 1.0),
            high: high.clamp(0.0, 1.0),
        }
    }
}

/// Tail probability on either side of a two-sided interval, kept off 0 so that quantiles stay finite.
fn tail(level: f64) -> f64 {
    (0.5 * (1.0 - level)).clamp(1.0e-12, 0.5)
}

/// Quantile of the standard normal distribution, `p` within 0..1.
pub fn normal_quantile(p: f64) -> f64 {
    Normal::standard().inverse_cdf(p)
}

/// Probability that a standard normal number is at most `z`.
pub fn normal_cdf(z: f64) -> f64 {
    Normal::standard().cdf(z)
}

/// Quantile of the chi-squared distribution with `freedom` degrees of freedom, above 0; infinite where there is none.
pub fn chi_squared_quantile(p: f64, freedom: f64) -> f64 {
    ChiSquared::new(freedom).map_or(f64::INFINITY, |chi| chi.inverse_cdf(p))
}

/// Quantile of the beta distribution; `edge` where a shape is not above 0.
fn beta_quantile(a: f64, b: f64, p: f64, edge: f64) -> f64 {
    Beta::new(a, b).map_or(edge, |beta| beta.inverse_cdf(p))
}

/// Wilson's score interval for the share `count` of `n`; 0..=1 when `n` is 0.
///
/// # Source
/// [Newcombe1998] method 3.
pub fn wilson(count: u64, n: u64, level: f64) -> Interval {
    if n == 0 {
        return Interval::WHOLE;
    }
    let z = normal_quantile(1.0 - tail(level));
    let (x, n) = (count.min(n) as f64, n as f64);
    let (p, z2) = (x / n, z * z);
    let centre = (p + z2 / (2.0 * n)) / (1.0 + z2 / n);
    let half = z / (1.0 + z2 / n) * (p * (1.0 - p) / n + z2 / (4.0 * n * n)).sqrt();
    let mut interval = Interval::within_one(centre - half, centre + half);
    // At the ends the limits are 0 and 1 exactly; rounding must not say otherwise.
    if x == 0.0 {
        interval.low = 0.0;
    }
    if x == n {
        interval.high = 1.0;
    }
    interval
}

/// Clopper and Pearson's exact interval for the share `count` of `n`; 0..=1 when `n` is 0.
///
/// # Source
/// [Newcombe1998] method 5.
pub fn clopper_pearson(count: u64, n: u64, level: f64) -> Interval {
    if n == 0 {
        return Interval::WHOLE;
    }
    let (x, n, p) = (count.min(n) as f64, n as f64, tail(level));
    // The beta distribution has no shape 0: the limit there is the edge itself.
    let low = beta_quantile(x, n - x + 1.0, p, 0.0);
    let high = beta_quantile(x + 1.0, n - x, 1.0 - p, 1.0);
    Interval::within_one(low, high)
}

/// Jeffreys' interval for the share `count` of `n`, with 0 as the lower limit at none and 1 as the upper at all.
///
/// # Source
/// [BrownCaiDasGupta2001] 4.1.2.
pub fn jeffreys(count: u64, n: u64, level: f64) -> Interval {
    if n == 0 {
        return Interval::WHOLE;
    }
    let (x, p) = (count.min(n), tail(level));
    let (a, b) = (x as f64 + 0.5, (n - x) as f64 + 0.5);
    let low = if x == 0 {
        0.0
    } else {
        beta_quantile(a, b, p, 0.0)
    };
    let high = if x == n {
        1.0
    } else {
        beta_quantile(a, b, 1.0 - p, 1.0)
    };
    Interval::within_one(low, high)
}

/// Goodman's simultaneous intervals for the shares of all categories; each 0..=1 when nothing was counted.
///
/// # Source
/// [Goodman1965] with the chi-squared quantile at (1 - level) / number of categories.
pub fn goodman(counts: &[u64], level: f64) -> Vec<Interval> {
    let n: u64 = counts.iter().sum();
    let Ok(chi_squared) = ChiSquared::new(1.0) else {
        return vec![Interval::WHOLE; counts.len()];
    };
    if n == 0 {
        return vec![Interval::WHOLE; counts.len()];
    }
    let a = chi_squared.inverse_cdf(1.0 - 2.0 * tail(level) / counts.len() as f64);
    let n = n as f64;
    counts
        .iter()
        .map(|&count| {
            let x = count as f64;
            let half = (a * (a + 4.0 * x * (n - x) / n)).sqrt();
            Interval::within_one(
                (a + 2.0 * x - half) / (2.0 * (n + a)),
                (a + 2.0 * x + half) / (2.0 * (n + a)),
            )
        })
        .collect()
}

/// The last level of the lower class that parts a histogram with the greatest variance between classes.
///
/// `None` when fewer than two levels hold anything. The lowest such level where several are equal.
///
/// # Source
/// [Otsu1979].
pub fn otsu(histogram: &[u64]) -> Option<usize> {
    let total: u64 = histogram.iter().sum();
    let moment: f64 = histogram
        .iter()
        .enumerate()
        .map(|(i, &c)| i as f64 * c as f64)
        .sum();
    let (mut count, mut part) = (0u64, 0.0);
    let mut best: Option<(f64, usize)> = None;
    for (level, &c) in histogram.iter().enumerate() {
        count += c;
        part += level as f64 * c as f64;
        let rest = total - count;
        if c == 0 || rest == 0 {
            continue;
        }
        let apart = part / count as f64 - (moment - part) / rest as f64;
        let between = count as f64 * rest as f64 * apart * apart;
        if best.is_none_or(|(most, _)| between > most) {
            best = Some((between, level));
        }
    }
    best.map(|(_, level)| level)
}

/// A circle in the plane of its points.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Circle {
    /// Centre (x, y).
    pub centre: [f64; 2],
    /// Radius, above 0.
    pub radius: f64,
}

/// The circle with the least sum of squared (distance² - radius²); `None` below three points or on a line.
///
/// # Source
/// [Kasa1976].
pub fn circle_algebraic(points: &[[f64; 2]]) -> Option<Circle> {
    if points.len() < 3 {
        return None;
    }
    let n = points.len() as f64;
    let middle = [
        points.iter().map(|p| p[0]).sum::<f64>() / n,
        points.iter().map(|p| p[1]).sum::<f64>() / n,
    ];
    // Moments about the middle, so that far-off coordinates lose no digits.
    let (mut xx, mut xy, mut yy, mut xz, mut yz) = (0.0, 0.0, 0.0, 0.0, 0.0);
    for p in points {
        let (x, y) = (p[0] - middle[0], p[1] - middle[1]);
        let z = x * x + y * y;
        xx += x * x;
        xy += x * y;
        yy += y * y;
        xz += x * z;
        yz += y * z;
    }
    let determinant = xx * yy - xy * xy;
    if determinant <= 1.0e-12 * (xx + yy).powi(2) {
        return None;
    }
    let a = (xz * yy - yz * xy) / (2.0 * determinant);
    let b = (yz * xx - xz * xy) / (2.0 * determinant);
    let radius = (a * a + b * b + (xx + yy) / n).sqrt();
    Some(Circle {
        centre: [middle[0] + a, middle[1] + b],
        radius,
    })
}

/// Most rounds of the geometric fit; good data need five to ten.
const CIRCLE_ROUNDS: usize = 200;

/// The circle with the least sum of squared distances of the points from its line.
///
/// Damped Gauss-Newton rounds from the algebraic fit; `None` where that has none.
///
/// # Source
/// [GanderGolubStrebel1994].
pub fn circle_geometric(points: &[[f64; 2]]) -> Option<Circle> {
    let mut circle = circle_algebraic(points)?;
    let mut damping = 1.0e-3;
    let mut misfit = circle_misfit(points, &circle);
    for _ in 0..CIRCLE_ROUNDS {
        let step = circle_step(points, &circle, damping)?;
        let tried = Circle {
            centre: [circle.centre[0] + step[0], circle.centre[1] + step[1]],
            radius: (circle.radius + step[2]).abs(),
        };
        let tried_misfit = circle_misfit(points, &tried);
        let size = step.iter().map(|s| s.abs()).fold(0.0, f64::max);
        if tried_misfit <= misfit {
            (circle, misfit, damping) = (tried, tried_misfit, damping * 0.1);
        } else {
            damping *= 10.0;
        }
        if size < 1.0e-12 * circle.radius || damping > 1.0e12 {
            break;
        }
    }
    Some(circle)
}

fn circle_misfit(points: &[[f64; 2]], circle: &Circle) -> f64 {
    points
        .iter()
        .map(|p| ((p[0] - circle.centre[0]).hypot(p[1] - circle.centre[1]) - circle.radius).powi(2))
        .sum()
}

/// One damped least-squares step for (centre x, centre y, radius).
fn circle_step(points: &[[f64; 2]], circle: &Circle, damping: f64) -> Option<[f64; 3]> {
    let (mut normal, mut right) = ([[0.0; 3]; 3], [0.0; 3]);
    for p in points {
        let (dx, dy) = (p[0] - circle.centre[0], p[1] - circle.centre[1]);
        let distance = dx.hypot(dy);
        if distance == 0.0 {
            continue;
        }
        // The distance falls by the direction cosines as the centre moves, and by 1 as the radius grows.
        let slope = [dx / distance, dy / distance, 1.0];
        for i in 0..3 {
            right[i] += slope[i] * (distance - circle.radius);
            for j in 0..3 {
                normal[i][j] += slope[i] * slope[j];
            }
        }
    }
    for (i, row) in normal.iter_mut().enumerate() {
        row[i] *= 1.0 + damping;
    }
    let step = crate::colour::apply(&crate::colour::inverse(&normal), right);
    step.iter().all(|s| s.is_finite()).then_some(step)
}

/// Degrees of freedom of the t distribution in [`variance_parts`]: a few errors are far larger than the rest.
const T_FREEDOM: f64 = 4.0;
/// Rounds of [`variance_parts`]; it settles within some hundred.
const ROUNDS: usize = 2000;

/// Weights w, none negative, such that errors have the spread `sqrt(sum over k of (w_k part_k)^2)`, where `parts` holds the known
/// parts of each error. They maximise the likelihood of t-distributed errors, found by multiplicative steps that never lower it.
/// `None` without errors, or when the rows differ in length.
///
/// # Source
/// Likelihood [LangeLittleTaylor1989]; steps [ZhouHuZhouLange2019].
pub fn variance_parts(parts: &[Vec<f64>], errors: &[f64]) -> Option<Vec<f64>> {
    let width = parts.first()?.len();
    if parts.len() != errors.len() || parts.iter().any(|row| row.len() != width) {
        return None;
    }
    let squares: Vec<Vec<f64>> = parts
        .iter()
        .map(|row| row.iter().map(|p| p * p).collect())
        .collect();
    let mean_square =
        |values: &mut dyn Iterator<Item = f64>| values.sum::<f64>() / errors.len() as f64;
    let size = mean_square(&mut errors.iter().map(|e| e * e));
    let mut variances: Vec<f64> = (0..width)
        .map(|k| size / (width as f64 * mean_square(&mut squares.iter().map(|s| s[k])).max(1e-12)))
        .collect();
    for _ in 0..ROUNDS {
        let (mut up, mut down) = (vec![0.0; width], vec![0.0; width]);
        for (row, e) in squares.iter().zip(errors) {
            let all = row
                .iter()
                .zip(&variances)
                .map(|(s, v)| s * v)
                .sum::<f64>()
                .max(1e-12);
            let trust = (T_FREEDOM + 1.0) / (T_FREEDOM + e * e / all);
            for k in 0..width {
                up[k] += row[k] * trust * e * e / (all * all);
                down[k] += row[k] / all;
            }
        }
        for k in 0..width {
            variances[k] *= (up[k] / f64::max(down[k], 1e-12)).sqrt();
        }
    }
    Some(variances.iter().map(|v| v.sqrt()).collect())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn order_statistics_by_hand() {
        let v = [4.0, 1.0, 3.0, 2.0];
        assert_eq!(median(&v), Some(2.5));
        assert_eq!(quantile(&v, 0.25), Some(1.75));
        assert_eq!(quantile(&v, 0.0), Some(1.0));
        assert_eq!(quantile(&v, 1.0), Some(4.0));
        assert_eq!(
            median_absolute_deviation(&[1.0, 1.0, 2.0, 2.0, 4.0, 6.0, 9.0]),
            Some(1.0)
        );
        assert_eq!(
            standard_deviation(&[2.0, 4.0, 4.0, 4.0, 5.0, 5.0, 7.0, 9.0]),
            Some((32.0f64 / 7.0).sqrt())
        );
        assert_eq!(median(&[]), None);
        assert_eq!(standard_deviation(&[1.0]), None);
    }

    #[test]
    fn intervals_at_the_edges() {
        for interval in [
            wilson(0, 0, 0.95),
            clopper_pearson(0, 0, 0.95),
            jeffreys(0, 0, 0.95),
        ] {
            assert_eq!(interval, Interval::WHOLE);
        }
        assert_eq!(clopper_pearson(0, 9, 0.95).low, 0.0);
        assert_eq!(clopper_pearson(9, 9, 0.95).high, 1.0);
        assert!(goodman(&[0, 0], 0.95).iter().all(|i| *i == Interval::WHOLE));
        assert!(goodman(&[], 0.95).is_empty());
    }

    #[test]
    fn the_parts_of_a_variance_are_found_again() {
        // Errors at the quantiles of a t distribution with 4 degrees of freedom (any handbook's table, 0.1 to 0.9), of known size.
        let t = [
            -1.533, -0.941, -0.569, -0.271, 0.0, 0.271, 0.569, 0.941, 1.533,
        ];
        let (mut parts, mut errors) = (Vec::new(), Vec::new());
        for step in 0..8 {
            let second = f64::from(step);
            for q in t {
                parts.push(vec![1.0, second, 0.0]);
                errors.push(q * f64::hypot(0.5, 0.3 * second));
            }
        }
        let w = variance_parts(&parts, &errors).expect("weights");
        let ratio = w[0] / w[1];
        assert!((ratio - 0.5 / 0.3).abs() < 0.05, "{w:?}");
        assert_eq!(variance_parts(&[], &[]), None);
        assert_eq!(variance_parts(&[vec![1.0]], &[1.0, 2.0]), None);
    }

    #[test]
    fn no_circle_through_a_line() {
        assert_eq!(
            circle_geometric(&[[0.0, 0.0], [1.0, 1.0], [2.0, 2.0], [3.0, 3.0]]),
            None
        );
        assert_eq!(circle_algebraic(&[[0.0, 0.0], [1.0, 1.0]]), None);
    }

    #[test]
    fn one_level_has_no_threshold() {
        assert_eq!(otsu(&[0, 7, 0]), None);
        assert_eq!(otsu(&[]), None);
    }
}
