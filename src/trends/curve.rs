//! Least-squares curves over time: a straight line, and an exponential approach to a new level.

/// A fitted curve y = start + change * (1 - exp(-rate * t)), or y = start + slope * t.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Approach {
    /// Value at t = 0.
    pub start: f64,
    /// What the value approaches, from the start on.
    pub change: f64,
    /// Rate, one over the unit of t.
    pub rate: f64,
    /// Standard errors of start (0 where it was held), change and rate.
    pub errors: [f64; 3],
    /// Sum of squared residuals.
    pub squares: f64,
}

/// Whether the value at t = 0 is fitted.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Start {
    /// Fitted.
    Free,
    /// Held at this value.
    At(f64),
}

/// Rates tried, over the span of t: from a change a hundred spans long to one within a hundredth of a span.
const RATES: [f64; 2] = [0.01, 100.0];
const RATES_TRIED: usize = 200;

/// The exponential approach with the least sum of squares; `None` with fewer points than parameters, without span, or where
/// no rate is better than the slowest and the fastest that make sense (the points bear no curve).
///
/// For a given rate the other two are linear, so only the rate is searched: on a grid, then by golden sections.
///
/// # Source
/// [GolubPereyra1973] for the search, [NIST-StRD] for checks.
pub fn exponential(points: &[(f64, f64)], start: Start) -> Option<Approach> {
    let parameters = if start == Start::Free { 3 } else { 2 };
    let far = points.iter().map(|p| p.0.abs()).fold(0.0, f64::max);
    if points.len() < parameters || far <= 0.0 {
        return None;
    }
    let rate_of = |share: f64| (RATES[0].ln() + share * (RATES[1] / RATES[0]).ln()).exp() / far;
    let misfit = |share: f64| {
        linear_part(points, start, rate_of(share)).map_or(f64::INFINITY, |l| l.squares)
    };
    let shares: Vec<f64> = (0..=RATES_TRIED)
        .map(|i| i as f64 / RATES_TRIED as f64)
        .collect();
    let best =
        (0..shares.len()).min_by(|a, b| misfit(shares[*a]).total_cmp(&misfit(shares[*b])))?;
    if best == 0 || best == RATES_TRIED {
        return None;
    }
    let share = golden(&misfit, shares[best - 1], shares[best + 1]);
    let rate = polished(points, start, rate_of(share));
    let linear = linear_part(points, start, rate)?;
    let errors = errors(points, start, &linear, rate).unwrap_or([f64::INFINITY; 3]);
    Some(Approach {
        start: linear.start,
        change: linear.change,
        rate,
        errors,
        squares: linear.squares,
    })
}

struct Linear {
    start: f64,
    change: f64,
    squares: f64,
}

/// Start and change that fit best at this rate.
fn linear_part(points: &[(f64, f64)], start: Start, rate: f64) -> Option<Linear> {
    let g = |t: f64| -(-rate * t).exp_m1();
    let n = points.len() as f64;
    let (start, change) = match start {
        Start::At(c) => {
            let (mut xx, mut xy) = (0.0, 0.0);
            for (t, y) in points {
                xx += g(*t) * g(*t);
                xy += g(*t) * (y - c);
            }
            (c, xy / xx)
        }
        Start::Free => {
            let mx = points.iter().map(|p| g(p.0)).sum::<f64>() / n;
            let my = points.iter().map(|p| p.1).sum::<f64>() / n;
            let (mut xx, mut xy) = (0.0, 0.0);
            for (t, y) in points {
                xx += (g(*t) - mx).powi(2);
                xy += (g(*t) - mx) * (y - my);
            }
            let change = xy / xx;
            (my - change * mx, change)
        }
    };
    let squares = points
        .iter()
        .map(|(t, y)| (y - start - change * g(*t)).powi(2))
        .sum();
    (start.is_finite() && change.is_finite()).then_some(Linear {
        start,
        change,
        squares,
    })
}

/// Place of the least value between two places around it.
fn golden(f: &impl Fn(f64) -> f64, mut a: f64, mut b: f64) -> f64 {
    let part = (5f64.sqrt() - 1.0) / 2.0;
    let (mut c, mut d) = (b - part * (b - a), a + part * (b - a));
    let (mut fc, mut fd) = (f(c), f(d));
    for _ in 0..60 {
        if fc < fd {
            (b, d, fd) = (d, c, fc);
            c = b - part * (b - a);
            fc = f(c);
        } else {
            (a, c, fc) = (c, d, fd);
            d = a + part * (b - a);
            fd = f(d);
        }
    }
    0.5 * (a + b)
}

