//! From animals with the house's rungs to limits: which measures the eye follows, the fit, and its translation.

use super::translate::{Translation, translate};
use super::{FEWEST_AT_BORDER, folds};
use crate::eye::cumulative::{Case, Fit, Hold, fit};
use crate::eye::scale::Scale;
use crate::eye::steps::{Model, Seen, Top};
use crate::eye::subject::Subject;
use crate::ladder::{Ladder, Rung};

/// Penalties that are tried, per squared weight of a measure in steps of the ladder.
const PENALTIES: [f64; 3] = [0.03, 0.3, 3.0];
/// The penalty under which sets of measures are compared.
const FIRST_PENALTY: f64 = 0.3;
/// Folds inside the learning.
const INNER_FOLDS: usize = 5;
/// Most measures that a taught limit may hang on: more can't be told apart by a few hundred animals (house rule).
const MOST_MEASURES: usize = 3;
/// Standard errors that the gain of a further measure must exceed (house rule).
const FURTHER_ERRORS: f64 = 2.0;
/// Least share of the spread of a measure that is taken to be the animals' own, however large its stated uncertainty.
const LEAST_TRUE_SHARE: f64 = 0.25;

/// Least width of a rung on a measure, where the present ladder has to say it.
const LEAST_STEP: f64 = 0.01;

/// What was learned.
#[derive(Debug, Clone, PartialEq)]
pub struct Learned {
    /// Measures that the eye follows, the first most.
    pub scales: Vec<Scale>,
    /// Rungs whose lower border was learned.
    pub taught: Vec<Rung>,
    /// Penalty chosen.
    pub penalty: f64,
    /// The fit on the steps of the ladder.
    pub fit: Fit,
    /// The animals as they went into the fit.
    pub cases: Vec<Case>,
    /// Where the eye's own borders lie on the one measure it follows; `None` where it follows several.
    pub own: Option<(Model, Top)>,
    /// The ladder that says it in plain limits.
    pub translation: Translation,
}

/// Rungs whose lower border can be learned from so many animals a rung: both its sides have enough of them.
pub fn taught_rungs(counts: &[usize; 6]) -> Vec<Rung> {
    Rung::all()
        .skip(1)
        .filter(|rung| {
            let k = rung.index();
            counts[k] >= FEWEST_AT_BORDER && counts[k - 1] >= FEWEST_AT_BORDER
        })
        .collect()
}

/// Animals of each rung.
pub fn counts<'a>(subjects: impl IntoIterator<Item = &'a Subject>) -> [usize; 6] {
    let mut counts = [0; 6];
    subjects
        .into_iter()
        .for_each(|subject| counts[subject.own.index()] += 1);
    counts
}

/// Learns from `subjects`, all of which have every measure of `scales`; `None` where no border can be learned or no
/// measure follows the rungs.
pub fn learn(subjects: &[&Subject], ladder: &Ladder, scales: &[Scale]) -> Option<Learned> {
    let taught = taught_rungs(&counts(subjects.iter().copied()));
    if taught.is_empty() {
        return None;
    }
    let columns: Vec<Vec<f64>> = scales
        .iter()
        .map(|scale| heights(subjects, scale))
        .collect();
    let class = |subject: &Subject| taught.iter().filter(|rung| **rung <= subject.own).count();
    let classes: Vec<usize> = subjects.iter().map(|subject| class(subject)).collect();
    let cases = |chosen: &[usize]| -> Vec<Case> {
        (0..subjects.len())
            .map(|i| Case {
                class: classes[i],
                x: chosen.iter().map(|c| columns[*c][i]).collect(),
            })
            .collect()
    };
    let fold = folds::folds(subjects, INNER_FOLDS);
    let count = taught.len() + 1;
    let chosen = choose(scales.len(), &|chosen, penalty| {
        held_out(&cases(chosen), count, &fold, penalty)
    })?;
    let cases = cases(&chosen);
    let penalty = best_penalty(&cases, count, &fold);
    let fit = fit(
        &cases,
        count,
        Hold {
            penalty,
            at_zero: None,
        },
        None,
    )?;
    // The measure that weighs most leads.
    let mut order: Vec<usize> = (0..chosen.len()).collect();
    order.sort_by(|a, b| fit.weights[*b].total_cmp(&fit.weights[*a]));
    let led = |v: &[f64]| -> Vec<f64> { order.iter().map(|i| v[*i]).collect() };
    let fit = Fit {
        weights: led(&fit.weights),
        ..fit
    };
    let cases: Vec<Case> = cases
        .iter()
        .map(|case| Case {
            class: case.class,
            x: led(&case.x),
        })
        .collect();
    let mut scales_chosen: Vec<Scale> = order.iter().map(|i| scales[chosen[*i]].clone()).collect();
    if fit.weights.first().is_none_or(|w| *w <= 1.0e-3) {
        return None;
    }
    scales_chosen.truncate(fit.weights.len());
    let own = match &scales_chosen[..] {
        [scale] => own_steps(subjects, scale, &taught, &classes),
        _ => None,
    };
    let translation = translate(
        subjects,
        ladder,
        scales,
        &scales_chosen,
        &taught,
        &fit,
        &cases,
    );
    Some(Learned {
        scales: scales_chosen,
        taught,
        penalty,
        fit,
        cases,
        own,
        translation,
    })
}

