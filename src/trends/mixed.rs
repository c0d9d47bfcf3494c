//! Tanks of mixed colours: shares by colour family, how many families there are in effect, and the slide toward brown.

use super::proportions::{Counted, ShareTrend, share_trend};
use super::verdict::LEVEL;
use crate::scoop::{KeptAnimal, PastScoop};
use crate::stats::Interval;
use crate::stats::beta_binomial::limits;

/// A family of colours.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Family {
    /// Red.
    Red,
    /// Orange.
    Orange,
    /// Yellow.
    Yellow,
    /// Green.
    Green,
    /// Blue.
    Blue,
    /// Black and chocolate.
    Black,
    /// White.
    White,
    /// Wild-type brown.
    Brown,
    /// Clear or too pale to say.
    Clear,
}

impl Family {
    /// All, in the order in which they are told.
    pub const ALL: [Family; 9] = [
        Family::Red,
        Family::Orange,
        Family::Yellow,
        Family::Green,
        Family::Blue,
        Family::Black,
        Family::White,
        Family::Brown,
        Family::Clear,
    ];

    /// Its word.
    pub fn word(self) -> &'static str {
        match self {
            Family::Red => "red",
            Family::Orange => "orange",
            Family::Yellow => "yellow",
            Family::Green => "green",
            Family::Blue => "blue",
            Family::Black => "black",
            Family::White => "white",
            Family::Brown => "brown",
            Family::Clear => "clear",
        }
    }
}

/// Coverage below which an animal counts as clear (house rule: the first rung's limit in the built-in ladders).
const CLEAR_BELOW: f64 = 0.25;
/// Share of brown from which an animal is brown (house rule: the off-type limit of the built-in ladders).
const BROWN_FROM: f64 = 0.25;
/// Below this chroma a colour is black, white or clear.
const GREY_BELOW: f64 = 12.0;
/// Lightness up to which grey is black, and from which it is white (floor = 100).
const BLACK_UP_TO: f64 = 45.0;
const WHITE_FROM: f64 = 75.0;
/// Brown: between red and yellow in hue, darker and duller than any of them.
const BROWN_HUE: (f64, f64) = (45.0, 110.0);
const BROWN_CHROMA: f64 = 26.0;
const BROWN_UP_TO: f64 = 62.0;
/// Upper hues (CIELAB, degrees) of red, orange, yellow and green; blue up to where red begins again. Between the colours of the
/// built-in lines.
const HUES: [(f64, Family); 5] = [
    (46.0, Family::Red),
    (68.0, Family::Orange),
    (105.0, Family::Yellow),
    (190.0, Family::Green),
    (330.0, Family::Blue),
];

/// The family of an animal; `None` where its colour was not read, or it is cut, milky or juvenile.
pub fn family(animal: &KeptAnimal) -> Option<Family> {
    let off = animal.off_ladder.as_deref();
    if off.is_some_and(|why| why != "off_type" && why != "withheld") {
        return None;
    }
    if animal.brown_share.is_some_and(|b| b.value >= BROWN_FROM) {
        return Some(Family::Brown);
    }
    if animal.coverage.is_some_and(|c| c.value < CLEAR_BELOW) {
        return Some(Family::Clear);
    }
    let colour = animal.colour?;
    of_colour(
        colour.lab.map(|lab| lab[0]),
        colour.chroma?,
        colour.hue_deg?,
    )
}

/// The family of a colour by lightness, chroma and hue in degrees; `None` where it is grey of unknown lightness.
pub fn of_colour(lightness: Option<f64>, chroma: f64, hue: f64) -> Option<Family> {
    if chroma < GREY_BELOW {
        return Some(match lightness? {
            l if l <= BLACK_UP_TO => Family::Black,
            l if l >= WHITE_FROM => Family::White,
            _ => Family::Clear,
        });
    }
    let dull = chroma < BROWN_CHROMA && lightness.is_some_and(|l| l < BROWN_UP_TO);
    if dull && (BROWN_HUE.0..BROWN_HUE.1).contains(&hue) {
        return Some(Family::Brown);
    }
    let found = HUES.iter().find(|(up_to, _)| hue < *up_to);
    Some(found.map_or(Family::Red, |(_, family)| *family))
}

/// One family's share.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FamilyShare {
    /// The family.
    pub family: Family,
    /// Animals of it.
    pub count: u64,
    /// Range of its share in the tank; all families' ranges hold together.
    pub range: Interval,
}

