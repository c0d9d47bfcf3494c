//! The price list: the same rows as the command `price list`.

use axum::Extension;
use axum::extract::State;
use axum::http::StatusCode;
use axum::response::IntoResponse;
use catchcup::error::Error;
use catchcup::proof::price::value;
use catchcup::report::proof::prices::Row;
use catchcup::scoop::last_day;

use super::access::Visitor;
use super::routes::Answer;
use super::trouble::Trouble;
use super::{Shared, pages};

pub async fn prices(State(room): State<Shared>, Extension(visitor): Extension<Visitor>) -> Answer {
    let prices = (room.settings.files.prices)().map_err(of_file)?;
    let (today, rules) = ((room.settings.clock)().date(), room.settings.holds);
    let currency = prices.currency.clone();
    let rows = room
        .book(move |book| {
            let mut rows = Vec::new();
            for state in book.tank_states(today, &rules, false)? {
                let scoops = last_day(&book.history_of_tank(&state.tank.code)?);
                let animals: Vec<_> = scoops.iter().flat_map(|s| s.animals.clone()).collect();
                rows.push(Row::of(&state, &scoops, value(&prices, &animals)));
            }
            Ok(rows)
        })
        .await?;
    Ok(pages::prices(&visitor, &rows, &currency).into_response())
}

/// What is wrong with one of the house's files, told on the page as the command line tells it.
pub fn of_file(error: anyhow::Error) -> Trouble {
    match error.downcast::<Error>() {
        Ok(error) => error.into(),
        Err(error) => Trouble::new(
            StatusCode::UNPROCESSABLE_ENTITY,
            "house_file",
            format!("{error:#}"),
            "mend the file at the computer",
        ),
    }
}
