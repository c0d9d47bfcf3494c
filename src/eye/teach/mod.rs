//! Limits of a ladder learned from the house's own rungs, held against the present ladder, proposed only where they are
//! better.

pub mod folds;
pub mod learn;
mod translate;

pub use learn::{Learned, learn, taught_rungs};
pub use translate::Translation;

use std::collections::BTreeMap;

use super::agreement::{LEVEL, Pair, kappa_of};
use super::borders::ranges;
use super::rank::{correlation, kendall};
use super::scale::Scale;
use super::subject::Subject;
use crate::doubt::Note;
use crate::ladder::{Ladder, Measure, Rung};
use crate::stats::Interval;

/// Fewest animals that are learned from (house rule; tests/rates/eye.rs holds limits learned from so many to their
/// stated intervals).
pub const FEWEST: usize = 120;
/// Fewest animals on either side of a border that is learned (house rule).
pub const FEWEST_AT_BORDER: usize = 8;
/// Folds in which old and proposed ladder are compared.
const OUTER_FOLDS: usize = 5;
/// Rank correlation of rungs and measures below which the rungs are taken to be contradictory (house rule).
const LEAST_RANK: f64 = 0.4;
/// Share of the animals that must have a measure for it to be followed.
const LEAST_READ: f64 = 0.9;
/// Animals graded twice from which contradiction is judged, and the share two rungs or more apart that is too much
/// (house rules).
const FEWEST_TWICE: usize = 10;
const MOST_FAR_APART: f64 = 0.2;
/// Animals graded by two people from which it is judged whether both see something unmeasured, and the least correlation
/// of what the measures leave open (house rules; the program's own error, where it is half of a person's, makes 0.2).
const FEWEST_BY_TWO: usize = 30;
const LEAST_SHARED: f64 = 0.3;

/// More animals of a rung, and how many.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Need {
    /// The rung.
    pub rung: Rung,
    /// Animals there are.
    pub has: usize,
    /// Animals there have to be.
    pub needs: usize,
}

/// A limit, old and new.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TaughtLimit {
    /// Its rung.
    pub rung: Rung,
    /// Its measure.
    pub measure: Measure,
    /// As it stands on the present ladder.
    pub old: Option<f64>,
    /// As proposed.
    pub new: f64,
    /// Interval of what was learned, at 95 %.
    pub interval: Option<Interval>,
    /// Why there is no interval; `None` where there is one.
    pub no_range: Option<NoRange>,
}

/// Why a limit has no interval.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum NoRange {
    /// Learned, but too few animals lie beside it.
    TooFew,
    /// Several measures are followed: a rung asks for all their limits together, so that none has a range of its own.
    Together,
    /// Not learned: too few animals of the rung or of the one below; the present limit stays.
    NotLearned,
}

/// How the present ladder and a learned one agree with the house on animals that were not learned from.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Gain {
    /// Animals compared.
    pub animals: usize,
    /// Weighted kappa of the present ladder.
    pub old: f64,
    /// Weighted kappa of the learned one, cross-validated.
    pub new: f64,
    /// Standard error of the gain.
    pub error: f64,
}

impl Gain {
    /// True where the gain exceeds one standard error.
    pub fn is_enough(&self) -> bool {
        self.new - self.old > self.error && self.new > self.old
    }
}

/// What was learned and what it would change.
#[derive(Debug, Clone, PartialEq)]
pub struct Lesson {
    /// The learned ladder.
    pub learned: Learned,
    /// All limits of the measures followed, lowest rung first.
    pub limits: Vec<TaughtLimit>,
    /// Agreement with the house, old against new.
    pub gain: Gain,
    /// True where the gain is enough and something changes.
    pub is_proposed: bool,
    /// Rank correlation of the house's rungs with what the measures say.
    pub rank: f64,
    /// Correlation of what two people see alike and the measures leave open, where it is more than the program's own
    /// error explains.
    pub unmeasured: Option<f64>,
}

