//! Right or wrong: buttons beside an animal, what was said so far, and how often the program errs.

use catchcup::book::OwnRung;
use catchcup::eye::errors::{Correction, Errors, KINDS, Right};
use catchcup::ladder::Rung;
use catchcup::measures::{Flag, Sex};
use catchcup::report::eye::errors as words;
use catchcup::scoop::GradedAnimal;
use maud::{Markup, html};

use super::frame::{Page, form_key, page, sentence};
use crate::web::access::Visitor;

/// What people said of the animals of a scoop.
#[derive(Debug, Clone, Default)]
pub struct Said {
    pub corrections: Vec<Correction>,
    pub own_rungs: Vec<OwnRung>,
    pub looked_through: bool,
}

impl Said {
    /// What is said of one animal, each in a few words.
    pub fn of(&self, no: u32) -> Vec<String> {
        let rights = self.corrections.iter().filter(|one| one.no == no);
        let rungs = self.own_rungs.iter().filter(|one| one.no == no);
        rights
            .map(|one| format!("{}, says {}", words::right_words(one.right), one.who))
            .chain(rungs.map(|one| format!("own rung {}, says {}", one.rung, one.who)))
            .collect()
    }
}

/// Buttons for one animal, each one tap.
pub fn buttons(visitor: &Visitor, scoop: i64, animal: &GradedAnimal, said: &Said) -> Markup {
    let no = animal.measures.no;
    let path = format!("/scoop/{scoop}/animal/{no}");
    let own: Vec<&Correction> = said.corrections.iter().filter(|one| one.no == no).collect();
    let is_juvenile = animal.measures.flags.contains(&Flag::Juvenile);
    let choices = [
        Right::NotAnimal(true),
        Right::TwoAnimals(true),
        Right::OtherHead(true),
        Right::Sex(Sex::Female),
        Right::Sex(Sex::Male),
        Right::Juvenile(!is_juvenile),
    ];
    html! {
        section aria-labelledby="right" {
            h2 #right { "Is this right?" }
            p.faint { "What you say is kept beside the measurement, never over it, and counted toward how often the program errs." }
            @for words in said.of(no) { p.box.next { (sentence(&words)) } }
            form.choices method="post" action={ (path) "/right" } {
                (form_key(visitor))
                @for right in choices {
                    @if own.iter().all(|one| one.right != right) && !is_said_by_program(right, animal.measures.sex) {
                        (choice(right, words::right_words(right)))
                    }
                }
                @for one in &own { @if let Some(back) = opposite(one) { (choice(back, &format!("Take back: {}", words::right_words(one.right)))) } }
            }
            h3 { "Your own rung" }
            form.choices method="post" action={ (path) "/rung" } {
                (form_key(visitor))
                @for rung in Rung::all().rev() {
                    button.button.plain type="submit" name="rung" value=(rung) { (rung) }
                }
            }
        }
    }
}

fn choice(right: Right, words: &str) -> Markup {
    let value = format!("{}={}", right.kind(), right.value());
    html! { button.button.plain type="submit" name="right" value=(value) { (capital(words)) } }
}

fn capital(text: &str) -> String {
    let whole = sentence(text);
    whole.strip_suffix('.').unwrap_or(&whole).to_string()
}

fn is_said_by_program(right: Right, sex: Sex) -> bool {
    matches!(right, Right::Sex(said) if said == sex)
}

/// What takes a correction back: the program's own answer.
fn opposite(one: &Correction) -> Option<Right> {
    Right::from_words(one.right.kind(), &one.program)
}

/// Corrections of a scoop and the mark that all of it was looked at.
pub fn of_scoop(visitor: &Visitor, scoop: i64, said: &Said) -> Markup {
    html! {
        section aria-labelledby="checked" {
            h2 #checked { "Is it right?" }
            @if said.looked_through {
                p { "Looked through: every animal is right, or corrected." }
            } @else {
                p { "Tap an animal that is wrong and say what is right. When all others are right, say so: only then a share of errors can be told." }
            }
            form method="post" action={ "/scoop/" (scoop) "/looked-through" } {
                (form_key(visitor))
                input type="hidden" name="done" value=(if said.looked_through { "no" } else { "yes" });
                button.button type="submit" {
                    @if said.looked_through { "Not looked through after all" } @else { "I looked at every animal" }
                }
            }
        }
    }
}

/// How often the program errs.
pub fn errors(visitor: &Visitor, found: &Errors) -> Page {
    let content = html! {
        h1 { "How often the program errs" }
        p { (words::basis_words(found)) }
        table {
            caption { "Corrections of this house" }
            thead { tr { th scope="col" { "What was wrong" } th scope="col" { "Animals" } th scope="col" { "Share, 95 % range" } } }
            tbody {
                @for (kind, rate) in KINDS.iter().zip(&found.rates) {
                    tr {
                        th scope="row" { (capital(words::kind_words(kind))) }
                        td {
                            @if found.animals > 0 { (rate.looked_through) " of " (found.animals) br; }
                            @if rate.everywhere > rate.looked_through || found.animals == 0 { span.faint { (rate.everywhere) " in all scoops" } }
                        }
                        td { @if found.animals > 0 {
                            (catchcup::report::words::per_cent(rate.range.low)) " to " (catchcup::report::words::per_cent(rate.range.high))
                        } }
                    }
                }
            }
        }
        @if let Some(rungs) = words::rung_words(found) { p { (sentence(&rungs)) } }
        p.faint { "An animal of which the program said that it is unsure is not counted as an error, whichever it was." }
    };
    page("How often the program errs", Some(visitor), &content)
}
