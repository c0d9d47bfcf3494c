//! What is asked of another photo of a cup before anything is decided.

use std::sync::Arc;

use catchcup::book::cup_again::Missed;
use catchcup::measures::Sex;
use catchcup::report::selection::again::{place_words, renumbered};
use catchcup::report::selection::sort::find_words;
use catchcup::selection::sorting::find::{Find, finds};
use maud::{Markup, html};

use super::answer::cutout;
use super::encoded;
use super::frame::{Page, form_key, page, sentence};
use super::sorting::sort_path;
use super::waiting_cup::{Question, WaitingCup, address, said_before};
use crate::web::access::Visitor;
use crate::web::grader::Shown;
use crate::web::sorting_again::Beside;

/// Asks after each animal that only one photo shows; `earlier` holds the photos before, by scoop.
pub fn cup_again(
    visitor: &Visitor,
    beside: &Beside,
    waits: &WaitingCup<'_>,
    shown: &Shown,
    earlier: &[(i64, Arc<Shown>)],
) -> Page {
    let tank = &beside.entry.tank;
    let title = format!("{tank}, cup {} again", beside.entry.cups.len());
    let new = beside.found.appeared();
    let finds = finds(&beside.animals);
    let now = New {
        shown,
        rings: format!(
            "{}/rings.jpg?name={}&sex={}",
            address(Question::Again, tank, waits.photo),
            encoded(waits.name),
            encoded(waits.sex)
        ),
    };
    let same = beside.found.is_same_cup();
    let form = html! {
        form method="post" action=(address(Question::Again, tank, waits.photo)) {
            (form_key(visitor))
            (said_before(waits))
            @if !same { input type="hidden" name="same" value="true"; }
            @for missed in beside.found.missed() { (gone(&missed, &new, earlier)) }
            @for find in finds.iter().filter(|find| new.contains(&find.no)) {
                @let sex = beside.animals.iter().find(|animal| animal.no == find.no).map_or(Sex::Unsure, |animal| animal.sex);
                (appeared(find, sex, &now))
            }
            button.button.first type="submit" { "Decide" }
        }
    };
    let content = html! {
        h1 { (title) }
        p.big { "Nothing is decided yet: the two photos differ." }
        (known(beside))
        @if same {
            (form)
            (both(beside, &now, earlier))
            p { a.button href=(sort_path(tank)) { "Leave this photo out: the first one's answer stands" } }
        } @else {
            p { a.button.first href=(sort_path(tank)) { "It is another cup: leave this photo out" } }
            (both(beside, &now, earlier))
            details {
                summary { "It is the same cup: say what became of each" }
                (form)
            }
        }
    };
    page(&title, Some(visitor), &content)
}

/// How many are known again, and by which numbers.
fn known(beside: &Beside) -> Markup {
    let (known, of) = beside.found.known();
    let same = beside.found.is_same_cup();
    html! {
        p { @if !same { "Only " } (known) " of " (of) " animals are " @if !same { "surely " } "known again." }
        @if let Some(words) = renumbered(&beside.found.renumbered()) { p { (words) } }
    }
}

/// The new photo, and where its picture with numbers is.
struct New<'a> {
    shown: &'a Shown,
    rings: String,
}

/// Both photos whole, each with its own numbers.
fn both(beside: &Beside, now: &New<'_>, earlier: &[(i64, Arc<Shown>)]) -> Markup {
    let last = beside.entry.cups.last().and_then(|cup| cup.scoop);
    let before = last.filter(|last| earlier.iter().any(|(number, _)| number == last));
    html! {
        h2 { "Both photos, each with its own numbers" }
        div.both {
            @if let Some(number) = before {
                figure {
                    img.straight src={ "/scoop/" (number) "/rings.jpg" } alt="The photo before with its animals' numbers";
                    figcaption { "The photo before" }
                }
            }
            figure {
                img.straight src=(now.rings) alt="The new photo with its animals' numbers";
                figcaption { "The new photo" }
            }
        }
    }
}

/// Asks what became of an animal that only the photo before shows.
fn gone(missed: &Missed<'_>, new: &[u32], earlier: &[(i64, Arc<Shown>)]) -> Markup {
    let name = format!("gone-{}", missed.no);
    let before = missed.before;
    let photo = earlier.iter().find(|(number, _)| *number == before.scoop);
    let words = format!("No. {} of the photo before", before.no);
    html! {
        fieldset.box.before {
            legend { "Photo before: no. " (before.no) ", not found in the new one" }
            @if let Some((number, shown)) = photo {
                (cutout(shown, &format!("/scoop/{number}/rings.jpg"), before.no, &words))
            }
            p.faint { (sentence(&place_words(missed))) }
            select name=(name) required aria-label={ "What became of no. " (before.no) " of the photo before" } {
                option value="" { "What became of it?" }
                option value="cup" { "Still in the cup" }
                option value="moved" { "Moved already, as it was told" }
                option value="none" { "It was no animal" }
                @for no in new { option value=(no) { "It is no. " (no) " of the new photo" } }
            }
        }
    }
}

/// Asks whether what only the new photo shows is an animal.
fn appeared(find: &Find, sex: Sex, now: &New<'_>) -> Markup {
    let words = format!("No. {} of the new photo", find.no);
    html! {
        fieldset.box {
            legend { "New photo: no. " (find.no) ", not found in the one before" }
            (cutout(now.shown, &now.rings, find.no, &words))
            p.faint { (sentence(&find_words(find, sex))) }
            select name={ "new-" (find.no) } required aria-label={ "Is no. " (find.no) " of the new photo an animal" } {
                option value="" { "Is it an animal?" }
                option value="animal" { "An animal" }
                option value="none" { "No animal" }
            }
        }
    }
}
