//! What a changed ladder would do to animals measured before, in words.

use super::text::{Page, TextLine, Tone};
use super::words;
use crate::ladder::{Ladder, Rung};
use crate::scoop::replay::{Comparison, Standing};

/// The comparison in words; `left_out` scoops were of other lines.
pub fn trial_lines(comparison: &Comparison, ladder: &Ladder, left_out: usize) -> Vec<TextLine> {
    let mut out = Page::default();
    if comparison.animals == 0 {
        let none = format!(
            "There is no animal of the line {} in these records.",
            ladder.line
        );
        out.wrapped(Tone::Alarm, "  ", &none);
    } else {
        out.wrapped(Tone::Heading, "  ", &summary(comparison));
        moved(comparison, &mut out);
        out.blank();
        counts(comparison, ladder, &mut out);
    }
    if left_out > 0 {
        let scoops = if left_out == 1 { "scoop" } else { "scoops" };
        out.wrapped(
            Tone::Faint,
            "  ",
            &format!("Left out: {left_out} {scoops} of other lines."),
        );
    }
    out.lines
}

fn summary(comparison: &Comparison) -> String {
    let changed: u32 = comparison
        .moves
        .iter()
        .filter(|((from, to), _)| from != to)
        .map(|(_, n)| n)
        .sum();
    let all = comparison.animals;
    let animals = if all == 1 { "animal" } else { "animals" };
    match changed {
        0 => format!("Nothing changes for the {all} {animals}."),
        n => format!("{n} of {all} {animals} would stand elsewhere."),
    }
}

/// One line for each move, the commonest first.
fn moved(comparison: &Comparison, out: &mut Page) {
    let mut moves: Vec<_> = comparison
        .moves
        .iter()
        .filter(|((from, to), _)| from != to)
        .collect();
    moves.sort_by_key(|(_, n)| std::cmp::Reverse(**n));
    for ((from, to), n) in moves {
        let verb = match (from, to, *n) {
            (Standing::On(a), Standing::On(b), 1) if b < a => "falls",
            (Standing::On(a), Standing::On(b), _) if b < a => "fall",
            (Standing::On(_), Standing::On(_), 1) => "rises",
            (Standing::On(_), Standing::On(_), _) => "rise",
            (_, _, 1) => "goes",
            _ => "go",
        };
        let line = format!("  {n} {verb} from {} to {}", place(*from), place(*to));
        out.wrapped(Tone::Plain, "    ", &line);
    }
}

fn place(standing: Standing) -> String {
    match standing {
        Standing::On(rung) => rung.to_string(),
        Standing::Off("off_type") => "off-type".to_string(),
        Standing::Off(word) => format!("no rung ({})", word.replace('_', " ")),
    }
}

fn counts(comparison: &Comparison, ladder: &Ladder, out: &mut Page) {
    out.line(Tone::Heading, format!("{:<34} now  then", "Rung"));
    for rung in Rung::all().rev() {
        let standing = Standing::On(rung);
        let name = format!("{:<8}  {}", words::rung(rung), ladder.label(rung));
        let (before, after) = (comparison.before(standing), comparison.after(standing));
        out.line(Tone::Plain, format!("{name:<34} {before:>3}  {after:>4}"));
    }
    let off = |count: &dyn Fn(Standing) -> u32| -> u32 {
        ["off_type", "withheld", "juvenile", "cut", "milky"]
            .iter()
            .map(|word| count(Standing::Off(word)))
            .sum()
    };
    let (before, after) = (
        off(&|s| comparison.before(s)),
        off(&|s| comparison.after(s)),
    );
    if before + after > 0 {
        out.line(
            Tone::Plain,
            format!("{:<34} {before:>3}  {after:>4}", "off the ladder"),
        );
    }
}
