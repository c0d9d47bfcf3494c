//! Which animal of one photo is which of the others: by its place in the scoop, else by its looks.

use super::assignment::cheapest_pairs;
use super::placement::{Place, same_arrangement};
use super::sighting::Sighting;
use crate::colour::ciede2000;
use crate::stats::median;

/// How the animals of a photo were known again.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum MatchedBy {
    /// It is the photo that the others are held against.
    Reference,
    /// They lie in the same arrangement.
    Place,
    /// Size, coverage, opacity and colour are alike. This flatters agreement: what changed most is not known again.
    Looks,
}

/// Who is who in several photos.
#[derive(Debug, Clone, PartialEq)]
pub struct Matching {
    /// For each animal of the reference photo and each photo the index among its sightings.
    pub animals: Vec<Vec<Option<usize>>>,
    /// How each photo was matched.
    pub by: Vec<MatchedBy>,
    /// By photo the numbers of animals that could not be matched with the reference.
    pub unmatched: Vec<Vec<u32>>,
}

impl Matching {
    /// The photo that the others are held against.
    pub fn reference(&self) -> usize {
        self.by
            .iter()
            .position(|by| *by == MatchedBy::Reference)
            .unwrap_or(0)
    }
}

/// Who is who: every photo is held against the one with most animals (the first of them).
pub fn match_photos(photos: &[Vec<Sighting>]) -> Matching {
    let most = photos.iter().map(Vec::len).max().unwrap_or(0);
    let reference = photos.iter().position(|p| p.len() == most).unwrap_or(0);
    let count = photos.get(reference).map_or(0, Vec::len);
    let mut animals = vec![vec![None; photos.len()]; count];
    let mut by = Vec::with_capacity(photos.len());
    for (at, photo) in photos.iter().enumerate() {
        let (how, pairs) = if at == reference {
            (MatchedBy::Reference, (0..count).map(|i| (i, i)).collect())
        } else {
            match_two(&photos[reference], photo)
        };
        pairs.iter().for_each(|(i, k)| animals[*i][at] = Some(*k));
        by.push(how);
    }
    let unmatched = photos
        .iter()
        .enumerate()
        .map(|(at, photo)| left_over(at, photo, reference, &animals))
        .collect();
    Matching {
        animals,
        by,
        unmatched,
    }
}

/// Numbers of a photo's animals that stand for nobody; of the reference those that no other photo knows.
fn left_over(
    at: usize,
    photo: &[Sighting],
    reference: usize,
    animals: &[Vec<Option<usize>>],
) -> Vec<u32> {
    let known = |i: usize| {
        animals
            .iter()
            .any(|row| row[at] == Some(i) && (at != reference || row.iter().flatten().count() > 1))
    };
    photo
        .iter()
        .enumerate()
        .filter(|(i, _)| !known(*i))
        .map(|(_, s)| s.no)
        .collect()
}

fn match_two(first: &[Sighting], second: &[Sighting]) -> (MatchedBy, Vec<(usize, usize)>) {
    let costs = costs(first, second);
    match same_arrangement(&places(first), &places(second))
        .filter(|pairs| looks_agree(pairs, &costs))
    {
        Some(pairs) => (MatchedBy::Place, pairs),
        None => (MatchedBy::Looks, match_looks(&costs)),
    }
}

/// Largest mean cost of pairs found by place, as a share of that of all pairs there could be; and the mean cost below which
/// all animals look alike, so that looks say nothing.
const MOST_OF_ALL: f64 = 0.6;
const ALIKE: f64 = 8.0;

/// Animals that swam may lie in a like arrangement by chance: then the pairs are no more alike than any others.
fn looks_agree(pairs: &[(usize, usize)], costs: &[Vec<f64>]) -> bool {
    let capped = |v: f64| v.min(CAP);
    let all: Vec<f64> = costs.iter().flatten().map(|c| capped(*c)).collect();
    let paired: Vec<f64> = pairs.iter().map(|(i, k)| capped(costs[*i][*k])).collect();
    let mean = |v: &[f64]| crate::stats::mean(v).unwrap_or(0.0);
    mean(&all) < ALIKE || mean(&paired) <= MOST_OF_ALL * mean(&all)
}

/// One very unlike pair shall not decide.
const CAP: f64 = 60.0;

fn places(photo: &[Sighting]) -> Vec<Place> {
    photo
        .iter()
        .map(|s| Place {
            at: s.centre,
            size: s.length_px,
        })
        .collect()
}

/// Spread of each trait between two photos of one animal, in which differences are counted: natural logarithm of length,
/// share of coverage and of opacity, CIEDE2000 (measured on repeated rendered photos, rounded up).
const LENGTH_SD: f64 = 0.05;
const SHARE_SD: f64 = 0.05;
const COLOUR_SD: f64 = 3.0;
/// Largest cost of a pair that is believed, and by how much each of its rivals must be dearer.
pub(super) const MOST_COST: f64 = 12.0;
const MARGIN: f64 = 4.0;

pub(super) fn costs(first: &[Sighting], second: &[Sighting]) -> Vec<Vec<f64>> {
    let units = [unit(first), unit(second)];
    let row = |a: &Sighting| second.iter().map(|b| cost(a, b, units)).collect();
    first.iter().map(row).collect()
}

/// Pairs that look alike, and are like nobody else: a doubtful pair is none.
fn match_looks(costs: &[Vec<f64>]) -> Vec<(usize, usize)> {
    let sure = |i: usize, k: usize| {
        let own = costs[i][k];
        let in_row = (0..costs[i].len()).filter(|j| *j != k).map(|j| costs[i][j]);
        let in_column = (0..costs.len()).filter(|j| *j != i).map(|j| costs[j][k]);
        own <= MOST_COST && in_row.chain(in_column).all(|rival| rival >= own + MARGIN)
    };
    let pairs = cheapest_pairs(costs).into_iter().enumerate();
    pairs
        .filter_map(|(i, k)| Some((i, k?)))
        .filter(|(i, k)| sure(*i, *k))
        .collect()
}

/// Typical length in pixels of a photo without scale.
fn unit(photo: &[Sighting]) -> f64 {
    let lengths: Vec<f64> = photo.iter().map(|s| s.length_px).collect();
    median(&lengths).unwrap_or(1.0).max(1.0)
}

/// Sum of squared differences in units of their spread.
fn cost(a: &Sighting, b: &Sighting, units: [f64; 2]) -> f64 {
    let lengths = match (a.length_mm, b.length_mm) {
        (Some(a), Some(b)) => [a, b],
        _ => [a.length_px / units[0], b.length_px / units[1]],
    };
    let mut sum = ((lengths[0] / lengths[1]).ln() / LENGTH_SD).powi(2);
    for pair in [a.coverage.zip(b.coverage), a.opacity.zip(b.opacity)]
        .into_iter()
        .flatten()
    {
        sum += ((pair.0 - pair.1) / SHARE_SD).powi(2);
    }
    if let Some((a, b)) = a.lab.zip(b.lab) {
        sum += (ciede2000(a, b) / COLOUR_SD).powi(2);
    }
    if sum.is_finite() {
        sum.min(1.0e9)
    } else {
        1.0e9
    }
}
