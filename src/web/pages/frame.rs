//! What stands around every page.

use axum::response::Html;
use catchcup::doubt::Note;
use maud::{DOCTYPE, Markup, html};

use crate::web::access::{Role, Visitor};

/// A whole page, ready to be sent.
pub type Page = Html<String>;

/// A page with its heading and content.
pub fn page(title: &str, visitor: Option<&Visitor>, content: &Markup) -> Page {
    let whole = html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                meta name="color-scheme" content="light dark";
                title { (title) " - catchcup" }
                link rel="stylesheet" href="/room.css";
                link rel="icon" href="/room.svg" type="image/svg+xml";
                script src="/room.js" defer {}
            }
            body {
                a.skip href="#main" { "To the content" }
                @if visitor.is_some() {
                    header {
                        nav aria-label="Room" {
                            a.button.plain href="/" { "All tanks" }
                            a.button.plain href="/trail" { "Undo" }
                        }
                    }
                }
                main #main tabindex="-1" { (content) }
                footer {
                    p { "Put the shrimp back within minutes. Keep lamps and plugs away from water. Never release "
                        "ornamental animals. A colour grade is no health certificate." }
                    @if let Some(visitor) = visitor {
                        p {
                            "This device: " (visitor.device.name) " (" (visitor.device.role.word()) ")"
                            " " a.inline href="/labels" { "Labels" }
                            " " a.inline href="/prices" { "Price list" }
                            " " a.inline href="/proofs" { "Proofs" }
                            " " a.inline href="/errors" { "Errors of the program" }
                            @if visitor.device.role == Role::Owner {
                                " " a.inline href="/devices" { "Devices" }
                            }
                        }
                    }
                }
            }
        }
    };
    Html(whole.into_string())
}

/// The hidden field that every form brings along.
pub fn form_key(visitor: &Visitor) -> Markup {
    html! { input type="hidden" name="key" value=(visitor.form_key); }
}

/// What could not be done, and the cure.
pub fn trouble(note: &Note) -> Page {
    let content = html! {
        h1 { "Not done" }
        div.box.alarm role="alert" {
            p.big { (sentence(&note.message)) }
            p { strong { "Cure: " } (sentence(&note.hint)) }
        }
        p { a.button href="/" { "All tanks" } }
    };
    page("Not done", None, &content)
}

/// `text` with a capital and a full stop.
pub fn sentence(text: &str) -> String {
    let mut letters = text.chars();
    let first: String = letters
        .next()
        .map(|c| c.to_uppercase().collect())
        .unwrap_or_default();
    let end = if text.ends_with(['.', '?', '!']) {
        ""
    } else {
        "."
    };
    format!("{first}{}{end}", letters.as_str())
}
