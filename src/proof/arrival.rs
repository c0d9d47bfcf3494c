//! A bought-in lot on arrival and after settling, held against the rung that was paid for.

use super::count::{Count, count};
use super::lot_plan::LotPlan;
use crate::ladder::Rung;
use crate::scoop::KeptAnimal;

/// Days from arrival to the second look: what is pale from the bag has its colour back by then (common practice, no
/// source).
pub const SETTLE_DAYS: i64 = 7;

/// One look at the lot.
#[derive(Debug, Clone, PartialEq)]
pub struct Look {
    /// Days after arrival.
    pub day: i64,
    /// Its animals held against the rung.
    pub count: Count,
    /// Judged animals that plainly fail: below the rung at the upper of their likely rungs.
    pub failing: u32,
    /// Judged animals that may fail: the plan's number, or more where more than its sample were judged.
    pub may_fail: u32,
    /// What the plan says of it; `None` where fewer were judged than the plan asks for.
    pub passes: Option<bool>,
}

/// A look at a lot bought as `rung`.
pub fn look(day: i64, animals: &[KeptAnimal], rung: Rung, plan: &LotPlan) -> Look {
    let found = count(animals, rung);
    let failing = animals.iter().filter(|a| fails_plainly(a, rung)).count() as u32;
    let enough = found.judged >= plan.sample;
    let may_fail = if enough {
        plan.accept_of(found.judged)
    } else {
        plan.accept
    };
    Look {
        day,
        failing,
        may_fail,
        // So many failures among fewer animals fail the plan as well.
        passes: (enough || failing > may_fail).then_some(failing <= may_fail),
        count: found,
    }
}

/// True where even the upper of its likely rungs lies below; the doubt is the seller's gain.
fn fails_plainly(animal: &KeptAnimal, rung: Rung) -> bool {
    let upper = animal.between.map(|(_, high)| high).or(animal.rung);
    animal.is_off_type() || upper.is_some_and(|upper| upper < rung)
}

/// What the two looks say together.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Claim {
    /// The lot passes.
    None,
    /// Not yet: wait until it has settled.
    Wait,
    /// It fails after settling.
    Yes,
    /// Too few animals were judged.
    TooFew,
}

/// A claim is made on the look after settling alone: on arrival animals may be pale from the bag.
pub fn claim(looks: &[Look]) -> Claim {
    let settled = looks.iter().rev().find(|l| l.day >= SETTLE_DAYS);
    match settled.map(|l| l.passes) {
        Some(Some(true)) => Claim::None,
        Some(Some(false)) => Claim::Yes,
        Some(None) => Claim::TooFew,
        None => Claim::Wait,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::proof::inspection::Level;
    use crate::proof::lot_plan::lot_plan;

    fn on(rung: usize, between: Option<(usize, usize)>) -> KeptAnimal {
        let at = |i| Rung::from_index(i).expect("a rung");
        KeptAnimal {
            rung: Some(at(rung)),
            between: between.map(|(a, b)| (at(a), at(b))),
            ..KeptAnimal::blank(1)
        }
    }

    #[test]
    fn pale_on_arrival_is_no_claim() {
        let g4 = Rung::from_index(4).expect("a rung");
        let plan = lot_plan(20, Level::Usual, 6500).expect("a plan");
        assert_eq!((plan.sample, plan.accept), (8, 1));
        let pale = vec![on(2, None); 8];
        let fine: Vec<KeptAnimal> = (0..8)
            .map(|i| {
                if i < 2 {
                    on(3, Some((3, 4)))
                } else {
                    on(4, None)
                }
            })
            .collect();
        let first = look(0, &pale, g4, &plan);
        assert_eq!((first.failing, first.passes), (8, Some(false)));
        assert_eq!(claim(std::slice::from_ref(&first)), Claim::Wait);
        assert_eq!(
            claim(&[first.clone(), look(7, &fine, g4, &plan)]),
            Claim::None
        );
        assert_eq!(
            claim(&[first.clone(), look(7, &pale, g4, &plan)]),
            Claim::Yes
        );
        assert_eq!(
            claim(&[first.clone(), look(8, &fine[..5], g4, &plan)]),
            Claim::TooFew
        );
        assert_eq!(claim(&[first, look(8, &pale[..5], g4, &plan)]), Claim::Yes);
    }
}
