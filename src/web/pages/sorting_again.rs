//! What is asked of another photo of a cup before anything is decided.

use catchcup::book::cup_again::Missed;
use catchcup::measures::Sex;
use catchcup::report::selection::again::{gone_words, new_words};
use catchcup::selection::sorting::find::finds;
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
    let content = html! {
        h1 { (title) }
        p.big { "Nothing is decided yet: the two photos differ." }
        @if !beside.found.is_same_cup() {
            p { a.button href=(sort_path(tank)) { "It is another cup: leave this photo out" } }
        }
        form method="post" action=(address(tank, waits.photo)) {
            (form_key(visitor))
            input type="hidden" name="name" value=(waits.name);
            input type="hidden" name="sex" value=(waits.sex);
            input type="hidden" name="last" value=(waits.is_last);
            @if !beside.found.is_same_cup() { (same_cup(known, of)) }
            @else { p { (known) " of " (of) " animals are known again." } }
            @for missed in beside.found.missed() { (gone(&missed, &new)) }
            @for find in finds.iter().filter(|find| new.contains(&find.no)) {
                @let sex = beside.animals.iter().find(|animal| animal.no == find.no).map_or(Sex::Unsure, |animal| animal.sex);
                fieldset.box {
                    legend { (sentence(&new_words(find, sex))) }
                    (choice(&format!("new-{}", find.no), "animal", "An animal"))
                    (choice(&format!("new-{}", find.no), "none", "No animal"))
                }
            }
            button.button.first type="submit" { "Decide" }
        }
        figure { img.straight src=(rings) alt="The new photo with its animals' numbers"; }
        p { a.button href=(sort_path(tank)) { "Leave this photo out: the first one's answer stands" } }
    };
    page(&title, Some(visitor), &content)
}

fn same_cup(known: usize, of: usize) -> Markup {
    html! {
        div.box.warn {
            p { "Only " (known) " of " (of) " animals are surely known again. Is it the same cup? If it is the next one, leave this photo out and send it as the next cup." }
            div.tick { input #same name="same" type="checkbox" value="true" required; label for="same" { "It is the same cup" } }
        }
    }
}

fn gone(missed: &Missed<'_>, new: &[u32]) -> Markup {
    let name = format!("gone-{}", missed.no);
    let before = missed.before;
    html! {
        fieldset.box {
            legend { (sentence(&gone_words(missed))) }
            img.straight src={ "/scoop/" (before.scoop) "/animal/" (before.no) "/straight.jpg" } alt={ "No. " (missed.no) " in the photo before" };
            (choice(&name, "cup", "Still in the cup"))
            (choice(&name, "moved", "Moved already, as it was told"))
            (choice(&name, "none", "It was no animal"))
            @for no in new { (choice(&name, &no.to_string(), &format!("It is no. {no} in the new photo"))) }
        }
    }
}

fn choice(name: &str, value: &str, words: &str) -> Markup {
    let id = format!("{name}-{value}");
    html! {
        div.tick { input id=(id) type="radio" name=(name) value=(value) required; label for=(id) { (words) } }
    }
}
