//! How fast a scoop pales: the mean loss over time with its interval, and the minutes that the house can allow.
//!
//! Values of one measure stand in a table with a row for each animal and a column for each photo. Three things make the
//! mean uncertain: animals differ in how they fade, single readings scatter, and a whole photo may be read too high or too
//! low. The first two are seen by leaving out one animal after the other, the third by how far the photos' means stray from
//! the curve.

use statrs::distribution::{ContinuousCDF, FisherSnedecor, StudentsT};

use super::curve::{Approach, Line, Start, exponential, line};
use crate::units::Measured;

/// Confidence level of every interval.
pub const LEVEL: f64 = 0.95;
/// Fewest animals seen in every photo.
pub const FEWEST_ANIMALS: usize = 3;
/// Fewest photos at different times for a line.
pub const FEWEST_PHOTOS: usize = 3;
/// Fewest for a curve.
const FEWEST_FOR_CURVE: usize = 5;
/// How sure a curve must be to be preferred to the line.
const CURVE_LEVEL: f64 = 0.95;

/// The course of the mean.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Course {
    /// As much in every minute.
    Steady(Line),
    /// Fast at first, then less and less.
    Levelling(Approach),
}

/// The fading of one measure.
#[derive(Debug, Clone, PartialEq)]
pub struct Fading {
    /// The course of the mean over animals, t in minutes.
    pub course: Course,
    /// Animals.
    pub animals: usize,
    /// Minutes of the photos.
    pub minutes: Vec<f64>,
    /// Mean over the animals in each photo.
    pub means: Vec<f64>,
    left_out: Vec<Course>,
    photo_variance: f64,
    single_variance: f64,
    freedom: [f64; 2],
}

/// Why no fading can be told.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum TooFew {
    /// Animals with the measure in every photo.
    Animals(usize),
    /// Photos at different times.
    Times(usize),
}

/// Fits the fading of `table` (animals by photos) at `minutes`.
///
/// # Errors
/// With fewer animals or times than the fit needs.
pub fn fading(minutes: &[f64], table: &[Vec<f64>]) -> Result<Fading, TooFew> {
    let times = distinct(minutes);
    if times < FEWEST_PHOTOS {
        return Err(TooFew::Times(times));
    }
    if table.len() < FEWEST_ANIMALS {
        return Err(TooFew::Animals(table.len()));
    }
    let means = means(table);
    let course = course_of(minutes, &means).ok_or(TooFew::Times(times))?;
    let left_out = (0..table.len())
        .filter_map(|i| without(i, minutes, table, &course))
        .collect();
    let stray = course.squares() / (minutes.len() - course.parameters()).max(1) as f64;
    let single = scatter(minutes, table, &course);
    Ok(Fading {
        photo_variance: stray,
        single_variance: single / table.len() as f64,
        freedom: [
            (table.len() - 1) as f64,
            (minutes.len() - course.parameters()).max(1) as f64,
        ],
        animals: table.len(),
        minutes: minutes.to_vec(),
        means,
        course,
        left_out,
    })
}

fn distinct(minutes: &[f64]) -> usize {
    let mut sorted = minutes.to_vec();
    sorted.sort_by(f64::total_cmp);
    sorted.dedup_by(|a, b| (*a - *b).abs() < 1e-9);
    sorted.len()
}

/// Mean over the animals by photo.
fn means(table: &[Vec<f64>]) -> Vec<f64> {
    let photos = table.first().map_or(0, Vec::len);
    (0..photos)
        .map(|j| table.iter().map(|row| row[j]).sum::<f64>() / table.len() as f64)
        .collect()
}

fn paired(minutes: &[f64], values: &[f64]) -> Vec<(f64, f64)> {
    minutes
        .iter()
        .copied()
        .zip(values.iter().copied())
        .collect()
}

