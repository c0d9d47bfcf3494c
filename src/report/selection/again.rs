//! Two photos of a cup, in words: what is asked of animals that only one of them shows, and what was made of them.

use super::super::text::{Page, Tone};
use super::sort::{find_words, order};
use crate::book::cup_again::Missed;
use crate::measures::Sex;
use crate::selection::sorting::Before;
use crate::selection::sorting::again::{Gone, TwoPhotos};
use crate::selection::sorting::find::Find;

/// Asks whether it is the cup before, of whose animals so many are known again.
pub fn same_cup_question((known, of): (usize, usize)) -> String {
    format!(
        "Only {known} of {of} animals are surely known again. Is it the same cup, with the same animals?"
    )
}

/// Asks after an animal that this photo does not show.
pub fn gone_question(missed: &Missed<'_>) -> String {
    format!(
        "{}. Is it still in the cup, moved already as it was told, or no animal? [cup/moved/none, or its number in this photo]",
        gone_words(missed)
    )
}

/// An animal that this photo does not show.
fn gone_words(missed: &Missed<'_>) -> String {
    format!(
        "No. {} of the photo before ({}) is not found in this one",
        missed.no,
        place_words(missed)
    )
}

/// How an animal of the photo before was to be found, and what it was told.
pub fn place_words(missed: &Missed<'_>) -> String {
    format!(
        "{}; it was told {}",
        find_words(missed.find, missed.sex),
        order(missed.judged.verdict, missed.sex, false)
    )
}

/// Asks after what only this photo shows.
pub fn new_question(find: &Find, sex: Sex) -> String {
    format!("{}. Is it an animal? [animal/none]", new_words(find, sex))
}

/// What only this photo shows.
fn new_words(find: &Find, sex: Sex) -> String {
    format!(
        "No. {} ({}) is not found in the photo before",
        find.no,
        find_words(find, sex)
    )
}

/// An animal that stands in an earlier photo: how it was to be found there.
pub(super) fn elsewhere(before: Before, is_done: bool, which: &str) -> String {
    let moved = if is_done { "moved already; " } else { "" };
    format!("{moved}no. {} of an earlier photo: {which}", before.no)
}

/// Which number before is which now; `None` where no animal is known again.
pub fn renumbered(pairs: &[(u32, u32)]) -> Option<String> {
    let (same, other): (Vec<_>, Vec<_>) = pairs.iter().partition(|(then, now)| then == now);
    if pairs.is_empty() {
        return None;
    }
    if other.is_empty() {
        return Some("They have the same numbers as before.".into());
    }
    let mut words: Vec<String> = other
        .iter()
        .map(|(then, now)| format!("no. {then} before is no. {now} now"))
        .collect();
    if !same.is_empty() {
        words.push("the others keep theirs".into());
    }
    Some(format!(
        "Each photo has numbers of its own: {}.",
        words.join(", ")
    ))
}

/// How the photos go together.
pub(super) fn two_photos(photos: &TwoPhotos, out: &mut Page) {
    let mut known = format!(
        "{} known again: the mean of both readings counts.",
        animals(photos.known)
    );
    if photos.likely > 0 {
        known += &format!(
            " {} likely: this photo's reading counts.",
            animals(photos.likely)
        );
    }
    out.wrapped(Tone::Plain, "  ", &known);
    if let Some(words) = renumbered(&photos.renumbered) {
        out.wrapped(Tone::Plain, "  ", &words);
    }
    for gone in &photos.gone {
        let no = gone.no_before;
        let here = gone.no.unwrap_or(0);
        let text = match (gone.what, gone.is_said) {
            (Gone::InCup, true) => format!(
                "No. {no} of the photo before is still in the cup: no. {here} below, with its first reading."
            ),
            (Gone::InCup, false) => format!(
                "No. {no} of the photo before is not found in this one. It is kept as no. {here} below, with its first reading: look \
                 for it."
            ),
            (Gone::Moved, _) => {
                format!("No. {no} of the photo before has been moved: no. {here} below.")
            }
            (Gone::NoAnimal, _) => {
                format!("No. {no} of the photo before was no animal: it counts no more.")
            }
            (Gone::Here(here), _) => {
                format!("No. {no} of the photo before is no. {here} here: both readings count.")
            }
        };
        out.wrapped(tone(gone.is_said), "  ", &text);
    }
    for new in &photos.new {
        let no = new.no;
        let text = match (new.is_animal, new.is_said) {
            (true, true) => format!("No. {no} is an animal that the photo before does not show."),
            (true, false) => {
                format!(
                    "No. {no} is not found in the photo before. It counts as an animal: look at it."
                )
            }
            (false, _) => format!("No. {no} is no animal: it counts not."),
        };
        out.wrapped(tone(new.is_said), "  ", &text);
    }
    if photos.gone.iter().any(|gone| !gone.is_said) || photos.new.iter().any(|new| !new.is_said) {
        out.wrapped(
            Tone::Plain,
            "  ",
            "Is it otherwise? Take it back (catchcup book undo) and say it with the same photo: --gone NO=cup, NO=moved, NO=none \
             or NO=its number here; --new NO=animal or NO=none.",
        );
    }
}

fn tone(is_said: bool) -> Tone {
    if is_said { Tone::Plain } else { Tone::Alarm }
}

fn animals(count: usize) -> String {
    match count {
        1 => "1 animal is".into(),
        _ => format!("{count} animals are"),
    }
}
