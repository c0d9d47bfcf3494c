//! Every address of the room page.

use std::collections::HashMap;

use axum::extract::{DefaultBodyLimit, Multipart, Path, Query, State};
use axum::http::{HeaderMap, StatusCode, header};
use axum::response::{IntoResponse, Redirect, Response};
use axum::routing::{get, post};
use axum::{Extension, Router, middleware};
use catchcup::book::Which;
use catchcup::error::Error;

use super::access::{Visitor, guard};
use super::devices_routes::{devices, new_code, new_token, pair, pair_page, revoke};
use super::filing::{self, Outcome, Question, Said};
use super::own_form::OwnForm;
use super::trouble::Trouble;
use super::{
    Shared, api, corrections, pages, prices, proofs, scoop_routes, sorting, sorting_again,
    sorting_sure, tank_routes, upload,
};

/// Largest form without photos, bytes.
const MOST_PLAIN: usize = 16 << 10;
/// Entries shown of the trail.
const TRAIL: usize = 30;
/// Scoops shown on a tank's page.
const SCOOPS: usize = 12;

pub type Fields = HashMap<String, String>;
pub type Answer = Result<Response, Trouble>;

pub fn router(room: Shared) -> Router {
    Router::new()
        .route("/", get(tank_routes::wall))
        .route("/pair", get(pair_page).post(pair))
        .route("/devices", get(devices))
        .route("/devices/code", post(new_code))
        .route("/devices/token", post(new_token))
        .route("/devices/revoke", post(revoke))
        .route("/t/{code}", get(label))
        .route("/tank/{code}", get(tank))
        .route("/tank/{code}/netted", get(netted_now))
        .route("/tank/{code}/note", post(tank_routes::note))
        .route("/tank/{code}/trend", get(tank_routes::trend_page))
        .route(
            "/tank/{code}/trend/{picture}",
            get(tank_routes::trend_picture),
        )
        .route("/tank/{code}/mix.svg", get(tank_routes::mix_picture))
        .route("/tank/{code}/sort", get(sorting::sorting))
        .route("/tank/{code}/sort/start", post(sorting::start))
        .route(
            "/tank/{code}/sort/cup",
            post(sorting::cup).layer(DefaultBodyLimit::max(upload::MOST_FORM)),
        )
        .route("/tank/{code}/sort/cup/{no}", get(sorting::cup_page))
        .route(
            "/tank/{code}/sort/cup/{no}/orders.jpg",
            get(sorting::orders),
        )
        .route(
            "/tank/{code}/sort/again/{photo}",
            get(sorting_again::question).post(sorting_again::answered),
        )
        .route(
            "/tank/{code}/sort/again/{photo}/rings.jpg",
            get(sorting_again::rings),
        )
        .route(
            "/tank/{code}/sort/sure/{photo}",
            get(sorting_sure::question).post(sorting_sure::answered),
        )
        .route("/tank/{code}/sort/finish", post(sorting::finish))
        .route("/prices", get(prices::prices))
        .route("/proofs", get(proofs::proofs))
        .route("/proofs/{proof}/{file}", get(proofs::file))
        .route(
            "/tank/{code}/scoop",
            post(send).layer(DefaultBodyLimit::max(upload::MOST_FORM)),
        )
        .route("/tank/{code}/waiting/{photo}", get(waiting))
        .route("/tank/{code}/waiting/{photo}/rings.jpg", get(waiting_rings))
        .route("/tank/{code}/file", post(file_waiting))
        .route("/scoop/{number}", get(scoop_routes::scoop))
        .route("/scoop/{number}/rings.jpg", get(scoop_routes::rings))
        .route("/scoop/{number}/animal/{no}", get(scoop_routes::animal))
        .route(
            "/scoop/{number}/animal/{no}/straight.jpg",
            get(scoop_routes::straight),
        )
        .route(
            "/scoop/{number}/animal/{no}/right",
            post(corrections::right),
        )
        .route("/scoop/{number}/animal/{no}/rung", post(corrections::rung))
        .route(
            "/scoop/{number}/looked-through",
            post(corrections::looked_through),
        )
        .route("/scoop/{number}/proof", get(proofs::ask).post(proofs::make))
        .route("/errors", get(corrections::errors))
        .route("/labels", get(labels))
        .route("/trail", get(trail))
        .route("/undo", post(undo))
        .route("/redo", post(redo))
        .route("/room.css", get(css))
        .route("/room.js", get(js))
        .route("/room.svg", get(icon))
        .nest("/api/v1", api::router().layer(DefaultBodyLimit::disable()))
        .fallback(nothing_here)
        .layer(DefaultBodyLimit::max(MOST_PLAIN))
        .layer(middleware::from_fn_with_state(room.clone(), guard))
        .with_state(room)
}

async fn nothing_here() -> Trouble {
    Trouble::new(
        StatusCode::NOT_FOUND,
        "no_page",
        "there is no such page",
        "go back to all tanks",
    )
}

async fn css() -> Response {
    asset("text/css; charset=utf-8", include_str!("look/room.css"))
}

