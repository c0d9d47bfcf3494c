//! `catchcup month`: the end of the month on one page.

use std::collections::BTreeMap;

use anyhow::Result;
use catchcup::book::{Book, NoteKind};
use catchcup::report::plot::month_svg;
use catchcup::report::trend::tank::month_lines;
use catchcup::report::wire::whole as wire;
use catchcup::trends::month::{CountKind, CountNote, month};
use jiff::civil::Date;

use super::{house, sale_rung, write};
use crate::cli::book::Desk;
use crate::cli::output::Out;
use crate::cli::trend_args::MonthArgs;

/// Answers, and draws where asked.
///
/// # Errors
/// Where the book can't be read, or the page can't be written.
pub fn run(args: &MonthArgs, out: &mut Out) -> Result<bool> {
    let desk = Desk::new(&args.desk)?;
    let book = desk.open()?;
    let sale = sale_rung(args.sale_rung, &desk);
    let house = house(&book, sale, &desk)?;
    let first = args
        .month
        .unwrap_or_else(|| month_before(desk.stamp.at.date()));
    let from = first.saturating_sub(jiff::Span::new().months(1));
    let scoops = book.measures_since(from)?;
    let found = month(&scoops, &notes(&book)?, first, sale, house.scatter.icc);
    let name = first.strftime("%Y-%m").to_string();
    if let Some(path) = &args.plot {
        write(path, &month_svg(&found, &name, sale))?;
    }
    let objects = found.iter().map(|line| wire::month(line, &name, sale));
    desk.answer(out, objects, || month_lines(&found, &name, sale))?;
    Ok(true)
}

/// First day of the last full month before `day`.
fn month_before(day: Date) -> Date {
    day.first_of_month()
        .saturating_sub(jiff::Span::new().months(1))
}

/// Losses and animals moved out, by the line of their tank.
fn notes(book: &Book) -> Result<Vec<CountNote>> {
    let lines: BTreeMap<String, Option<String>> = book
        .tanks()?
        .into_iter()
        .map(|t| (t.code, t.line))
        .collect();
    let counted = |note: catchcup::book::Note| {
        let kind = match note.kind {
            NoteKind::Loss => CountKind::Lost,
            NoteKind::MovedOut => CountKind::MovedOut,
            _ => return None,
        };
        Some(CountNote {
            line: lines.get(&note.tank).cloned().flatten(),
            day: note.day,
            kind,
            count: note.count?.into(),
        })
    };
    Ok(book.notes(None)?.into_iter().filter_map(counted).collect())
}
