//! The wall and a tank's pages: does its line hold?

use std::sync::Arc;

use axum::Extension;
use axum::extract::{Path, State};
use axum::http::{StatusCode, header};
use axum::response::{IntoResponse, Redirect, Response};
use catchcup::book::{Book, NewNote, NoteKind, Tank};
use catchcup::error::Error;
use catchcup::report::plot::{Svg, mix_svg, trend_svg};
use catchcup::trends::Watched;
use catchcup::trends::over_time::mix_over_time;
use catchcup::trends::tank_trend::TankTrend;

use super::access::Visitor;
use super::own_form::OwnForm;
use super::routes::{Answer, number};
use super::trends::{ladder_of, trend};
use super::trouble::Trouble;
use super::{Settings, Shared, pages};

pub async fn wall(State(room): State<Shared>, Extension(visitor): Extension<Visitor>) -> Answer {
    let (today, rules) = ((room.settings.clock)().date(), room.settings.holds);
    let (tanks, entry) = room
        .book(move |book| {
            let states = book.tank_states(today, &rules, false)?;
            let mut tanks = Vec::with_capacity(states.len());
            for state in states {
                let last = state.last_scoop.as_ref().map(|s| book.scoop(s.number));
                tanks.push((state, last.transpose()?));
            }
            let entry = book.trail(1)?.first().map(|entry| entry.number);
            Ok((tanks, entry))
        })
        .await?;
    let (trends, is_fresh) = room.trends.of(&room, entry);
    Ok(pages::wall(&visitor, &tanks, &trends, is_fresh, today).into_response())
}

/// A tank's trend in all measures, with what is needed to draw it.
pub struct Found {
    pub tank: Tank,
    title: String,
    pub trend: Option<TankTrend>,
    labels: [String; 6],
}

/// Reads and judges a tank's past.
///
/// # Errors
/// Where there is no such tank, or the book can't be read.
pub async fn found(room: &Shared, code: String) -> Result<Found, Trouble> {
    let shared: Arc<_> = room.clone();
    room.book(move |book| read(book, &code, &shared.settings))
        .await
}

fn read(book: &mut Book, code: &str, settings: &Settings) -> Result<Found, Error> {
    let tank = book.tank(code)?;
    let house = book.house(settings.sale_rung, settings.order.minutes)?;
    let ladder = ladder_of(book, tank.line.as_deref(), &settings.shelf)?;
    let generations = book.generations()?;
    let trend = trend(
        book,
        &tank.code,
        &house,
        &Watched::ALL,
        &generations,
        ladder.as_ref(),
    )?;
    Ok(Found {
        title: match &tank.line {
            Some(line) => format!("tank {}, line {line}", tank.code),
            None => format!("tank {}", tank.code),
        },
        labels: ladder.map(|ladder| ladder.labels).unwrap_or_default(),
        trend,
        tank,
    })
}

/// A note on the tank: a loss, animals moved, a treatment, a remark.
pub async fn note(
    State(room): State<Shared>,
    Path(code): Path<String>,
    OwnForm { visitor, form }: OwnForm,
) -> Answer {
    let kind = form.get("kind").and_then(|word| NoteKind::from_word(word));
    let kind = kind.filter(|kind| pages::NOTES_BY_PHONE.contains(kind));
    let count = number::<u32>(&form, "count").filter(|count| (1..=100_000).contains(count));
    let needs_count = matches!(
        kind,
        Some(NoteKind::Loss | NoteKind::MovedIn | NoteKind::MovedOut)
    );
    let (Some(kind), false) = (kind, needs_count && count.is_none()) else {
        return Err(Trouble::new(
            StatusCode::UNPROCESSABLE_ENTITY,
            "no_count",
            "it is not said how many animals; nothing was noted",
            "say how many",
        ));
    };
    let new = NewNote {
        tank: code,
        kind,
        day: None,
        count: count.filter(|_| needs_count),
        until: None,
        other: String::new(),
        text: form.get("text").cloned().unwrap_or_default(),
        sure: false,
    };
    let stamp = room.stamp(&visitor.device.name);
    let note = room.book(move |book| book.add_note(&new, &stamp)).await?;
    Ok(Redirect::to(&pages::tank_path(&note.tank)).into_response())
}

/// The tank's trend in words and plots.
pub async fn trend_page(
    State(room): State<Shared>,
    Extension(visitor): Extension<Visitor>,
    Path(code): Path<String>,
) -> Answer {
    let found = found(&room, code).await?;
    let sale = room.settings.sale_rung;
    let page = pages::trend(
        &visitor,
        &found.tank.code,
        &found.title,
        found.trend.as_ref(),
        sale,
    );
    Ok(page.into_response())
}

/// The plot of a measure by its word; of the one that changes, else the first, for `most`.
pub async fn trend_picture(
    State(room): State<Shared>,
    Path((code, picture)): Path<(String, String)>,
) -> Answer {
    let found = found(&room, code).await?;
    let trend = found.trend.as_ref().ok_or_else(no_plot)?;
    let word = picture.strip_suffix(".svg").ok_or_else(no_plot)?;
    let of_word = |m: &&catchcup::trends::tank_trend::MeasureTrend| m.series.measure.word() == word;
    let measure = trend.measures.iter().find(of_word).ok_or_else(no_plot)?;
    Ok(svg(&trend_svg(
        trend,
        measure,
        &found.title,
        room.settings.sale_rung,
    )))
}

/// The grade mix from scoop to scoop.
pub async fn mix_picture(State(room): State<Shared>, Path(code): Path<String>) -> Answer {
    let found = found(&room, code).await?;
    let trend = found.trend.as_ref().ok_or_else(no_plot)?;
    let (code, axis) = (found.tank.code.clone(), trend.axis);
    let scoops = room.book(move |book| book.measures_of_tank(&code)).await?;
    let points = mix_over_time(&scoops, axis);
    Ok(svg(&mix_svg(&points, &found.title, &found.labels)))
}

fn no_plot() -> Trouble {
    Trouble::new(
        StatusCode::NOT_FOUND,
        "no_plot",
        "there is no such plot",
        "file a scoop of this tank first",
    )
}

/// A picture with its own style; nothing in it runs or loads.
fn svg(picture: &Svg) -> Response {
    let headers = [
        (header::CONTENT_TYPE, "image/svg+xml"),
        (
            header::CONTENT_SECURITY_POLICY,
            "default-src 'none'; style-src 'unsafe-inline'; frame-ancestors 'none'; sandbox",
        ),
    ];
    (headers, picture.finish()).into_response()
}
