//! A plan for a lot of known size: how many to look at and how many may fail, exact in whole animals.
//!
//! The table of [`super::inspection`] is made for lots without end. In a lot of twenty, 5 % is one animal, and looking at
//! eight of them leaves only twelve: both risks are counted out for the lot as it is.

use super::inspection::{self, Inspection, Level, failing_at, letters};
use crate::stats::finite::at_most;

/// Chance with which a lot at its limit should pass, where the table's own plan gives no less (common practice: the
/// producer's risk of 5 %).
const SELLER: f64 = 0.95;
/// Chance with which a lot as bad as the table means to keep out may pass (common practice: the consumer's risk of 10 %).
const BUYER: f64 = 0.10;
/// A chance that came out a rounding error too high is still that chance.
const ROUNDING: f64 = 1e-9;

/// A plan for a lot.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LotPlan {
    /// Animals in the lot.
    pub lot: u32,
    /// Letter of the table's plan from which the risks are taken.
    pub letter: char,
    /// Failing animals of the lot that are still taken as usual: the quality limit, rounded down.
    pub usual: u32,
    /// Failing animals of the lot that the plan is to find, 9 times in 10 at least.
    pub bad: u32,
    /// Animals to look at.
    pub sample: u32,
    /// Animals of the sample that may fail.
    pub accept: u32,
    /// Chance with which a lot with `usual` failing passes at least.
    seller: f64,
}

/// The plan for a lot of 2 animals or more and a quality limit of the table (thousandths of a per cent): the fewest animals
/// with which a lot at the limit is turned away, and a bad lot taken, no more often than the table means; `None` where the
/// table has no plan.
///
/// # Source
/// Level, limit and both risks from [ISO2859-1]; chances hypergeometric.
pub fn lot_plan(lot: u32, level: Level, limit: u32) -> Option<LotPlan> {
    let letter = inspection::inspection(lot, level, limit)?.letter;
    let table = unbounded(letter, limit)?;
    let share = f64::from(limit) / 100_000.0;
    let usual = whole_animals(lot, share);
    let mut plan = LotPlan {
        lot,
        letter,
        usual,
        bad: whole_animals(lot, failing_at(&table, BUYER)).max(usual + 1),
        sample: lot,
        accept: usual,
        seller: inspection::passes(&table, share).min(SELLER),
    };
    for sample in 1..=lot {
        let accept = plan.accept_of(sample);
        let tried = LotPlan {
            sample,
            accept,
            ..plan
        };
        if tried.passes(plan.bad) <= BUYER + ROUNDING {
            plan = tried;
            break;
        }
    }
    Some(plan)
}

/// The table's plan with its own sample size, however small the lot.
fn unbounded(letter: char, limit: u32) -> Option<Inspection> {
    let inspection::Cell::Accept(accept) = inspection::cell(letter, limit)? else {
        return None;
    };
    let sample = letters().find(|(l, _)| *l == letter)?.1;
    Some(Inspection {
        letter_of_lot: letter,
        letter,
        sample,
        accept,
        whole_lot: false,
    })
}

/// A share of the lot in whole animals, rounded down.
fn whole_animals(lot: u32, share: f64) -> u32 {
    (f64::from(lot) * share + ROUNDING).floor() as u32
}

impl LotPlan {
    /// True where every animal of the lot is looked at.
    pub fn whole_lot(&self) -> bool {
        self.sample >= self.lot
    }

    /// Chance that the lot passes where `failing` of its animals fail.
    pub fn passes(&self, failing: u32) -> f64 {
        self.passing(self.sample, self.accept, failing)
    }

    /// Animals that may fail where `judged` were looked at: the fewest with which a lot at its limit passes as often as it
    /// should. Of the whole lot, the limit itself.
    pub fn accept_of(&self, judged: u32) -> u32 {
        let judged = judged.min(self.lot);
        (0..self.usual)
            .find(|accept| self.passing(judged, *accept, self.usual) >= self.seller)
            .unwrap_or(self.usual)
    }

    /// Most failing animals of the lot with which it still passes 19 times in 20.
    pub fn mostly_passed(&self) -> u32 {
        self.first(|chance| chance < SELLER) - 1
    }

    /// Fewest failing animals of the lot with which it passes no more than 1 time in 10.
    pub fn rarely_passed(&self) -> u32 {
        self.first(|chance| chance <= BUYER + ROUNDING)
            .min(self.lot)
    }

    /// The fewest failing animals from which on the chance to pass, which only falls, is as asked; one more than the lot
    /// where it never is.
    fn first(&self, asked: impl Fn(f64) -> bool) -> u32 {
        let (mut below, mut found) = (0, self.lot + 1);
        while found - below > 1 {
            let middle = below + (found - below) / 2;
            if asked(self.passes(middle)) {
                found = middle;
            } else {
                below = middle;
            }
        }
        found
    }

    fn passing(&self, sample: u32, accept: u32, failing: u32) -> f64 {
        // So few can't fail the plan, whatever is drawn: no sum that comes out a rounding error below.
        if failing <= accept {
            return 1.0;
        }
        let [accept, sample, failing, lot] = [accept, sample, failing, self.lot].map(u64::from);
        at_most(accept.min(sample), sample, failing.min(lot), lot).min(1.0)
    }
}
