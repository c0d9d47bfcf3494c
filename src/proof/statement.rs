//! "At least so many in a hundred of the lot stand at this rung or better": supported, not supported, or so many more.

use super::boundary::{Null, needed};
use super::count::{Count, sure_number};
use super::plan::Plan;
use super::weakness::Weakness;

/// What may be said.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Answer {
    /// The statement may be made.
    Supported,
    /// It may not, and the rest of the plan would hardly change that.
    NotSupported,
    /// About so many more judged animals would settle it, if they are like those so far.
    More(u32),
    /// Nothing may be stated whatever the count says; the weaknesses name why.
    Blocked,
}

/// One look: all scoops up to it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Look {
    /// Judged animals so far.
    pub judged: u32,
    /// Number that counts, misgrading allowed for.
    pub by_chance: f64,
    /// Plain count, the undecided ones at their lower rung.
    pub plain: u32,
    /// Those too close to call.
    pub undecided: u32,
    /// Count that this look needs; above `judged`, this look can't support anything.
    pub needed: u32,
}

/// How a plan stands.
#[derive(Debug, Clone, PartialEq)]
pub struct Standing {
    /// The looks so far.
    pub looks: Vec<Look>,
    /// The look at which it was first supported.
    pub supported_at: Option<usize>,
    /// What may be said.
    pub answer: Answer,
    /// One-sided lower limit of the lot's share at the plan's confidence, however often one looked.
    pub lower: f64,
    /// One-sided upper limit of the same kind.
    pub upper: f64,
    /// Scoops beyond the declared looks, which do not count.
    pub beyond: usize,
}

/// Halvings of the searched range: a millionth of it is left.
const HALVINGS: usize = 20;

/// How the plan stands after these scoops, in the order netted.
///
/// The limits are repeated ones: the share at which the plan's own boundary would just have been reached at some look.
/// So "supported" and "the lower limit is not below the wanted share" are the same.
///
/// # Source
/// Repeated confidence intervals [JennisonTurnbull1989].
pub fn stand(plan: &Plan, counts: &[Count], weaknesses: &[Weakness]) -> Standing {
    let (counted, beyond) = counts.split_at(counts.len().min(plan.looks as usize));
    let looks = looks(plan, counted);
    let supported_at = looks.iter().position(|l| reaches(l.by_chance, l.needed));
    let sizes: Vec<u32> = counted.iter().map(|c| c.judged).collect();
    let sums: Vec<f64> = looks.iter().map(|l| l.by_chance).collect();
    // For the upper limit the doubt goes the other way: half of those too close to call are taken to be there as well.
    let above: Vec<f64> = looks
        .iter()
        .map(|l| (l.by_chance + 0.5 * f64::from(l.undecided)).min(f64::from(l.judged)))
        .collect();
    let mut standing = Standing {
        lower: lower(plan, &sizes, &sums),
        upper: upper(plan, &sizes, &above),
        looks,
        supported_at,
        answer: Answer::Blocked,
        beyond: beyond.len(),
    };
    standing.answer = if weaknesses.iter().any(|w| w.blocks) {
        Answer::Blocked
    } else {
        answer(plan, &sizes, &standing)
    };
    standing
}

fn looks(plan: &Plan, counts: &[Count]) -> Vec<Look> {
    let sizes: Vec<u32> = counts.iter().map(|c| c.judged).collect();
    let needs = needed(&sizes, plan.animals(), &plan.null(), plan.alpha());
    let (mut judged, mut by_chance, mut plain, mut undecided) = (0, 0.0, 0, 0);
    counts
        .iter()
        .zip(needs)
        .map(|(count, needed)| {
            judged += count.judged;
            by_chance += count.by_chance;
            plain += count.plain;
            undecided += count.undecided;
            Look {
                judged,
                by_chance,
                plain,
                undecided,
                needed,
            }
        })
        .collect()
}

/// Sums of chances come from rounded records: a millionth short is not short.
fn reaches(by_chance: f64, needed: u32) -> bool {
    by_chance + 1e-6 >= f64::from(needed)
}

fn answer(plan: &Plan, sizes: &[u32], standing: &Standing) -> Answer {
    if standing.supported_at.is_some() {
        return Answer::Supported;
    }
    let done = standing.looks.len() >= plan.looks as usize;
    if done || standing.upper < plan.share() {
        return Answer::NotSupported;
    }
    more(plan, sizes, standing.looks.last()).map_or(Answer::NotSupported, Answer::More)
}

/// Animals to come until the boundary is reached if the share stays as seen; the whole rest of the plan where nothing was
/// seen yet; `None` where the plan ends before.
fn more(plan: &Plan, sizes: &[u32], last: Option<&Look>) -> Option<u32> {
    let left = plan.looks - sizes.len() as u32;
    let Some(last) = last.filter(|l| l.judged > 0) else {
        return Some(left * plan.per_look);
    };
    let seen_share = last.by_chance / f64::from(last.judged);
    let mut all = sizes.to_vec();
    all.extend(std::iter::repeat_n(plan.per_look, left as usize));
    let needs = needed(&all, plan.animals(), &plan.null(), plan.alpha());
    (1..=left).find_map(|k| {
        let to_come = k * plan.per_look;
        let expected = last.by_chance + seen_share * f64::from(to_come);
        reaches(expected, needs[sizes.len() + k as usize - 1]).then_some(to_come)
    })
}

/// The largest share that the looks so far support.
fn lower(plan: &Plan, sizes: &[u32], sums: &[f64]) -> f64 {
    largest(|share| {
        let null = plan.null_at(share);
        crossed(plan, sizes, sums, &null)
    })
}

