//! What is asked of a cup whose animals read unlike those of earlier scoops.

use catchcup::report::selection::shift::other_tank_question;
use catchcup::selection::sorting::Shift;
use maud::html;

use super::frame::{Page, form_key, page};
use super::sorting::sort_path;
use super::waiting_cup::{Question, WaitingCup, address, said_before};
use crate::web::access::Visitor;

/// Asks whether tank and light are right.
pub fn cup_sure(visitor: &Visitor, tank: &str, shift: &Shift, waits: &WaitingCup<'_>) -> Page {
    let title = format!("{tank}: move nobody yet");
    let content = html! {
        h1 { (title) }
        p.box.alarm role="alert" { strong { (other_tank_question(tank, shift)) } }
        p { "The photo was not filed." }
        p { a.button.first href=(sort_path(tank)) { "No: leave this photo out" } }
        form method="post" action=(address(Question::Sure, tank, waits.photo)) {
            (form_key(visitor))
            (said_before(waits))
            button.button type="submit" { "Yes, it is " (tank) " and all is as usual: decide" }
        }
    };
    page(&title, Some(visitor), &content)
}
