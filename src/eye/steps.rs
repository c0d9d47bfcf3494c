//! The eye on its own steps: how high the house sees a measure, straight between its own borders.
//!
//! A person's error is about as wide in rungs everywhere, but in the rungs of that person: on the steps of the present
//! ladder, or in points of coverage, it is wide where the house's borders lie far apart and narrow where they lie close.
//! So the scale is learned together with the borders: a measure at border k has height k, between borders the height runs
//! straight, and P(rung >= k) = logistic(w (height - k)).

use super::cumulative::logistic;
use crate::stats::symmetric::solve;

/// Spread of the logarithm by which the first and the last step may go on steeper or flatter than the one beside them: by
/// a factor of about two. Nothing above the top border or below the lowest one tells how wide a rung is there.
const BEND_SPREAD: f64 = 0.8;
/// Least distance between borders, in the unit of a share.
const LEAST_ROOM: f64 = 1.0e-4;
/// Largest logarithm of the weight: beyond it rungs are told apart without a slip, or not at all.
const MOST_WEIGHT: f64 = 4.0;
/// Least share of the spread that is taken to be the animals' own, however large the stated uncertainties.
const LEAST_OWN_SHARE: f64 = 0.25;
/// Rounds of scale and fit; each takes the heights of the one before.
const ROUNDS: usize = 4;
/// Newton's steps in a fit, halvings of one, and the promised gain in log-likelihood below which the top is reached.
const MOST_STEPS: usize = 40;
const MOST_HALVINGS: usize = 12;
const LEAST_GAIN: f64 = 1.0e-5;
/// The same where a border is held: its likelihood is only compared with the top's, 1.9 or so below it.
const LEAST_GAIN_HELD: f64 = 1.0e-3;
/// Added to the diagonal, as a share of it, where a direction says nothing.
const RIDGE: f64 = 1.0e-6;

/// An animal: its measure, the higher the better, and its class, 0..=number of borders.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Seen {
    /// The measure, with its sign turned where less is better.
    pub value: f64,
    /// Its standard uncertainty, 0 or above.
    pub uncertainty: f64,
    /// Borders that the eye put it above.
    pub class: usize,
}

/// What is searched.
#[derive(Debug, Clone, PartialEq)]
pub struct Steps {
    /// Measure at each border, rising.
    pub borders: Vec<f64>,
    /// Logarithm of the weight of a step.
    log_weight: f64,
    /// Logarithms of how much steeper the ends go on than the steps beside them, lower end first.
    bends: [f64; 2],
}

/// The animals, and what is held fast while fitting.
#[derive(Debug, Clone, PartialEq)]
pub struct Model {
    seen: Vec<Seen>,
    /// Height of each border: the number of its rung.
    rungs: Vec<f64>,
    /// Width of a rung where there is one border only.
    lone_step: f64,
    /// Heights are drawn towards this mean, keeping this share of their distance.
    mean: f64,
    share: f64,
}

/// A fit: where it lies, its log-likelihood (with the bends' part) and the information about each parameter.
#[derive(Debug, Clone, PartialEq)]
pub struct Top {
    /// The parameters.
    pub steps: Steps,
    /// Log-likelihood.
    pub value: f64,
    information: Vec<Vec<f64>>,
}

impl Model {
    /// The fit of `seen`; `rungs` are the numbers of the rungs whose lower borders are sought, rising, `lone_step` the
    /// width of a rung in the measure's unit where there is one only. `None` where a class is empty or nothing fits.
    ///
    /// The measure's own error makes animals at the ends look further out than they are. They are drawn towards the mean
    /// by one common share [Carroll2006]; one for each animal was tried and lost: it follows the steps being fitted
    /// round in a circle.
    pub fn fitted(seen: Vec<Seen>, rungs: &[f64], lone_step: f64) -> Option<(Model, Top)> {
        let start = beginning(&seen, rungs.len())?;
        let mut model = Model {
            seen,
            rungs: rungs.to_vec(),
            lone_step,
            mean: 0.0,
            share: 1.0,
        };
        model.calibrate(&start);
        let mut top = model.top(&start, None)?;
        for _ in 1..ROUNDS {
            model.calibrate(&top.steps);
            top = model.top(&top.steps, None)?;
        }
        Some((model, top))
    }

    /// Animals.
    pub fn animals(&self) -> usize {
        self.seen.len()
    }

    /// Parameters fitted.
    pub fn unknowns(&self) -> usize {
        self.rungs.len() + 3
    }

