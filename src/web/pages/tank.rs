//! A tank's page: the camera first, then what is known of the tank.

use catchcup::book::lines::generation_name;
use catchcup::book::{Note, NoteKind, TankState};
use catchcup::report::book::{ago, hold, note};
use catchcup::scoop::{MinutesRule, PastScoop};
use jiff::civil::Date;
use maud::{Markup, html};

use super::frame::{Page, form_key, page};
use super::tank_path;
use crate::web::access::Visitor;
use crate::web::filing::seconds_in_cup;
use crate::web::upload::MOST_PHOTO;

/// What may be noted from the phone; a quarantine needs its last day, which is typed at the computer.
pub const NOTES_BY_PHONE: [NoteKind; 6] = [
    NoteKind::Loss,
    NoteKind::MovedOut,
    NoteKind::MovedIn,
    NoteKind::Treatment,
    NoteKind::Remark,
    NoteKind::Release,
];

/// Notes shown.
const NOTES: usize = 8;

/// What is known of the photo about to be taken.
#[derive(Debug, Clone, Copy)]
pub struct Shot {
    /// When the animals were netted, seconds since 1970.
    pub netted: Option<i64>,
    /// The scoop of which it is another photo.
    pub again: Option<i64>,
    /// The house's limits.
    pub minutes: MinutesRule,
}

/// The tank's page.
pub fn tank(
    visitor: &Visitor,
    state: &TankState,
    past: &[PastScoop],
    notes: &[Note],
    shot: &Shot,
    today: Date,
) -> Page {
    let tank = &state.tank;
    let title = format!(
        "{}, {}",
        tank.code,
        tank.line
            .as_deref()
            .map_or("no line".into(), |l| format!("line {l}"))
    );
    let content = html! {
        h1 { (title) }
        @for entry in &state.holds.0 {
            p.box.warn { strong { @if entry.stops_selling() { "HOLD: " } @else { "Warning: " } } (hold(entry)) }
        }
        @if tank.retired.is_some() {
            p.box.warn { "This tank is in use no more: nothing is filed under it." }
        } @else {
            (camera(visitor, &tank.code, shot))
        }
        div.actions {
            a.button href={ (tank_path(&tank.code)) "/trend" } { "Does the line hold?" }
            @if tank.retired.is_none() { a.button href=(super::sort_path(&tank.code)) { "Sort cup by cup" } }
        }
        section aria-labelledby="known" {
            h2 #known { "Known of this tank" }
            dl {
                @if let Some(generation) = &state.generation { dt { "Generation" } dd { (generation_name(generation.number)) } }
                @if !tank.place.is_empty() { dt { "Place" } dd { (tank.place) } }
                @if let Some(litres) = tank.litres { dt { "Litres" } dd { (litres) } }
                dt { "Scoops" } dd { (state.scoops) }
                @if let Some(last) = &state.last_off_type { dt { "Last off-type" } dd { (ago(last.at.date(), today)) } }
                @for (kind, value) in &state.conditions { dt { (kind.word()) } dd { (value) } }
            }
        }
        @if !past.is_empty() { (scoops(past, today)) }
        (note_down(visitor, &tank.code))
        @if !notes.is_empty() {
            section aria-labelledby="notes" {
                h2 #notes { "Notes" }
                ul { @for entry in notes.iter().take(NOTES) { li { (note(entry)) } } }
            }
        }
    };
    page(&title, Some(visitor), &content)
}

/// A note made with one hand.
fn note_down(visitor: &Visitor, code: &str) -> Markup {
    html! {
        details {
            summary { "Note a loss or something else" }
            form method="post" action={ (tank_path(code)) "/note" } {
                (form_key(visitor))
                label for="kind" { "What" }
                select #kind name="kind" {
                    @for kind in NOTES_BY_PHONE { option value=(kind.word()) { (note_words(kind)) } }
                }
                label for="count" { "How many animals" }
                input #count name="count" type="number" inputmode="numeric" min="1" max="100000" value="1";
                label for="text" { "In words (may stay empty)" }
                input #text name="text" maxlength="200" autocomplete="off";
                button.button.first type="submit" { "Note it" }
            }
        }
    }
}

