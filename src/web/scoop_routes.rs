//! A filed scoop and its animals.

use axum::Extension;
use axum::extract::{Path, Query, State};
use axum::http::StatusCode;
use axum::response::IntoResponse;
use catchcup::book::{when_doubt, when_from};

use super::access::Visitor;
use super::routes::{Answer, Fields, jpeg, number};
use super::trouble::Trouble;
use super::{Shared, filing, pages};

pub async fn scoop(
    State(room): State<Shared>,
    Extension(visitor): Extension<Visitor>,
    Path(number_of): Path<i64>,
    Query(query): Query<Fields>,
) -> Answer {
    let (now, rules) = ((room.settings.clock)(), room.settings.holds);
    let today = now.date();
    let said = said_of(&room, number_of).await?;
    let (past, state, last_off) = room
        .book(move |book| {
            let past = book.scoop(number_of)?;
            let state = book.tank_state(&past.tank, today, &rules)?;
            let last_off = book.last_off_type(&past.tank, past.at)?;
            Ok((past, state, last_off))
        })
        .await?;
    let shown = filing::shown_again(&room, &past).await?;
    let moment = (past.at, when_from(past.at, past.origin.taken_at.as_deref()));
    let filed = pages::Filed {
        // It may be looked at long after it was filed: then late is no doubt.
        when_doubt: when_doubt(moment, &state.tank, past.number, now)
            .filter(|doubt| doubt.code != "filed_late"),
        past: &past,
        state: &state,
        last_off_type: last_off.as_ref(),
        netted: number(&query, "netted"),
        today,
        said: &said,
    };
    Ok(pages::scoop(&visitor, &filed, shown.as_deref(), &room.settings).into_response())
}

/// What people said of the animals of a scoop.
async fn said_of(room: &Shared, number: i64) -> Result<pages::SaidOf, Trouble> {
    room.book(move |book| {
        let mut own_rungs = book.own_rungs()?;
        own_rungs.retain(|one| one.scoop == number && one.sitting.is_none());
        Ok(pages::SaidOf {
            corrections: book.corrections_of(number)?,
            own_rungs,
            looked_through: book
                .looked_through()?
                .iter()
                .any(|(scoop, _)| *scoop == number),
        })
    })
    .await
}

async fn shown_of(room: &Shared, number: i64) -> Result<Shown, Trouble> {
    let past = room.book(move |book| book.scoop(number)).await?;
    let shown = filing::shown_again(room, &past).await?;
    let shown = shown.ok_or_else(no_picture)?;
    Ok(Shown { past, shown })
}

/// A filed scoop and its photo graded again.
struct Shown {
    past: catchcup::scoop::PastScoop,
    shown: std::sync::Arc<super::grader::Shown>,
}

fn no_picture() -> Trouble {
    Trouble::new(
        StatusCode::NOT_FOUND,
        "no_picture",
        "there is no such picture",
        "the photo of this scoop was not kept, or it has no such animal",
    )
}

pub async fn rings(State(room): State<Shared>, Path(number): Path<i64>) -> Answer {
    let found = shown_of(&room, number).await?;
    Ok(jpeg(found.shown.overlay.clone()))
}

pub async fn animal(
    State(room): State<Shared>,
    Extension(visitor): Extension<Visitor>,
    Path((number, no)): Path<(i64, u32)>,
    Query(query): Query<Fields>,
) -> Answer {
    let found = shown_of(&room, number).await?;
    let said = said_of(&room, number).await?;
    let kept = query.contains_key("said");
    let animals = &found.shown.scoop.animals;
    let animal = animals.iter().find(|animal| animal.measures.no == no);
    let animal = animal.ok_or_else(no_picture)?;
    Ok(pages::animal(
        &visitor,
        &found.past,
        &found.shown.scoop,
        animal,
        &said,
        kept,
    )
    .into_response())
}

pub async fn straight(State(room): State<Shared>, Path((number, no)): Path<(i64, u32)>) -> Answer {
    let found = shown_of(&room, number).await?;
    let picture = found.shown.crop(no).await;
    Ok(jpeg(picture.ok_or_else(no_picture)?))
}
