//! What people say the program got wrong, from the phone into the book.

use axum::Extension;
use axum::extract::{Path, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Redirect};
use catchcup::book::NewOwnRung;
use catchcup::eye::errors::Right;
use catchcup::ladder::Rung;

use super::access::Visitor;
use super::own_form::OwnForm;
use super::routes::Answer;
use super::trouble::Trouble;
use super::{Shared, pages};

/// What is right of an animal: `right=KIND=VALUE`.
pub async fn right(
    State(room): State<Shared>,
    Path((number, no)): Path<(i64, u32)>,
    OwnForm { visitor, form }: OwnForm,
) -> Answer {
    let said = form.get("right").and_then(|said| said.split_once('='));
    let right = said.and_then(|(kind, value)| Right::from_words(kind, value));
    let right = right.ok_or_else(not_understood)?;
    let stamp = room.stamp(&visitor.device.name);
    room.book(move |book| book.correct(number, no, right, &stamp))
        .await?;
    Ok(back(number, no))
}

/// The own rung of an animal; the program's was in view.
pub async fn rung(
    State(room): State<Shared>,
    Path((number, no)): Path<(i64, u32)>,
    OwnForm { visitor, form }: OwnForm,
) -> Answer {
    let rung = form.get("rung").and_then(|word| Rung::from_word(word));
    let new = NewOwnRung {
        scoop: number,
        no,
        rung: rung.ok_or_else(not_understood)?,
        who: None,
        at: None,
        is_blind: false,
        sitting: None,
    };
    let stamp = room.stamp(&visitor.device.name);
    room.book(move |book| book.give_rungs(&[new], &stamp))
        .await?;
    Ok(back(number, no))
}

fn back(number: i64, no: u32) -> axum::response::Response {
    Redirect::to(&format!("/scoop/{number}/animal/{no}?said=kept")).into_response()
}

/// Every animal of the scoop was looked at.
pub async fn looked_through(
    State(room): State<Shared>,
    Path(number): Path<i64>,
    OwnForm { visitor, form }: OwnForm,
) -> Answer {
    let is_done = form.get("done").is_some_and(|done| done == "yes");
    let stamp = room.stamp(&visitor.device.name);
    room.book(move |book| book.look_through(number, is_done, &stamp))
        .await?;
    Ok(Redirect::to(&format!("/scoop/{number}")).into_response())
}

/// How often the program errs.
pub async fn errors(State(room): State<Shared>, Extension(visitor): Extension<Visitor>) -> Answer {
    let found = room.book(|book| book.errors_found()).await?;
    Ok(pages::errors(&visitor, &found).into_response())
}

fn not_understood() -> Trouble {
    Trouble::new(
        StatusCode::UNPROCESSABLE_ENTITY,
        "not_understood",
        "this button is not known here; nothing was kept",
        "open the page again and tap there",
    )
}
