//! The house's own eye in words and pictures: agreement, learned limits, families of colour, sheets for the wall.

pub mod agree;
pub mod errors;
pub mod families;
pub mod sheet;
pub mod teach;

use crate::book::{OwnRung, Sitting};
use crate::eye::raters::Rater;
use crate::report::text::{Page, TextLine, Tone};

/// A rater in words.
pub fn rater(rater: &Rater) -> String {
    match rater {
        Rater::Program => "the program".into(),
        Rater::Person(who) => who.clone(),
        Rater::Again(who) => format!("{who} another time"),
    }
}

/// A share as per cent.
fn per_cent(share: f64) -> String {
    format!("{:.0} %", 100.0 * share)
}

/// Rungs that people gave, a line each.
pub fn own_rungs(rungs: &[OwnRung]) -> Vec<TextLine> {
    let mut out = Page::default();
    for one in rungs {
        let program = one
            .program
            .map_or(String::new(), |rung| format!(", the program {rung}"));
        let how = if one.is_blind { ", blind" } else { "" };
        out.wrapped(
            Tone::Plain,
            "    ",
            &format!(
                "scoop {} animal {}: {} by {} on {}{how}{program}",
                one.scoop,
                one.no,
                one.rung,
                one.who,
                one.at.date()
            ),
        );
    }
    if rungs.is_empty() {
        out.line(
            Tone::Faint,
            "no own rungs yet: catchcup rung give SCOOP 1=G4 2=G3",
        );
    }
    out.lines
}

/// What to do with a test or quiz just drawn into `folder`; `asked` is how many animals it should have had.
pub fn drawn(sitting: &Sitting, asked: usize, folder: &str) -> Vec<TextLine> {
    let mut out = Page::default();
    let kind = if sitting.is_quiz {
        "Quiz"
    } else {
        "Blind test"
    };
    out.wrapped(
        Tone::Heading,
        "  ",
        &format!(
            "{kind} {} for {}: {} animals of {}",
            sitting.number,
            sitting.who,
            sitting.animals.len(),
            sitting.ladder
        ),
    );
    if sitting.animals.len() < asked {
        out.wrapped(
            Tone::Plain,
            "  ",
            &format!(
                "Not {asked}: no more animals of {} on a rung have their photo in the book. File more scoops with their photos.",
                sitting.ladder
            ),
        );
    }
    out.wrapped(
        Tone::Plain,
        "  ",
        &format!("Look at the pictures in {folder}, then say what you see:"),
    );
    out.line(
        Tone::Plain,
        format!("  catchcup rung answer {} 1=G4 2=G3 ...", sitting.number),
    );
    out.lines
}

/// How answers compare with what was expected, animal by animal.
pub fn answered(sitting: &Sitting, rows: &[(usize, OwnRung)]) -> Vec<TextLine> {
    let mut out = Page::default();
    let told = rows
        .iter()
        .filter_map(|(_, one)| Some((one.rung, one.program?)));
    let apart: Vec<usize> = told.map(|(a, b)| a.index().abs_diff(b.index())).collect();
    let exact = apart.iter().filter(|d| **d == 0).count();
    let close = apart.iter().filter(|d| **d == 1).count();
    out.wrapped(
        Tone::Heading,
        "  ",
        &format!(
            "{}: {} the same rung, {close} one rung apart, of {} animals",
            sitting.who,
            exact,
            apart.len()
        ),
    );
    for (shown, one) in rows
        .iter()
        .filter(|(_, one)| sitting.is_quiz || one.program != Some(one.rung))
    {
        let mark = if one.program == Some(one.rung) {
            "right"
        } else {
            "differs"
        };
        let program = one.program.map_or("-".to_string(), |rung| rung.to_string());
        out.line(
            Tone::Plain,
            format!(
                "  {shown:>3}  you {}  program {program}  {mark}  (scoop {} animal {})",
                one.rung, one.scoop, one.no
            ),
        );
    }
    out.lines
}