async fn icon() -> Response {
    asset("image/svg+xml", include_str!("look/room.svg"))
}

async fn js() -> Response {
    asset(
        "text/javascript; charset=utf-8",
        include_str!("look/room.js"),
    )
}

fn asset(kind: &'static str, text: &'static str) -> Response {
    ([(header::CONTENT_TYPE, kind)], text).into_response()
}

pub fn jpeg(bytes: Vec<u8>) -> Response {
    let headers = [
        (header::CONTENT_TYPE, "image/jpeg"),
        (header::CACHE_CONTROL, "private, max-age=3600"),
    ];
    (headers, bytes).into_response()
}

/// The link on a printed label; the code may be written in any case.
async fn label(State(room): State<Shared>, Path(code): Path<String>) -> Answer {
    let tank = room.book(move |book| book.tank(&code)).await?;
    Ok(Redirect::to(&pages::tank_path(&tank.code)).into_response())
}

async fn labels(
    State(room): State<Shared>,
    Extension(visitor): Extension<Visitor>,
    headers: HeaderMap,
) -> Answer {
    let tanks = room.book(|book| book.tanks()).await?;
    let host = headers
        .get(header::HOST)
        .and_then(|host| host.to_str().ok());
    Ok(pages::labels(&visitor, &tanks, host.unwrap_or_default()).into_response())
}

async fn tank(
    State(room): State<Shared>,
    Extension(visitor): Extension<Visitor>,
    Path(code): Path<String>,
    Query(query): Query<Fields>,
) -> Answer {
    let (today, rules) = ((room.settings.clock)().date(), room.settings.holds);
    let (state, past, notes) = room
        .book(move |book| {
            let state = book.tank_state(&code, today, &rules)?;
            let mut past = book.history_of_tank(&code)?;
            past.reverse();
            past.truncate(SCOOPS);
            let notes = book.notes(Some(&code))?;
            Ok((state, past, notes))
        })
        .await?;
    let shot = pages::Shot {
        netted: number(&query, "netted"),
        again: number(&query, "again"),
        minutes: room.settings.order.minutes,
    };
    Ok(pages::tank(&visitor, &state, &past, &notes, &shot, today).into_response())
}

/// Starts the timer; the moment stands in the address, so that it survives everything.
async fn netted_now(Path(code): Path<String>) -> Redirect {
    let now = filing::now_epoch();
    Redirect::to(&format!("{}?netted={now}", pages::tank_path(&code)))
}

async fn send(
    State(room): State<Shared>,
    Extension(visitor): Extension<Visitor>,
    Path(code): Path<String>,
    headers: HeaderMap,
    form: Multipart,
) -> Answer {
    let form = upload::read(form, &headers, &visitor).await?;
    let again = number(&form.fields, "again");
    let netted = number(&form.fields, "netted");
    let mut which = again.map_or(Which::Ask, Which::AgainOf);
    let (mut first, count) = (None, form.photos.len());
    for (at, sent) in form.photos.into_iter().enumerate() {
        let said = Said {
            tank: code.clone(),
            name: sent.name,
            netted,
            seconds: filing::seconds_in_cup(netted),
            tank_sure: again.is_some() || at > 0,
            which,
        };
        match filing::file(&room, &visitor.device.name, &said, sent.bytes).await? {
            Outcome::Filed(number) | Outcome::Known(number) => {
                first = first.or(Some(number));
                which = Which::AgainOf(again.or(first).unwrap_or(number));
            }
            Outcome::Waits(photo, question) => {
                let unread = count - at - 1;
                let to = waiting_path(&said, &photo, question.as_ref(), unread);
                return Ok(Redirect::to(&to).into_response());
            }
        }
    }
    let number = first.ok_or_else(|| Error::bug("no photo was filed and none waits"))?;
    Ok(Redirect::to(&scoop_path(number, netted)).into_response())
}

fn scoop_path(number: i64, netted: Option<i64>) -> String {
    let netted = netted.map_or(String::new(), |at| format!("?netted={at}"));
    format!("/scoop/{number}{netted}")
}

/// Everything that the page of a waiting photo needs stands in its address.
fn waiting_path(said: &Said, photo: &str, question: Option<&Question>, unread: usize) -> String {
    let mut path = format!(
        "{}/waiting/{photo}?name={}",
        pages::tank_path(&said.tank),
        pages::encoded(&said.name)
    );
    if let Some(at) = said.netted {
        path += &format!("&netted={at}");
    }
    if let Some(seconds) = said.seconds {
        path += &format!("&seconds={seconds}");
    }
    match question {
        Some(Question::Tank) => path += "&ask=tank",
        Some(Question::Same { near, alike }) => {
            path += &format!("&ask=same&near={near}&alike={alike}")
        }
        None => {}
    }
    if said.tank_sure {
        path += "&sure=true";
    }
    if unread > 0 {
        path += &format!("&unread={unread}");
    }
    path
}

pub fn number<T: std::str::FromStr>(fields: &Fields, name: &str) -> Option<T> {
    fields.get(name)?.parse().ok()
}