    /// Mean and share by the heights that `steps` give, less what the stated uncertainties explain.
    fn calibrate(&mut self, steps: &Steps) {
        let n = self.seen.len() as f64;
        let height = |value: f64| self.height(steps, value).0;
        let heights: Vec<f64> = self.seen.iter().map(|s| height(s.value)).collect();
        let mean = heights.iter().sum::<f64>() / n;
        let spread = heights.iter().map(|h| (h - mean).powi(2)).sum::<f64>() / n;
        let error = self.seen.iter().map(|s| {
            (0.5 * (height(s.value + s.uncertainty) - height(s.value - s.uncertainty))).powi(2)
        });
        let own = (spread - error.sum::<f64>() / n).max(LEAST_OWN_SHARE * spread);
        (self.mean, self.share) = (mean, if spread > 0.0 { own / spread } else { 1.0 });
    }

    /// Height of a measure, and how it moves with the parameters (index and slope).
    fn height(&self, steps: &Steps, value: f64) -> (f64, [(usize, f64); 3]) {
        let (borders, rungs) = (&steps.borders, &self.rungs);
        let last = borders.len() - 1;
        if last == 0 {
            let slope = 1.0 / self.lone_step;
            let at = rungs[0] + slope * (value - borders[0]);
            return (at, [(0, -slope), (0, 0.0), (0, 0.0)]);
        }
        let above = borders.partition_point(|border| *border <= value);
        if above == 0 || above > last {
            let (near, far, end) = if above == 0 {
                (0, 1, 0)
            } else {
                (last, last - 1, 1)
            };
            let room = borders[far] - borders[near];
            let slope = (rungs[far] - rungs[near]) / room * steps.bends[end].exp();
            let beyond = slope * (value - borders[near]);
            let moves = [
                (near, beyond / room - slope),
                (far, -beyond / room),
                (last + 2 + end, beyond),
            ];
            return (rungs[near] + beyond, moves);
        }
        let (low, high) = (above - 1, above);
        let room = borders[high] - borders[low];
        let slope = (rungs[high] - rungs[low]) / room;
        let part = (value - borders[low]) / room;
        let moves = [(low, slope * (part - 1.0)), (high, -slope * part), (0, 0.0)];
        (rungs[low] + slope * (value - borders[low]), moves)
    }

    /// The likelihood at `steps` with its derivatives: borders, then the weight, then both bends.
    fn slopes(&self, steps: &Steps) -> Slopes {
        let at_weight = self.rungs.len();
        let mut all = Slopes::none(self.unknowns());
        if !is_allowed(steps) {
            return all;
        }
        all.value = -bend_penalty(steps);
        let weight = steps.log_weight.exp();
        for s in &self.seen {
            let (height, moves) = self.height(steps, s.value);
            let chance = self.chance(weight, height, s.class);
            all.value += chance.log;
            for (i, by) in moves.iter().filter(|m| m.1 != 0.0) {
                all.gradient[*i] += chance.by_height * by;
                for (j, other) in &moves {
                    all.information[*i][*j] += chance.height2 * by * other;
                }
                all.information[*i][at_weight] += chance.mixed * by;
                all.information[at_weight][*i] += chance.mixed * by;
            }
            all.gradient[at_weight] += chance.by_weight;
            all.information[at_weight][at_weight] += chance.weight2;
        }
        for (end, bend) in steps.bends.iter().enumerate() {
            let at = at_weight + 1 + end;
            all.gradient[at] -= bend / BEND_SPREAD.powi(2);
            all.information[at][at] += BEND_SPREAD.powi(-2);
        }
        all
    }

    fn chance(&self, weight: f64, height: f64, class: usize) -> Chance {
        let height = self.mean + self.share * (height - self.mean);
        let over = |border: Option<&f64>| border.map(|rung| weight * (height - rung));
        let below = class.checked_sub(1);
        let lower = over(below.and_then(|i| self.rungs.get(i)));
        let upper = over(self.rungs.get(class));
        Chance::of(lower, upper, weight * self.share)
    }

    /// The top of the likelihood from `start` on, the border `held` kept where it is.
    pub fn top(&self, start: &Steps, held: Option<usize>) -> Option<Top> {
        let mut steps = start.clone();
        let mut here = self.slopes(&steps);
        let free: Vec<usize> = (0..self.unknowns()).filter(|i| Some(*i) != held).collect();
        let least = if held.is_some() {
            LEAST_GAIN_HELD
        } else {
            LEAST_GAIN
        };
        for _ in 0..MOST_STEPS {
            let right: Vec<f64> = free.iter().map(|&i| here.gradient[i]).collect();
            let Some(step) = solve(&ridged(&here.information, &free), &right) else {
                break;
            };
            let promised: f64 = step.iter().zip(&right).map(|(s, g)| s * g).sum();
            if promised < least {
                break;
            }
            let Some(better) = self.improved(&steps, here.value, &free, &step) else {
                break;
            };
            (steps, here) = better;
        }
        here.value.is_finite().then_some(Top {
            steps,
            value: here.value,
            information: here.information,
        })
    }

