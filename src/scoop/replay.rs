//! What another ladder would have said of animals measured before.

use std::collections::BTreeMap;

use crate::ladder::{Ladder, OffLadder, Placing, Rung, place};
use crate::measures::AnimalMeasures;

/// Where an animal stands: on a rung, or off the ladder for the reason named by the record's word.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Standing {
    /// Off the ladder.
    Off(&'static str),
    /// On this rung.
    On(Rung),
}

impl Standing {
    /// Where a placing puts an animal.
    pub fn of(placing: &Placing) -> Self {
        match (&placing.off, placing.rung) {
            (None, Some(rung)) => Standing::On(rung),
            (off, _) => Standing::Off(off.as_ref().map_or("withheld", OffLadder::word)),
        }
    }
}

/// What changes when animals are placed on two ladders.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Comparison {
    /// Animals placed.
    pub animals: u32,
    /// Animals that stand higher on the second ladder.
    pub risen: u32,
    /// Animals that stand lower, still on it.
    pub fallen: u32,
    /// Counts by where they stood on the first ladder and where on the second.
    pub moves: BTreeMap<(Standing, Standing), u32>,
}

impl Comparison {
    /// Animals standing there on the first ladder.
    pub fn before(&self, standing: Standing) -> u32 {
        self.count(|from, _| from == standing)
    }

    /// Animals standing there on the second ladder.
    pub fn after(&self, standing: Standing) -> u32 {
        self.count(|_, to| to == standing)
    }

    fn count(&self, chosen: impl Fn(Standing, Standing) -> bool) -> u32 {
        let moves = self.moves.iter().filter(|((a, b), _)| chosen(*a, *b));
        moves.map(|(_, n)| n).sum()
    }
}

/// The animals placed on both ladders. Flags of the measures are taken as they stand (juvenile, cut).
pub fn compare<'a>(
    animals: impl IntoIterator<Item = &'a AnimalMeasures>,
    first: &Ladder,
    second: &Ladder,
) -> Comparison {
    let mut out = Comparison::default();
    for animal in animals {
        let [from, to] = [first, second].map(|ladder| Standing::of(&place(ladder, animal)));
        out.animals += 1;
        if let (Standing::On(a), Standing::On(b)) = (from, to) {
            out.risen += u32::from(b > a);
            out.fallen += u32::from(b < a);
        }
        *out.moves.entry((from, to)).or_default() += 1;
    }
    out
}
