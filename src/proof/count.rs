//! How many animals meet a rung: plainly, and with misgrading allowed for.

use std::collections::BTreeMap;

use crate::ladder::Rung;
use crate::measures::Sex;
use crate::scoop::KeptAnimal;

/// The animals of one scoop, held against a rung.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Count {
    /// Animals that were judged: on a rung, or off-type.
    pub judged: u32,
    /// Sum over them of what each counts, see [`weight`]; 0..=`judged`.
    pub by_chance: f64,
    /// Those that stand at or above the rung, the undecided ones at their lower rung.
    pub plain: u32,
    /// Those too close to call between a rung below and one at or above.
    pub undecided: u32,
    /// Animals that were not judged, by reason.
    pub left_out: BTreeMap<String, u32>,
    /// The judged ones by sex: female, male, unsure.
    pub sexes: [u32; 3],
    /// Shortest and longest judged animal, millimetres, where lengths are known.
    pub lengths_mm: Option<(f64, f64)>,
}

/// Chance, 0..=1, that the animal meets `rung`; `None` where it was not judged. Off-type animals don't.
///
/// An animal without stated chances (an imported row) counts by its rung alone.
pub fn chance(animal: &KeptAnimal, rung: Rung) -> Option<f64> {
    if animal.is_off_type() {
        return Some(0.0);
    }
    let stands = animal.rung?;
    let sure = if stands >= rung { 1.0 } else { 0.0 };
    Some(animal.chances.map_or(sure, |all| {
        all[rung.index()..].iter().sum::<f64>().clamp(0.0, 1.0)
    }))
}

/// True where the animal meets `rung` even at the lower of its two likely rungs.
pub fn meets_plainly(animal: &KeptAnimal, rung: Rung) -> bool {
    let lower = animal.between.map(|(low, _)| low).or(animal.rung);
    !animal.is_off_type() && lower.is_some_and(|lower| lower >= rung)
}

/// True where its two likely rungs lie on both sides of the limit.
pub fn is_undecided(animal: &KeptAnimal, rung: Rung) -> bool {
    animal
        .between
        .is_some_and(|(low, high)| low < rung && rung <= high)
}

/// Chance of meeting the rung from which on an animal counts: five in eight, a third of its uncertainty above the limit.
///
/// Animals just below a limit are read above it as often as those just above are read below, and on the rendered scenes
/// middling coverage is read too high. Of 0.5, 0.6, 0.65 and 0.7 those from 0.6 up kept a false "at least 50, 80 or 90 %"
/// below 5 in 100 for tanks of most shapes, 0.65 for all; the less, the sooner true ones are found
/// (`tests/rates/proof.rs`). Adding up the chances themselves was tried and lost on both sides: each looks at its animal
/// as if nothing was known of the others, so that a tank far above its limit seems to straggle. The doubt is the buyer's.
pub const COUNTS_FROM: f64 = 0.625;

/// What an animal counts: 1 where its chance of meeting the rung is at least [`COUNTS_FROM`], else 0.
pub fn weight(chance: f64) -> f64 {
    if chance >= COUNTS_FROM { 1.0 } else { 0.0 }
}

/// The animals held against `rung`.
pub fn count(animals: &[KeptAnimal], rung: Rung) -> Count {
    let mut out = Count::default();
    for animal in animals {
        let Some(chance) = chance(animal, rung) else {
            let why = animal.off_ladder.clone().unwrap_or("withheld".into());
            *out.left_out.entry(why).or_default() += 1;
            continue;
        };
        out.judged += 1;
        out.by_chance += weight(chance);
        out.plain += u32::from(meets_plainly(animal, rung));
        out.undecided += u32::from(is_undecided(animal, rung));
        out.sexes[match animal.sex {
            Sex::Female => 0,
            Sex::Male => 1,
            Sex::Unsure => 2,
        }] += 1;
        if let Some(length) = animal.length_mm {
            let (low, high) = out.lengths_mm.unwrap_or((length.value, length.value));
            out.lengths_mm = Some((low.min(length.value), high.max(length.value)));
        }
    }
    out
}

