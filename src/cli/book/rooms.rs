//! `catchcup line`, `generation` and `condition`.

use anyhow::Result;
use catchcup::book::{Book, LineChange, NewCondition, NewGeneration, NewLine};
use catchcup::ladder::{self, Ladder, Shelf};
use catchcup::report::book as text;
use catchcup::report::wire::book as wire;

use super::Desk;
use crate::cli::book_args::{
    ConditionArgs, ConditionCommand, GenerationArgs, GenerationCommand, LineArgs, LineCommand,
};
use crate::cli::house::{self, House};
use crate::cli::output::Out;
use crate::cli::photos::file_name;
use crate::cli::rules::unknown;

/// The ladders of the house and the built-in ones.
///
/// # Errors
/// Where a rules file is wrong.
pub fn house_shelf(house: &House) -> Result<Shelf> {
    let load =
        |path: &std::path::PathBuf| Ok(ladder::load(&file_name(path), &house::read_text(path)?)?);
    let own: Result<Vec<Ladder>> = house.rules.iter().map(load).collect();
    Ok(Shelf::with_own(own?))
}

/// Adds the line `code` where the book has none of that name but there is a ladder of it: `--line red` simply works.
///
/// # Errors
/// Where the line can't be added.
pub fn line_or_ladder(book: &mut Book, code: &str, desk: &Desk) -> Result<()> {
    if book.find_line(code)?.is_some() {
        return Ok(());
    }
    let shelf = house_shelf(&desk.house)?;
    if let Some(ladder) = shelf.ladder(&code.to_lowercase()) {
        let new = NewLine {
            code: code.to_string(),
            ladder: ladder.line,
            ..NewLine::default()
        };
        book.add_line(&new, &desk.stamp)?;
    }
    Ok(())
}

fn known_ladder(id: &str, desk: &Desk) -> Result<String> {
    let shelf = house_shelf(&desk.house)?;
    match shelf.ladder(id) {
        Some(ladder) => Ok(ladder.line),
        None => Err(unknown(id, &shelf).into()),
    }
}

/// Runs the part of `line` that was asked for.
///
/// # Errors
/// Where the book can't be opened, or the entry can't be made.
pub fn line(args: &LineArgs, out: &mut Out) -> Result<bool> {
    let desk = Desk::new(&args.desk)?;
    match &args.command {
        LineCommand::Add {
            line,
            ladder,
            title,
            since,
        } => {
            let new = NewLine {
                code: line.clone(),
                title: title.clone(),
                ladder: known_ladder(ladder, &desk)?,
                since: *since,
            };
            let mut book = desk.open_or_begin()?;
            let line = book.add_line(&new, &desk.stamp)?;
            show_line(&book, &line.code, &desk, out)?;
        }
        LineCommand::List => {
            let book = desk.open()?;
            let (lines, tanks, generations) = (book.lines()?, book.tanks()?, book.generations()?);
            let objects = lines.iter().map(|line| wire::line(line, &generations));
            desk.answer(out, objects, || text::lines::list(&lines, &tanks))?;
        }
        LineCommand::Show { line } => show_line(&desk.open()?, line, &desk, out)?,
        LineCommand::Edit {
            line,
            ladder,
            title,
            ended,
        } => {
            let change = LineChange {
                title: title.clone(),
                ladder: ladder
                    .as_deref()
                    .map(|id| known_ladder(id, &desk))
                    .transpose()?,
                ended: ended.map(Some),
            };
            let mut book = desk.open()?;
            let line = book.edit_line(line, &change, &desk.stamp)?;
            show_line(&book, &line.code, &desk, out)?;
        }
    }
    Ok(true)
}

fn show_line(book: &Book, code: &str, desk: &Desk, out: &mut Out) -> Result<()> {
    let (line, tanks, generations) = (book.line(code)?, book.tanks()?, book.generations()?);
    desk.answer(out, [wire::line(&line, &generations)], || {
        text::lines::page(&line, &tanks, &generations)
    })
}

/// Runs the part of `generation` that was asked for.
///
/// # Errors
/// Where the book can't be opened, or the entry can't be made.
pub fn generation(args: &GenerationArgs, out: &mut Out) -> Result<bool> {
    let desk = Desk::new(&args.desk)?;
    let mut book = desk.open()?;
    match &args.command {
        GenerationCommand::Begin {
            tank,
            number,
            from,
            origin,
            females,
            males,
            on,
        } => {
            let new = NewGeneration {
                tank: tank.clone(),
                number: *number,
                since: *on,
                females: *females,
                males: *males,
                origin: origin.clone(),
                parents: from.clone(),
            };
            let begun = book.begin_generation(&new, &desk.stamp)?;
            let doubt = catchcup::book::sense::unknown_forebears(&begun, &book.generations()?);
            desk.answer(out, [wire::generation(&begun)], || {
                let mut lines = text::lines::generations(std::slice::from_ref(&begun));
                lines.extend(doubt.iter().flat_map(text::doubt));
                lines
            })?;
        }
        GenerationCommand::List { of } => {
            let mut all = book.generations()?;
            if let Some(code) = of {
                let same = |own: &str| own.eq_ignore_ascii_case(code);
                if book.find_line(code)?.is_none() {
                    book.tank(code)?;
                }
                all.retain(|g| same(&g.line) || same(&g.tank));
            }
            desk.answer(out, all.iter().map(wire::generation), || {
                text::lines::generations(&all)
            })?;
        }
    }
    Ok(true)
}

/// Runs the part of `condition` that was asked for.
///
/// # Errors
/// Where the book can't be opened, or the entry can't be made.
pub fn condition(args: &ConditionArgs, out: &mut Out) -> Result<bool> {
    let desk = Desk::new(&args.desk)?;
    let mut book = desk.open()?;
    let conditions = match &args.command {
        ConditionCommand::Set {
            tank,
            condition,
            value,
            since,
        } => {
            let new = NewCondition {
                tank: (!tank.eq_ignore_ascii_case("room")).then(|| tank.clone()),
                kind: *condition,
                value: value.join(" "),
                since: *since,
            };
            vec![book.set_condition(&new, &desk.stamp)?]
        }
        ConditionCommand::List { tank } => {
            let mut all = book.conditions()?;
            if let Some(code) = tank {
                let code = book.tank(code)?.code;
                all.retain(|c| c.tank.as_ref().is_none_or(|own| *own == code));
            }
            all
        }
    };
    desk.answer(out, conditions.iter().map(wire::condition), || {
        let told: Vec<String> = conditions.iter().map(text::condition).collect();
        text::sentences(&told, "no conditions noted")
    })?;
    Ok(true)
}