/// A mixed tank.
#[derive(Debug, Clone, PartialEq)]
pub struct Mixed {
    /// Animals with a family.
    pub animals: u64,
    /// Scoops.
    pub scoops: usize,
    /// Families that were seen, most frequent first.
    pub shares: Vec<FamilyShare>,
    /// Chance that two animals drawn at random are of different families, 0..=1, free of bias; `None` below two animals.
    pub diversity: Option<f64>,
    /// Families of equal frequency that would give the same chance, at least 1.
    pub families_in_effect: Option<f64>,
    /// Trend of the share of brown over generations, or over time in generations; `None` where it can't be told.
    pub brown: Option<ShareTrend>,
    /// Share of brown in each generation: generation, brown, all.
    pub brown_by_generation: Vec<(f64, u64, u64)>,
    /// Hue and chroma of each animal of the pooled scoops that has a hue.
    pub hues: Vec<(f64, f64)>,
}

/// The mixed tank whose `recent` scoops stand for today, and whose `past` (earliest first) shows the slide; `icc` is the correlation
/// within scoops, `generation_days` serves where no generations are known.
///
/// # Source
/// Diversity [Simpson1949].
pub fn mixed(
    recent: &[&PastScoop],
    past: &[PastScoop],
    icc: f64,
    generation_days: f64,
) -> Option<Mixed> {
    let recent: Vec<&PastScoop> = recent
        .iter()
        .filter(|s| s.second_of.is_none())
        .copied()
        .collect();
    let own = |s: &PastScoop| -> Vec<Family> { s.animals.iter().filter_map(family).collect() };
    let families: Vec<Vec<Family>> = recent
        .iter()
        .map(|s| own(s))
        .filter(|f| !f.is_empty())
        .collect();
    let sizes: Vec<u64> = families.iter().map(|f| f.len() as u64).collect();
    let animals: u64 = sizes.iter().sum();
    if animals == 0 {
        return None;
    }
    let count = |family| families.iter().flatten().filter(|f| **f == family).count() as u64;
    let each = 1.0 - (1.0 - LEVEL) / Family::ALL.len() as f64;
    let mut shares: Vec<FamilyShare> = Family::ALL
        .into_iter()
        .map(|family| (family, count(family)))
        .filter(|(_, n)| *n > 0)
        .map(|(family, count)| FamilyShare {
            family,
            count,
            range: limits(count, &sizes, icc, each),
        })
        .collect();
    shares.sort_by_key(|s| std::cmp::Reverse(s.count));
    let pairs: u64 = shares.iter().map(|s| s.count * (s.count - 1)).sum();
    let diversity = (animals > 1).then(|| 1.0 - pairs as f64 / (animals * (animals - 1)) as f64);
    let brown = brown_counts(past, generation_days);
    Some(Mixed {
        animals,
        scoops: families.len(),
        diversity,
        families_in_effect: diversity.filter(|d| *d < 1.0).map(|d| 1.0 / (1.0 - d)),
        shares,
        brown: share_trend(&brown, icc),
        brown_by_generation: brown.iter().map(|c| (c.x, c.count, c.n)).collect(),
        hues: recent
            .iter()
            .flat_map(|s| &s.animals)
            .filter_map(hue)
            .collect(),
    })
}

fn hue(animal: &KeptAnimal) -> Option<(f64, f64)> {
    family(animal).filter(|f| *f != Family::Clear)?;
    let colour = animal.colour?;
    colour
        .hue_deg
        .zip(colour.chroma)
        .filter(|(_, chroma)| *chroma >= GREY_BELOW)
}

/// Brown animals by generation.
fn brown_counts(past: &[PastScoop], generation_days: f64) -> Vec<Counted> {
    let Some(start) = past.first().map(|s| s.at.date()) else {
        return Vec::new();
    };
    let mut found: Vec<Counted> = Vec::new();
    for scoop in past.iter().filter(|s| s.second_of.is_none()) {
        let days = f64::from((scoop.at.date() - start).get_days());
        let x = scoop
            .generation
            .map_or((days / generation_days).floor(), f64::from);
        let families: Vec<Family> = scoop.animals.iter().filter_map(family).collect();
        let brown = families.iter().filter(|f| **f == Family::Brown).count() as u64;
        let n = families.len() as u64;
        match found.iter_mut().find(|c| (c.x - x).abs() < 1e-9) {
            Some(cell) => {
                cell.count += brown;
                cell.n += n;
            }
            None => found.push(Counted {
                x,
                count: brown,
                n,
                group: 0,
            }),
        }
    }
    found.sort_by(|a, b| a.x.total_cmp(&b.x));
    found
}