/// The eye on its own steps of one measure.
fn own_steps(
    subjects: &[&Subject],
    scale: &Scale,
    taught: &[Rung],
    classes: &[usize],
) -> Option<(Model, Top)> {
    let seen = subjects.iter().zip(classes).map(|(subject, class)| {
        let value = subject.value(scale.measure)?;
        Some(Seen {
            value: scale.signed(value.value),
            uncertainty: value.uncertainty.max(0.0),
            class: *class,
        })
    });
    let rungs: Vec<f64> = taught.iter().map(|rung| rung.index() as f64).collect();
    let first = *rungs.first()?;
    let width = (scale.value(first + 0.5) - scale.value(first - 0.5)).abs();
    Model::fitted(seen.collect::<Option<_>>()?, &rungs, width.max(LEAST_STEP))
}

/// Heights of all subjects, each drawn towards the mean by as much of its distance as its stated uncertainty explains:
/// else the error of the measure would push the outer borders outward.
///
/// # Source
/// Regression calibration [Carroll2006].
fn heights(subjects: &[&Subject], scale: &Scale) -> Vec<f64> {
    let seen: Vec<(f64, f64)> = subjects
        .iter()
        .filter_map(|subject| subject.value(scale.measure))
        .map(|value| scale.measured(value))
        .collect();
    let n = seen.len().max(1) as f64;
    let mean = seen.iter().map(|s| s.0).sum::<f64>() / n;
    let spread = seen.iter().map(|s| (s.0 - mean).powi(2)).sum::<f64>() / n;
    let error = seen.iter().map(|s| s.1 * s.1).sum::<f64>() / n;
    let own = (spread - error).max(LEAST_TRUE_SHARE * spread);
    let drawn = |(height, u): &(f64, f64)| {
        let total = own + u * u;
        mean + if total > 0.0 { own / total } else { 1.0 } * (height - mean)
    };
    seen.iter().map(drawn).collect()
}

/// Log-chances of all cases, each from a fit without its fold; `None` where a fold can't be fitted.
fn held_out(cases: &[Case], classes: usize, fold: &[usize], penalty: f64) -> Option<Vec<f64>> {
    let mut chances = vec![0.0; cases.len()];
    let mut start: Option<Fit> = None;
    for left_out in 0..=fold.iter().copied().max()? {
        let rest: Vec<Case> = (0..cases.len())
            .filter(|i| fold[*i] != left_out)
            .map(|i| cases[i].clone())
            .collect();
        let fit = fit(
            &rest,
            classes,
            Hold {
                penalty,
                at_zero: None,
            },
            start.as_ref(),
        )?;
        for i in (0..cases.len()).filter(|i| fold[*i] == left_out) {
            chances[i] = fit.log_chance(&cases[i]);
        }
        start = Some(fit);
    }
    Some(chances)
}

/// Logarithms of the chances of held-out rungs by the measures chosen and a penalty; `None` where nothing could be fitted.
type HeldOut<'a> = dyn Fn(&[usize], f64) -> Option<Vec<f64>> + 'a;

/// The measures that foretell held-out rungs: the best one, and each further one only where its gain exceeds two standard
/// errors: each makes the ladder harder to read.
fn choose(count: usize, held_out: &HeldOut) -> Option<Vec<usize>> {
    let mut chosen: Vec<usize> = Vec::new();
    let mut best: Option<Vec<f64>> = None;
    while chosen.len() < MOST_MEASURES.min(count) {
        let tried = (0..count).filter(|i| !chosen.contains(i)).filter_map(|i| {
            let with: Vec<usize> = chosen.iter().copied().chain([i]).collect();
            let chances = held_out(&with, FIRST_PENALTY)?;
            Some((i, chances))
        });
        let total = |chances: &[f64]| chances.iter().sum::<f64>();
        let next = tried.reduce(|a, b| if total(&b.1) > total(&a.1) { b } else { a });
        let Some((i, chances)) = next else {
            break;
        };
        if let Some(before) = &best {
            let gains: Vec<f64> = chances.iter().zip(before).map(|(a, b)| a - b).collect();
            let n = gains.len() as f64;
            let mean = total(&gains) / n;
            let squares: f64 = gains.iter().map(|g| (g - mean).powi(2)).sum();
            let error = (squares / (n * (n - 1.0).max(1.0))).sqrt();
            if mean <= FURTHER_ERRORS * error {
                break;
            }
        }
        chosen.push(i);
        best = Some(chances);
    }
    (!chosen.is_empty()).then_some(chosen)
}

fn best_penalty(cases: &[Case], classes: usize, fold: &[usize]) -> f64 {
    let scored = PENALTIES.into_iter().filter_map(|penalty| {
        let chances = held_out(cases, classes, fold, penalty)?;
        Some((penalty, chances.iter().sum::<f64>()))
    });
    scored
        .reduce(|a, b| if b.1 > a.1 { b } else { a })
        .map_or(FIRST_PENALTY, |(penalty, _)| penalty)
}
