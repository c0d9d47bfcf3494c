//! What was done, and taking it back.

use catchcup::book::TrailEntry;
use catchcup::report::book::moment;
use maud::html;

use super::frame::{Page, form_key, page};
use crate::web::access::Visitor;

/// The latest entries; `said` is what became of the last press of a button.
pub fn trail(visitor: &Visitor, entries: &[TrailEntry], said: Option<&str>) -> Page {
    let words = match said {
        Some("back") => Some("Taken back."),
        Some("forth") => Some("Brought back."),
        Some("nothing") => Some("There was nothing to do."),
        Some("newer") => {
            Some("Somebody wrote into the book meanwhile, so nothing was done: look again.")
        }
        _ => None,
    };
    let last = entries.first().map(|entry| entry.number);
    let button = |action: &str, words: &str| {
        html! {
            form method="post" action=(action) {
                (form_key(visitor))
                @if let Some(last) = last { input type="hidden" name="last" value=(last); }
                button.button.first type="submit" { (words) }
            }
        }
    };
    let content = html! {
        h1 { "Undo" }
        @if let Some(words) = words { p.box.good role="status" { (words) } }
        @if entries.is_empty() {
            p { "Nothing was done yet." }
        } @else {
            div.actions {
                (button("/undo", "Take back the last change"))
                (button("/redo", "Bring it back again"))
            }
            h2 { "What was done, latest first" }
            ol.list {
                @for entry in entries {
                    li.row {
                        strong { (moment(entry.at)) } " " (entry.who) ": " (entry.what)
                        @if entry.taken_back { " (taken back)" }
                    }
                }
            }
        }
    };
    page("Undo", Some(visitor), &content)
}
