//! The grade mix from point to point of time.

use std::collections::BTreeMap;

use jiff::civil::Date;

use super::series::{Axis, PERIOD_DAYS};
use crate::scoop::PastScoop;

/// The mix of one generation or period.
#[derive(Debug, Clone, PartialEq)]
pub struct MixPoint {
    /// Generation, where the axis is generations.
    pub generation: Option<u32>,
    /// First day of its scoops.
    pub since: Date,
    /// Judged animals by rung, G0 first.
    pub rungs: [u64; 6],
    /// Off-type animals.
    pub off_type: u64,
    /// Scoops.
    pub scoops: usize,
}

impl MixPoint {
    /// Judged animals.
    pub fn animals(&self) -> u64 {
        self.rungs.iter().sum::<u64>() + self.off_type
    }
}

/// The mix of `scoops` (earliest first) along `axis`; points without a judged animal are left out.
pub fn mix_over_time(scoops: &[PastScoop], axis: Axis) -> Vec<MixPoint> {
    let Some(start) = scoops.first().map(|s| s.at.date()) else {
        return Vec::new();
    };
    let mut cells: BTreeMap<i64, MixPoint> = BTreeMap::new();
    for scoop in scoops.iter().filter(|s| s.second_of.is_none()) {
        let days = f64::from((scoop.at.date() - start).get_days());
        let cell = match axis {
            Axis::Generation => scoop.generation.map(i64::from),
            Axis::Date => Some((days / PERIOD_DAYS).floor() as i64),
        };
        let Some(cell) = cell else { continue };
        let point = cells.entry(cell).or_insert_with(|| MixPoint {
            generation: (axis == Axis::Generation)
                .then_some(scoop.generation)
                .flatten(),
            since: scoop.at.date(),
            rungs: [0; 6],
            off_type: 0,
            scoops: 0,
        });
        point.scoops += 1;
        for animal in scoop.judged() {
            match animal.rung {
                Some(rung) => point.rungs[rung.index()] += 1,
                None => point.off_type += 1,
            }
        }
    }
    cells.into_values().filter(|p| p.animals() > 0).collect()
}
