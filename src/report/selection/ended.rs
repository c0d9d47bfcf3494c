//! A sorting that has ended, in words.

use super::super::text::{Page, TextLine, Tone};
use super::sort::{from_tub, tally};
use super::{cautions, sexes};
use crate::book::cups::Ended;
use crate::selection::sorting::TankNumber;

/// A sorting that has ended.
pub fn ended(tank: &str, ended: &Ended, costs: &[String]) -> Vec<TextLine> {
    let mut out = Page::default();
    let after = &ended.after;
    out.line(Tone::Heading, format!("Sorting of tank {tank} ended"));
    from_tub(&ended.decision, &mut out);
    tally(after, &mut out);
    let short: Vec<usize> = (0..2).filter(|sex| after.wanted(*sex) > 0).collect();
    for sex in &short {
        out.wrapped(
            Tone::Alarm,
            "  ",
            &format!(
                "{} {} fewer than wanted: {}.",
                after.wanted(*sex),
                sexes(*sex),
                why_short(ended)
            ),
        );
    }
    if !short.is_empty() && !is_emptied(ended) {
        out.wrapped(
            Tone::Plain,
            "  ",
            "Are there more in the tank? Take the end back and go on: catchcup book undo.",
        );
    }
    for cost in costs {
        out.wrapped(Tone::Plain, "  ", cost);
    }
    cautions(&mut out);
    out.lines
}

/// True where the tank was known or expected to be empty when the sorting was ended.
fn is_emptied(ended: &Ended) -> bool {
    ended.left.expected < 1.0
}

fn why_short(ended: &Ended) -> String {
    let netted = ended.after.netted();
    let all = f64::from(netted) + ended.left.expected;
    let about = match ended.after.setup.number {
        TankNumber::Counted(_) => "",
        TankNumber::About(_) => "about ",
    };
    match netted {
        _ if is_emptied(ended) => "there were no more".into(),
        0 => format!("ended before the first cup, with {about}{all:.0} animals in the tank"),
        _ => format!("ended after {netted} of {about}{all:.0} animals"),
    }
}
