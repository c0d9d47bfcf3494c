//! Labels to print: the tank's code in large print, and its link for the phone's own camera.

use catchcup::book::Tank;
use maud::html;

use super::encoded;
use super::frame::{Page, page};
use super::square::square;
use crate::web::access::Visitor;

/// A label for each tank in use; links begin with `host`.
pub fn labels(visitor: &Visitor, tanks: &[Tank], host: &str) -> Page {
    if is_this_computer(host) {
        return for_nobody(visitor, host);
    }
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

/// True for a name of the computer itself, which no phone can open.
fn is_this_computer(host: &str) -> bool {
    let name = host.rsplit_once(':').map_or(host, |(name, _)| name);
    let name = name.trim_matches(['[', ']']);
    let loopback = name
        .parse::<std::net::IpAddr>()
        .is_ok_and(|ip| ip.is_loopback());
    loopback || name.eq_ignore_ascii_case("localhost")
}

/// No labels: their links would open on no phone.
fn for_nobody(visitor: &Visitor, host: &str) -> Page {
    let content = html! {
        h1 { "Labels" }
        p.box.warn { "No labels yet: at the address " strong { (host) } " the page opens on this computer alone, so no phone could "
            "open a printed link." }
        p { "Start it with this computer's address in the room's network, catchcup serve --lan ADDRESS, open it at that address and "
            "print the labels then. Codes to lie beside the cup need no address: catchcup tank tags tags.svg" }
    };
    page("Labels", Some(visitor), &content)
}

#[cfg(test)]
mod tests {
    use super::is_this_computer;

    #[test]
    fn names_of_the_computer_itself() {
        for own in ["127.0.0.1:8480", "localhost:80", "[::1]:8480", "127.4.0.1"] {
            assert!(is_this_computer(own), "{own}");
        }
        for room in [
            "192.168.1.20:8480",
            "room.lan:80",
            "room.lan",
            "[fd00::2]:80",
        ] {
            assert!(!is_this_computer(room), "{room}");
        }
    }
}
