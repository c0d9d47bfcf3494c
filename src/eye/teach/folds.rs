//! Folds for cross-validation: animals of one scoop stay together, for they share its light and its minutes.

use std::collections::BTreeMap;

use crate::eye::dice::Dice;
use crate::eye::subject::Subject;

/// Any fixed number does: the same animals are always dealt the same way.
const SEED: u64 = 20;

/// The fold of each subject, 0 to `count` - 1, about equally full; fewer folds where there are fewer scoops.
pub fn folds(subjects: &[&Subject], count: usize) -> Vec<usize> {
    let mut sizes: BTreeMap<i64, usize> = BTreeMap::new();
    subjects
        .iter()
        .for_each(|subject| *sizes.entry(subject.scoop).or_default() += 1);
    let mut scoops: Vec<(i64, usize)> = sizes.into_iter().collect();
    Dice::new(SEED).shuffle(&mut scoops);
    // Large scoops first, each to the emptiest fold.
    scoops.sort_by_key(|(_, size)| std::cmp::Reverse(*size));
    let mut full = vec![0usize; count.min(scoops.len()).max(1)];
    let mut fold_of = BTreeMap::new();
    for (scoop, size) in scoops {
        let emptiest = (0..full.len()).min_by_key(|i| full[*i]).unwrap_or(0);
        full[emptiest] += size;
        fold_of.insert(scoop, emptiest);
    }
    subjects
        .iter()
        .map(|subject| fold_of.get(&subject.scoop).copied().unwrap_or(0))
        .collect()
}
