//! `catchcup teach`: limits learned from the house's own rungs, taken only when accepted.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use anyhow::Result;
use catchcup::book::{Book, LadderText};
use catchcup::error::Error;
use catchcup::eye::claims::Claim;
use catchcup::eye::raters::{AnimalId, graded_twice, house_rungs};
use catchcup::eye::subject::Subject;
use catchcup::eye::teach::{Answer, Lesson, teach};
use catchcup::ladder::rewrite::{NewLimit, with_limits};
use catchcup::ladder::{self, Ladder, Rung, shelf};
use catchcup::report::eye::teach::{Past, teach_lines};
use catchcup::report::wire::eye as wire;
use catchcup::scoop::PastScoop;

use super::{animals, ladder as ladder_of, ratings, scoops, write};
use crate::cli::book::Desk;
use crate::cli::book::rooms::house_shelf;
use crate::cli::eye_args::TeachArgs;
use crate::cli::house::read_text;
use crate::cli::output::Out;
use crate::cli::photos::file_name;
use crate::cli::plans;

/// Learns, and takes what was learned where that is asked for.
///
/// # Errors
/// Where the book can't be opened, the line is unknown, or what was asked for can't be done.
pub fn run(args: &TeachArgs, out: &mut Out) -> Result<bool> {
    let desk = Desk::new(&args.desk)?;
    let mut book = desk.open()?;
    let ladder = ladder_of(&book, &house_shelf(&desk.house)?, &args.line)?;
    if args.versions {
        return versions(&desk, &book, &ladder, out).map(|()| true);
    }
    if let Some(digest) = &args.take {
        return take(&desk, &mut book, &ladder, digest, out).map(|()| true);
    }
    let scoops = scoops(&book, Some(&ladder.line))?;
    let animals = animals(&scoops);
    let ratings = ratings(&book, &animals)?;
    let own = house_rungs(&ratings, args.by.as_deref());
    let subjects: Vec<Subject> = own
        .iter()
        .filter_map(|((scoop, no), rung)| {
            let animal = animals.get(&(*scoop, *no))?;
            animal
                .off_ladder
                .is_none()
                .then(|| Subject::of(*scoop, animal, *rung))
        })
        .collect();
    let mine: Vec<_> = ratings
        .iter()
        .filter(|r| args.by.as_ref().is_none_or(|by| r.who == *by))
        .cloned()
        .collect();
    let answer = teach(&subjects, &graded_twice(&mine), &ladder);
    let mut past = answer
        .lesson
        .as_ref()
        .map_or_else(Past::default, |l| past(&scoops, &ladder, l, &own));
    if let Some(lesson) = &answer.lesson {
        past.claims = claims(&desk, &scoops, &ladder, lesson)?;
    }
    if args.accept {
        return accept(&desk, &mut book, &ladder, &answer, out).map(|()| true);
    }
    let seen = mine.iter().filter(|r| !r.is_blind).count() as f64 / mine.len().max(1) as f64;
    desk.answer(out, [wire::taught(&ladder, &answer, &past)], || {
        teach_lines(&ladder, &answer, &past, seen, args.all)
    })?;
    Ok(true)
}

/// How the animals of the past stand on the present and on the learned ladder.
fn past(
    scoops: &[PastScoop],
    old: &Ladder,
    lesson: &Lesson,
    own: &BTreeMap<AnimalId, Rung>,
) -> Past {
    let new = &lesson.learned.translation.ladder;
    let mut past = Past::default();
    for scoop in scoops {
        for animal in scoop
            .animals
            .iter()
            .filter(|animal| animal.off_ladder.is_none())
        {
            let subject = Subject::of(scoop.number, animal, Rung::G0);
            if let (Some(from), Some(to)) = (subject.rung_on(old), subject.rung_on(new)) {
                past.now[from.index()] += 1;
                past.then[to.index()] += 1;
                if from != to {
                    let said = own.get(&(scoop.number, animal.no)).copied();
                    past.moves.push((scoop.number, animal.no, from, to, said));
                }
            }
        }
    }
    past
}

/// Declared statements of tanks with this ladder for which scoops were netted, on the present and on the learned ladder.
fn claims(desk: &Desk, scoops: &[PastScoop], old: &Ladder, lesson: &Lesson) -> Result<Vec<Claim>> {
    let new = &lesson.learned.translation.ladder;
    let mut all = Vec::new();
    for (tank, plan) in plans::plans(&desk.path)? {
        let counted: Vec<PastScoop> = scoops
            .iter()
            .filter(|s| s.tank.to_lowercase() == tank)
            .filter(|s| plan.declared.is_none_or(|at| s.at >= at))
            .cloned()
            .collect();
        if !counted.is_empty() {
            all.push(Claim::read(&plan, &counted, old, new));
        }
    }
    Ok(all)
}

/// The rules file of the house for that ladder, where it has one.
fn own_file(desk: &Desk, ladder: &Ladder) -> Result<Option<PathBuf>> {
    for path in desk.house.rules.iter().rev() {
        if ladder::load(&file_name(path), &read_text(path)?)?.line == ladder.line {
            return Ok(Some(path.clone()));
        }
    }
    Ok(None)
}

/// The present text of the ladder.
fn present_text(desk: &Desk, ladder: &Ladder) -> Result<String> {
    match own_file(desk, ladder)? {
        Some(path) => read_text(&path),
        None => Ok(shelf::built_in_text(&ladder.line)
            .unwrap_or_default()
            .to_string()),
    }
}

