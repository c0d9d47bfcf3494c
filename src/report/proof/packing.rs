//! The packing check, for a terminal.

use super::sentences::permille;
use crate::proof::packing::{Packed, Swap};
use crate::report::text::{Page, TextLine, Tone};
use crate::report::words;

/// "17 of 20 at G4 or better; swap the three ringed".
pub fn packed(found: &Packed, confidence_permille: u32, picture: Option<&str>) -> Vec<TextLine> {
    let mut out = Page::default();
    out.wrapped(
        if found.ready() {
            Tone::Heading
        } else {
            Tone::Alarm
        },
        "  ",
        &headline(found),
    );
    let w = &found.whole;
    if w.animals > 0 && w.sure != w.plain {
        let text = format!(
            "With misgrading allowed for, at least {} do (confidence {}); every animal is in the photo, so nothing else is in doubt.",
            w.sure,
            permille(confidence_permille)
        );
        out.wrapped(Tone::Plain, "  ", &text);
    }
    for (swap, what) in [
        (Swap::OffType, "off-type, swap first"),
        (Swap::Below, "below the rung"),
        (Swap::NotJudged, "without a rung"),
        (Swap::Undecided, "too close to call"),
    ] {
        let numbers: Vec<u32> = found
            .swaps
            .iter()
            .filter(|(_, s)| *s == swap)
            .map(|(no, _)| *no)
            .collect();
        if !numbers.is_empty() {
            out.wrapped(
                Tone::Plain,
                "    ",
                &format!("  {what}: {}", words::animals(&numbers)),
            );
        }
    }
    if found.missing() > 0 {
        let (n, promised) = (found.missing(), found.promised.unwrap_or(0));
        let are = if n == 1 { "animal is" } else { "animals are" };
        let text = format!("{n} {are} missing to the {promised} promised");
        out.wrapped(Tone::Alarm, "  ", &text);
    }
    if let Some(picture) = picture {
        out.wrapped(Tone::Plain, "  ", &format!("Rings are drawn in {picture}"));
    }
    out.wrapped(Tone::Faint, "  ", "Look at moults and doubles before swapping, and mind the minutes in the cup. A grade is no health certificate.");
    out.lines
}

/// The first line.
pub fn headline(found: &Packed) -> String {
    let w = &found.whole;
    if w.animals == 0 {
        return "no animals were found in the photo".into();
    }
    let counts = format!("{} of {} at {} or better", w.plain, w.animals, found.rung);
    if found.ready() {
        return format!("ready: {counts}");
    }
    match found.swaps.len() {
        0 => counts,
        1 => format!("not ready: {counts}; swap the one ringed"),
        n => format!("not ready: {counts}; swap the {n} ringed"),
    }
}
