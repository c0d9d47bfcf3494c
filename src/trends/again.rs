//! A cup photographed again: who is who, who is not found any more, and who is new.

use super::assignment::cheapest_pairs;
use super::matching::{MOST_COST, costs, match_photos};
use super::sighting::Sighting;

/// Who is who in two photos of one cup, as indices into their lists of sightings. Every animal of either photo stands in
/// exactly one of the four lists.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Again {
    /// Pairs (first, second) that are one animal: by the arrangement, or by looks that no other animal shares.
    pub known: Vec<(usize, usize)>,
    /// Pairs of what is left over that look alike but not unmistakably: likely one animal, whose two readings must not be
    /// averaged.
    pub likely: Vec<(usize, usize)>,
    /// Animals of the first photo that the second does not show.
    pub gone: Vec<usize>,
    /// Animals of the second photo that the first does not show.
    pub new: Vec<usize>,
}

impl Again {
    /// True where at least half of the animals of the photo with fewer of them are known: else it may be another cup.
    pub fn is_same_cup(&self) -> bool {
        let paired = self.known.len() + self.likely.len();
        let fewer = (paired + self.gone.len()).min(paired + self.new.len());
        fewer > 0 && 2 * self.known.len() >= fewer
    }
}

/// Who is who between the first and the second photo of a cup.
///
/// A faint find that one photo shows and the other does not leaves the others' pairs alone.
pub fn photographed_again(first: &[Sighting], second: &[Sighting]) -> Again {
    let matching = match_photos(&[first.to_vec(), second.to_vec()]);
    let known: Vec<(usize, usize)> = matching
        .animals
        .iter()
        .filter_map(|row| row[0].zip(row[1]))
        .collect();
    let mut gone: Vec<usize> = (0..first.len())
        .filter(|i| known.iter().all(|(known, _)| known != i))
        .collect();
    let mut new: Vec<usize> = (0..second.len())
        .filter(|k| known.iter().all(|(_, known)| known != k))
        .collect();
    let likely = alike(first, second, &gone, &new);
    gone.retain(|i| likely.iter().all(|(paired, _)| paired != i));
    new.retain(|k| likely.iter().all(|(_, paired)| paired != k));
    Again {
        known,
        likely,
        gone,
        new,
    }
}

/// The cheapest pairs of what is left over, as long as they look alike: an animal that swam away from its place.
fn alike(
    first: &[Sighting],
    second: &[Sighting],
    gone: &[usize],
    new: &[usize],
) -> Vec<(usize, usize)> {
    let all = costs(first, second);
    let left: Vec<Vec<f64>> = gone
        .iter()
        .map(|i| new.iter().map(|k| all[*i][*k]).collect())
        .collect();
    let pairs = cheapest_pairs(&left).into_iter().zip(gone);
    pairs
        .filter_map(|(column, i)| Some((*i, new[column?])))
        .filter(|(i, k)| all[*i][*k] <= MOST_COST)
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn seen(at: [f64; 2], length: f64, coverage: f64) -> Sighting {
        Sighting {
            no: 0,
            centre: at,
            length_px: length * 10.0,
            length_mm: Some(length),
            coverage: Some(coverage),
            opacity: Some(0.5),
            lab: None,
            rung: None,
        }
    }

    /// Eight animals and a speck that looks like none of them; in the second photo another speck instead, and one animal
    /// swam across the cup. Positions by hand.
    fn cups() -> [Vec<Sighting>; 2] {
        let animals = [
            ([100.0, 100.0], 20.0, 0.9),
            ([900.0, 150.0], 24.0, 0.5),
            ([500.0, 800.0], 18.0, 0.7),
            ([150.0, 700.0], 22.0, 0.2),
            ([850.0, 600.0], 26.0, 0.95),
            ([500.0, 450.0], 21.0, 0.35),
            ([300.0, 950.0], 23.0, 0.6),
            ([650.0, 250.0], 19.0, 0.8),
        ];
        let of = |shift: f64| {
            animals
                .map(|(at, length, coverage)| seen([at[0] + shift, at[1]], length, coverage))
                .to_vec()
        };
        let (mut first, mut second) = (of(0.0), of(40.0));
        first.push(seen([700.0, 900.0], 6.0, 0.1));
        second[5].centre = [300.0, 300.0];
        second.push(seen([100.0, 950.0], 9.0, 0.6));
        [first, second]
    }

    #[test]
    fn a_faint_find_that_flickers_leaves_the_others_alone() {
        let [first, second] = cups();
        let found = photographed_again(&first, &second);
        let stayed = [0, 1, 2, 3, 4, 6, 7].map(|i| (i, i));
        assert_eq!(found.known, stayed);
        assert_eq!(found.likely, [(5, 5)], "the one that swam");
        assert_eq!((found.gone.clone(), found.new.clone()), (vec![8], vec![8]));
        assert!(found.is_same_cup());
    }

    #[test]
    fn animals_taken_out_are_gone_and_another_cup_is_not_the_same() {
        let [first, second] = cups();
        let found = photographed_again(&first, &second[..4]);
        assert_eq!((found.known.len(), found.gone), (4, vec![4, 5, 6, 7, 8]));
        assert!(found.new.is_empty());
        let other: Vec<Sighting> = (0..6)
            .map(|i| seen([100.0 * f64::from(i * i), 500.0], 40.0, 0.05))
            .collect();
        assert!(!photographed_again(&first, &other).is_same_cup());
        assert!(!photographed_again(&first, &[]).is_same_cup());
        assert_eq!(photographed_again(&first, &[]).gone.len(), first.len());
    }
}
