//! That today's animals read otherwise than those of earlier scoops, in words.

use super::super::text::{Page, Tone};
use crate::selection::sorting::{Shift, Sorting};

/// That today's animals are not what was learned; `None` where they are.
pub fn shift_words(sorting: &Sorting) -> Option<String> {
    let shift = sorting.shift().filter(Shift::is_noticed)?;
    let cure = if shift.is_far() {
        "That is no drift. Is it the right tank, and the usual lamp, cup and time in the cup? Then the line follows them; else move \
         nobody, and take this cup back."
    } else {
        "The line follows today's. Is the lamp, the cup or the time in the cup another?"
    };
    Some(format!(
        "Today's animals read {}. {cure}",
        far_words(&shift)
    ))
}

/// `poorer than those of earlier scoops, by 1.6 of the usual difference between two animals`.
fn far_words(shift: &Shift) -> String {
    let way = if shift.by_sd > 0.0 {
        "better"
    } else {
        "poorer"
    };
    format!(
        "{way} than those of earlier scoops, by {:.1} of the usual difference between two animals",
        shift.by_sd.abs()
    )
}

/// Asks whether all is as usual where the animals read otherwise than any drift would have it.
pub fn other_tank_question(tank: &str, shift: &Shift) -> String {
    format!(
        "Nothing is decided yet, move nobody: these animals read {}. That is no drift. Is it tank {tank}, and the usual lamp, cup \
         and time in the cup?",
        far_words(shift)
    )
}

pub(super) fn shifted(sorting: &Sorting, out: &mut Page) {
    if let Some(words) = shift_words(sorting) {
        out.wrapped(Tone::Alarm, "  ", &words);
    }
}