/// One less the largest share of animals below the rung that they support.
fn upper(plan: &Plan, sizes: &[u32], sums: &[f64]) -> f64 {
    let mut seen = 0;
    let below: Vec<f64> = sizes
        .iter()
        .zip(sums)
        .map(|(size, sum)| {
            seen += size;
            f64::from(seen) - sum
        })
        .collect();
    1.0 - largest(|share| crossed(plan, sizes, &below, &plan.null_at(share)))
}

fn crossed(plan: &Plan, sizes: &[u32], sums: &[f64], null: &Null) -> bool {
    let needs = needed(sizes, plan.animals(), null, plan.alpha());
    sums.iter()
        .zip(needs)
        .any(|(sum, need)| reaches(*sum, need))
}

/// The largest share, 0..=1, for which `holds`: larger shares ask for more.
fn largest(holds: impl Fn(f64) -> bool) -> f64 {
    let (mut low, mut high) = (0.0, 1.0);
    for _ in 0..HALVINGS {
        let middle = 0.5 * (low + high);
        if holds(middle) {
            low = middle;
        } else {
            high = middle;
        }
    }
    low
}

/// What a lot photographed whole allows to be said: every animal is in the picture, so only misgrading is in doubt.
#[derive(Debug, Clone, PartialEq)]
pub struct Whole {
    /// Animals in the lot. Those that could not be judged are among them and count as not meeting the rung.
    pub animals: u32,
    /// Expected number that meets the rung.
    pub by_chance: f64,
    /// Plain count, the undecided ones at their lower rung.
    pub plain: u32,
    /// The number that meets it with the asked confidence.
    pub sure: u32,
    /// What may be said.
    pub answer: Answer,
}

/// A lot photographed whole against "at least `permille` thousandths", with this confidence.
pub fn whole(
    chances: &[Option<f64>],
    plain: u32,
    permille: u32,
    confidence: f64,
    weaknesses: &[Weakness],
) -> Whole {
    let animals = chances.len() as u32;
    let known: Vec<f64> = chances.iter().map(|c| c.unwrap_or(0.0)).collect();
    let sure = sure_number(&known, confidence);
    let supported =
        animals > 0 && u64::from(sure) * 1000 >= u64::from(permille) * u64::from(animals);
    let answer = if weaknesses.iter().any(|w| w.blocks) {
        Answer::Blocked
    } else if supported {
        Answer::Supported
    } else {
        Answer::NotSupported
    };
    Whole {
        animals,
        by_chance: known.iter().sum(),
        plain,
        sure,
        answer,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::ladder::Rung;

    fn plan(permille: u32, looks: u32) -> Plan {
        Plan {
            rung: Rung::BEST,
            permille,
            confidence_permille: 950,
            looks,
            per_look: 20,
            icc: 0.05,
            lot: None,
            tank: None,
            declared: None,
        }
    }

    fn scoop(met: f64, judged: u32) -> Count {
        Count {
            judged,
            by_chance: met,
            plain: met as u32,
            ..Count::default()
        }
    }

    #[test]
    fn supported_and_the_lower_limit_are_the_same() {
        for met in 0..=20 {
            let counts: Vec<Count> = (0..4).map(|_| scoop(f64::from(met), 20)).collect();
            let found = stand(&plan(800, 10), &counts, &[]);
            let supported = found.answer == Answer::Supported;
            assert_eq!(supported, found.lower >= 0.8 - 1e-5, "{met}: {found:?}");
            assert!(found.lower <= f64::from(met) / 20.0 && found.upper >= f64::from(met) / 20.0);
        }
    }

    #[test]
    fn answers() {
        let of = |met: &[f64]| {
            let counts: Vec<Count> = met.iter().map(|m| scoop(*m, 20)).collect();
            stand(&plan(800, 10), &counts, &[]).answer
        };
        assert_eq!(of(&[]), Answer::More(200));
        assert_eq!(of(&[20.0; 3]), Answer::Supported);
        assert!(matches!(of(&[19.0]), Answer::More(n) if (20..=100).contains(&n)));
        assert_eq!(of(&[16.0; 10]), Answer::NotSupported);
        assert_eq!(of(&[8.0, 9.0, 8.0]), Answer::NotSupported, "below for sure");
        let stop = Weakness::blocking("held", "on hold", "wait");
        let blocked = stand(&plan(800, 10), &[scoop(20.0, 20)], &[stop]);
        assert_eq!(blocked.answer, Answer::Blocked);
    }

    #[test]
    fn scoops_after_the_last_look_do_not_count() {
        let mut counts = vec![scoop(16.0, 20); 10];
        counts.extend(vec![scoop(20.0, 20); 10]);
        let found = stand(&plan(800, 10), &counts, &[]);
        assert_eq!((found.answer, found.beyond), (Answer::NotSupported, 10));
    }

    #[test]
    fn a_whole_lot_has_no_sampling_error() {
        let sure = vec![Some(1.0); 17];
        let chances: Vec<Option<f64>> = sure
            .into_iter()
            .chain([Some(0.0), None, Some(0.4)])
            .collect();
        let found = whole(&chances, 17, 850, 0.95, &[]);
        assert_eq!(
            (found.animals, found.sure, found.answer),
            (20, 17, Answer::Supported)
        );
        assert_eq!(
            whole(&chances, 17, 900, 0.95, &[]).answer,
            Answer::NotSupported
        );
        assert_eq!(whole(&[], 0, 500, 0.95, &[]).answer, Answer::NotSupported);
    }
}
