//! Bodies found with several units compete: which unit cuts a heap rightly differs from animal to animal.

use super::agreed::overlap;
use super::attempt::{
    ACCEPT, Attempt, Grid, OWN_SHARE_AMONG_UNITS, Rated, Search, coarse_pixels, distinct,
    surroundings, usual_length,
};
use super::body::Body;
use super::field::Field;
use super::raster::Pixels;
use crate::photo::Photo;
use rayon::prelude::*;

/// Factor from each unit to the next larger one.
pub(super) const STEP: f32 = 1.19;
/// Bodies of the units up to so many steps away compete with those of the best one.
pub(super) const BESIDE: i32 = 2;
/// Longest side in pixels of the grid in which proposals of different units are compared.
const GRID: usize = 640;
/// Units so many steps away tell whether a body is found with them too.
const SUPPORT_REACH: i32 = 3;
/// Log-odds won by a body that is found with all the units near, over one that is found with none: the outline of an animal
/// stays the same whatever the unit, one that runs on along feelers into another animal does not, as with regions that are
/// stable over thresholds [Matas2004]. (8 to 24 find the same animals.)
const SUPPORT: f32 = 16.0;
/// Support of a body where no other unit was tried.
const NO_SUPPORT: f32 = 0.3;
/// Spread of the natural logarithm of sizes (root of the area) in a scoop, as far as it decides between bodies that lie on
/// each other...
const SIZE_SPREAD: f32 = 0.12;
/// ...and the most log-odds that a body of another size than the scoop's usual one loses: there are young ones among adults.
const MOST_FOR_SIZE: f32 = 8.0;
/// Log-odds that it is an animal in its true outline, with support and size, below which a winner is none: with several units
/// there are several chances that a bundle of feelers looks like one. (1 to 4 find the same of the real prawns that stand
/// apart.)
const LEAST_CLAIM: f32 = 3.0;
/// Rounds in which the usual size is taken from the bodies chosen.
const ROUNDS: usize = 3;

/// What is kept of an attempt: its pictures are large.
struct Tried {
    /// Steps from the first unit.
    unit: i32,
    /// Full-size pixels to a fine pixel.
    step: usize,
    rated: Vec<Rated>,
    proposals: Vec<Pixels>,
}

/// The best attempt so far: its score, its unit, and the attempt without its bodies.
type Best = (f32, i32, Attempt);

/// Attempts with several units.
pub(super) struct Contest {
    grid: Grid,
    tried: Vec<Tried>,
    best: Option<Best>,
}

impl Contest {
    /// A contest that nobody entered yet.
    pub fn new(photo: &Photo) -> Self {
        Self {
            grid: Grid::new(photo, GRID),
            tried: Vec::new(),
            best: None,
        }
    }

    /// How bodies are sought that are to compete.
    pub fn search(&self, parted: bool) -> Search<'_> {
        Search {
            own_share: OWN_SHARE_AMONG_UNITS,
            parted,
            grid: Some(&self.grid),
        }
    }

    /// Enters an attempt with the unit `unit` steps from the first; of equal scores the first entered is the best.
    pub fn enter(&mut self, unit: i32, mut attempt: Attempt, score: f32) {
        self.tried.push(Tried {
            unit,
            step: attempt.field.step,
            rated: std::mem::take(&mut attempt.rated),
            proposals: std::mem::take(&mut attempt.proposals),
        });
        if self.best.as_ref().is_none_or(|best| score > best.0) {
            self.best = Some((score, unit, attempt));
        }
    }

    /// Units not entered yet of those that compete with the best one.
    pub fn missing(&self) -> Vec<i32> {
        let near = |best: &Best| best.1 - BESIDE..=best.1 + BESIDE;
        let all = self.best.as_ref().map(near).into_iter().flatten();
        all.filter(|k| self.tried.iter().all(|t| t.unit != *k))
            .collect()
    }

    /// The best attempt; `None` where none was entered.
    pub fn best(&self) -> Option<&Attempt> {
        self.best.as_ref().map(|best| &best.2)
    }

    /// The best attempt with the likely animals of its unit and those beside it that remain where they lie on each other, and
    /// what its own unit found that is no animal; likeliest first. With `young`, likely animals of all other units that lie
    /// apart from those are taken too. `None` where no attempt was entered.
    pub fn decided(mut self, young: bool) -> Option<Attempt> {
        let (_, chosen, mut best) = self.best.take()?;
        let far = if young {
            self.far_from(chosen, &best.field)
        } else {
            Vec::new()
        };
        best.rated = self.best_of_doubles(chosen, &best.field);
        let beside = apart(&best, far);
        best.rated.extend(beside);
        best.rated.sort_by(|p, q| q.worth.total_cmp(&p.worth));
        Some(best)
    }

    /// The bodies of units that don't compete with the chosen one, in the pixels of `field`.
    fn far_from(&mut self, chosen: i32, field: &Field) -> Vec<Rated> {
        let far = self.tried.iter_mut();
        far.filter(|t| t.unit.abs_diff(chosen) > BESIDE as u32)
            .flat_map(|t| t.taken(field))
            .collect()
    }

    /// The likely animals found with `chosen` and the units beside it, and the bodies of the chosen unit that are no animals.
    fn contenders(mut self, chosen: i32, field: &Field) -> (Vec<Contender>, Vec<Rated>) {
        let (mut likely, mut unlikely) = (Vec::new(), Vec::new());
        for t in &mut self.tried {
            let near = t.unit.abs_diff(chosen) <= BESIDE as u32;
            for rated in t.taken(field) {
                if near && rated.worth >= ACCEPT {
                    likely.push((t.unit, rated));
                } else if t.unit == chosen {
                    unlikely.push(rated);
                }
            }
        }
        let contender = |(unit, rated): (i32, Rated)| {
            let pixels = self.grid.pixels(&rated.body, field.step);
            Contender {
                claim: rated.rank + SUPPORT * self.support(&pixels, unit),
                size: (rated.body.length() * rated.body.mean_width()).sqrt(),
                rated,
            }
        };
        (likely.into_par_iter().map(contender).collect(), unlikely)
    }

    /// How well a body is found again with other units near `unit`: mean over them of the best intersection over union,
    /// 0..=1.
    fn support(&self, pixels: &Pixels, unit: i32) -> f32 {
        let near = |t: &&Tried| t.unit != unit && t.unit.abs_diff(unit) <= SUPPORT_REACH as u32;
        let again = |t: &Tried| {
            let shared = t.proposals.iter().map(|p| overlap(pixels, p));
            shared.fold(0.0, f32::max)
        };
        let found: Vec<f32> = self.tried.iter().filter(near).map(again).collect();
        if found.is_empty() {
            return NO_SUPPORT;
        }
        found.iter().sum::<f32>() / found.len() as f32
    }

    /// Of likely animals that lie on each other the one with the best outline, and the bodies of the chosen unit that are no
    /// animals.
    fn best_of_doubles(self, chosen: i32, field: &Field) -> Vec<Rated> {
        let (all, mut out) = self.contenders(chosen, field);
        let won = winners(field, &all);
        let kept = all.into_iter().enumerate().filter(|(k, _)| won.contains(k));
        out.extend(kept.map(|(_, contender)| contender.rated));
        out
    }
}

