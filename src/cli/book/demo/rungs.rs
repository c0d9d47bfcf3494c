//! Made-up rungs that the people of the invented house gave red animals.

use anyhow::Result;
use catchcup::book::{Book, NewOwnRung, Stamp};
use catchcup::ladder::Rung;

use super::animals::Dice;

/// Coverage from which Mara gives G1 to G5: a little below the built-in limits.
const CUTS: [f64; 5] = [0.20, 0.44, 0.62, 0.77, 0.88];
/// Ole sees so much more coverage than Mara, and each sees it with so much scatter.
const SOFTER: f64 = 0.06;
const SCATTER: f64 = 0.035;
/// The latest scoops that were graded by eye.
const SCOOPS: usize = 60;

/// Mara grades every third animal of the red lines' latest scoops without seeing the program's rung, Ole every second of
/// hers.
pub fn give(book: &mut Book, stamp: &Stamp) -> Result<()> {
    let mut dice = Dice::new(2);
    let mut scoops = book.history_of_line("R1")?;
    scoops.extend(book.history_of_line("R2")?);
    scoops.sort_by_key(|scoop| (scoop.at, scoop.number));
    let mut given = Vec::new();
    for scoop in &scoops[scoops.len().saturating_sub(SCOOPS)..] {
        for animal in scoop
            .animals
            .iter()
            .filter(|animal| animal.off_ladder.is_none())
        {
            let Some(coverage) = animal.coverage.filter(|_| animal.no % 3 == 1) else {
                continue;
            };
            let people = [
                Some(("Mara", 0.0)),
                (animal.no % 6 == 1).then_some(("Ole", SOFTER)),
            ];
            for (who, more) in people.into_iter().flatten() {
                let seen = coverage.value + more + SCATTER * dice.bell();
                let rung = Rung::from_index(CUTS.iter().filter(|cut| seen >= **cut).count());
                given.push(NewOwnRung {
                    scoop: scoop.number,
                    no: animal.no,
                    rung: rung.unwrap_or(Rung::BEST),
                    who: Some(who.into()),
                    at: Some(scoop.at),
                    is_blind: true,
                    sitting: None,
                });
            }
        }
    }
    book.give_rungs(&given, stamp)?;
    Ok(())
}