    /// One step, halved until it gains.
    fn improved(
        &self,
        now: &Steps,
        value: f64,
        free: &[usize],
        step: &[f64],
    ) -> Option<(Steps, Slopes)> {
        let borders = self.rungs.len();
        let mut length = 1.0;
        for _ in 0..MOST_HALVINGS {
            let mut next = now.clone();
            for (&i, by) in free.iter().zip(step) {
                let by = length * by;
                match i.checked_sub(borders) {
                    None => next.borders[i] += by,
                    Some(0) => next.log_weight += by.clamp(-1.0, 1.0),
                    Some(end) => next.bends[end - 1] += by.clamp(-1.0, 1.0),
                }
            }
            let there = self.slopes(&next);
            if there.value > value {
                return Some((next, there));
            }
            length *= 0.5;
        }
        None
    }
}

/// Log-likelihood with the bends' part, minus infinity outside what is allowed; its gradient and its expected negative
/// second derivatives.
struct Slopes {
    value: f64,
    gradient: Vec<f64>,
    information: Vec<Vec<f64>>,
}

impl Slopes {
    fn none(unknowns: usize) -> Self {
        Self {
            value: f64::NEG_INFINITY,
            gradient: vec![0.0; unknowns],
            information: vec![vec![0.0; unknowns]; unknowns],
        }
    }
}

impl Top {
    /// Standard error of a border by the information alone; `None` where there is none.
    pub fn error(&self, border: usize) -> Option<f64> {
        let all: Vec<usize> = (0..self.information.len()).collect();
        let right: Vec<f64> = all
            .iter()
            .map(|i| f64::from(u8::from(*i == border)))
            .collect();
        let variance = solve(&ridged(&self.information, &all), &right)?[border];
        (variance > 0.0).then(|| variance.sqrt())
    }
}

impl Steps {
    /// The same with one border put to `at`, the others pushed along where they would be in its way.
    pub fn with_border(&self, border: usize, at: f64) -> Steps {
        let mut moved = self.clone();
        moved.borders[border] = at;
        for i in border + 1..moved.borders.len() {
            moved.borders[i] = moved.borders[i].max(moved.borders[i - 1] + 2.0 * LEAST_ROOM);
        }
        for i in (0..border).rev() {
            moved.borders[i] = moved.borders[i].min(moved.borders[i + 1] - 2.0 * LEAST_ROOM);
        }
        moved
    }
}

fn is_allowed(steps: &Steps) -> bool {
    let rising = steps
        .borders
        .windows(2)
        .all(|pair| pair[1] - pair[0] >= LEAST_ROOM);
    rising && steps.log_weight.abs() <= MOST_WEIGHT
}

fn bend_penalty(steps: &Steps) -> f64 {
    let squares: f64 = steps.bends.iter().map(|b| b * b).sum();
    0.5 * squares / BEND_SPREAD.powi(2)
}

/// The rows and columns that are free, with a little added to the diagonal.
fn ridged(matrix: &[Vec<f64>], free: &[usize]) -> Vec<Vec<f64>> {
    let entry = |i: usize, j: usize| {
        let more = if i == j {
            RIDGE * (1.0 + matrix[i][i])
        } else {
            0.0
        };
        matrix[i][j] + more
    };
    free.iter()
        .map(|&i| free.iter().map(|&j| entry(i, j)).collect())
        .collect()
}

/// Borders where the counts alone would put them; `None` where a class is empty or a value is no number.
fn beginning(seen: &[Seen], borders: usize) -> Option<Steps> {
    let mut values: Vec<f64> = seen.iter().map(|s| s.value).collect();
    let is_full = (0..=borders).all(|class| seen.iter().any(|s| s.class == class));
    if borders == 0 || !is_full || values.iter().any(|v| !v.is_finite()) {
        return None;
    }
    values.sort_by(f64::total_cmp);
    let mut at: Vec<f64> = (0..borders)
        .map(|border| {
            values[seen
                .iter()
                .filter(|s| s.class <= border)
                .count()
                .min(values.len() - 1)]
        })
        .collect();
    for i in 1..borders {
        at[i] = at[i].max(at[i - 1] + FIRST_ROOM);
    }
    Some(Steps {
        borders: at,
        log_weight: FIRST_LOG_WEIGHT,
        bends: [0.0; 2],
    })
}

