//! Coming generations under a policy, animal by animal and many times over.
//!
//! Worth is a standard normal measure of the present tank; its inherited part is the sum of many small genes, handed on half
//! and half with a Mendelian remainder. Beside it run genes that nobody selects, each founder's copies marked, which show how
//! fast ancestry narrows.

use rayon::prelude::*;
use statrs::distribution::{ContinuousCDF, Normal};

use super::draws::Draws;
use crate::stats::quantile_of_sorted;

/// What is done in each generation.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Policy {
    /// Females and males kept as parents.
    pub keep: [usize; 2],
    /// Share of the tank that is measured before it is chosen among, 0..=1.
    pub measured: f64,
}

/// The tank as it is, and how well it is read.
#[derive(Debug, Clone, PartialEq)]
pub struct Stock {
    /// Animals a generation that grow up.
    pub animals: usize,
    /// Heritability of the worth as measured once, 0..=1.
    pub heritability: f64,
    /// Share of the differences between readings that is error of the single reading, 0..1.
    pub reading_error: f64,
    /// Share of the animals on each rung today, lowest first; it must sum to 1.
    pub rungs: [f64; 6],
    /// Inbreeding at the start, 0..=1.
    pub inbreeding: f64,
}

/// A figure over all replicates.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Range {
    /// Mean.
    pub mean: f64,
    /// One replicate in twenty lies below.
    pub low: f64,
    /// One in twenty lies above.
    pub high: f64,
}

/// One coming generation.
#[derive(Debug, Clone, PartialEq)]
pub struct Coming {
    /// 0 = the present one.
    pub generation: usize,
    /// Mean worth, in standard deviations of the present tank.
    pub worth: Range,
    /// Share of animals on each rung, lowest first.
    pub rungs: [Range; 6],
    /// Share at or above each rung, lowest first.
    pub at_or_above: [Range; 6],
    /// Inbreeding, 0..=1.
    pub inbreeding: Range,
    /// Share of the present diversity that is left, 0..=1.
    pub diversity: Range,
}

/// How much is simulated.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Runs {
    /// Replicates.
    pub replicates: usize,
    /// Generations.
    pub generations: usize,
    /// Seed: the same seed, the same plan.
    pub seed: u64,
}

/// Unselected genes that are followed, two copies each: one bit of a random word for each copy handed on.
const GENES: usize = 16;

/// The coming generations, the present one first.
pub fn plan(stock: &Stock, policy: &Policy, runs: &Runs) -> Vec<Coming> {
    let limits = limits(&stock.rungs);
    // Replicates share no state and are put together in their order, so threads change nothing.
    let all: Vec<Vec<Figures>> = (0..runs.replicates as u64)
        .into_par_iter()
        .map(|replicate| {
            let seed = runs
                .seed
                .wrapping_add(replicate.wrapping_mul(0x2545_F491_4F6C_DD1D));
            one_run(
                stock,
                policy,
                runs.generations,
                &limits,
                &mut Draws::new(seed),
            )
        })
        .collect();
    (0..=runs.generations)
        .map(|generation| {
            let these: Vec<&Figures> = all.iter().map(|run| &run[generation]).collect();
            let range = |of: &dyn Fn(&Figures) -> f64| range(&these, of);
            Coming {
                generation,
                worth: range(&|f| f.worth),
                rungs: std::array::from_fn(|r| range(&|f| f.rungs[r])),
                at_or_above: std::array::from_fn(|r| range(&|f| f.rungs[r..].iter().sum())),
                inbreeding: range(&|f| f.inbreeding),
                diversity: range(&|f| f.diversity),
            }
        })
        .collect()
}

#[derive(Debug, Clone, Copy)]
struct Figures {
    worth: f64,
    rungs: [f64; 6],
    inbreeding: f64,
    diversity: f64,
}

fn range(these: &[&Figures], of: &dyn Fn(&Figures) -> f64) -> Range {
    let mut values: Vec<f64> = these.iter().map(|f| of(f)).collect();
    values.sort_by(f64::total_cmp);
    let at = |share| quantile_of_sorted(&values, share).unwrap_or(0.0);
    Range {
        mean: crate::stats::mean(&values).unwrap_or(0.0),
        low: at(0.05),
        high: at(0.95),
    }
}

/// Worth from which each rung above the lowest begins, so that the present shares come out.
fn limits(rungs: &[f64; 6]) -> [f64; 5] {
    let normal = Normal::standard();
    std::array::from_fn(|i| {
        let below: f64 = rungs[..=i].iter().sum();
        match below {
            b if b <= 0.0 => f64::NEG_INFINITY,
            b if b >= 1.0 - 1e-12 => f64::INFINITY,
            b => normal.inverse_cdf(b),
        }
    })
}

/// A generation of animals, each with its inherited worth and its copies of the unselected genes.
struct Tank {
    inherited: Vec<f64>,
    genes: Vec<[u16; 2 * GENES]>,
}

