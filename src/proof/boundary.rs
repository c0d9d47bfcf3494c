//! How many animals must have met the rung at each look, so that a false statement is rare however often one looks.

use crate::stats::beta_binomial::pmf_all;
use crate::stats::finite::hypergeometric;

/// Exponent of the share of the error that may have been spent when a share t of the plan has been seen: alpha * t^1.5.
///
/// Chosen among 1, 1.5, 2 and 3 on ten scoops of 20 with correlation 0.05: it finds a share of 95 % for "80 %" within five
/// scoops and one of 90 % within ten about as often as the best of them for either.
pub const SPENDING: f64 = 1.5;

/// The lot that would make the statement false by the least.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Null {
    /// Share of the lot that meets the rung, 0..=1.
    pub share: f64,
    /// Correlation of animals within a scoop, 0 = as if each was drawn on its own.
    pub icc: f64,
    /// Animals in the lot, where they are counted and the netted ones kept apart.
    pub lot: Option<u32>,
}

impl Null {
    /// Probabilities of what a scoop of `m` brings after `seen` animals of which `met` met the rung.
    ///
    /// In a counted lot the rest is drawn without putting back where animals are not alike within a scoop; else as from a
    /// lot without end, which only asks for more.
    fn scoop(&self, m: u32, seen: u32, met: u32) -> Vec<f64> {
        match self.lot {
            Some(lot) if self.icc <= 0.0 && lot >= seen + m => {
                let good = false_number(self.share, lot);
                hypergeometric(
                    u64::from(lot - seen),
                    u64::from(good.saturating_sub(met)),
                    u64::from(m),
                )
            }
            _ => pmf_all(u64::from(m), self.share, self.icc),
        }
    }
}

/// The greatest number of good animals in a lot of which "at least `share`" is false.
pub fn false_number(share: f64, lot: u32) -> u32 {
    let needed = (share * f64::from(lot) - 1e-9).ceil().max(0.0) as u32;
    needed.saturating_sub(1)
}

/// The walk of the count of animals that met the rung over the looks, stopped where it crosses.
struct Walk {
    /// Probability of each count while nothing was crossed yet.
    open: Vec<f64>,
    seen: u32,
}

impl Walk {
    fn new() -> Self {
        Self {
            open: vec![1.0],
            seen: 0,
        }
    }

    fn step(&mut self, null: &Null, m: u32) {
        let mut next = vec![0.0; self.open.len() + m as usize];
        let fixed = null.lot.is_none() || null.icc > 0.0;
        let same = fixed.then(|| null.scoop(m, self.seen, 0));
        for (met, p) in self.open.iter().enumerate().filter(|(_, p)| **p > 0.0) {
            let own;
            let scoop = match &same {
                Some(same) => same,
                None => {
                    own = null.scoop(m, self.seen, met as u32);
                    &own
                }
            };
            for (k, q) in scoop.iter().enumerate() {
                next[met + k] += p * q;
            }
        }
        self.open = next;
        self.seen += m;
    }

    /// Takes away what lies at or above `needed`; its probability.
    fn cross(&mut self, needed: u32) -> f64 {
        let from = (needed as usize).min(self.open.len());
        self.open.split_off(from).into_iter().sum()
    }

    /// The least count whose upper tail is not likelier than `room`.
    fn least(&self, room: f64) -> u32 {
        let (mut tail, mut at) = (0.0, self.open.len());
        while at > 0 && tail + self.open[at - 1] <= room {
            at -= 1;
            tail += self.open[at];
        }
        at as u32
    }
}

