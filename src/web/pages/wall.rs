//! The room wall: all tanks at a glance.

use catchcup::book::TankState;
use catchcup::book::lines::generation_name;
use catchcup::report::book::{ago, hold};
use catchcup::scoop::PastScoop;
use jiff::civil::Date;
use maud::{Markup, html};

use super::frame::{Page, page, sentence};
use super::tank::mix_words;
use super::tank_path;
use crate::web::access::Visitor;
use crate::web::trends::{InShort, Wall};

/// All tanks, each with its last scoop.
///
/// `trends` may be older than the last entry of the book where `is_fresh` is false.
pub fn wall(
    visitor: &Visitor,
    tanks: &[(TankState, Option<PastScoop>)],
    trends: &Wall,
    is_fresh: bool,
    today: Date,
) -> Page {
    let content = html! {
        h1 { "All tanks" }
        @if tanks.is_empty() {
            p { "No tanks yet. Add one at the computer: " code { "catchcup tank add A1 --line red" } }
        }
        @if !is_fresh && !tanks.is_empty() {
            p.faint { "The arrows are being worked out after the last entry: open this page again in a moment." }
        }
        ul.tanks {
            @for (state, last) in tanks {
                li { (one(state, last.as_ref(), trends.tanks.get(&state.tank.code), today)) }
            }
        }
    };
    page("All tanks", Some(visitor), &content)
}

fn one(
    state: &TankState,
    last: Option<&PastScoop>,
    trend: Option<&InShort>,
    today: Date,
) -> Markup {
    let tank = &state.tank;
    let class = if state.holds.stop_selling() {
        "card hold"
    } else {
        "card"
    };
    html! {
        a class=(class) href=(tank_path(&tank.code)) {
            span.code { (tank.code) }
            span.line {
                (tank.line.as_deref().unwrap_or("no line"))
                @if let Some(generation) = &state.generation { ", " (generation_name(generation.number)) }
            }
            @for entry in &state.holds.0 {
                span.mark { @if entry.stops_selling() { "HOLD: " } @else { "Warning: " } (hold(entry)) }
            }
            @match last {
                Some(scoop) => span { (mix_words(scoop)) " (" (ago(scoop.at.date(), today)) ")" },
                None => span.faint { "no scoop yet" },
            }
            @if let Some(trend) = trend {
                span class=(if trend.alarm { "mark" } else { "" }) {
                    span.sign aria-hidden="true" { (trend.sign) } " Coverage " (trend.words)
                }
                span.faint { (sentence(&trend.sentence)) }
            }
        }
    }
}