fn one_run(
    stock: &Stock,
    policy: &Policy,
    generations: usize,
    limits: &[f64; 5],
    draws: &mut Draws,
) -> Vec<Figures> {
    let n = stock.animals.max(2);
    let genetic = stock.heritability.clamp(0.0, 1.0);
    let lasting = (1.0 - genetic - stock.reading_error).max(0.0);
    let mut tank = Tank {
        inherited: (0..n).map(|_| genetic.sqrt() * draws.bell()).collect(),
        genes: (0..n)
            .map(|animal| std::array::from_fn(|copy| (2 * animal + copy % 2) as u16))
            .collect(),
    };
    let mut told = Vec::with_capacity(generations + 1);
    for generation in 0..=generations {
        let true_worth: Vec<f64> = tank
            .inherited
            .iter()
            .map(|a| a + lasting.sqrt() * draws.bell())
            .collect();
        let read: Vec<f64> = true_worth
            .iter()
            .map(|t| t + stock.reading_error.max(0.0).sqrt() * draws.bell())
            .collect();
        let figures = figures(&read, &tank.genes, limits, stock.inbreeding);
        told.push(figures);
        if generation < generations {
            let parents = chosen(&read, policy, draws);
            let narrowed = figures.inbreeding;
            tank = next(&tank, &parents, n, genetic * (1.0 - narrowed), draws);
        }
    }
    told
}

fn figures(read: &[f64], genes: &[[u16; 2 * GENES]], limits: &[f64; 5], begun: f64) -> Figures {
    let n = read.len() as f64;
    let mut rungs = [0.0; 6];
    for worth in read {
        let rung = limits.iter().filter(|limit| worth >= limit).count();
        rungs[rung] += 1.0 / n;
    }
    let alike = genes
        .iter()
        .map(|own| (0..GENES).filter(|g| own[2 * g] == own[2 * g + 1]).count())
        .sum::<usize>() as f64
        / (n * GENES as f64);
    Figures {
        worth: read.iter().sum::<f64>() / n,
        rungs,
        inbreeding: begun + (1.0 - begun) * alike,
        diversity: diversity(genes),
    }
}

/// Chance that two copies drawn from the tank come from different copies of the present one, over the same chance today.
fn diversity(genes: &[[u16; 2 * GENES]]) -> f64 {
    let copies = 2 * genes.len();
    let mut counts = vec![0u32; copies];
    let mut different = 0.0;
    for gene in 0..GENES {
        counts.fill(0);
        for own in genes {
            counts[usize::from(own[2 * gene])] += 1;
            counts[usize::from(own[2 * gene + 1])] += 1;
        }
        let squares: f64 = counts.iter().map(|c| f64::from(*c).powi(2)).sum();
        different += 1.0 - squares / (copies as f64).powi(2);
    }
    different / GENES as f64 / (1.0 - 1.0 / copies as f64)
}

/// Mothers and fathers: the best of those measured; the sexes are drawn by lot, and each keeps at least one.
fn chosen(read: &[f64], policy: &Policy, draws: &mut Draws) -> [Vec<usize>; 2] {
    let mut sexes = [Vec::new(), Vec::new()];
    for animal in 0..read.len() {
        if draws.even() < policy.measured {
            sexes[draws.below(2)].push(animal);
        }
    }
    for (sex, keep) in sexes.iter_mut().zip(policy.keep) {
        if sex.is_empty() {
            sex.push(draws.below(read.len()));
        }
        let keep = keep.clamp(1, sex.len());
        if keep < sex.len() {
            sex.select_nth_unstable_by(keep - 1, |a, b| read[*b].total_cmp(&read[*a]));
            sex.truncate(keep);
        }
    }
    sexes
}

/// The young of these parents: every one of a mother and a father drawn by lot.
fn next(tank: &Tank, parents: &[Vec<usize>; 2], n: usize, genetic: f64, draws: &mut Draws) -> Tank {
    // Half of the genetic variance between unrelated animals is new in every brood [FalconerMackay1996].
    let remainder = (genetic / 2.0).max(0.0).sqrt();
    let mut young = Tank {
        inherited: Vec::with_capacity(n),
        genes: Vec::with_capacity(n),
    };
    for _ in 0..n {
        let [mother, father] = [0, 1].map(|sex| parents[sex][draws.below(parents[sex].len())]);
        let middle = (tank.inherited[mother] + tank.inherited[father]) / 2.0;
        young.inherited.push(middle + remainder * draws.bell());
        let bits = draws.bits();
        let (m, f) = (&tank.genes[mother], &tank.genes[father]);
        young.genes.push(std::array::from_fn(|copy| {
            let which = (bits >> copy & 1) as usize;
            let gene = copy / 2;
            if copy % 2 == 0 {
                m[2 * gene + which]
            } else {
                f[2 * gene + which]
            }
        }));
    }
    young
}