/// The curve where the photos bear one, else the line.
fn course_of(minutes: &[f64], means: &[f64]) -> Option<Course> {
    let points = paired(minutes, means);
    let straight = line(&points)?;
    let curved =
        exponential(&points, Start::Free).filter(|_| distinct(minutes) >= FEWEST_FOR_CURVE);
    Some(
        match curved.filter(|c| plainly_better(c.squares, straight.squares, points.len() - 3)) {
            Some(curve) => Course::Levelling(curve),
            None => Course::Steady(straight),
        },
    )
}

/// F test of one more parameter.
fn plainly_better(curve: f64, straight: f64, freedom: usize) -> bool {
    let Ok(f) = FisherSnedecor::new(1.0, freedom as f64) else {
        return false;
    };
    (straight - curve) * freedom as f64 > f.inverse_cdf(CURVE_LEVEL) * curve
}

/// The course without one animal, of the same kind; where it bears no curve any more, with the rate of all.
fn without(animal: usize, minutes: &[f64], table: &[Vec<f64>], all: &Course) -> Option<Course> {
    let rest: Vec<Vec<f64>> = table
        .iter()
        .enumerate()
        .filter(|(i, _)| *i != animal)
        .map(|(_, row)| row.clone())
        .collect();
    let points = paired(minutes, &means(&rest));
    match all {
        Course::Steady(_) => line(&points).map(Course::Steady),
        Course::Levelling(curve) => {
            let own = exponential(&points, Start::Free).map(Course::Levelling);
            own.or_else(|| Some(Course::Levelling(with_rate(&points, curve.rate)?)))
        }
    }
}

/// Start and change at a given rate.
fn with_rate(points: &[(f64, f64)], rate: f64) -> Option<Approach> {
    let bent: Vec<(f64, f64)> = points
        .iter()
        .map(|(t, y)| (-(-rate * t).exp_m1(), *y))
        .collect();
    let l = line(&bent)?;
    Some(Approach {
        start: l.start,
        change: l.slope,
        rate,
        errors: [l.errors[0], l.errors[1], 0.0],
        squares: l.squares,
    })
}

/// Variance of single readings: what is left when each animal has its own start and change and each photo its own shift.
fn scatter(minutes: &[f64], table: &[Vec<f64>], course: &Course) -> f64 {
    let bent: Vec<f64> = minutes.iter().map(|t| course.bent(*t)).collect();
    let residuals: Vec<Vec<f64>> = table
        .iter()
        .filter_map(|row| {
            let l = line(&paired(&bent, row))?;
            Some(
                bent.iter()
                    .zip(row)
                    .map(|(g, y)| y - l.start - l.slope * g)
                    .collect(),
            )
        })
        .collect();
    let shifts = means(&residuals);
    let squares: f64 = residuals
        .iter()
        .flat_map(|row| row.iter().zip(&shifts).map(|(r, s)| (r - s).powi(2)))
        .sum();
    let freedom = (table.len() - 1) * minutes.len().saturating_sub(2);
    squares / freedom.max(1) as f64
}

impl Course {
    /// What has been lost at `t` minutes since t = 0; negative where it rose.
    pub fn loss(&self, t: f64) -> f64 {
        match self {
            Course::Steady(l) => -l.slope * t,
            Course::Levelling(c) => c.change * (-c.rate * t).exp_m1(),
        }
    }

    /// Value at `t` minutes.
    pub fn value(&self, t: f64) -> f64 {
        let start = match self {
            Course::Steady(l) => l.start,
            Course::Levelling(c) => c.start,
        };
        start - self.loss(t)
    }

    /// Time bent so that the course is a straight line in it.
    fn bent(&self, t: f64) -> f64 {
        match self {
            Course::Steady(_) => t,
            Course::Levelling(c) => -(-c.rate * t).exp_m1(),
        }
    }

    fn squares(&self) -> f64 {
        match self {
            Course::Steady(l) => l.squares,
            Course::Levelling(c) => c.squares,
        }
    }

    fn parameters(&self) -> usize {
        match self {
            Course::Steady(_) => 2,
            Course::Levelling(_) => 3,
        }
    }

