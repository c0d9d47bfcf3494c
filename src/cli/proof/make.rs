//! `catchcup proof make`: photo, statement and signature into a folder.

use std::path::Path;

use anyhow::Result;
use catchcup::book::proof_store::write_folder;
use catchcup::doubt::quoted;
use catchcup::error::Error;
use catchcup::ladder::{Ladder, Shelf, shelf};
use catchcup::measures::Sex;
use catchcup::proof::lot::{Lot, manifest, of_photo};
use catchcup::proof::make::{Draft, Published, assemble, publish};
use catchcup::proof::manifest::{PAGE, Statement};
use catchcup::proof::state::{of_scoops, of_whole};
use catchcup::proof::weakness::Weakness;
use catchcup::report::proof::answers;
use catchcup::report::proof::{FORMATS, sentences};
use catchcup::report::text::{Page, Tone};
use catchcup::scene::CupSpec;
use catchcup::scoop::Order;

use super::keys;
use crate::cli::args::{GroundArg, SexArg};
use crate::cli::book::Desk;
use crate::cli::book::rooms::house_shelf;
use crate::cli::colours;
use crate::cli::house::{House, read_text};
use crate::cli::howmany::{declared, holds, sale_rung};
use crate::cli::output::Out;
use crate::cli::photos::{self, file_name};
use crate::cli::proof_args::MakeArgs;
use crate::cli::rules::unknown;

/// Makes the proof; 3 where the statement may not be made, and nothing is written then.
///
/// # Errors
/// Where the photo can't be published, the folder is there already, or the book can't be read.
pub fn run(args: &MakeArgs, out: &mut Out) -> Result<u8> {
    let desk = Desk::new(&args.desk)?;
    if args.into.exists() {
        let found = format!(
            "{} is there already and was left as it is",
            args.into.display()
        );
        return Err(Error::rules("folder_exists", found, "name another folder").into());
    }
    if args.at_least.is_some() && args.tank.is_none() && !args.whole {
        let hint = "say --whole where the photo shows the whole lot, or --tank A3 for the declared scoops of a tank";
        return Err(Error::rules(
            "no_basis",
            "it is not said what the statement is made from",
            hint,
        )
        .into());
    }
    let (ladder, rules) = ladder(args, &desk)?;
    let original = photos::read(&args.photo)?;
    let published = publish(
        &file_name(&args.photo),
        &original,
        &order(args, ladder, &desk)?,
        FORMATS,
    )?;
    let (statement, weak) = statement(args, &published, &desk)?;
    if let Some(stated) = statement.as_ref().filter(|s| !s.supported) {
        refuse(args, stated, &weak, out)?;
        return Ok(3);
    }
    let (key, made) = keys::key(&keys::folder(args.keys.as_deref())?)?;
    let manifest = manifest(
        &published,
        &lot(args, &desk),
        statement,
        &weak,
        key.public(),
    );
    let draft = Draft {
        manifest,
        photo: published.photo.clone(),
        record: published.record.clone(),
        rules,
        with_pdf: args.pdf,
    };
    write_folder(&args.into, &assemble(draft, &key, FORMATS)?)?;
    tell(
        args,
        &published,
        &key.public().fingerprint(),
        made,
        &weak,
        &desk,
        out,
    )?;
    Ok(0)
}

/// The lot that the proof is about.
fn lot<'a>(args: &'a MakeArgs, desk: &'a Desk) -> Lot<'a> {
    Lot {
        name: &args.lot,
        tank: args.tank.as_deref(),
        who: &desk.stamp.who,
        at: desk.stamp.at,
        own_repeat_e4: args.repeat.map(|points| (points * 100.0).round() as u32),
    }
}

/// The ladder of the line with the text it was read from.
fn ladder(args: &MakeArgs, desk: &Desk) -> Result<(Ladder, String)> {
    if let Some(path) = &args.rules {
        return load(path);
    }
    let mut line = args.line.clone().or_else(|| desk.house.line.clone());
    if let (None, Some(tank)) = (&line, &args.tank) {
        line = desk.open()?.tank(tank)?.ladder;
    }
    let line =
        line.ok_or_else(|| Error::rules("no_line", "no line was named", "say it: --line red"))?;
    ladder_and_text(&line, &desk.house)
}

fn load(path: &Path) -> Result<(Ladder, String)> {
    let text = read_text(path)?;
    Ok((catchcup::ladder::load(&file_name(path), &text)?, text))
}

/// The house's ladder of that line, else the built-in one, with its text.
///
/// # Errors
/// Where there is none, or a rules file is wrong.
pub fn ladder_and_text(line: &str, house: &House) -> Result<(Ladder, String)> {
    let shelf = house_shelf(house)?;
    let Some(Ladder { line, .. }) = shelf.ladder(line) else {
        return Err(unknown(line, &shelf).into());
    };
    for path in &house.rules {
        let (ladder, text) = load(path)?;
        if ladder.line == line {
            return Ok((ladder, text));
        }
    }
    let found = Shelf::default()
        .ladder(&line)
        .zip(shelf::built_in_text(&line));
    let (ladder, text) = found.ok_or_else(|| unknown(&line, &shelf))?;
    Ok((ladder, text.to_string()))
}

