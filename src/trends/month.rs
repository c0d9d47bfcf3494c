//! What a month brought, line by line.

use std::collections::BTreeMap;

use jiff::civil::Date;

use crate::ladder::Rung;
use crate::scoop::PastScoop;
use crate::trends::whole_tank::{AtOrAbove, at_or_above};

/// Animals counted in a note of a tank.
#[derive(Debug, Clone, PartialEq)]
pub struct CountNote {
    /// The line that lives in the tank; `None` = none said.
    pub line: Option<String>,
    /// The day.
    pub day: Date,
    /// What happened to them.
    pub kind: CountKind,
    /// How many.
    pub count: u64,
}

/// What happened to counted animals.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum CountKind {
    /// Moved out: sold, given away, out of the breeding group.
    MovedOut,
    /// Found dead.
    Lost,
}

/// A line's month.
#[derive(Debug, Clone, PartialEq)]
pub struct LineMonth {
    /// Code of the line; `no line` where none was said.
    pub line: String,
    /// Scoops.
    pub scoops: usize,
    /// Judged animals.
    pub animals: u64,
    /// Those at or above the sale rung, and the range of their share as for a whole tank.
    pub above: AtOrAbove,
    /// Share at or above the sale rung in the month before, 0..=1; `None` without animals.
    pub share_before: Option<f64>,
    /// Off-type animals seen.
    pub off_type: u64,
    /// Animals moved out.
    pub moved_out: u64,
    /// Animals lost.
    pub lost: u64,
}

/// All lines of the month from `first` day to before the first day of the next month, in the order of their codes.
pub fn month(
    scoops: &[PastScoop],
    notes: &[CountNote],
    first: Date,
    sale_rung: Rung,
    icc: f64,
) -> Vec<LineMonth> {
    let next = first.saturating_add(jiff::Span::new().months(1));
    let before = first.saturating_sub(jiff::Span::new().months(1));
    let mut found: BTreeMap<String, Vec<&PastScoop>> = BTreeMap::new();
    let code = |line: &Option<String>| line.clone().unwrap_or_else(|| "no line".into());
    for scoop in scoops.iter().filter(|s| s.second_of.is_none()) {
        if (before..next).contains(&scoop.at.date()) {
            found.entry(code(&scoop.line)).or_default().push(scoop);
        }
    }
    for note in notes.iter().filter(|n| (first..next).contains(&n.day)) {
        found.entry(code(&note.line)).or_default();
    }
    let line = |(line, own): (String, Vec<&PastScoop>)| {
        let (now, then): (Vec<&PastScoop>, Vec<&PastScoop>) =
            own.into_iter().partition(|s| s.at.date() >= first);
        let sum = |kind| {
            let of_line = notes
                .iter()
                .filter(|n| code(&n.line) == line && n.kind == kind);
            of_line
                .filter(|n| (first..next).contains(&n.day))
                .map(|n| n.count)
                .sum()
        };
        line_month(
            &line,
            &now,
            &then,
            sale_rung,
            icc,
            [sum(CountKind::MovedOut), sum(CountKind::Lost)],
        )
    };
    found
        .into_iter()
        .map(line)
        .filter(LineMonth::says_something)
        .collect()
}

impl LineMonth {
    fn says_something(&self) -> bool {
        self.animals + self.moved_out + self.lost > 0
    }
}

fn line_month(
    line: &str,
    now: &[&PastScoop],
    then: &[&PastScoop],
    sale_rung: Rung,
    icc: f64,
    counts: [u64; 2],
) -> LineMonth {
    let animals =
        |scoops: &[&PastScoop]| -> u64 { scoops.iter().map(|s| s.judged().count() as u64).sum() };
    let n_then = animals(then);
    let share_then = || at_or_above(sale_rung, then, icc).count as f64 / n_then as f64;
    LineMonth {
        line: line.to_string(),
        scoops: now.len(),
        animals: animals(now),
        above: at_or_above(sale_rung, now, icc),
        share_before: (n_then > 0).then(share_then),
        off_type: now
            .iter()
            .flat_map(|s| s.judged())
            .filter(|a| a.is_off_type())
            .count() as u64,
        moved_out: counts[0],
        lost: counts[1],
    }
}
