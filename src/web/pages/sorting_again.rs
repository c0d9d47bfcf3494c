//! What is asked of another photo of a cup before anything is decided.

use catchcup::book::cup_again::Missed;
use catchcup::measures::Sex;
use catchcup::report::selection::again::place_words;
use catchcup::report::selection::sort::find_words;
use catchcup::selection::sorting::find::{Find, finds};
use maud::{Markup, html};

use super::encoded;
use super::frame::{Page, form_key, page, sentence};
use super::sorting::sort_path;
use crate::web::access::Visitor;
use crate::web::sorting_again::Beside;

/// A photo of a cup that waits, with what was said when it was sent.
#[derive(Debug, Clone)]
pub struct WaitingCup<'a> {
    pub photo: &'a str,
    pub name: &'a str,
    /// `female`, `male` or nothing.
    pub sex: &'a str,
    pub is_last: bool,
}

fn address(tank: &str, photo: &str) -> String {
    format!("{}/again/{}", sort_path(tank), encoded(photo))
}

/// Address of the question about a waiting photo.
pub fn cup_again_path(
    tank: &str,
    photo: &str,
    name: &str,
    sex: Option<Sex>,
    is_last: bool,
) -> String {
    let sex = match sex {
        Some(Sex::Female) => "female",
        Some(Sex::Male) => "male",
        _ => "",
    };
    format!(
        "{}?name={}&sex={sex}&last={is_last}",
        address(tank, photo),
        encoded(name)
    )
}

/// Asks after each animal that only one photo shows.
pub fn cup_again(visitor: &Visitor, beside: &Beside, waits: &WaitingCup<'_>) -> Page {
    let tank = &beside.entry.tank;
    let title = format!("{tank}, cup {} again", beside.entry.cups.len());
    let (known, of) = beside.found.known();
    let new = beside.found.appeared();
    let finds = finds(&beside.animals);
    let rings = format!(
        "{}/rings.jpg?name={}&sex={}",
        address(tank, waits.photo),
        encoded(waits.name),
        encoded(waits.sex)
    );
    let same = beside.found.is_same_cup();
    let form = html! {
        form method="post" action=(address(tank, waits.photo)) {
            (form_key(visitor))
            input type="hidden" name="name" value=(waits.name);
            input type="hidden" name="sex" value=(waits.sex);
            input type="hidden" name="last" value=(waits.is_last);
            @if !same { input type="hidden" name="same" value="true"; }
            @for missed in beside.found.missed() { (gone(&missed, &new)) }
            @for find in finds.iter().filter(|find| new.contains(&find.no)) {
                @let sex = beside.animals.iter().find(|animal| animal.no == find.no).map_or(Sex::Unsure, |animal| animal.sex);
                (appeared(find, sex))
            }
            button.button.first type="submit" { "Decide" }
        }
    };
    let content = html! {
        h1 { (title) }
        p.big { "Nothing is decided yet: the two photos differ." }
        p { @if !same { "Only " } (known) " of " (of) " animals are " @if !same { "surely " } "known again." }
        figure { img.straight src=(rings) alt="The new photo with its animals' numbers"; }
        @if same {
            (form)
            p { a.button href=(sort_path(tank)) { "Leave this photo out: the first one's answer stands" } }
        } @else {
            p { a.button.first href=(sort_path(tank)) { "It is another cup: leave this photo out" } }
            details {
                summary { "It is the same cup: say what became of each" }
                (form)
            }
        }
    };
    page(&title, Some(visitor), &content)
}

/// Asks what became of an animal that only the photo before shows.
fn gone(missed: &Missed<'_>, new: &[u32]) -> Markup {
    let name = format!("gone-{}", missed.no);
    let before = missed.before;
    html! {
        fieldset.box {
            legend { "No. " (missed.no) " before, not found now" }
            img.peek src={ "/scoop/" (before.scoop) "/animal/" (before.no) "/straight.jpg" } alt={ "No. " (missed.no) " in the photo before" };
            p.faint { (sentence(&place_words(missed))) }
            select name=(name) required aria-label={ "What became of no. " (missed.no) } {
                option value="" { "What became of it?" }
                option value="cup" { "Still in the cup" }
                option value="moved" { "Moved already, as it was told" }
                option value="none" { "It was no animal" }
                @for no in new { option value=(no) { "It is no. " (no) " in the new photo" } }
            }
        }
    }
}

/// Asks whether what only the new photo shows is an animal.
fn appeared(find: &Find, sex: Sex) -> Markup {
    html! {
        fieldset.box {
            legend { "No. " (find.no) " now, not found before" }
            p.faint { (sentence(&find_words(find, sex))) }
            select name={ "new-" (find.no) } required aria-label={ "Is no. " (find.no) " an animal" } {
                option value="" { "Is it an animal?" }
                option value="animal" { "An animal" }
                option value="none" { "No animal" }
            }
        }
    }
}
