//! The room page for programs: the same answers as the commands with `--json`, by bearer token.

mod document;
mod tokens;

pub use tokens::{Guesses, Program, admitted};

use axum::body::Body;
use axum::extract::rejection::PathRejection;
use axum::extract::{Path, Query, State};
use axum::http::{HeaderMap, StatusCode, header};
use axum::response::{IntoResponse, Response};
use axum::routing::get;
use axum::{Extension, Router};
use catchcup::book::Which;
use catchcup::error::Error;
use catchcup::report::wire;
use serde_json::json;

use super::filing::{self, Outcome, Question, Said};
use super::routes::{Fields, is_true, number};
use super::trouble::Trouble;
use super::{Shared, tank_routes, upload};

/// An answer of the interface for programs.
type Answer = Result<Response, Refused>;
/// A part of the address, which may not be readable.
type Part<T> = Result<Path<T>, PathRejection>;

/// What could not be done, as JSON.
pub struct Refused(pub Trouble);

impl<T: Into<Trouble>> From<T> for Refused {
    fn from(trouble: T) -> Self {
        Self(trouble.into())
    }
}

impl IntoResponse for Refused {
    fn into_response(self) -> Response {
        let note = &self.0.note;
        let body = json!({
            "schema": "catchcup.refused/1",
            "error": {"code": note.code, "message": note.message, "hint": note.hint},
        });
        (self.0.status, of_json(body.to_string())).into_response()
    }
}

fn of_json(text: String) -> Response {
    ([(header::CONTENT_TYPE, "application/json")], text).into_response()
}

fn list(objects: impl IntoIterator<Item = String>) -> Response {
    let objects: Vec<String> = objects.into_iter().collect();
    of_json(format!("[{}]", objects.join(",")))
}

/// Addresses for programs.
pub fn router() -> Router<Shared> {
    Router::new()
        .route("/openapi.json", get(openapi))
        .route("/tanks", get(tanks))
        .route("/tanks/{code}", get(tank))
        .route("/tanks/{code}/scoops", get(scoops).post(file))
        .route("/tanks/{code}/trend", get(trend))
        .route("/scoops/{number}", get(scoop))
        .route("/scoops/{number}/corrections", get(corrections))
        .route("/errors", get(errors))
        .fallback(nothing_here)
        .method_not_allowed_fallback(no_method)
}

async fn nothing_here() -> Refused {
    Refused(Trouble::new(
        StatusCode::NOT_FOUND,
        "no_address",
        "there is no such address",
        "see /api/v1/openapi.json",
    ))
}

async fn no_method() -> Refused {
    Refused(Trouble::new(
        StatusCode::METHOD_NOT_ALLOWED,
        "no_method",
        "this address is not used like that",
        "see /api/v1/openapi.json",
    ))
}

async fn openapi() -> Answer {
    Ok(of_json(document::document()?))
}

/// A part of the address as text.
fn part(read: Part<String>) -> Result<String, Refused> {
    read.map(|Path(text)| text).map_err(|_| {
        Refused(Trouble::new(
            StatusCode::BAD_REQUEST,
            "bad_address",
            "the address is no text",
            "encode it as UTF-8 with per cent signs",
        ))
    })
}

fn scoop_number(read: Part<String>) -> Result<i64, Refused> {
    let text = part(read)?;
    text.parse().map_err(|_| {
        Refused(Trouble::new(
            StatusCode::NOT_FOUND,
            "no_scoop",
            "there is no scoop of that number",
            "scoops have whole numbers",
        ))
    })
}

async fn tanks(State(room): State<Shared>) -> Answer {
    let (today, rules) = ((room.settings.clock)().date(), room.settings.holds);
    let states = room.book(move |book| book.tank_states(today, &rules, false));
    Ok(list(states.await?.iter().map(wire::book::tank)))
}

async fn tank(State(room): State<Shared>, code: Part<String>) -> Answer {
    let code = part(code)?;
    let (today, rules) = ((room.settings.clock)().date(), room.settings.holds);
    let state = room.book(move |book| book.tank_state(&code, today, &rules));
    Ok(of_json(wire::book::tank(&state.await?)))
}

async fn scoops(State(room): State<Shared>, code: Part<String>) -> Answer {
    let code = part(code)?;
    let all = room.book(move |book| {
        let tank = book.tank(&code)?;
        book.history_of_tank(&tank.code)
    });
    Ok(list(all.await?.iter().map(wire::book::scoop)))
}