/// Counts needed at each look (all animals so far together), for looks of these sizes of a plan that was to see `planned`
/// animals in all. A count above the number seen by then means that this look can't support anything.
///
/// Supported falsely, at any look, with probability `alpha` at most, at the worst false share. Sizes may differ from those
/// planned as long as they do not depend on what was found.
///
/// # Source
/// Error spending [LanDeMets1983]; counts walked exactly.
pub fn needed(sizes: &[u32], planned: u32, null: &Null, alpha: f64) -> Vec<u32> {
    let mut walk = Walk::new();
    let (mut spent, mut out) = (0.0, Vec::with_capacity(sizes.len()));
    for (look, &m) in sizes.iter().enumerate() {
        walk.step(null, m);
        let seen = f64::from(walk.seen) / f64::from(planned.max(1));
        // The last look of a plan of one look, and a plan seen in full, may spend all.
        let part = if sizes.len() == 1 && planned <= m {
            1.0
        } else {
            seen.min(1.0)
        };
        let room = alpha * part.powf(SPENDING) - spent;
        let least = walk.least(room.max(0.0));
        spent += walk.cross(least);
        out.push(least);
        debug_assert!(spent <= alpha * (1.0 + 1e-9), "look {look}");
    }
    out
}

/// Probability that the counts needed were reached by each look, where `truth` is what the lot really is.
pub fn reached(needed: &[u32], sizes: &[u32], truth: &Null) -> Vec<f64> {
    let mut walk = Walk::new();
    let mut sum = 0.0;
    needed
        .iter()
        .zip(sizes)
        .map(|(&needed, &m)| {
            walk.step(truth, m);
            sum += walk.cross(needed);
            sum
        })
        .collect()
}

/// The fewest scoops of `per_scoop`, looked at once when all are netted, whose count can support the share with probability
/// `power` where `truth` is what the lot really is; `None` where `most` scoops do not do.
pub fn at_once(
    null: &Null,
    truth: &Null,
    alpha: f64,
    power: f64,
    (per_scoop, most): (u32, u32),
) -> Option<u32> {
    let (mut false_walk, mut true_walk) = (Walk::new(), Walk::new());
    (1..=most).find(|_| {
        false_walk.step(null, per_scoop);
        true_walk.step(truth, per_scoop);
        let from = (false_walk.least(alpha) as usize).min(true_walk.open.len());
        true_walk.open[from..].iter().sum::<f64>() >= power
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    const TEN: [u32; 10] = [20; 10];

    fn null(share: f64, icc: f64) -> Null {
        Null {
            share,
            icc,
            lot: None,
        }
    }

    /// One look is the plain one-sided test: 59 of 59 for 95 % and 22 of 22 more than 87 % (0.95^59 and 0.873^22 are just
    /// below 0.05; the rule "59 without a fault" is in any handbook of sampling).
    #[test]
    fn one_look_is_the_plain_test() {
        assert_eq!(needed(&[59], 59, &null(0.95, 0.0), 0.05), [59]);
        assert_eq!(
            needed(&[58], 58, &null(0.95, 0.0), 0.05),
            [59],
            "out of reach"
        );
    }

    #[test]
    fn the_error_is_spent_and_never_overspent() {
        for icc in [0.0, 0.05, 0.1] {
            for share in [0.5, 0.8, 0.95] {
                let null = null(share, icc);
                let needs = needed(&TEN, 200, &null, 0.05);
                let spent = reached(&needs, &TEN, &null);
                assert!(
                    spent[9] <= 0.05 && spent[9] > 0.035,
                    "{icc} {share} {spent:?}"
                );
                let room = |k: usize| 0.05 * ((k + 1) as f64 / 10.0).powf(SPENDING);
                assert!(spent.iter().enumerate().all(|(k, s)| *s <= room(k) + 1e-12));
            }
        }
    }

    /// In a lot of 60 with 20 netted, 52 good ones are the fewest that may be said where all 20 are good (published limits
    /// 52..60 at 97.5 % one-sided).
    #[test]
    fn a_counted_lot() {
        let share = |good: u32| Null {
            share: f64::from(good) / 60.0,
            icc: 0.0,
            lot: Some(60),
        };
        assert_eq!(needed(&[20], 20, &share(52), 0.025), [20]);
        assert_eq!(needed(&[20], 20, &share(53), 0.025), [21]);
        assert_eq!(false_number(0.8, 60), 47);
        assert_eq!(false_number(0.05, 20), 0);
    }
}
