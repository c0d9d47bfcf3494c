//! The price list of the house.

use catchcup::ladder::Rung;
use catchcup::report::proof::prices::Row;
use maud::html;

use super::frame::{Page, page, sentence};
use super::tank_path;
use crate::web::access::Visitor;

/// Prices of all tanks.
pub fn prices(visitor: &Visitor, rows: &[Row], currency: &str) -> Page {
    let content = html! {
        h1 { "Price list" }
        p.faint { "Average of the last scoop's animals that have a price; the range is that of animals too close to call." }
        ul.list {
            @for row in rows {
                li { a.row href=(tank_path(&row.tank)) {
                    strong { (row.tank) } @if !row.line.is_empty() { ", " (row.line) } ": " strong { (row.price(currency)) }
                    br;
                    @match &row.held {
                        Some(why) => { span.mark { "Not for sale: " (sentence(why)) } }
                        None => { (counts(row)) }
                    }
                    @if let Some(day) = &row.day { " (" (day) ")" }
                } }
            }
        }
    };
    page("Price list", Some(visitor), &content)
}

/// Counts by rung, best first; only what is there.
fn counts(row: &Row) -> String {
    let names = Rung::all().rev().map(|rung| rung.to_string());
    let named = names.chain(["off-type".to_string()]).zip(row.counts);
    let there: Vec<String> = named
        .filter(|(_, count)| *count > 0)
        .map(|(name, count)| format!("{count} {name}"))
        .collect();
    if there.is_empty() {
        "no scoop yet".into()
    } else {
        there.join(", ")
    }
}
