//! What is asked of a cup whose animals read unlike those of earlier scoops.

use catchcup::measures::Sex;
use catchcup::report::selection::shift::other_tank_question;
use catchcup::selection::sorting::Shift;
use maud::html;

use super::encoded;
use super::frame::{Page, form_key, page};
use super::sorting::sort_path;
use super::sorting_again::{WaitingCup, query};
use crate::web::access::Visitor;

fn address(tank: &str, photo: &str) -> String {
    format!("{}/sure/{}", sort_path(tank), encoded(photo))
}

/// Address of the question about a waiting photo.
pub fn cup_sure_path(
    tank: &str,
    photo: &str,
    name: &str,
    sex: Option<Sex>,
    is_last: bool,
) -> String {
    format!("{}?{}", address(tank, photo), query(name, sex, is_last))
}

/// Asks whether tank and light are right.
pub fn cup_sure(visitor: &Visitor, tank: &str, shift: &Shift, waits: &WaitingCup<'_>) -> Page {
    let title = format!("{tank}: move nobody yet");
    let content = html! {
        h1 { (title) }
        p.box.alarm role="alert" { strong { (other_tank_question(tank, shift)) } }
        p { "The photo was not filed." }
        p { a.button.first href=(sort_path(tank)) { "No: leave this photo out" } }
        form method="post" action=(address(tank, waits.photo)) {
            (form_key(visitor))
            input type="hidden" name="name" value=(waits.name);
            input type="hidden" name="sex" value=(waits.sex);
            input type="hidden" name="last" value=(waits.is_last);
            button.button type="submit" { "Yes, it is " (tank) " and all is as usual: decide" }
        }
    };
    page(&title, Some(visitor), &content)
}