/// Several counts as one.
pub fn total<'a>(counts: impl IntoIterator<Item = &'a Count>) -> Count {
    let mut out = Count::default();
    for count in counts {
        out.judged += count.judged;
        out.by_chance += count.by_chance;
        out.plain += count.plain;
        out.undecided += count.undecided;
        for (why, n) in &count.left_out {
            *out.left_out.entry(why.clone()).or_default() += n;
        }
        for (sum, n) in out.sexes.iter_mut().zip(count.sexes) {
            *sum += n;
        }
        out.lengths_mm = match (out.lengths_mm, count.lengths_mm) {
            (Some((a, b)), Some((c, d))) => Some((a.min(c), b.max(d))),
            (one, other) => one.or(other),
        };
    }
    out
}

/// Probabilities that 0, 1, .. of animals with these chances meet the rung, each on its own.
pub fn number_meeting(chances: &[f64]) -> Vec<f64> {
    let mut all = vec![1.0];
    for chance in chances {
        let mut next = vec![0.0; all.len() + 1];
        for (k, p) in all.iter().enumerate() {
            next[k] += p * (1.0 - chance);
            next[k + 1] += p * chance;
        }
        all = next;
    }
    all
}

/// The greatest number that is met with at least `confidence`.
pub fn sure_number(chances: &[f64], confidence: f64) -> u32 {
    let all = number_meeting(chances);
    let mut tail = 0.0;
    for (k, p) in all.iter().enumerate().rev() {
        tail += p;
        if tail >= confidence {
            return k as u32;
        }
    }
    0
}

#[cfg(test)]
mod tests {
    use super::*;

    fn animal(rung: usize, between: Option<(usize, usize)>, chances: [f64; 6]) -> KeptAnimal {
        let at = |i| Rung::from_index(i).expect("a rung");
        KeptAnimal {
            rung: Some(at(rung)),
            between: between.map(|(a, b)| (at(a), at(b))),
            chances: Some(chances),
            ..KeptAnimal::blank(1)
        }
    }

    #[test]
    fn undecided_animals_count_where_they_are_likely_enough() {
        let g4 = Rung::from_index(4).expect("a rung");
        let mut off = KeptAnimal::blank(4);
        off.off_ladder = Some("off_type".into());
        let mut small = KeptAnimal::blank(5);
        small.off_ladder = Some("juvenile".into());
        let animals = [
            animal(5, None, [0.0, 0.0, 0.0, 0.0, 0.1, 0.9]),
            animal(4, Some((3, 4)), [0.0, 0.0, 0.0, 0.4, 0.6, 0.0]),
            animal(4, Some((3, 4)), [0.0, 0.0, 0.0, 0.3, 0.7, 0.0]),
            animal(3, None, [0.0, 0.0, 0.1, 0.8, 0.1, 0.0]),
            off,
            small,
        ];
        let found = count(&animals, g4);
        assert_eq!((found.judged, found.plain, found.undecided), (5, 1, 2));
        // The sure one and the one with 0.7; neither 0.6 nor 0.1 counts.
        assert_eq!(found.by_chance.to_bits(), 2.0f64.to_bits());
        assert_eq!(found.left_out["juvenile"], 1);
    }

    /// Two coins: none 1/4, one 1/2, two 1/4.
    #[test]
    fn numbers_of_coins() {
        let all = number_meeting(&[0.5, 0.5]);
        assert_eq!(all, [0.25, 0.5, 0.25]);
        assert_eq!(sure_number(&[0.5, 0.5], 0.75), 1);
        assert_eq!(sure_number(&[0.5, 0.5], 0.76), 0);
        assert_eq!(sure_number(&[1.0; 20], 0.95), 20);
        assert_eq!(sure_number(&[], 0.95), 0);
    }
}
