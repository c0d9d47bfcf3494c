//! A bought-in lot by a single-sampling plan: how many to look at, how many may fail.
//!
//! # Source
//! [ISO2859-1] tables 1 (levels I to III) and 2-A (single sampling, normal inspection), quality limits 0.010 to 10 %: figures
//! only.

use statrs::distribution::{Binomial, DiscreteCDF};

/// Letters of sample sizes.
const LETTERS: [char; 16] = [
    'A', 'B', 'C', 'D', 'E', 'F', 'G', 'H', 'J', 'K', 'L', 'M', 'N', 'P', 'Q', 'R',
];
/// Sample sizes by letter.
const SIZES: [u32; 16] = [
    2, 3, 5, 8, 13, 20, 32, 50, 80, 125, 200, 315, 500, 800, 1250, 2000,
];
/// Largest lots of the rows of table 1; larger lots have the last letters.
const LOTS: [u32; 14] = [
    8, 15, 25, 50, 90, 150, 280, 500, 1200, 3200, 10_000, 35_000, 150_000, 500_000,
];
/// Letters by row of table 1: level I, II, III.
const LEVELS: [&[u8; 15]; 3] = [b"AABCCDEFGHJKLMN", b"ABCDEFGHJKLMNPQ", b"BCDEFGHJKLMNPQR"];
/// Quality limits, per cent in thousandths.
const LIMITS: [u32; 16] = [
    10, 15, 25, 40, 65, 100, 150, 250, 400, 650, 1000, 1500, 2500, 4000, 6500, 10_000,
];
/// Numbers that may fail along a diagonal of table 2-A, from the third cell behind the first plan on.
const ACCEPT: [u32; 8] = [1, 2, 3, 5, 7, 10, 14, 21];

/// How much is looked at.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Level {
    /// Less: I.
    Reduced,
    /// The usual: II.
    Usual,
    /// More: III.
    Increased,
}

/// A plan.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Inspection {
    /// Letter of the lot size.
    pub letter_of_lot: char,
    /// Letter of the plan, other than that where an arrow of the table says so.
    pub letter: char,
    /// Animals to look at; the whole lot where it is not larger.
    pub sample: u32,
    /// Animals of the sample that may fail.
    pub accept: u32,
    /// True where the whole lot is looked at.
    pub whole_lot: bool,
}

/// What a cell of table 2-A says.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Cell {
    /// So many may fail.
    Accept(u32),
    /// Use the plan above.
    Up,
    /// Use the plan below.
    Down,
}

/// Letters and sizes of the plans, smallest first.
pub fn letters() -> impl Iterator<Item = (char, u32)> {
    LETTERS.into_iter().zip(SIZES)
}

/// Quality limits, thousandths of a per cent.
pub fn limits() -> impl Iterator<Item = u32> {
    LIMITS.into_iter()
}

/// The letter of a lot of 2 animals or more.
pub fn letter_of(lot: u32, level: Level) -> Option<char> {
    let row = LOTS
        .iter()
        .position(|most| lot <= *most)
        .unwrap_or(LOTS.len());
    let column = LEVELS[level as usize];
    (lot >= 2).then(|| char::from(column[row]))
}

/// The cell of table 2-A for a letter and a quality limit; `None` outside the table.
pub fn cell(letter: char, limit: u32) -> Option<Cell> {
    let row = LETTERS.iter().position(|l| *l == letter)?;
    let column = LIMITS.iter().position(|l| *l == limit)?;
    // Plans of one kind lie on diagonals: a coarser limit by one column is the next smaller sample.
    let diagonal = row + column;
    Some(match diagonal.checked_sub(FIRST) {
        None => Cell::Down,
        Some(0) => Cell::Accept(0),
        Some(1) => Cell::Up,
        Some(2) => Cell::Down,
        Some(further) => ACCEPT
            .get(further - 3)
            .map_or(Cell::Up, |n| Cell::Accept(*n)),
    })
}

/// Row and column of the first plan with none failing: Q at 0.010.
const FIRST: usize = 14;

/// The plan for a lot and a quality limit (thousandths of a per cent), its arrows followed; `None` where the lot has one
/// animal or the limit is not in the table.
pub fn inspection(lot: u32, level: Level, limit: u32) -> Option<Inspection> {
    let letter_of_lot = letter_of(lot, level)?;
    let mut row = LETTERS.iter().position(|l| *l == letter_of_lot)?;
    let accept = loop {
        match cell(LETTERS[row], limit)? {
            Cell::Accept(n) => break n,
            Cell::Up => row = row.checked_sub(1)?,
            Cell::Down if row + 1 < LETTERS.len() => row += 1,
            Cell::Down => return None,
        }
    };
    let whole_lot = SIZES[row] >= lot;
    Some(Inspection {
        letter_of_lot,
        letter: LETTERS[row],
        sample: SIZES[row].min(lot),
        accept,
        whole_lot,
    })
}

/// Probability that a lot with this share of failing animals passes, as from a lot without end.
pub fn passes(plan: &Inspection, failing: f64) -> f64 {
    Binomial::new(failing.clamp(0.0, 1.0), u64::from(plan.sample))
        .map_or(0.0, |b| b.cdf(u64::from(plan.accept)))
}

/// The share of failing animals at which a lot passes with this probability.
pub fn failing_at(plan: &Inspection, probability: f64) -> f64 {
    let (mut low, mut high) = (0.0, 1.0);
    for _ in 0..60 {
        let middle = 0.5 * (low + high);
        if passes(plan, middle) > probability {
            low = middle;
        } else {
            high = middle;
        }
    }
    0.5 * (low + high)
}
