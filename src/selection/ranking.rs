//! Animals in the order of their worth, within the sexes, with ties where their readings can't tell them apart.

use crate::measures::Sex;
use crate::scoop::KeptAnimal;
use crate::units::Measured;

use super::inbreeding::{effective_size, rate};
use super::sorting::side;
use super::worth::{SetAside, Yardstick};

/// One of the animals to be ranked.
#[derive(Debug, Clone, Copy)]
pub struct Entrant<'a> {
    /// Scoop it was seen in.
    pub scoop: i64,
    /// The animal.
    pub animal: &'a KeptAnimal,
}

/// An animal with its rank.
#[derive(Debug, Clone, PartialEq)]
pub struct Ranked {
    /// Scoop it was seen in.
    pub scoop: i64,
    /// Its number there.
    pub no: u32,
    /// Its worth, corrected for length where that was asked for and borne out.
    pub worth: Measured,
    /// Group of animals that can't be told apart, 1 = the best.
    pub group: usize,
    /// True among the wanted number.
    pub keep: bool,
}

/// The males that are moved out cost something: how fast inbreeding rises.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MaleCost {
    /// Males kept, counting this one.
    pub males: usize,
    /// Effective size with him.
    pub effective_size: f64,
    /// Rise of inbreeding a generation with him, 0..=1.
    pub rate: f64,
    /// What the mean worth of the kept males loses by him.
    pub worth_lost: f64,
}

/// A ranking.
#[derive(Debug, Clone, PartialEq)]
pub struct Ranking {
    /// Females and males, best first.
    pub sexes: [Vec<Ranked>; 2],
    /// Animals whose sex was not told: held back, not moved out.
    pub unsexed: Vec<(i64, u32)>,
    /// Animals that are not judged: scoop, number, reason.
    pub aside: Vec<(i64, u32, SetAside)>,
    /// Worth lost for each millimetre of length, females and males, where a correction was made.
    pub by_length: [Option<f64>; 2],
    /// What keeping each further male would bring and cost, nearest first.
    pub further_males: Vec<MaleCost>,
}

/// A difference is believed beyond so many standard uncertainties: 95 % two-sided.
const BELIEVED: f64 = 1.96;
/// Fewest animals of a sex for a correction by length, and how many standard errors its slope must have (house rule).
const FEWEST_FOR_LENGTH: usize = 20;
const LENGTH_SURE: f64 = 2.5;
/// So many further males are told.
const FURTHER: usize = 5;

