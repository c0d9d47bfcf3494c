//! The house's question on a tank or a line: how the past is read, the scatter from scoop to scoop, generations, founders.

use super::{Book, Generation};
use crate::error::Error;
use crate::ladder::{Ladder, Rung};
use crate::scoop::MinutesRule;
use crate::trends::Watched;
use crate::trends::drift::Founders;
use crate::trends::scatter::{HouseScatter, house_scatter};
use crate::trends::series::{Axis, Reading};
use crate::trends::tank_trend::Question;

/// Scoops of the whole house from which its scatter from scoop to scoop is taken: some months of a large room, read in a
/// moment.
const HOUSE_SCOOPS: u32 = 400;

/// What questions on trends need of the house.
#[derive(Debug, Clone)]
pub struct House {
    /// How the past is read.
    pub reading: Reading,
    /// Scatter from scoop to scoop.
    pub scatter: HouseScatter,
}

impl Book {
    /// Reads the house's latest scoops for their scatter.
    ///
    /// # Errors
    /// Where the book can't be read.
    pub fn house(&self, sale_rung: Rung, minutes: MinutesRule) -> Result<House, Error> {
        let reading = Reading {
            axis: Axis::Date,
            sale_rung,
            minutes,
        };
        let scatter = house_scatter(&self.measures_of_latest(HOUSE_SCOOPS)?, &reading);
        Ok(House { reading, scatter })
    }
}

/// A question on all of `measures` for the generations given.
pub fn question<'a>(
    house: &House,
    measures: &[Watched],
    generations: &[&Generation],
    ladder: Option<&'a Ladder>,
) -> Question<'a> {
    Question {
        reading: house.reading.clone(),
        axis: None,
        measures: measures.to_vec(),
        scatter: house.scatter.clone(),
        generation_days: generation_days(generations),
        founders: founders(generations),
        heritability: None,
        ladder,
    }
}

/// Days from one generation to the next in the same tank, the middle of all; `None` below two.
fn generation_days(generations: &[&Generation]) -> Option<f64> {
    let mut days = Vec::new();
    for a in generations {
        let next = |b: &&&Generation| b.tank == a.tank && b.number == a.number + 1;
        if let Some(b) = generations.iter().find(next) {
            days.push(f64::from((b.since - a.since).get_days()));
        }
    }
    crate::stats::median(&days).filter(|d| *d >= 1.0)
}

fn founders(generations: &[&Generation]) -> Vec<Founders> {
    let counts = |g: &&Generation| {
        Some(Founders {
            generation: g.number,
            females: g.females?,
            males: g.males?,
        })
    };
    generations.iter().filter_map(counts).collect()
}
