//! Cumulative logits: the chance to be given at least a class, from measures that can only raise it.
//!
//! P(class >= k) = logistic(b . x - t_k), b >= 0, t_1 < t_2 < ...; the log-likelihood is concave [Burridge1981], so that
//! Newton's method with steps halved where needed finds its one top, the same every time.

use crate::stats::symmetric::solve;

/// Steps after which the search ends; a dozen are usual.
const MOST_STEPS: usize = 60;
/// A gain in log-likelihood below which the top is reached.
const LEAST_GAIN: f64 = 1.0e-10;
/// Least distance between borders, so that each class keeps some room.
const LEAST_ROOM: f64 = 1.0e-6;

/// One thing with its class, 0..=number of borders, and its measures.
#[derive(Debug, Clone, PartialEq)]
pub struct Case {
    /// Its class.
    pub class: usize,
    /// Its measures, each the higher the better.
    pub x: Vec<f64>,
}

/// A fit.
#[derive(Debug, Clone, PartialEq)]
pub struct Fit {
    /// Weight of each measure, 0 or above.
    pub weights: Vec<f64>,
    /// Borders between classes on the weighted sum, rising.
    pub borders: Vec<f64>,
    /// Log-likelihood, penalty left out.
    pub log_likelihood: f64,
}

/// What is held fast while fitting.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Hold {
    /// Half the squared weights times this is taken off the log-likelihood.
    pub penalty: f64,
    /// The border with this index stays at 0.
    pub at_zero: Option<usize>,
}

impl Fit {
    /// Weighted sum of a thing's measures.
    pub fn score(&self, x: &[f64]) -> f64 {
        self.weights.iter().zip(x).map(|(w, x)| w * x).sum()
    }

    /// Log of the chance of the case's class.
    pub fn log_chance(&self, case: &Case) -> f64 {
        parts(&self.borders, self.score(&case.x), case.class).log
    }

    /// Chance of each class.
    pub fn chances(&self, x: &[f64]) -> Vec<f64> {
        let score = self.score(x);
        (0..=self.borders.len())
            .map(|class| parts(&self.borders, score, class).log.exp())
            .collect()
    }

    /// Mean class to be expected.
    pub fn expected(&self, x: &[f64]) -> f64 {
        self.chances(x)
            .iter()
            .enumerate()
            .map(|(class, p)| class as f64 * p)
            .sum()
    }
}

/// Fits `cases` of `classes` classes from `start` on, or from scratch.
///
/// `None` without cases, below two classes, or where a class has none: its borders would be nowhere.
pub fn fit(cases: &[Case], classes: usize, hold: Hold, start: Option<&Fit>) -> Option<Fit> {
    let wide = cases.first()?.x.len();
    let mut counts = vec![0usize; classes];
    for case in cases {
        *counts.get_mut(case.class)? += 1;
    }
    if classes < 2 || counts.contains(&0) || cases.iter().any(|case| case.x.len() != wide) {
        return None;
    }
    let mut now = match start {
        Some(start) => start.clone(),
        None => beginning(&counts, wide),
    };
    if let Some(fixed) = hold.at_zero {
        let shift = now.borders.get(fixed).copied()?;
        now.borders.iter_mut().for_each(|border| *border -= shift);
    }
    let mut value = objective(cases, &now, hold);
    for _ in 0..MOST_STEPS {
        let Some((next, better)) = improved(cases, &now, value, hold) else {
            break;
        };
        let gain = better - value;
        (now, value) = (next, better);
        if gain < LEAST_GAIN {
            break;
        }
    }
    now.log_likelihood = cases.iter().map(|case| now.log_chance(case)).sum();
    Some(now)
}

/// Borders that the counts alone would give, no weights.
fn beginning(counts: &[usize], wide: usize) -> Fit {
    let n: usize = counts.iter().sum();
    let mut below = 0;
    let borders = counts[..counts.len() - 1]
        .iter()
        .map(|count| {
            below += count;
            (below as f64 / (n - below).max(1) as f64).ln()
        })
        .collect();
    Fit {
        weights: vec![0.0; wide],
        borders,
        log_likelihood: 0.0,
    }
}