    /// Slopes of the loss at `t` by start, change and rate (or slope and nothing).
    fn loss_slopes(&self, t: f64) -> [f64; 3] {
        match self {
            Course::Steady(_) => [0.0, -t, 0.0],
            Course::Levelling(c) => [
                0.0,
                (-c.rate * t).exp_m1(),
                -c.change * t * (-c.rate * t).exp(),
            ],
        }
    }

    /// Slopes of the value at `t`.
    fn value_slopes(&self, t: f64) -> [f64; 3] {
        let [_, change, rate] = self.loss_slopes(t);
        [1.0, -change, -rate]
    }
}

impl Fading {
    /// The last photo's minutes.
    pub fn until(&self) -> f64 {
        self.minutes.iter().copied().fold(0.0, f64::max)
    }

    /// Loss at `t` minutes with its standard uncertainty, and the half-width of its interval.
    pub fn loss(&self, t: f64) -> (Measured, f64) {
        // The photos' means stray by single readings too, so those are not counted twice.
        let leverage = self.leverage(t);
        let by_animals = (self.animal_variance(t) - self.single_variance * leverage).max(0.0);
        let by_photos = self.photo_variance * leverage;
        let variance = by_animals + by_photos;
        let parts = by_animals.powi(2) / self.freedom[0] + by_photos.powi(2) / self.freedom[1];
        let freedom = if parts > 0.0 {
            variance * variance / parts
        } else {
            self.freedom[0]
        };
        let quantile = StudentsT::new(0.0, 1.0, freedom.max(1.0))
            .map_or(f64::INFINITY, |s| s.inverse_cdf(0.5 + LEVEL / 2.0));
        (
            Measured::new(self.course.loss(t), variance.sqrt()),
            quantile * variance.sqrt(),
        )
    }

    /// Variance of the loss by the animals (delete-one jackknife).
    ///
    /// # Source
    /// [Miller1974].
    fn animal_variance(&self, t: f64) -> f64 {
        let losses: Vec<f64> = self.left_out.iter().map(|c| c.loss(t)).collect();
        let n = losses.len() as f64;
        let centre = losses.iter().sum::<f64>() / n.max(1.0);
        losses.iter().map(|l| (l - centre).powi(2)).sum::<f64>() * (n - 1.0) / n.max(1.0)
    }

    /// Variance of the loss at `t` for a variance of 1 in every photo's mean.
    fn leverage(&self, t: f64) -> f64 {
        let mut normal = [[0.0; 3]; 3];
        for minutes in &self.minutes {
            let s = self.course.value_slopes(*minutes);
            for (i, row) in normal.iter_mut().enumerate() {
                row.iter_mut()
                    .zip(s)
                    .for_each(|(cell, v)| *cell += s[i] * v);
            }
        }
        if let Course::Steady(_) = self.course {
            normal[2][2] = 1.0;
        }
        let s = self.course.loss_slopes(t);
        let along = crate::colour::apply(&crate::colour::inverse(&normal), s);
        let leverage: f64 = s.iter().zip(along).map(|(a, b)| a * b).sum();
        if leverage.is_finite() {
            leverage.max(0.0)
        } else {
            0.0
        }
    }

    /// The first minutes at which the loss, and at which the upper end of its interval, reaches `tolerated`; `None` where
    /// that lies beyond the last photo.
    pub fn reaches(&self, tolerated: f64) -> (Option<f64>, Option<f64>) {
        let steps = (self.until() * STEPS_A_MINUTE).floor() as usize;
        let at = |i: usize| i as f64 / STEPS_A_MINUTE;
        let expected = (1..=steps)
            .find(|i| self.course.loss(at(*i)) >= tolerated)
            .map(at);
        let upper = (1..=steps)
            .find(|i| {
                let (loss, half) = self.loss(at(*i));
                loss.value + half >= tolerated
            })
            .map(at);
        (expected, upper)
    }
}

/// Times looked at.
const STEPS_A_MINUTE: f64 = 20.0;
