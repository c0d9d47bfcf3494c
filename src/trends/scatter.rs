//! How much scoops of one tank differ beyond what their animals explain: the house's own, from scoops close after one another.

use std::collections::BTreeMap;

use super::series::{Past, Reading, neighbours};
use super::watched::Watched;
use crate::scoop::PastScoop;
use crate::stats::beta_binomial::{ICC_MOST, icc_within};

/// Correlation within scoops until the house has its own (house rule: twenty animals of a scoop then count as ten).
pub const USUAL_ICC: f64 = 0.05;
/// Pairs of scoops, or scoops, from which on the house's own numbers are used.
pub const FEWEST_PAIRS: usize = 10;
/// Scoops at most so many days apart are taken as of the same state of the tank.
pub(super) const NEAR_DAYS: f64 = 45.0;

/// Too few pairs of scoops to tell the scatter between them; how many there were.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct FewScoops(pub usize);

/// The house's scatter from scoop to scoop.
#[derive(Debug, Clone, PartialEq)]
pub struct HouseScatter {
    /// Standard deviation by measure, in its unit, for means; a missing one follows from the usual correlation.
    pub sd: BTreeMap<Watched, f64>,
    /// Correlation of animals within a scoop, for shares, 0..=1.
    pub icc: f64,
    /// True where the correlation is the house's own, false where it is [`USUAL_ICC`].
    pub icc_is_own: bool,
}

impl Default for HouseScatter {
    fn default() -> Self {
        Self {
            sd: BTreeMap::new(),
            icc: USUAL_ICC,
            icc_is_own: false,
        }
    }
}

impl HouseScatter {
    /// Standard deviation from scoop to scoop, where animals scatter by `within` in a scoop.
    pub fn between(&self, measure: Watched, within: f64) -> f64 {
        let usual = within * (USUAL_ICC / (1.0 - USUAL_ICC)).sqrt();
        self.sd.get(&measure).copied().unwrap_or(usual)
    }
}

/// The scatter of a house from its scoops, earliest first.
pub fn house_scatter(scoops: &[PastScoop], reading: &Reading) -> HouseScatter {
    let mut sorted: Vec<&PastScoop> = scoops.iter().filter(|s| s.second_of.is_none()).collect();
    sorted.sort_by_key(|s| (&s.tank, s.at, s.number));
    let means = [
        Watched::Coverage,
        Watched::Opacity,
        Watched::Hue,
        Watched::Size,
    ];
    let past = Past::of(sorted.iter().copied(), &reading.minutes);
    let sd = means
        .into_iter()
        .filter_map(|measure| Some((measure, neighbours(measure, &past, reading).ok()?)))
        .collect();
    let own = icc_of_house(&sorted, reading);
    HouseScatter {
        sd,
        icc: own.unwrap_or(USUAL_ICC),
        icc_is_own: own.is_some(),
    }
}

/// Correlation of "at or above the sale rung" within scoops, each tank's generation and state compared with itself.
fn icc_of_house(scoops: &[&PastScoop], reading: &Reading) -> Option<f64> {
    let mut tanks: BTreeMap<_, Vec<(u64, u64)>> = BTreeMap::new();
    for scoop in scoops {
        let n = scoop.judged().count() as u64;
        let above = scoop
            .judged()
            .filter(|a| a.rung.is_some_and(|r| r >= reading.sale_rung));
        let state = (&scoop.tank, scoop.generation, &scoop.conditions);
        tanks
            .entry(state)
            .or_default()
            .push((above.count() as u64, n));
    }
    let several: Vec<Vec<(u64, u64)>> = tanks.into_values().filter(|t| t.len() > 1).collect();
    let scoops: usize = several.iter().map(Vec::len).sum();
    if scoops < FEWEST_PAIRS {
        return None;
    }
    icc_within(&several).map(|icc| icc.clamp(0.0, ICC_MOST))
}
