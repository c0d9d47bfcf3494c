//! What is to be said, and when one will look: declared before netting.

use jiff::civil::DateTime;

use super::boundary::{Null, at_once, needed, reached};
use crate::ladder::Rung;
use crate::stats::finite::sample_size;

/// Correlation of animals within a scoop that is taken while the house has fewer than [`SCOOPS_FOR_ICC`] scoops (house
/// number; no figure for this trade was found).
pub const USUAL_ICC: f64 = 0.05;
/// Scoops from which on the house's own correlation is believed (house number).
pub const SCOOPS_FOR_ICC: usize = 10;
/// Looks and animals at each, where nobody says others.
pub const USUAL_LOOKS: u32 = 10;
/// Animals to the scoop that a cup holds without crowding (common practice, no source).
pub const USUAL_SCOOP: u32 = 20;

/// A wanted statement with its looks.
#[derive(Debug, Clone, PartialEq)]
pub struct Plan {
    /// The rung.
    pub rung: Rung,
    /// "At least this share of the lot stands there or better", in thousandths, 1..=999.
    pub permille: u32,
    /// One-sided confidence in thousandths, 500..=999.
    pub confidence_permille: u32,
    /// Looks, one after each scoop.
    pub looks: u32,
    /// Judged animals to the scoop.
    pub per_look: u32,
    /// Correlation within scoops.
    pub icc: f64,
    /// Animals in the lot, where they were counted.
    pub lot: Option<u32>,
    /// Tank.
    pub tank: Option<String>,
    /// Moment of the declaration; scoops before it do not count.
    pub declared: Option<DateTime>,
}

impl Plan {
    /// The wanted share, 0..=1.
    pub fn share(&self) -> f64 {
        f64::from(self.permille) / 1000.0
    }

    /// Risk of a false statement.
    pub fn alpha(&self) -> f64 {
        1.0 - f64::from(self.confidence_permille) / 1000.0
    }

    /// Animals of all looks.
    pub fn animals(&self) -> u32 {
        self.looks * self.per_look
    }

    /// The lot in which the statement is just false.
    pub fn null(&self) -> Null {
        self.null_at(self.share())
    }

    /// The same for another share.
    pub fn null_at(&self, share: f64) -> Null {
        Null {
            share,
            icc: self.icc,
            lot: self.lot,
        }
    }

    fn sizes(&self) -> Vec<u32> {
        vec![self.per_look; self.looks as usize]
    }

    /// Counts needed by each look if every scoop brings as many animals as planned.
    pub fn needed(&self) -> Vec<u32> {
        needed(&self.sizes(), self.animals(), &self.null(), self.alpha())
    }

    /// What is to be expected where the lot's share really is `truth`.
    pub fn prospect(&self, truth: f64) -> Prospect {
        let (sizes, needs) = (self.sizes(), self.needed());
        let lot = Null {
            share: truth,
            icc: self.icc,
            lot: None,
        };
        let by_look = reached(&needs, &sizes, &lot);
        // A scoop is netted while the looks before it were not enough.
        let scoops = 1.0
            + by_look
                .iter()
                .take(by_look.len().saturating_sub(1))
                .map(|done| 1.0 - done)
                .sum::<f64>();
        let null = Null {
            lot: None,
            ..self.null()
        };
        Prospect {
            truth,
            expected_animals: scoops * f64::from(self.per_look),
            by_look,
            at_once: at_once(
                &null,
                &lot,
                self.alpha(),
                POWER,
                (self.per_look, AT_ONCE_MOST / self.per_look),
            )
            .map(|scoops| scoops * self.per_look),
        }
    }
}

/// Chance to succeed that a sample taken at once is made for.
pub const POWER: f64 = 0.8;
/// Largest sample at once that is looked at; a thousand animals are more than any tank holds for netting.
const AT_ONCE_MOST: u32 = 600;

/// What a plan may be expected to bring.
#[derive(Debug, Clone, PartialEq)]
pub struct Prospect {
    /// The lot's true share, 0..=1.
    pub truth: f64,
    /// Chance to be supported by each look.
    pub by_look: Vec<f64>,
    /// Mean number of animals until it is supported or the looks are used up.
    pub expected_animals: f64,
    /// Animals to net, in scoops, where one looks but once, for a chance of [`POWER`]; `None` where 600 do not do.
    pub at_once: Option<u32>,
}

/// Animals of a counted tank to net at once to know a share to within ten points either side, 95 %, whatever it is.
pub fn to_know_within_ten_points(lot: u32) -> u32 {
    let n = sample_size(0.5, 0.1, 1.96, Some(u64::from(lot)));
    u32::try_from(n).unwrap_or(u32::MAX)
}

/// True shares at which a plan's prospects are told: some way above the wanted one, all within 1.
pub fn truths(share: f64) -> Vec<f64> {
    let above = 1.0 - share;
    [0.25, 0.5, 0.75, 1.0]
        .into_iter()
        .map(|part| share + part * above)
        .collect()
}
