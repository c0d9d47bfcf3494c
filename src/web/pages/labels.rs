//! Labels to print: the tank's code in large print, and its link for the phone's own camera.

use catchcup::book::Tank;
use maud::html;

use super::encoded;
use super::frame::{Page, page};
use super::square::square;
use crate::web::access::Visitor;

/// A label for each tank in use; links begin with `host`.
pub fn labels(visitor: &Visitor, tanks: &[Tank], host: &str) -> Page {
    let link = |tank: &Tank| format!("http://{host}/t/{}", encoded(&tank.code));
    let content = html! {
        h1 { "Labels" }
        p.screen { "Print this page. The camera of a paired phone opens the tank's page from its label." }
        p.screen { "Links hold for the address " strong { (host) } ": give this computer a fixed address in your router, "
            "or a name (--name). Where it changed all the same, tap the printed code under All tanks." }
        ul.labels {
            @for tank in tanks.iter().filter(|tank| tank.retired.is_none()) {
                li {
                    p.code { (tank.code) }
                    p { (tank.line.as_deref().unwrap_or("no line")) }
                    (square(&link(tank), &format!("Link to tank {}", tank.code)))
                }
            }
        }
    };
    page("Labels", Some(visitor), &content)
}
