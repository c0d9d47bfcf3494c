//! A cup whose animals read so far from those of earlier scoops that it may be another tank or another light: asked before
//! anything is decided. The photo waits under its digest, and everything that the question needs stands in its address.

use std::sync::Arc;

use axum::Extension;
use axum::extract::{Path, Query, State};
use axum::response::{IntoResponse, Redirect};
use catchcup::book::cups::{CupShot, other_tank};
use catchcup::selection::sorting::Shift;

use super::access::Visitor;
use super::grader::Shown;
use super::own_form::OwnForm;
use super::routes::{Answer, Fields};
use super::sorting::{Sent, file};
use super::sorting_again::{sent, waits};
use super::trouble::Trouble;
use super::{Shared, pages};

async fn shift(
    room: &Shared,
    code: String,
    sent: &Sent,
    shown: Arc<Shown>,
) -> Result<Option<Shift>, Trouble> {
    let (bytes, is_last) = (sent.bytes.clone(), sent.is_last);
    room.book(move |book| {
        let entry = book.sorting_under_way(&code)?;
        let shot = CupShot {
            scoop: &shown.scoop,
            photo: (&shown.scoop.photo.file, &bytes),
            sexes: &[],
            sweeps: None,
            left_told: None,
            last: is_last,
            tank_sure: false,
            again: None,
        };
        Ok(other_tank(&entry, &shot))
    })
    .await
}

/// True where it must be asked first whether tank and light are right.
///
/// # Errors
/// Where nothing is being sorted.
pub async fn is_asked(
    room: &Shared,
    code: String,
    sent: &Sent,
    shown: Arc<Shown>,
) -> Result<bool, Trouble> {
    Ok(shift(room, code, sent, shown).await?.is_some())
}

/// Asks whether tank and light are right.
pub async fn question(
    State(room): State<Shared>,
    Extension(visitor): Extension<Visitor>,
    Path((code, photo)): Path<(String, String)>,
    Query(query): Query<Fields>,
) -> Answer {
    let (sent, shown) = sent(&room, &code, &photo, &query).await?;
    let Some(shift) = shift(&room, code.clone(), &sent, shown).await? else {
        return Ok(Redirect::to(&pages::sort_path(&code)).into_response());
    };
    let waits = waits(&photo, &query);
    Ok(pages::cup_sure(&visitor, &code, &shift, &waits).into_response())
}

/// Decides of the cup once the keeper says that all is as usual.
pub async fn answered(
    State(room): State<Shared>,
    Path((code, photo)): Path<(String, String)>,
    OwnForm { visitor, form }: OwnForm,
) -> Answer {
    let (waiting, shown) = sent(&room, &code, &photo, &form).await?;
    let sure = Sent {
        tank_sure: true,
        ..waiting
    };
    let to = file(&room, &visitor, code, sure, shown, None).await?;
    Ok(Redirect::to(&to).into_response())
}
