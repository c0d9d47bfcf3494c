//! Proofs: what one shall say, why one was refused, and those there are.

use catchcup::ladder::Rung;
use catchcup::proof::manifest::{PAGE, Statement};
use catchcup::proof::weakness::Weakness;
use catchcup::report::proof::sentences;
use catchcup::scoop::PastScoop;
use maud::html;

use super::frame::{Page, form_key, page, sentence};
use crate::web::access::{Role, Visitor};

/// Shares that may be chosen, in a thousand.
const SHARES: [u32; 6] = [500, 600, 700, 800, 900, 950];

/// What a proof of this scoop shall say.
pub fn ask(visitor: &Visitor, past: &PastScoop, sale: Rung) -> Page {
    let title = format!("A proof of scoop {}, {}", past.number, past.tank);
    let content = html! {
        h1 { (title) }
        p { "A proof shows the photo with every animal's measures, signed with the house's key. It says that nothing was changed since, "
            "not which animals were sent nor that they are healthy." }
        form method="post" action={ "/scoop/" (past.number) "/proof" } {
            (form_key(visitor))
            label for="lot" { "Name of the lot" }
            input #lot name="lot" maxlength="40" value={ (past.tank) "-" (past.at.date()) };
            label for="at_least" { "What it states" }
            select #at_least name="at_least" {
                option value="" { "No share: it shows the animals" }
                @for share in SHARES {
                    option value=(share) { "The photo shows the whole lot: at least " (share / 10) " % at " (sale) " or better" }
                }
            }
            button.button.first type="submit" { "Make and sign it" }
        }
        p { a.button href={ "/scoop/" (past.number) } { "Back to the scoop" } }
    };
    page(&title, Some(visitor), &content)
}

/// Why a proof was not made.
pub fn refused(visitor: &Visitor, scoop: i64, stated: &Statement, weak: &[Weakness]) -> Page {
    let content = html! {
        h1 { "Not stated" }
        div.box.alarm role="alert" {
            p.big { "Nothing was written. " (sentences::headline(stated)) }
            p { (sentences::ground(stated)) }
            @for one in weak { p { (sentence(&one.message)) " " strong { "Cure: " } (sentence(&one.hint)) } }
        }
        p { "Choose a smaller share, or none: the page then shows the animals and claims no share." }
        p { a.button.first href={ "/scoop/" (scoop) "/proof" } { "Choose again" } }
    };
    page("Not stated", Some(visitor), &content)
}

/// All proofs with the files of each, latest first.
pub fn proofs(visitor: &Visitor, all: &[(String, Vec<&str>)]) -> Page {
    let content = html! {
        h1 { "Proofs" }
        @if all.is_empty() {
            p { "None yet." @if visitor.device.role == Role::Owner { " Open a scoop and tap Make a proof." } }
        }
        p { "Send the page to a buyer; with the other files beside it, anybody can check it. Tell the fingerprint of your key by another way." }
        @for (name, files) in all {
            section {
                h2 { (name) }
                div.actions {
                    a.button href={ "/proofs/" (name) "/" (PAGE) } { "Look at " (name) }
                    a.button href={ "/proofs/" (name) "/" (PAGE) "?save=1" } { "Save the page of " (name) }
                }
                details {
                    summary { "Files to check it" }
                    ul { @for file in files.iter().filter(|file| **file != PAGE) { li { a.inline href={ "/proofs/" (name) "/" (file) } { (file) } } } }
                }
            }
        }
    };
    page("Proofs", Some(visitor), &content)
}
