//! What the next generation should gain: selection differential, intensity, expected response.

use super::intensity::intensity_of_group;

/// Heritabilities that are plausible where the house has none of its own: colour in farmed shrimp and prawns runs from 0.03 to
/// 0.55 [Hasan2022] [Giang2019]; none is published for this species.
pub const PLAUSIBLE: [f64; 3] = [0.1, 0.3, 0.5];

/// Genetic correlations of colour with size that were found in a farmed shrimp (BMC Genetics 2014, banana shrimp: 0.59 to
/// 0.70), for the size that comes along.
pub const WITH_SIZE: [f64; 2] = [0.59, 0.70];

/// The tank and the plan for one sex.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SexPlan {
    /// Animals of that sex in the tank.
    pub there: usize,
    /// To be kept.
    pub keep: usize,
    /// Standard deviation between them.
    pub sd: f64,
}

/// Expected selection differential of one sex, in the unit of `sd`: the intensity of the finite group times the spread;
/// `None` where none is kept or more than there are.
pub fn differential(plan: &SexPlan) -> Option<f64> {
    Some(intensity_of_group(plan.keep, plan.there)? * plan.sd)
}

/// Expected response of the next generation: heritability times the mean of both sexes' differentials.
///
/// # Source
/// R = h2 S, [FalconerMackay1996] chapter 11; parents of both sexes count half each.
pub fn response(heritability: f64, females: f64, males: f64) -> f64 {
    heritability * (females + males) / 2.0
}

/// Expected change of a measure that was not selected for, in its own standard deviations: intensity times the roots of both
/// heritabilities times their genetic correlation.
///
/// # Source
/// [FalconerMackay1996] equation 19.6.
pub fn correlated_response(
    intensity: f64,
    h2: f64,
    h2_other: f64,
    genetic_correlation: f64,
) -> f64 {
    intensity * (h2 * h2_other).sqrt() * genetic_correlation
}

/// Share of the young, 0..=1, above the middle of their parents' generation where the mean rises by `gain` standard
/// deviations and the spread stays: half of them where nothing was gained.
pub fn above_middle(gain: f64) -> f64 {
    crate::stats::normal_cdf(gain)
}

/// Realised differential of animals kept among all: mean of the kept minus mean of all; `None` where one is empty.
pub fn realised_differential(all: &[f64], kept: &[f64]) -> Option<f64> {
    Some(crate::stats::mean(kept)? - crate::stats::mean(all)?)
}