/// The answer to the house's rungs of a line.
#[derive(Debug, Clone, PartialEq)]
pub struct Answer {
    /// Animals that can be learned from.
    pub animals: usize,
    /// The same by rung.
    pub counts: [usize; 6],
    /// Animals left out for a missing measure.
    pub left_out: usize,
    /// Rungs of which more animals would teach further borders.
    pub needs: Vec<Need>,
    /// Why nothing was learned; empty where something was.
    pub refused: Vec<Note>,
    /// What was learned.
    pub lesson: Option<Lesson>,
}

/// Two gradings of the same animal.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Twice {
    /// Its scoop.
    pub scoop: i64,
    /// Its number there.
    pub no: u32,
    /// The earlier or first person's rung.
    pub first: Rung,
    /// The later or second person's rung.
    pub second: Rung,
    /// True where two people gave them, false where one did so twice.
    pub is_by_two: bool,
}

/// Learns limits from `subjects`; `twice` are animals that were graded twice.
pub fn teach(subjects: &[Subject], twice: &[Twice], ladder: &Ladder) -> Answer {
    let scales: Vec<Scale> = Scale::of_ladder(ladder)
        .into_iter()
        .filter(|scale| {
            let read = subjects
                .iter()
                .filter(|s| s.value(scale.measure).is_some())
                .count();
            read > 0 && read as f64 >= LEAST_READ * subjects.len() as f64
        })
        .collect();
    let usable: Vec<&Subject> = subjects
        .iter()
        .filter(|s| {
            s.rung_on(ladder).is_some()
                && scales.iter().all(|scale| s.value(scale.measure).is_some())
        })
        .collect();
    let counts = learn::counts(usable.iter().copied());
    let mut answer = Answer {
        animals: usable.len(),
        counts,
        left_out: subjects.len() - usable.len(),
        needs: needs(&counts),
        refused: refusals(&usable, twice, &scales),
        lesson: None,
    };
    if !answer.refused.is_empty() {
        return answer;
    }
    match lesson(&usable, twice, ladder, &scales) {
        Ok(lesson) => answer.lesson = Some(lesson),
        Err(note) => answer.refused.push(note),
    }
    answer
}

/// Rungs of which more animals would teach a border that can't be learned yet.
fn needs(counts: &[usize; 6]) -> Vec<Need> {
    let taught = taught_rungs(counts);
    Rung::all()
        .filter(|rung| {
            let k = rung.index();
            let beside = [
                Some(*rung).filter(|r| *r > Rung::G0),
                Rung::from_index(k + 1),
            ];
            counts[k] < FEWEST_AT_BORDER
                && beside.into_iter().flatten().any(|r| !taught.contains(&r))
        })
        .map(|rung| Need {
            rung,
            has: counts[rung.index()],
            needs: FEWEST_AT_BORDER,
        })
        .collect()
}

fn refusals(usable: &[&Subject], twice: &[Twice], scales: &[Scale]) -> Vec<Note> {
    let mut refused = Vec::new();
    if scales.is_empty() {
        refused.push(Note::new(
            "no_measure",
            "no measure that the ladder could limit was read in nine of ten of these animals",
            "grade animals whose coverage could be read",
        ));
    }
    if usable.len() < FEWEST {
        let more = FEWEST - usable.len();
        refused.push(Note::new(
            "too_few_animals",
            format!(
                "{} animals with your own rung can be learned from, {FEWEST} are needed",
                usable.len()
            ),
            format!("give {more} more animals your rung, all rungs about alike"),
        ));
    } else if taught_rungs(&learn::counts(usable.iter().copied())).is_empty() {
        refused.push(Note::new(
            "too_few_rungs",
            format!("no two neighbouring rungs have {FEWEST_AT_BORDER} animals each"),
            "give your rung to animals of neighbouring rungs",
        ));
    }
    let same: Vec<&Twice> = twice.iter().filter(|t| !t.is_by_two).collect();
    let far = same
        .iter()
        .filter(|t| t.first.index().abs_diff(t.second.index()) >= 2)
        .count();
    if same.len() >= FEWEST_TWICE && far as f64 > MOST_FAR_APART * same.len() as f64 {
        refused.push(Note::new(
            "contradictory",
            format!(
                "of {} animals graded twice by the same person, {far} got rungs two or more apart",
                same.len()
            ),
            "agree in the house on what each rung means, then grade anew",
        ));
    }
    refused
}