/// Ranks the animals; the best `wanted` females and males are kept. Where fewer males than wanted are there, all are kept.
pub fn rank(entrants: &[Entrant<'_>], stick: &Yardstick, wanted: [usize; 2]) -> Ranking {
    let mut ranking = Ranking {
        sexes: [Vec::new(), Vec::new()],
        unsexed: Vec::new(),
        aside: Vec::new(),
        by_length: [None; 2],
        further_males: Vec::new(),
    };
    let mut lengths: [Vec<Option<f64>>; 2] = [Vec::new(), Vec::new()];
    for entrant in entrants {
        let (scoop, animal) = (entrant.scoop, entrant.animal);
        match (stick.worth(animal), side(animal.sex)) {
            (Err(why), _) => ranking.aside.push((scoop, animal.no, why)),
            (Ok(_), None) => ranking.unsexed.push((scoop, animal.no)),
            (Ok(worth), Some(sex)) => {
                lengths[sex].push(animal.length_mm.map(|l| l.value));
                ranking.sexes[sex].push(Ranked {
                    scoop,
                    no: animal.no,
                    worth,
                    group: 0,
                    keep: false,
                });
            }
        }
    }
    for sex in 0..2 {
        let all = &mut ranking.sexes[sex];
        ranking.by_length[sex] = correct_for_length(all, &lengths[sex]);
        all.sort_by(|a, b| b.worth.value.total_cmp(&a.worth.value));
        all.iter_mut()
            .take(wanted[sex])
            .for_each(|one| one.keep = true);
        group(all);
    }
    ranking.further_males = further_males(&ranking.sexes, wanted);
    ranking
}

/// Groups of animals that the best of the group is not believed to surpass.
fn group(all: &mut [Ranked]) {
    let (mut first, mut number) = (0, 1);
    for at in 0..all.len() {
        let (best, own) = (all[first].worth, all[at].worth);
        if best.value - own.value > BELIEVED * best.uncertainty.hypot(own.uncertainty) {
            (first, number) = (at, number + 1);
        }
        all[at].group = number;
    }
}

/// Takes out what goes with length, where the animals bear it; the slope.
fn correct_for_length(all: &mut [Ranked], lengths: &[Option<f64>]) -> Option<f64> {
    let pairs: Vec<(f64, f64)> = all
        .iter()
        .zip(lengths)
        .filter_map(|(one, length)| Some(((*length)?, one.worth.value)))
        .collect();
    let (slope, error, middle) = slope(&pairs)?;
    if pairs.len() < FEWEST_FOR_LENGTH || slope.abs() < LENGTH_SURE * error {
        return None;
    }
    for (one, length) in all.iter_mut().zip(lengths) {
        if let Some(length) = length {
            one.worth.value -= slope * (length - middle);
        }
    }
    Some(slope)
}

/// Least-squares slope, its standard error and the mean x.
fn slope(pairs: &[(f64, f64)]) -> Option<(f64, f64, f64)> {
    let n = pairs.len() as f64;
    if pairs.len() < 3 {
        return None;
    }
    let (mx, my) = (
        pairs.iter().map(|p| p.0).sum::<f64>() / n,
        pairs.iter().map(|p| p.1).sum::<f64>() / n,
    );
    let sxx: f64 = pairs.iter().map(|p| (p.0 - mx).powi(2)).sum();
    let sxy: f64 = pairs.iter().map(|p| (p.0 - mx) * (p.1 - my)).sum();
    let slope = sxy / sxx;
    let rest: f64 = pairs
        .iter()
        .map(|p| (p.1 - my - slope * (p.0 - mx)).powi(2))
        .sum();
    let error = (rest / (n - 2.0) / sxx).sqrt();
    (sxx > 0.0 && error.is_finite()).then_some((slope, error, mx))
}

fn further_males(sexes: &[Vec<Ranked>; 2], wanted: [usize; 2]) -> Vec<MaleCost> {
    let [females, males] = sexes;
    let kept = wanted[1].min(males.len());
    if kept == 0 {
        return Vec::new();
    }
    let mean =
        |count: usize| males[..count].iter().map(|m| m.worth.value).sum::<f64>() / count as f64;
    (kept + 1..=males.len().min(kept + FURTHER))
        .map(|count| {
            let ne = effective_size(count as f64, wanted[0].min(females.len()) as f64);
            MaleCost {
                males: count,
                effective_size: ne,
                rate: rate(ne),
                worth_lost: mean(kept) - mean(count),
            }
        })
        .collect()
}

/// First pass over a young cohort.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum FirstPass {
    /// Of a wrong colour: out of the line.
    Off,
    /// Grows on.
    Keep,
    /// Too young, or not seen well enough.
    TooYoungToSay,
}

/// The first pass for one young animal: only a colour that is not the line's counts against it. A pale one is too young to
/// say, never off: colour fills in with the moults.
pub fn first_pass(animal: &KeptAnimal) -> FirstPass {
    let unread = animal.wrong_hue_share.is_none() && animal.brown_share.is_none();
    let flagged = |word: &str| animal.flags.iter().any(|flag| flag == word);
    let pale = animal.coverage.is_none_or(|c| c.value < COLOURED);
    if animal.is_off_type() || (flagged("juvenile") && is_off_colour(animal)) {
        FirstPass::Off
    } else if unread || flagged("cut") || pale {
        FirstPass::TooYoungToSay
    } else {
        FirstPass::Keep
    }
}

/// From this coverage on a young animal shows what colour it will be (house rule).
const COLOURED: f64 = 0.25;
/// Share of the body of a wrong colour from which a young animal is off, as in the built-in ladders.
const OFF_SHARE: f64 = 0.2;

/// Juveniles are not put on the ladder, so their shares are looked at here: surely above the limit, two uncertainties deep.
fn is_off_colour(animal: &KeptAnimal) -> bool {
    [animal.wrong_hue_share, animal.brown_share]
        .into_iter()
        .flatten()
        .any(|share| share.value - 2.0 * share.uncertainty > OFF_SHARE)
}

/// Word of the sex as 0 or 1.
pub fn sex_of(at: usize) -> Sex {
    if at == 0 { Sex::Female } else { Sex::Male }
}