impl Tried {
    /// Takes the bodies out, in the pixels of `field`.
    fn taken(&mut self, field: &Field) -> Vec<Rated> {
        let bodies = std::mem::take(&mut self.rated);
        if self.step == field.step {
            return bodies;
        }
        let ratio = self.step as f32 / field.step as f32;
        bodies.into_iter().map(|r| r.moved(ratio)).collect()
    }
}

/// A likely animal that competes with others.
struct Contender {
    rated: Rated,
    /// Log-odds that it is an animal in its true outline, with its support.
    claim: f32,
    /// Root of the area, fine pixels.
    size: f32,
}

/// Places of the contenders that remain where they lie on each other.
fn winners(field: &Field, all: &[Contender]) -> Vec<usize> {
    let mut order: Vec<usize> = (0..all.len()).collect();
    let mut kept = Vec::new();
    for _ in 0..ROUNDS {
        let usual = usual_length(kept.iter().map(|k: &usize| all[*k].size));
        let off = |c: &Contender| usual.map_or(0.0, |u| (c.size / u).ln() / SIZE_SPREAD);
        let claim = |k: usize| all[k].claim - (0.5 * off(&all[k]).powi(2)).min(MOST_FOR_SIZE);
        order.sort_by(|p, q| claim(*q).total_cmp(&claim(*p)));
        let bodies = order.iter().map(|k| &all[*k].rated.body);
        let places = distinct(field, bodies, OWN_SHARE_AMONG_UNITS);
        let remaining = places.into_iter().map(|place| order[place]);
        kept = remaining.filter(|k| claim(*k) >= LEAST_CLAIM).collect();
    }
    kept
}

/// The likely animals among `bodies`, found with other units, that lie apart from those of `best`: feelers and pieces of an
/// animal lie against it.
fn apart(best: &Attempt, bodies: Vec<Rated>) -> Vec<Rated> {
    let own = best.rated.iter().filter(|r| r.worth >= ACCEPT);
    let taken = surroundings(&best.field, own.map(|r| &r.body));
    let mut likely: Vec<Rated> = bodies
        .into_iter()
        .filter(|r| r.worth >= ACCEPT && !meets(&best.field, &r.body, &taken))
        .collect();
    likely.sort_by(|p, q| q.rank.total_cmp(&p.rank));
    let all = likely.iter().map(|r| &r.body);
    let kept = distinct(&best.field, all, OWN_SHARE_AMONG_UNITS);
    let mut place = 0..;
    likely.retain(|_| place.next().is_some_and(|k| kept.binary_search(&k).is_ok()));
    likely
}

/// True where a pixel of the body is `taken`, coarse pixels.
fn meets(field: &Field, body: &Body, taken: &[bool]) -> bool {
    let w = field.evidence.width;
    let pixels = coarse_pixels(field, body);
    pixels
        .iter()
        .any(|(x, y, _)| taken[y as usize * w + x as usize])
}