fn accept(
    desk: &Desk,
    book: &mut Book,
    old: &Ladder,
    answer: &Answer,
    out: &mut Out,
) -> Result<()> {
    let Some(lesson) = answer.lesson.as_ref().filter(|lesson| lesson.is_proposed) else {
        let why = answer.refused.first().map_or_else(
            || "the gain does not exceed its error".to_string(),
            |note| note.message.clone(),
        );
        return Err(Error::rules(
            "nothing_proposed",
            format!("there is no proposal for {}: {why}", old.line),
            format!("see what was learned: catchcup teach {}", old.line),
        )
        .into());
    };
    let text = present_text(desk, old)?;
    let limits: Vec<NewLimit> = lesson
        .limits
        .iter()
        .map(|limit| NewLimit {
            rung: limit.rung,
            measure: limit.measure,
            is_at_most: lesson
                .learned
                .scales
                .iter()
                .any(|s| s.measure == limit.measure && s.is_less_better),
            value: limit.new,
        })
        .collect();
    let remark = format!(
        "Limits learned from {} animals of the house on {}.",
        answer.animals,
        desk.stamp.at.date()
    );
    let name = format!("{}.toml", old.line);
    let (new, ladder) = with_limits(
        &name,
        &text,
        &limits,
        &lesson.learned.translation.dropped,
        &remark,
    )?;
    let why = format!("learned from {} animals", answer.animals);
    put(
        desk,
        book,
        [(old, text, "as it was before".into()), (&ladder, new, why)],
        out,
    )
}

/// Keeps both texts in the book, then writes the new one where the house reads it.
fn put(
    desk: &Desk,
    book: &mut Book,
    [(old, old_text, old_why), (new, new_text, new_why)]: [(&Ladder, String, String); 2],
    out: &mut Out,
) -> Result<()> {
    let kept = |ladder: &Ladder, text: &str, why: String| LadderText {
        ladder: ladder.line.clone(),
        sha256: ladder.sha256.clone(),
        at: desk.stamp.at,
        why,
        text: text.to_string(),
    };
    let own = own_file(desk, old)?;
    let path = own
        .clone()
        .unwrap_or_else(|| desk.house.folder.join(format!("{}.toml", old.line)));
    if own.is_none() && path.exists() {
        return Err(Error::rules(
            "file_exists",
            format!(
                "{} is there already, but house.toml does not name it; it was left as it is",
                path.display()
            ),
            format!(
                "name it in house.toml: rules = [\"{}\"], or move it away",
                file_name(&path)
            ),
        )
        .into());
    }
    let texts = [kept(old, &old_text, old_why), kept(new, &new_text, new_why)];
    book.keep_ladders(&texts, &desk.stamp)?;
    write_whole(&path, new_text.as_bytes())?;
    let named = if own.is_some() {
        "in force from now on".to_string()
    } else {
        format!(
            "put it in force: rules = [\"{}\"] in house.toml",
            file_name(&path)
        )
    };
    let what = format!(
        "wrote {}, digest {}; {named}. Back to the old one: catchcup teach {} --take {}",
        path.display(),
        &new.sha256[..12],
        old.line,
        &old.sha256[..12]
    );
    desk.done(out, &what)
}

/// Written under another name first: a rules file is never half there.
fn write_whole(path: &Path, bytes: &[u8]) -> Result<()> {
    let part = path.with_extension("part");
    write(&part, bytes)?;
    std::fs::rename(&part, path).map_err(|e| Error::io(&path.display().to_string(), &e))?;
    Ok(())
}

fn versions(desk: &Desk, book: &Book, ladder: &Ladder, out: &mut Out) -> Result<()> {
    let all = book.ladder_texts()?;
    let told: Vec<String> = all
        .iter()
        .filter(|text| text.ladder == ladder.line)
        .map(|text| {
            let now = if text.sha256 == ladder.sha256 {
                "  (in force)"
            } else {
                ""
            };
            format!(
                "{}  {}  {}{now}",
                &text.sha256[..12],
                text.at.date(),
                text.why
            )
        })
        .collect();
    if desk.json() {
        for line in &told {
            desk.done(out, line)?;
        }
        return Ok(());
    }
    out.lines(&catchcup::report::book::sentences(
        &told,
        "no texts kept yet: the ladder was never changed by teaching",
    ))?;
    Ok(())
}

fn take(desk: &Desk, book: &mut Book, present: &Ladder, digest: &str, out: &mut Out) -> Result<()> {
    let all = book.ladder_texts()?;
    let mut fitting = all
        .iter()
        .filter(|t| t.ladder == present.line && t.sha256.starts_with(&digest.to_lowercase()));
    let (Some(found), None) = (fitting.next(), fitting.next()) else {
        return Err(Error::rules(
            "unknown_version",
            format!("no single text of {} is kept under {digest}", present.line),
            format!("see them: catchcup teach {} --versions", present.line),
        )
        .into());
    };
    let old = present_text(desk, present)?;
    let new = ladder::load(&format!("{}.toml", present.line), &found.text)?;
    put(
        desk,
        book,
        [
            (present, old, "as it was before".into()),
            (&new, found.text.clone(), "taken up again".into()),
        ],
        out,
    )
}