/// A few Gauss-Newton steps: the sum of squares is flat near its least, the golden sections stop eight digits early.
fn polished(points: &[(f64, f64)], start: Start, mut rate: f64) -> f64 {
    for _ in 0..20 {
        let Some(linear) = linear_part(points, start, rate) else {
            break;
        };
        let Some(step) = step(points, start, &linear, rate) else {
            break;
        };
        let next = rate + step;
        if next <= 0.0 || step.abs() < 1e-15 * rate || step.abs() > 0.5 * rate {
            break;
        }
        rate = next;
    }
    rate
}

/// Slopes of the curve by start, change and rate at `t`; by start only where it is free.
fn slopes(start: Start, linear: &Linear, rate: f64, t: f64) -> [f64; 3] {
    let e = (-rate * t).exp();
    [
        if start == Start::Free { 1.0 } else { 0.0 },
        1.0 - e,
        linear.change * t * e,
    ]
}

/// Normal matrix of the slopes; a held start gets a 1 on its diagonal, so that it stands apart.
fn normal(points: &[(f64, f64)], start: Start, linear: &Linear, rate: f64) -> [[f64; 3]; 3] {
    let mut matrix = [[0.0; 3]; 3];
    for (t, _) in points {
        let s = slopes(start, linear, rate, *t);
        for i in 0..3 {
            for j in 0..3 {
                matrix[i][j] += s[i] * s[j];
            }
        }
    }
    if start != Start::Free {
        matrix[0][0] = 1.0;
    }
    matrix
}

/// Gauss-Newton step of the rate.
fn step(points: &[(f64, f64)], start: Start, linear: &Linear, rate: f64) -> Option<f64> {
    let mut right = [0.0; 3];
    for (t, y) in points {
        let residual = y - linear.start + linear.change * (-rate * t).exp_m1();
        let s = slopes(start, linear, rate, *t);
        (0..3).for_each(|i| right[i] += s[i] * residual);
    }
    let inverse = crate::colour::inverse(&normal(points, start, linear, rate));
    let step = crate::colour::apply(&inverse, right)[2];
    step.is_finite().then_some(step)
}

/// Standard errors from the slopes and the residuals; `None` without a degree of freedom left.
fn errors(points: &[(f64, f64)], start: Start, linear: &Linear, rate: f64) -> Option<[f64; 3]> {
    let parameters = if start == Start::Free { 3 } else { 2 };
    let freedom = points.len().checked_sub(parameters).filter(|f| *f > 0)?;
    let variance = linear.squares / freedom as f64;
    let inverse = crate::colour::inverse(&normal(points, start, linear, rate));
    let mut out = [0, 1, 2].map(|i| (variance * inverse[i][i]).max(0.0).sqrt());
    if start != Start::Free {
        out[0] = 0.0;
    }
    Some(out)
}

/// A straight line.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Line {
    /// Value at t = 0.
    pub start: f64,
    /// Change for each unit of t.
    pub slope: f64,
    /// Standard errors of start and slope; infinite without a degree of freedom left.
    pub errors: [f64; 2],
    /// Sum of squared residuals.
    pub squares: f64,
}

/// The straight line with the least sum of squares; `None` below two points or without span.
///
/// # Source
/// [NIST-StRD] for checks.
pub fn line(points: &[(f64, f64)]) -> Option<Line> {
    let n = points.len() as f64;
    let mt = points.iter().map(|p| p.0).sum::<f64>() / n;
    let my = points.iter().map(|p| p.1).sum::<f64>() / n;
    let (mut tt, mut ty) = (0.0, 0.0);
    for (t, y) in points {
        tt += (t - mt).powi(2);
        ty += (t - mt) * (y - my);
    }
    if points.len() < 2 || tt <= 0.0 {
        return None;
    }
    let slope = ty / tt;
    let start = my - slope * mt;
    let squares: f64 = points
        .iter()
        .map(|(t, y)| (y - start - slope * t).powi(2))
        .sum();
    let variance = if points.len() > 2 {
        squares / (n - 2.0)
    } else {
        f64::INFINITY
    };
    let errors = [
        (variance * (1.0 / n + mt * mt / tt)).sqrt(),
        (variance / tt).sqrt(),
    ];
    Some(Line {
        start,
        slope,
        errors,
        squares,
    })
}