fn objective(cases: &[Case], fit: &Fit, hold: Hold) -> f64 {
    let rising = fit
        .borders
        .windows(2)
        .all(|pair| pair[1] - pair[0] > LEAST_ROOM);
    if !rising {
        return f64::NEG_INFINITY;
    }
    let squares: f64 = fit.weights.iter().map(|w| w * w).sum();
    let sum: f64 = cases.iter().map(|case| fit.log_chance(case)).sum();
    sum - 0.5 * hold.penalty * squares
}

/// One Newton step, halved until it gains; `None` where none gains.
fn improved(cases: &[Case], now: &Fit, value: f64, hold: Hold) -> Option<(Fit, f64)> {
    let (gradient, information) = derivatives(cases, now, hold);
    let wide = now.weights.len();
    // Weights that stand at 0 and would go below stay there.
    let free: Vec<usize> = (0..gradient.len())
        .filter(|&i| {
            let held = hold.at_zero.is_some_and(|border| i == wide + border);
            !held && (i >= wide || now.weights[i] > 0.0 || gradient[i] > 0.0)
        })
        .collect();
    let matrix: Vec<Vec<f64>> = free
        .iter()
        .map(|&i| {
            free.iter()
                .map(|&j| information[i][j] + if i == j { 1.0e-9 } else { 0.0 })
                .collect()
        })
        .collect();
    let right: Vec<f64> = free.iter().map(|&i| gradient[i]).collect();
    let step = solve(&matrix, &right)?;
    let mut length = 1.0;
    for _ in 0..30 {
        let mut next = now.clone();
        for (&i, step) in free.iter().zip(&step) {
            if i < wide {
                next.weights[i] = (next.weights[i] + length * step).max(0.0);
            } else {
                next.borders[i - wide] += length * step;
            }
        }
        let better = objective(cases, &next, hold);
        if better > value {
            return Some((next, better));
        }
        length *= 0.5;
    }
    None
}

/// Gradient and negative second derivatives: weights first, then borders.
#[allow(clippy::needless_range_loop)] // The indices name a row and a column of a symmetric matrix.
fn derivatives(cases: &[Case], fit: &Fit, hold: Hold) -> (Vec<f64>, Vec<Vec<f64>>) {
    let wide = fit.weights.len();
    let all = wide + fit.borders.len();
    let mut gradient = vec![0.0; all];
    let mut information = vec![vec![0.0; all]; all];
    for case in cases {
        let p = parts(&fit.borders, fit.score(&case.x), case.class);
        let (below, above) = (
            case.class.checked_sub(1),
            Some(case.class).filter(|c| *c < fit.borders.len()),
        );
        for i in 0..wide {
            gradient[i] += (p.first + p.second) * case.x[i];
            for j in 0..=i {
                information[i][j] -= (p.first2 + p.second2 + 2.0 * p.mixed) * case.x[i] * case.x[j];
            }
        }
        for (border, one, two) in [(below, p.first, p.first2), (above, p.second, p.second2)] {
            let Some(at) = border.map(|border| wide + border) else {
                continue;
            };
            gradient[at] -= one;
            information[at][at] -= two;
            for i in 0..wide {
                information[at][i] += (two + p.mixed) * case.x[i];
            }
        }
        if let (Some(below), Some(above)) = (below, above) {
            information[wide + above][wide + below] -= p.mixed;
        }
    }
    for i in 0..wide {
        gradient[i] -= hold.penalty * fit.weights[i];
        information[i][i] += hold.penalty;
    }
    for i in 0..all {
        for j in 0..i {
            information[j][i] = information[i][j];
        }
    }
    (gradient, information)
}

/// Log of a class's chance, with its derivatives by the distances above its lower and its upper border.
struct Parts {
    log: f64,
    first: f64,
    second: f64,
    first2: f64,
    second2: f64,
    mixed: f64,
}