fn note_words(kind: NoteKind) -> &'static str {
    match kind {
        NoteKind::Loss => "Animals lost",
        NoteKind::MovedOut => "Animals moved out",
        NoteKind::MovedIn => "Animals moved in",
        NoteKind::Treatment => "A treatment",
        NoteKind::Release => "Out of quarantine",
        NoteKind::Remark | NoteKind::Quarantine => "A remark",
    }
}

/// Timer and camera.
fn camera(visitor: &Visitor, code: &str, shot: &Shot) -> Markup {
    let action = format!("{}/scoop", tank_path(code));
    html! {
        section aria-labelledby="shoot" {
            h2 #shoot { @match shot.again {
                Some(first) => { "Another photo of scoop " (first) }
                None => "Photograph a scoop",
            } }
            @if seconds_in_cup(shot.netted).is_some() {
                (timer(shot.netted, shot.minutes))
            } @else if shot.again.is_none() {
                p { a.button href={ (tank_path(code)) "/netted" } { "Netted now: start the timer" } }
            }
            form.camera method="post" action=(action) enctype="multipart/form-data" data-send data-most=(MOST_PHOTO) {
                (form_key(visitor))
                @if let Some(at) = shot.netted { input type="hidden" name="netted" value=(at); }
                @if let Some(first) = shot.again { input type="hidden" name="again" value=(first); }
                label.button.first for="take" { "Take a photo" }
                input #take type="file" name="photo" accept="image/*" capture="environment";
                label.button for="choose" { "Choose photos" }
                input #choose type="file" name="photo" accept="image/*" multiple;
                p #sending role="status" aria-live="polite" {}
                progress #sent max="100" value="0" hidden aria-label="Sent" {}
                button.button type="submit" { "Send" }
            }
            p.faint { "White cup, straight from above, even light. Several photos sent together are taken as one scoop." }
        }
    }
}

/// The time since netting, which counts on while the page is open, with the house's limits.
pub fn timer(netted: Option<i64>, rule: MinutesRule) -> Markup {
    let Some(seconds) = seconds_in_cup(netted) else {
        return html! {};
    };
    html! {
        div.box.timer role="timer" aria-label="Time since netting"
            data-seconds=(seconds) data-aim=(rule.aim) data-warn=(rule.warn) data-stop=(rule.stop) {
            p.big { "Netted " span data-clock { (seconds / 60) ":" (format!("{:02}", seconds % 60)) } " min ago" }
            p data-word { (minutes_words(seconds, rule)) }
            p.faint { "House limit: aim " (rule.aim) ", warning " (rule.warn) ", back into the tank at " (rule.stop) " min." }
        }
    }
}

fn minutes_words(seconds: u32, rule: MinutesRule) -> &'static str {
    let minutes = f64::from(seconds) / 60.0;
    if minutes >= rule.stop {
        "Stop: put the animals back now."
    } else if minutes >= rule.warn {
        "Warning: colour may have paled. Hurry."
    } else if minutes >= rule.aim {
        "Longer than the house aims at: photograph now."
    } else {
        "In good time."
    }
}

fn scoops(past: &[PastScoop], today: Date) -> Markup {
    html! {
        section aria-labelledby="scoops" {
            h2 #scoops { "Scoops" }
            ul.list {
                @for scoop in past {
                    li { a.row href={ "/scoop/" (scoop.number) } {
                        strong { (ago(scoop.at.date(), today)) } " "
                        (scoop.animals.len()) " animals: " (mix_words(scoop))
                        @if scoop.second_of.is_some() { " (photographed again)" }
                    } }
                }
            }
        }
    }
}

/// The counts of a scoop in the book, best rung first; only what is there.
pub fn mix_words(scoop: &PastScoop) -> String {
    let counts = scoop.rung_counts().into_iter();
    let mut parts: Vec<String> = counts.map(|(rung, n)| format!("{n}\u{a0}{rung}")).collect();
    let off = scoop.off_types();
    if off > 0 {
        parts.push(format!("{off} OFF-TYPE"));
    }
    let rest = scoop.animals.len() - scoop.judged().count();
    if rest > 0 {
        parts.push(format!("{rest} without a rung"));
    }
    parts.join(", ")
}