/// Where the search begins: borders at least so far apart, and the weight of an eye that errs by 0.6 rung.
const FIRST_ROOM: f64 = 0.005;
const FIRST_LOG_WEIGHT: f64 = 1.0;

/// Log of a class's chance with its derivatives by height and by the logarithm of the weight; second derivatives negative.
struct Chance {
    log: f64,
    by_height: f64,
    by_weight: f64,
    height2: f64,
    weight2: f64,
    mixed: f64,
}

impl Chance {
    /// `lower` and `upper` are the logits of being above the class's own border and above the next; `None` for the open
    /// ends. `slope` is by how much logits move with height.
    fn of(lower: Option<f64>, upper: Option<f64>, slope: f64) -> Self {
        let (low, high) = (lower.map_or(1.0, logistic), upper.map_or(0.0, logistic));
        let (at_low, at_high) = (lower.unwrap_or(0.0), upper.unwrap_or(0.0));
        let chance = (low - high).max(1.0e-300);
        let first = low * (1.0 - low) / chance;
        let second = -high * (1.0 - high) / chance;
        let first2 = first * (1.0 - 2.0 * low) - first * first;
        let second2 = second * (1.0 - 2.0 * high) - second * second;
        let mixed = -first * second;
        Self {
            log: chance.ln(),
            by_height: slope * (first + second),
            by_weight: first * at_low + second * at_high,
            height2: -slope * slope * (first2 + second2 + 2.0 * mixed),
            weight2: -(first2 * at_low * at_low
                + second2 * at_high * at_high
                + 2.0 * mixed * at_low * at_high),
            mixed: -slope * (first2 * at_low + second2 * at_high + mixed * (at_low + at_high)),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Animals evenly along 0..1 with four borders and slips that alternate.
    fn animals() -> Vec<Seen> {
        let borders = [0.2, 0.45, 0.8, 0.9];
        (0..200u32)
            .map(|i| {
                let value = (f64::from(i) + 0.5) / 200.0;
                let slip = 0.12 * (f64::from(i * 7 % 11) / 5.0 - 1.0);
                Seen {
                    value,
                    uncertainty: 0.0,
                    class: borders.iter().filter(|b| **b <= value + slip).count(),
                }
            })
            .collect()
    }

    /// The slopes are those that small steps show, in every parameter.
    #[test]
    fn derivatives_are_those_of_the_likelihood() {
        let (model, top) = Model::fitted(animals(), &[1.0, 2.0, 3.0, 4.0], 0.1).expect("a fit");
        let away = Steps {
            borders: top.steps.borders.iter().map(|b| b + 0.0123).collect(),
            log_weight: top.steps.log_weight - 0.2,
            bends: [0.3, -0.2],
        };
        let gradient = model.slopes(&away).gradient;
        for (i, slope) in gradient.iter().enumerate() {
            let moved = |by: f64| {
                let mut steps = away.clone();
                match i {
                    0..4 => steps.borders[i] += by,
                    4 => steps.log_weight += by,
                    _ => steps.bends[i - 5] += by,
                }
                model.slopes(&steps).value
            };
            let seen = (moved(1e-6) - moved(-1e-6)) / 2e-6;
            assert!(
                (seen - slope).abs() < 1e-3 * (1.0 + slope.abs()),
                "{i}: {seen} {slope}"
            );
        }
    }

    #[test]
    fn the_top_is_near_the_borders_that_made_the_classes() {
        let (model, top) = Model::fitted(animals(), &[1.0, 2.0, 3.0, 4.0], 0.1).expect("a fit");
        for (got, made) in top.steps.borders.iter().zip([0.2, 0.45, 0.8, 0.9]) {
            assert!((got - made).abs() < 0.03, "{:?}", top.steps);
        }
        assert!(top.error(1).is_some_and(|e| e > 0.0 && e < 0.05));
        assert_eq!((model.animals(), model.unknowns()), (200, 7));
    }

    #[test]
    fn an_empty_class_or_no_border_is_not_fitted() {
        let mut all = animals();
        assert!(Model::fitted(all.clone(), &[], 0.1).is_none());
        all.retain(|s| s.class != 2);
        assert!(Model::fitted(all, &[1.0, 2.0, 3.0, 4.0], 0.1).is_none());
    }
}