fn parts(borders: &[f64], score: f64, class: usize) -> Parts {
    let reach = |border: Option<&f64>, open: f64| border.map_or(open, |b| logistic(score - b));
    let lower = reach(class.checked_sub(1).and_then(|i| borders.get(i)), 1.0);
    let upper = reach(borders.get(class), 0.0);
    let chance = (lower - upper).max(1.0e-300);
    let (dl, du) = (lower * (1.0 - lower), upper * (1.0 - upper));
    let (first, second) = (dl / chance, -du / chance);
    Parts {
        log: chance.ln(),
        first,
        second,
        first2: first * (1.0 - 2.0 * lower) - first * first,
        second2: second * (1.0 - 2.0 * upper) - second * second,
        mixed: -first * second,
    }
}

/// The logistic function, without overflow.
pub(super) fn logistic(x: f64) -> f64 {
    if x >= 0.0 {
        1.0 / (1.0 + (-x).exp())
    } else {
        let e = x.exp();
        e / (1.0 + e)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn cases(rows: &[(usize, &[f64])]) -> Vec<Case> {
        rows.iter()
            .map(|(class, x)| Case {
                class: *class,
                x: x.to_vec(),
            })
            .collect()
    }

    /// Two classes and one measure of two values: the fit is the table's own log-odds, known without any search.
    #[test]
    fn two_by_two_tables_have_their_log_odds() {
        let mut rows: Vec<(usize, &[f64])> = Vec::new();
        rows.extend([(0, [0.0].as_slice()); 15]);
        rows.extend([(1, [0.0].as_slice()); 5]);
        rows.extend([(0, [1.0].as_slice()); 4]);
        rows.extend([(1, [1.0].as_slice()); 16]);
        let found = fit(&cases(&rows), 2, Hold::default(), None).expect("a fit");
        let (zero, one) = ((5.0f64 / 15.0).ln(), (16.0f64 / 4.0).ln());
        assert!((found.borders[0] + zero).abs() < 1e-8, "{found:?}");
        assert!((found.weights[0] - (one - zero)).abs() < 1e-8);
    }

    /// At the top of the likelihood no small step gains, in any direction.
    #[test]
    fn it_is_the_top() {
        let mut rows = Vec::new();
        for i in 0..90 {
            let x = [f64::from(i % 10) / 3.0, f64::from((i * 7) % 11) / 4.0];
            let class = ((x[0] + 0.4 * x[1] + f64::from((i * 13) % 5) / 3.0) as usize).min(3);
            rows.push(Case {
                class,
                x: x.to_vec(),
            });
        }
        let found = fit(&rows, 4, Hold::default(), None).expect("a fit");
        let top = objective(&rows, &found, Hold::default());
        for i in 0..5 {
            for step in [-1e-3, 1e-3] {
                let mut other = found.clone();
                if i < 2 {
                    other.weights[i] += step
                } else {
                    other.borders[i - 2] += step
                }
                assert!(
                    objective(&rows, &other, Hold::default()) < top,
                    "{i} {step}"
                );
            }
        }
        let chances = found.chances(&rows[0].x);
        assert!((chances.iter().sum::<f64>() - 1.0).abs() < 1e-12);
    }

    #[test]
    fn weights_never_fall_below_zero() {
        let rows: Vec<Case> = (0..60)
            .map(|i| Case {
                class: usize::from(i % 3 != 0),
                x: vec![f64::from(i % 3 == 0), f64::from(i % 7)],
            })
            .collect();
        let found = fit(&rows, 2, Hold::default(), None).expect("a fit");
        assert_eq!(
            found.weights[0], 0.0,
            "the first measure speaks against the class"
        );
    }

    #[test]
    fn what_can_not_be_fitted() {
        assert_eq!(fit(&[], 2, Hold::default(), None), None);
        let one_class = cases(&[(0, &[1.0]), (0, &[2.0])]);
        assert_eq!(fit(&one_class, 2, Hold::default(), None), None);
        // Classes told apart without a single slip have no finite fit; the search ends all the same.
        let apart = cases(&[(0, &[1.0]), (0, &[2.0]), (1, &[3.0]), (1, &[4.0])]);
        let found = fit(
            &apart,
            2,
            Hold {
                penalty: 1e-4,
                at_zero: None,
            },
            None,
        )
        .expect("a fit");
        let border = found.borders[0] / found.weights[0];
        assert!((border - 2.5).abs() < 0.01, "{found:?}");
    }
}
