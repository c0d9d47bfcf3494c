//! Families of colour in words.

use super::per_cent;
use crate::eye::families::{Families, Family};
use crate::measures::HueGate;
use crate::report::text::{Page, TextLine, Tone};
use crate::trends::mixed::of_colour;

/// A hue gate in words.
pub fn gate(gate: HueGate) -> String {
    format!("{:.0} to {:.0} degrees", gate.from_deg, gate.to_deg)
}

/// Lightness below which a family is called dark, and from which light (house rule: a third and two thirds of the way).
const DARK_BELOW: f64 = 33.0;
const LIGHT_FROM: f64 = 67.0;

/// A family's colour in words.
fn colour(family: &Family) -> String {
    let [l, a, b] = family.lab;
    let word = of_colour(Some(l), a.hypot(b), family.hue_deg).map_or("colour unsure", |f| f.word());
    let grey = matches!(word, "black" | "white" | "clear");
    match l {
        l if l < DARK_BELOW && !grey => format!("dark {word}"),
        l if l >= LIGHT_FROM && !grey => format!("light {word}"),
        _ => word.to_string(),
    }
}

/// Families, gates and overlaps; `present` is the gate of each line's ladder. With `detail` the colours in numbers too.
pub fn family_lines(
    found: &Families,
    present: &[(String, Option<HueGate>)],
    detail: bool,
) -> Vec<TextLine> {
    let mut out = Page::default();
    if found.families.is_empty() {
        out.wrapped(
            Tone::Plain,
            "  ",
            "Too few animals with a colour: twenty at least.",
        );
        return out.lines;
    }
    out.line(
        Tone::Heading,
        format!("{} families of colour", found.families.len()),
    );
    for (no, family) in found.families.iter().enumerate() {
        let lines: Vec<String> = family
            .lines
            .iter()
            .map(|(line, n)| format!("{n} of {line}"))
            .collect();
        let [l, a, b] = family.lab;
        let numbers = if detail {
            format!(
                " (hue {:.0}, L* {l:.0} a* {a:.0} b* {b:.0})",
                family.hue_deg
            )
        } else {
            String::new()
        };
        out.wrapped(
            Tone::Plain,
            "      ",
            &format!(
                "  {}  {}{numbers}, {} animals: {}",
                no + 1,
                colour(family),
                family.animals,
                lines.join(", ")
            ),
        );
    }
    out.blank();
    out.line(Tone::Heading, "Hue gates your animals would ask for");
    for line in &found.lines {
        let now = present
            .iter()
            .find(|(code, _)| *code == line.line)
            .and_then(|(_, gate)| *gate);
        let now = now.map_or(String::new(), |now| {
            format!("; the ladder has {}", gate(now))
        });
        let said = match line.gate {
            Some(proposed) => format!(
                "  {}: {}{now} ({} animals)",
                line.line,
                gate(proposed),
                line.animals
            ),
            None => format!(
                "  {}: none proposed, {} animals with a hue{now}",
                line.line, line.animals
            ),
        };
        out.wrapped(Tone::Plain, "    ", &said);
    }
    for overlap in &found.overlaps {
        out.wrapped(
            Tone::Plain,
            "    ",
            &format!(
                "  {} and {} share hues: {} of {} would pass as {}, {} of {} as {}",
                overlap.first,
                overlap.second,
                per_cent(overlap.first_in_second),
                overlap.first,
                overlap.second,
                per_cent(overlap.second_in_first),
                overlap.second,
                overlap.first
            ),
        );
    }
    if !found.strange.is_empty() {
        let shown: Vec<String> = found
            .strange
            .iter()
            .take(12)
            .map(|(s, n)| format!("scoop {s} animal {n}"))
            .collect();
        let more = found.strange.len().saturating_sub(12);
        let more = if more > 0 {
            format!(" and {more} more")
        } else {
            String::new()
        };
        out.wrapped(
            Tone::Alarm,
            "    ",
            &format!("  fit no family, look at them: {}{more}", shown.join(", ")),
        );
    }
    out.wrapped(
        Tone::Faint,
        "  ",
        "Nothing is changed. A gate goes into `hue` under [colour] of the rules file.",
    );
    out.lines
}