fn lesson(
    usable: &[&Subject],
    twice: &[Twice],
    ladder: &Ladder,
    scales: &[Scale],
) -> Result<Lesson, Note> {
    let contradictory = |rank: f64| {
        Note::new(
            "contradictory",
            format!(
                "your rungs hardly follow any measure (rank correlation {rank:.2}, {LEAST_RANK} is needed)"
            ),
            "look whether rungs were given to the wrong animals, or whether your eye judges something else",
        )
    };
    let learned = learn(usable, ladder, scales).ok_or_else(|| contradictory(0.0))?;
    let ranked: Vec<(f64, f64)> = usable
        .iter()
        .zip(&learned.cases)
        .map(|(s, case)| (s.own.index() as f64, learned.fit.score(&case.x)))
        .collect();
    let rank = kendall(&ranked).unwrap_or(0.0);
    if rank < LEAST_RANK {
        return Err(contradictory(rank));
    }
    let gain = gain(usable, ladder, scales);
    let limits = limits(&learned, ladder);
    let changes =
        limits.iter().any(|l| l.old != Some(l.new)) || !learned.translation.dropped.is_empty();
    Ok(Lesson {
        is_proposed: changes && gain.is_enough(),
        unmeasured: unmeasured(usable, twice, &learned),
        limits,
        gain,
        rank,
        learned,
    })
}

/// Old and new ladder on animals that the new one was not learned from.
fn gain(usable: &[&Subject], ladder: &Ladder, scales: &[Scale]) -> Gain {
    let fold = folds::folds(usable, OUTER_FOLDS);
    let mut pairs: Vec<[Pair; 2]> = Vec::new();
    for left_out in 0..=fold.iter().copied().max().unwrap_or(0) {
        let rest: Vec<&Subject> = (0..usable.len())
            .filter(|i| fold[*i] != left_out)
            .map(|i| usable[i])
            .collect();
        let new =
            learn(&rest, ladder, scales).map_or_else(|| ladder.clone(), |l| l.translation.ladder);
        for subject in (0..usable.len())
            .filter(|i| fold[*i] == left_out)
            .map(|i| usable[i])
        {
            let (Some(old), Some(new)) = (subject.rung_on(ladder), subject.rung_on(&new)) else {
                continue;
            };
            let pair = |second| Pair {
                first: subject.own,
                second,
                photo: subject.scoop,
            };
            pairs.push([pair(old), pair(new)]);
        }
    }
    let side = |pairs: &[[Pair; 2]], at: usize| {
        let one: Vec<Pair> = pairs.iter().map(|both| both[at]).collect();
        kappa_of(&one).map_or(0.0, |kappa| kappa.value)
    };
    Gain {
        animals: pairs.len(),
        old: side(&pairs, 0),
        new: side(&pairs, 1),
        error: gain_error(&pairs),
    }
}

/// Standard error of the gain by leaving out scoop after scoop [Miller1974].
fn gain_error(pairs: &[[Pair; 2]]) -> f64 {
    let mut tables = [[[0.0f64; 6]; 6]; 2];
    let mut by_scoop: BTreeMap<i64, Vec<&[Pair; 2]>> = BTreeMap::new();
    for both in pairs {
        by_scoop.entry(both[0].photo).or_default().push(both);
        for (table, pair) in tables.iter_mut().zip(both) {
            table[pair.first.index()][pair.second.index()] += 1.0;
        }
    }
    let without: Vec<f64> = by_scoop
        .values()
        .map(|scoop| {
            let mut rest = tables;
            for both in scoop {
                for (table, pair) in rest.iter_mut().zip(*both) {
                    table[pair.first.index()][pair.second.index()] -= 1.0;
                }
            }
            quadratic(&rest[1]) - quadratic(&rest[0])
        })
        .collect();
    let g = without.len() as f64;
    let mean = without.iter().sum::<f64>() / g.max(1.0);
    let squares: f64 = without.iter().map(|v| (v - mean).powi(2)).sum();
    if g < 2.0 {
        f64::INFINITY
    } else {
        ((g - 1.0) / g * squares).sqrt()
    }
}

