//! A photo of a cup that waits for the answer to a question, and what was said when it was sent: it stands in the address of
//! the question and in its form.

use catchcup::measures::Sex;
use maud::{Markup, html};

use super::encoded;
use super::sorting::sort_path;

/// A photo of a cup that waits, with what was said when it was sent.
#[derive(Debug, Clone)]
pub struct WaitingCup<'a> {
    pub photo: &'a str,
    pub name: &'a str,
    /// `female`, `male` or nothing.
    pub sex: &'a str,
    pub is_last: bool,
}

/// What is asked before anything is decided.
#[derive(Debug, Clone, Copy)]
pub enum Question {
    /// Which animals of another photo of the cup are which.
    Again,
    /// Whether tank and light are right.
    Sure,
}

/// Where the answer about a waiting photo goes.
pub(super) fn address(question: Question, tank: &str, photo: &str) -> String {
    let word = match question {
        Question::Again => "again",
        Question::Sure => "sure",
    };
    format!("{}/{word}/{}", sort_path(tank), encoded(photo))
}

/// Address of the question about a waiting photo.
pub fn question_path(
    question: Question,
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
    let address = address(question, tank, photo);
    format!("{address}?name={}&sex={sex}&last={is_last}", encoded(name))
}

/// What was said when the photo was sent, as fields of a form.
pub(super) fn said_before(waits: &WaitingCup<'_>) -> Markup {
    html! {
        input type="hidden" name="name" value=(waits.name);
        input type="hidden" name="sex" value=(waits.sex);
        input type="hidden" name="last" value=(waits.is_last);
    }
}
