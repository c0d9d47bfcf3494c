//! The room wall: all tanks at a glance.

use catchcup::book::TankState;
use catchcup::book::lines::generation_name;
use catchcup::report::book::{ago, hold};
use catchcup::scoop::PastScoop;
use jiff::civil::Date;
use maud::{Markup, html};

use super::frame::{Page, page};
use super::tank::mix_words;
use super::tank_path;
use crate::web::access::Visitor;

/// All tanks, each with its last scoop.
pub fn wall(visitor: &Visitor, tanks: &[(TankState, Option<PastScoop>)], today: Date) -> Page {
    let content = html! {
        h1 { "All tanks" }
        @if tanks.is_empty() {
            p { "No tanks yet. Add one at the computer: " code { "catchcup tank add A1 --line red" } }
        }
        ul.tanks {
            @for (state, last) in tanks { li { (one(state, last.as_ref(), today)) } }
        }
    };
    page("All tanks", Some(visitor), &content)
}

fn one(state: &TankState, last: Option<&PastScoop>, today: Date) -> Markup {
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
        }
    }
}
