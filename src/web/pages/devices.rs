//! Pairing, and the list of devices.

use catchcup::doubt::Note;
use maud::html;

use super::frame::{Page, form_key, page, sentence};
use super::square::square;
use crate::web::access::{Device, Fresh as FreshCode, OVERHEARD, Visitor};

/// All that a device sees which is not paired.
pub fn pair(wrong: Option<&Note>) -> Page {
    let content = html! {
        h1 { "Pair this device" }
        @if let Some(note) = wrong {
            div.box.alarm role="alert" { p.big { (sentence(&note.message)) } p { (sentence(&note.hint)) } }
        }
        form method="post" action="/pair" data-pair {
            label for="code" { "Pairing code" }
            input #code name="code" inputmode="numeric" autocomplete="one-time-code" required maxlength="40";
            label for="name" { "Whose device is it? (may stay empty)" }
            input #name name="name" autocomplete="off" maxlength="40";
            button.button.first type="submit" { "Pair" }
        }
        p { (OVERHEARD) }
    };
    page("Pair this device", None, &content)
}

/// What was just made, to be told this once.
#[derive(Clone, Copy)]
pub enum Fresh<'a> {
    Nothing,
    /// A pairing code with the link that brings it along.
    Code(&'a FreshCode, &'a str),
    /// A program's token.
    Token(&'a str),
}

/// The owner's list, with what was just made.
pub fn devices(visitor: &Visitor, all: &[Device], fresh: Fresh<'_>) -> Page {
    let content = html! {
        h1 { "Devices" }
        @if let Fresh::Code(code, link) = fresh {
            div.box.next role="status" {
                p { "Works once, for five minutes. On the new device open " strong { (link.split('#').next().unwrap_or(link)) } " and type" }
                p.code { (code.digits) }
                p { "or point its camera here:" }
                (square(link, "Pairing link as a QR code"))
                p { (OVERHEARD) }
            }
        }
        @if let Fresh::Token(token) = fresh {
            div.box.next role="status" {
                p { "Token of the program, shown this once:" }
                p { code { (token) } }
                p { "It sends it as Authorization: Bearer TOKEN. What it may ask: /api/v1/openapi.json" }
                p { (OVERHEARD) }
            }
        }
        @for (role, words) in [("helper", "Add a helper's device"), ("owner", "Add an owner's device")] {
            form method="post" action="/devices/code" {
                (form_key(visitor))
                input type="hidden" name="role" value=(role);
                button.button type="submit" { (words) }
            }
        }
        details {
            summary { "Programs of your own" }
            @for (role, words) in [("reads", "Make a token that reads"), ("files", "Make a token that reads and files photos")] {
                form method="post" action="/devices/token" {
                    (form_key(visitor))
                    input type="hidden" name="role" value=(role);
                    button.button.plain type="submit" { (words) }
                }
            }
        }
        ul.list {
            @for device in all {
                li {
                    p { strong { (device.name) } " (" (device.role.word()) "), since " (device.since) }
                    form method="post" action="/devices/revoke" {
                        (form_key(visitor))
                        input type="hidden" name="device" value=(device.digest);
                        button.button.plain type="submit" { "Lock out " (device.name) }
                    }
                }
            }
        }
    };
    page("Devices", Some(visitor), &content)
}
