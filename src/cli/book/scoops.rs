//! `catchcup scoop`: list, show, change, take out; adding is in [`super::filing`].

use anyhow::Result;
use catchcup::book::ScoopChange;
use catchcup::report::book as text;
use catchcup::report::eye::errors as error_text;
use catchcup::report::wire::book as wire;
use catchcup::report::wire::errors as error_wire;

use super::{Desk, filing};
use crate::cli::output::Out;
use crate::cli::scoop_args::{EditArgs, ScoopArgs, ScoopCommand};

/// Runs the part of `scoop` that was asked for; false where some photo was not filed.
///
/// # Errors
/// Where the book can't be opened, or what was asked for can't be done.
pub fn run(args: &ScoopArgs, out: &mut Out) -> Result<bool> {
    let desk = Desk::new(&args.desk)?;
    match &args.command {
        ScoopCommand::Add(args) => return filing::run(&desk, args, out),
        ScoopCommand::List { tank, last } => {
            let book = desk.open()?;
            let scoops = match tank {
                Some(tank) => book.history_of_tank(tank)?,
                None => book.history_of_all()?,
            };
            let shown = &scoops[scoops.len().saturating_sub(*last)..];
            desk.answer(out, shown.iter().rev().map(wire::scoop), || {
                text::tanks::scoop_table(shown)
            })?;
        }
        ScoopCommand::Show { scoop } => show(&desk, *scoop, out)?,
        ScoopCommand::Edit(args) => {
            desk.open()?
                .edit_scoop(args.scoop, &change(args), &desk.stamp)?;
            show(&desk, args.scoop, out)?;
        }
        ScoopCommand::Correct {
            scoop,
            rights,
            looked_through,
            not_looked_through,
        } => {
            let mut book = desk.open()?;
            for (no, right) in rights {
                book.correct(*scoop, *no, *right, &desk.stamp)?;
            }
            if *looked_through || *not_looked_through {
                book.look_through(*scoop, *looked_through, &desk.stamp)?;
            }
            let all = book.corrections_of(*scoop)?;
            desk.answer(out, all.iter().map(error_wire::correction), || {
                error_text::correction_lines(&all)
            })?;
        }
        ScoopCommand::Errors => {
            let found = desk.open()?.errors_found()?;
            desk.answer(out, [error_wire::errors(&found)], || {
                error_text::error_lines(&found)
            })?;
        }
        ScoopCommand::Remove { scoop } => {
            let gone = desk.open()?.remove_scoop(*scoop, &desk.stamp)?;
            let what = format!(
                "took out scoop {} of tank {}; bring it back: catchcup book undo",
                gone.number, gone.tank
            );
            desk.done(out, &what)?;
        }
    }
    Ok(true)
}

fn change(args: &EditArgs) -> ScoopChange {
    ScoopChange {
        tank: args.tank.clone(),
        at: args.at,
        who: args.by.clone(),
        kept_apart: (args.apart || args.put_back).then_some(args.apart),
        second_of: if args.own {
            Some(None)
        } else {
            args.again_of.map(Some)
        },
        remark: args.remark.clone(),
    }
}

fn show(desk: &Desk, number: i64, out: &mut Out) -> Result<()> {
    let scoop = desk.open()?.scoop(number)?;
    desk.answer(out, [wire::scoop(&scoop)], || {
        text::tanks::scoop_page(&scoop)
    })
}