/// How the photo is graded. Lights and cups measured before are left out: only what lies in the photo can be checked by others.
fn order(args: &MakeArgs, ladder: Ladder, desk: &Desk) -> Result<Order> {
    Ok(Order {
        ladder: Some(ladder),
        cup: CupSpec {
            floor_mm: args.cup_mm.or(desk.house.cup_mm),
            px_per_mm: None,
            dark: args.ground == GroundArg::Dark,
            colour: colours::chart(&desk.house),
        },
        sex: args.sex.map(|sex| match sex {
            SexArg::Female => Sex::Female,
            SexArg::Male => Sex::Male,
        }),
        juvenile_mm: desk.house.juvenile_mm,
        netted: args.netted.unwrap_or_default(),
        minutes: desk.house.minutes,
    })
}

fn statement(
    args: &MakeArgs,
    published: &Published,
    desk: &Desk,
) -> Result<(Option<Statement>, Vec<Weakness>)> {
    if let Some(tank) = args.tank.as_ref().filter(|_| args.at_least.is_some()) {
        let (mut plan, scoops, weak) = declared(&desk.open()?, tank, desk)?;
        let rung = args.rung.unwrap_or(plan.rung);
        if rung != plan.rung || args.at_least != Some(plan.permille) {
            let hint = "state what was declared, or declare another plan before netting anew";
            let found = format!("declared was: {}", answers::wanted(&plan));
            return Err(Error::rules("other_plan", found, hint).into());
        }
        plan.tank = Some(tank.clone());
        let stated = of_scoops(&plan, &scoops, &weak).0;
        let mut weak = weak;
        let shown = Some(&published.original_sha256);
        if stated
            .scoops
            .iter()
            .all(|s| s.photo_sha256.as_ref() != shown)
        {
            weak.push(Weakness::new(
                "other_photo",
                "the photo shown is of none of the counted scoops",
                "show the photo of one of them",
            ));
        }
        return Ok((Some(stated), weak));
    }
    let mut weak = match &args.tank {
        Some(tank) => holds(&desk.open()?.tank_state(
            tank,
            desk.stamp.at.date(),
            &desk.house.holds,
        )?),
        None => Vec::new(),
    };
    weak.extend(of_photo(published, &lot(args, desk)));
    let Some(permille) = args.at_least else {
        return Ok((None, weak));
    };
    let rung = sale_rung(args.rung, &desk.house);
    Ok((
        Some(of_whole(
            &published.animals,
            rung,
            permille,
            args.confidence,
            &weak,
        )),
        weak,
    ))
}

fn refuse(args: &MakeArgs, stated: &Statement, weak: &[Weakness], out: &mut Out) -> Result<()> {
    let mut page = Page::default();
    page.wrapped(
        Tone::Alarm,
        "  ",
        &format!("Nothing was written. {}", sentences::headline(stated)),
    );
    page.wrapped(Tone::Plain, "  ", &sentences::ground(stated));
    answers::weak(weak, &mut page);
    page.wrapped(Tone::Plain, "  ", &way_out(args, weak));
    out.lines(&page.lines)?;
    Ok(())
}

/// What can be done where the statement may not be made.
fn way_out(args: &MakeArgs, weak: &[Weakness]) -> String {
    let first = if weak.iter().any(|w| w.blocks) {
        "Do what stands under Stop: no lower share or rung helps before."
    } else {
        "Lower --at-least or --rung."
    };
    let said = if args.whole {
        "--whole and --at-least"
    } else {
        "--at-least"
    };
    format!("{first} Or leave out {said}: the page then shows the animals and claims no share.")
}

fn tell(
    args: &MakeArgs,
    published: &Published,
    print: &str,
    made: bool,
    weak: &[Weakness],
    desk: &Desk,
    out: &mut Out,
) -> Result<()> {
    let page = args.into.join(PAGE).display().to_string();
    if desk.json() {
        return Ok(out.line(&catchcup::report::wire::book::done(&format!(
            "wrote {page}"
        )))?);
    }
    let mut lines = Page::default();
    lines.wrapped(
        Tone::Heading,
        "  ",
        &format!("Wrote {page}, and beside it what is needed to check it."),
    );
    lines.wrapped(Tone::Plain, "  ", &format!("Signed with your key {print}. Tell buyers this fingerprint by another way than the page."));
    if made {
        lines.wrapped(Tone::Plain, "  ", "The key was made just now: keep a copy of it where nobody else reads (see catchcup proof key).");
    }
    match &published.card {
        Some([lot, _]) if lot.eq_ignore_ascii_case(&args.lot) => {}
        Some([lot, _]) => lines.wrapped(Tone::Alarm, "  ", &format!("The card in the photo says lot {lot}, not {}.", args.lot)),
        None => lines.wrapped(Tone::Plain, "  ", &format!("No card was read in the photo. Lay one in the cup: catchcup proof card {} card.svg", quoted(&args.lot))),
    }
    lines.wrapped(
        Tone::Plain,
        "  ",
        "Keep the camera's own file: its digest is signed, and only you can show it.",
    );
    answers::weak(weak, &mut lines);
    out.lines(&lines.lines)?;
    Ok(())
}