/// Kappa with quadratic weights: 1 less the squared distances seen over those that chance would give.
fn quadratic(table: &[[f64; 6]; 6]) -> f64 {
    let n: f64 = table.iter().flatten().sum();
    let rows: [f64; 6] = std::array::from_fn(|i| table[i].iter().sum());
    let columns: [f64; 6] = std::array::from_fn(|j| table.iter().map(|row| row[j]).sum());
    let (mut seen, mut chance) = (0.0, 0.0);
    for i in 0..6usize {
        for j in 0..6usize {
            let apart = (i.abs_diff(j) * i.abs_diff(j)) as f64;
            seen += apart * table[i][j];
            chance += apart * rows[i] * columns[j] / n;
        }
    }
    if chance > 0.0 {
        1.0 - seen / chance
    } else {
        0.0
    }
}

fn limits(learned: &Learned, ladder: &Ladder) -> Vec<TaughtLimit> {
    let intervals = intervals(learned);
    let lead = learned.scales.first().map(|scale| scale.measure);
    learned
        .translation
        .limits
        .iter()
        .map(|(rung, measure, new)| {
            let old = ladder.conditions[rung.index() - 1]
                .iter()
                .find(|c| c.measure == *measure);
            let border = learned.taught.iter().position(|taught| taught == rung);
            let stated = border
                .filter(|_| Some(*measure) == lead)
                .and_then(|b| intervals.get(b));
            // Limits follow the penalised fit, which the proposal is judged by; where one leaves the range of the eye's
            // own border, the range is drawn out to it.
            let interval = stated.copied().flatten().map(|range| Interval {
                low: range.low.min(*new),
                high: range.high.max(*new),
            });
            let why = match (border, stated) {
                (None, _) => NoRange::NotLearned,
                (Some(_), Some(_)) => NoRange::TooFew,
                (Some(_), None) => NoRange::Together,
            };
            TaughtLimit {
                rung: *rung,
                measure: *measure,
                old: old.and_then(super::subject::limit),
                new: *new,
                no_range: interval.is_none().then_some(why),
                interval,
            }
        })
        .collect()
}

/// Intervals of the borders on the one measure followed, in its own unit; `None` where too few animals lie beside a border
/// to say how far it may reach. Empty where several measures are followed: their limits hang on each other.
pub fn intervals(learned: &Learned) -> Vec<Option<Interval>> {
    let ([scale], Some((model, top))) = (&learned.scales[..], &learned.own) else {
        return Vec::new();
    };
    let (least, most) = scale.measure.range();
    ranges(model, top, LEVEL)
        .into_iter()
        .map(|range| {
            range.map(|range| {
                let ends = [range.low, range.high].map(|end| scale.signed(end).clamp(least, most));
                Interval {
                    low: ends[0].min(ends[1]),
                    high: ends[0].max(ends[1]),
                }
            })
        })
        .collect()
}

/// What two people see alike beyond the measures: the correlation of their distances from what the measures let expect.
fn unmeasured(usable: &[&Subject], twice: &[Twice], learned: &Learned) -> Option<f64> {
    let expected: BTreeMap<(i64, u32), f64> = usable
        .iter()
        .zip(&learned.cases)
        .map(|(s, case)| ((s.scoop, s.no), learned.fit.expected(&case.x)))
        .collect();
    let class = |rung: Rung| learned.taught.iter().filter(|t| **t <= rung).count() as f64;
    let (a, b): (Vec<f64>, Vec<f64>) = twice
        .iter()
        .filter(|t| t.is_by_two)
        .filter_map(|t| {
            let expected = expected.get(&(t.scoop, t.no))?;
            Some((class(t.first) - expected, class(t.second) - expected))
        })
        .unzip();
    let r = correlation(&a, &b).filter(|_| a.len() >= FEWEST_BY_TWO)?;
    // Lower end of the interval by Fisher's transformation [Fisher1921].
    let low = (r.atanh() - 1.96 / (a.len() as f64 - 3.0).sqrt()).tanh();
    (low > LEAST_SHARED).then_some(r)
}