pub fn is_true(fields: &Fields, name: &str) -> bool {
    fields.get(name).is_some_and(|value| value == "true")
}

/// A waiting photo, graded or remembered, with the tank it was sent for.
async fn look_at(
    room: &Shared,
    code: String,
    photo: &str,
    query: &Fields,
) -> Result<(catchcup::book::Tank, std::sync::Arc<super::grader::Shown>), Trouble> {
    let bytes = filing::waiting(room, photo)?;
    let tank = room.book(move |book| book.tank(&code)).await?;
    let ladder = filing::ladder_of(room, &tank)?;
    let name = upload::plain_name(query.get("name").map_or("", String::as_str));
    let netted = filing::netted(number(query, "seconds"));
    let bytes = std::sync::Arc::new(bytes);
    let shown = filing::shown(room, &name, &bytes, ladder, netted).await?;
    Ok((tank, shown))
}

async fn waiting(
    State(room): State<Shared>,
    Extension(visitor): Extension<Visitor>,
    Path((code, photo)): Path<(String, String)>,
    Query(query): Query<Fields>,
) -> Answer {
    let (tank, shown) = look_at(&room, code, &photo, &query).await?;
    let rings = format!(
        "{}/waiting/{photo}/rings.jpg?seconds={}&name={}",
        pages::tank_path(&tank.code),
        query.get("seconds").map_or("", String::as_str),
        pages::encoded(query.get("name").map_or("", String::as_str))
    );
    let ask = match query.get("ask").map(String::as_str) {
        Some("tank") => Some(Question::Tank),
        Some("same") => number(&query, "near").map(|near| Question::Same {
            near,
            alike: is_true(&query, "alike"),
        }),
        _ => None,
    };
    let waits = pages::Waits {
        photo: &photo,
        rings: &rings,
        name: query.get("name").map_or("", String::as_str),
        netted: number(&query, "netted"),
        seconds: number(&query, "seconds"),
        sure: is_true(&query, "sure"),
        unread: number(&query, "unread").unwrap_or(0),
        question: ask,
    };
    Ok(pages::waiting(&visitor, &tank, &shown, &waits, &room.settings).into_response())
}

async fn waiting_rings(
    State(room): State<Shared>,
    Path((code, photo)): Path<(String, String)>,
    Query(query): Query<Fields>,
) -> Answer {
    let (_, shown) = look_at(&room, code, &photo, &query).await?;
    Ok(jpeg(shown.overlay.clone()))
}

/// Files a waiting photo with its question answered.
async fn file_waiting(
    State(room): State<Shared>,
    Path(code): Path<String>,
    OwnForm { visitor, form }: OwnForm,
) -> Answer {
    let photo = form.get("photo").map_or("", String::as_str);
    let bytes = filing::waiting(&room, photo)?;
    let which = match (form.get("which").map(String::as_str), number(&form, "near")) {
        (Some("own"), _) => Which::Own,
        (Some("again"), Some(near)) => Which::AgainOf(near),
        _ => Which::Ask,
    };
    let said = Said {
        tank: code,
        name: upload::plain_name(form.get("name").map_or("", String::as_str)),
        netted: number(&form, "netted"),
        seconds: number(&form, "seconds"),
        tank_sure: is_true(&form, "sure"),
        which,
    };
    let to = match filing::file(&room, &visitor.device.name, &said, bytes).await? {
        Outcome::Filed(number) | Outcome::Known(number) => scoop_path(number, said.netted),
        Outcome::Waits(photo, question) => waiting_path(&said, &photo, question.as_ref(), 0),
    };
    Ok(Redirect::to(&to).into_response())
}

async fn trail(
    State(room): State<Shared>,
    Extension(visitor): Extension<Visitor>,
    Query(query): Query<Fields>,
) -> Answer {
    let entries = room.book(|book| book.trail(TRAIL)).await?;
    let said = query.get("said").map(String::as_str);
    Ok(pages::trail(&visitor, &entries, said).into_response())
}

async fn undo(State(room): State<Shared>, form: OwnForm) -> Answer {
    back_or_forth(room, form, true).await
}

async fn redo(State(room): State<Shared>, form: OwnForm) -> Answer {
    back_or_forth(room, form, false).await
}

/// Undoes or redoes, unless somebody wrote into the book since the page was made: nobody takes back what another has
/// just done without seeing it.
async fn back_or_forth(room: Shared, OwnForm { visitor, form }: OwnForm, undo: bool) -> Answer {
    let seen: Option<i64> = number(&form, "last");
    let stamp = room.stamp(&visitor.device.name);
    let said = room
        .book(move |book| {
            let last = book.trail(1)?.first().map(|entry| entry.number);
            if last != seen {
                return Ok("newer");
            }
            let done = if undo {
                book.undo(&stamp)?
            } else {
                book.redo(&stamp)?
            };
            Ok(match (done, undo) {
                (None, _) => "nothing",
                (Some(_), true) => "back",
                (Some(_), false) => "forth",
            })
        })
        .await?;
    Ok(Redirect::to(&format!("/trail?said={said}")).into_response())
}