async fn trend(State(room): State<Shared>, code: Part<String>) -> Answer {
    let found = tank_routes::found(&room, part(code)?).await?;
    let trend = found.trend.as_ref().ok_or_else(|| {
        Error::book(
            "no_scoops",
            format!("no scoop of tank {} is in the book", found.tank.code),
            "file some first",
        )
    })?;
    let line = found.tank.line.as_deref();
    let sale = room.settings.sale_rung;
    Ok(of_json(wire::trends::trend(
        trend,
        Some(&found.tank.code),
        line,
        sale,
    )))
}

async fn scoop(State(room): State<Shared>, number: Part<String>) -> Answer {
    let number = scoop_number(number)?;
    let past = room.book(move |book| book.scoop(number)).await?;
    Ok(of_json(wire::book::scoop(&past)))
}

async fn corrections(State(room): State<Shared>, number: Part<String>) -> Answer {
    let number = scoop_number(number)?;
    let all = room.book(move |book| {
        book.scoop(number)?;
        book.corrections_of(number)
    });
    Ok(list(all.await?.iter().map(wire::errors::correction)))
}

async fn errors(State(room): State<Shared>) -> Answer {
    let found = room.book(|book| book.errors_found()).await?;
    Ok(of_json(wire::errors::errors(&found)))
}

/// Grades a photo and files it: 201; 200 where it was filed before; 409 with the question that is open.
async fn file(
    State(room): State<Shared>,
    Extension(program): Extension<Program>,
    code: Part<String>,
    Query(query): Query<Fields>,
    headers: HeaderMap,
    body: Body,
) -> Answer {
    let code = part(code)?;
    program.must_write()?;
    is_photo(&headers)?;
    let said = said(&room, code, &query).await?;
    let bytes = upload::plain(body, &headers).await?;
    let (status, number) = match filing::file(&room, &program.name, &said, bytes).await? {
        Outcome::Filed(number) => (StatusCode::CREATED, number),
        Outcome::Known(number) => (StatusCode::OK, number),
        Outcome::Waits(_, Some(question)) => return Err(open(&question).into()),
        Outcome::Waits(_, None) => return Err(not_filed().into()),
    };
    let past = room.book(move |book| book.scoop(number)).await?;
    Ok((status, of_json(wire::book::scoop(&past))).into_response())
}

async fn said(room: &Shared, code: String, query: &Fields) -> Result<Said, Refused> {
    let near = number::<i64>(query, "near");
    let which = match (query.get("which").map(String::as_str), near) {
        (None | Some("ask"), _) => Which::Ask,
        (Some("own"), _) => Which::Own,
        (Some("again"), Some(near)) => Which::AgainOf(near),
        _ => {
            return Err(Refused(Trouble::new(
                StatusCode::UNPROCESSABLE_ENTITY,
                "bad_which",
                "`which` is ask, own, or again with the number of a scoop in `near`",
                "see /api/v1/openapi.json",
            )));
        }
    };
    if let Which::AgainOf(near) = which {
        room.book(move |book| book.scoop(near)).await?;
    }
    let seconds = number::<u32>(query, "netted_seconds").filter(|s| *s <= 7200);
    Ok(Said {
        tank: code,
        name: upload::plain_name(query.get("name").map_or("photo", String::as_str)),
        netted: None,
        seconds,
        tank_sure: is_true(query, "tank_sure"),
        which,
    })
}

fn is_photo(headers: &HeaderMap) -> Result<(), Trouble> {
    let kind = headers.get(header::CONTENT_TYPE);
    let kind = kind.and_then(|kind| kind.to_str().ok()).unwrap_or_default();
    let known = ["jpeg", "png", "webp", "tiff", "heic", "heif"];
    let is_known = kind
        .strip_prefix("image/")
        .is_some_and(|kind| known.contains(&kind));
    if is_known {
        return Ok(());
    }
    Err(Trouble::new(
        StatusCode::UNSUPPORTED_MEDIA_TYPE,
        "no_photo",
        "the content is not named as a photo",
        "send it as image/jpeg, image/png, image/webp, image/tiff, image/heic or image/heif",
    ))
}

fn open(question: &Question) -> Trouble {
    match question {
        Question::Tank => Trouble::new(
            StatusCode::CONFLICT,
            "ask_tank",
            "half of the animals or more are off-type for the tank's line; nothing was filed",
            "where the tank is right all the same: tank_sure=true",
        ),
        Question::Same { near, .. } => Trouble::new(
            StatusCode::CONFLICT,
            "ask_same",
            format!("it may be scoop {near} photographed again; nothing was filed"),
            format!("say which=again&near={near}, or which=own for a scoop of its own"),
        ),
    }
}

fn not_filed() -> Trouble {
    Trouble::new(
        StatusCode::UNPROCESSABLE_ENTITY,
        "not_graded",
        "no animal could be graded in this photo; nothing was filed",
        "photograph the cup again: white, straight from above, even light",
    )
}
