//! Which animals of one sex to keep, to hold and to move out, with the rest of the tank still to come.

use statrs::distribution::{ContinuousCDF, Normal};

use super::left::Left;
use super::spread::Spread;

/// What is decided of an animal.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Choice {
    /// Among those wanted.
    Keep,
    /// Into the holding tub until more is known.
    Hold,
    /// Not among those wanted.
    MoveOut,
}

/// What the choice is made from, for one sex.
#[derive(Debug, Clone, Copy)]
pub struct Need<'a> {
    /// Animals still wanted.
    pub wanted: usize,
    /// Places in the holding tub.
    pub places: usize,
    /// Animals of that sex that are still to come.
    pub to_come: Left,
    /// How they are spread; `None` where nothing is known of them.
    pub spread: Option<&'a Spread>,
}

/// From this chance of ending among those wanted an animal is kept at once, though the tub has room; below the other it is
/// moved out at once (house rule: it spares the animals the tub).
const SURE: f64 = 0.97;
const HOPELESS: f64 = 0.03;

/// The tub shall fill what is wanted even where the tank ends so many standard uncertainties sooner than expected (house
/// rule: about one time in forty).
const ENDS_EARLY: f64 = 2.0;

/// The decision for each of `pool` (cup and tub together), best first.
pub fn choose(pool: &[f64], need: &Need<'_>) -> Vec<Choice> {
    let wanted = need.wanted.min(pool.len());
    let to_come = need.to_come.expected;
    if to_come <= 0.0 {
        return by_rank(pool.len(), wanted, wanted);
    }
    let Some(spread) = need.spread else {
        return by_number(pool.len(), need);
    };
    let line = rank_of_line(pool, need.wanted, need.to_come.expected, spread);
    if need.places == 0 {
        return by_rank(pool.len(), line, line);
    }
    let chances: Vec<f64> = pool
        .iter()
        .enumerate()
        .map(|(i, value)| chance(*value, i + 1, need, spread))
        .collect();
    let early = (need.to_come.expected - ENDS_EARLY * need.to_come.uncertainty).max(0.0);
    let least = rank_of_line(pool, need.wanted, early, spread);
    let (from, until) = window(&chances, [line, least], wanted, need.places);
    by_rank(pool.len(), from, until)
}

/// Where nothing is known of those to come: this cup's part of what is wanted is kept, and the next best go into the tub as far
/// as it has room, up to the number wanted. Without a tub the part is rounded up: what is moved out can't be had back, and
/// nothing says that a better one comes.
fn by_number(count: usize, need: &Need<'_>) -> Vec<Choice> {
    let wanted = need.wanted.min(count);
    let part = need.wanted as f64 * count as f64 / (count as f64 + need.to_come.expected).max(1.0);
    let from = match need.places {
        0 => part.ceil(),
        _ => part.floor(),
    };
    let from = (from as usize).min(wanted);
    by_rank(count, from, (from + need.places).min(wanted))
}

/// The first `from` are kept, those up to `until` held.
fn by_rank(count: usize, from: usize, until: usize) -> Vec<Choice> {
    (0..count)
        .map(|i| match i {
            i if i < from => Choice::Keep,
            i if i < until => Choice::Hold,
            _ => Choice::MoveOut,
        })
        .collect()
}

/// How many of the pool, best first, stand above the line at which pool and tank together give the wanted number.
///
/// The one on rank j is worth keeping where the animals better than it that are still to come would not fill what is wanted
/// after it; the half shares the step between two animals evenly, so that cups are treated alike.
pub fn rank_of_line(pool: &[f64], wanted: usize, to_come: f64, spread: &Spread) -> usize {
    let (mut above, mut below) = (0, wanted.min(pool.len()));
    // Fewer are still to come that are better, and more is left to fill, the higher the rank: so it is found by halving.
    while above < below {
        let middle = (above + below) / 2;
        let after = wanted as f64 - (middle as f64 + 1.0) + 0.5;
        if to_come * spread.above(pool[middle]) <= after {
            above = middle + 1;
        } else {
            below = middle;
        }
    }
    above
}

/// Chance that the animal on that rank of the pool ends among those wanted: that few enough of those to come are better.
fn chance(value: f64, rank: usize, need: &Need<'_>, spread: &Spread) -> f64 {
    let share = spread.above(value);
    let better = need.to_come.expected * share;
    // The mean of those to come and their number are uncertain too.
    let higher = spread.above(value - spread.mean_uncertainty);
    let by_mean = need.to_come.expected * (higher - share);
    let by_number = need.to_come.uncertainty * share;
    let spread_of = (better * (1.0 - share) + by_mean.powi(2) + by_number.powi(2)).sqrt();
    let room = need.wanted as f64 - rank as f64 + 0.5;
    Normal::standard().cdf((room - better) / spread_of.max(1e-9))
}

/// Ranks between which animals are held: the least decided ones, as many as there are places. At least as many are kept and
/// held together as are wanted of these should the tank end early.
fn window(
    chances: &[f64],
    [line, least]: [usize; 2],
    wanted: usize,
    places: usize,
) -> (usize, usize) {
    let sure = |chance: &&f64| **chance >= SURE;
    let mut from = chances
        .iter()
        .take(wanted.min(line))
        .take_while(sure)
        .count();
    let open = chances[from..]
        .iter()
        .take_while(|c| **c > HOPELESS)
        .count();
    let mut until = (from + open).max(least);
    while until - from > places {
        let (of_first, of_last) = (chances[from], 1.0 - chances[until - 1]);
        if from < wanted && (of_first >= of_last || until <= least) {
            from += 1;
        } else {
            until -= 1;
        }
    }
    (from, until)
}
