//! The answer about a photo: the same things at the same places, the most pressing first.

use catchcup::book::{ScoopEntry, Tank, TankState, when_from};
use catchcup::doubt::Note;
use catchcup::ladder::{Ladder, OffLadder, Rung};
use catchcup::report::book::filing::when_words;
use catchcup::report::book::{ago, hold, tanks::scoop_page};
use catchcup::report::{text, words};
use catchcup::scoop::{Answer, PastScoop, Scoop};
use jiff::civil::Date;
use maud::{Markup, html};

use super::corrections::{Said, of_scoop};
use super::frame::{Page, form_key, page, sentence};
use super::tank_path;
use crate::web::Settings;
use crate::web::access::Visitor;
use crate::web::filing::Question;
use crate::web::grader::Shown;

/// A filed scoop and what is told beside it.
pub struct Filed<'a> {
    pub past: &'a PastScoop,
    pub state: &'a TankState,
    pub last_off_type: Option<&'a ScoopEntry>,
    pub netted: Option<i64>,
    pub today: Date,
    /// Why the moment it stands at is doubted.
    pub when_doubt: Option<Note>,
    /// What people said of its animals.
    pub said: &'a Said,
}

/// A photo that was not filed.
pub struct Waits<'a> {
    pub photo: &'a str,
    /// Address of the photo with its rings.
    pub rings: &'a str,
    pub name: &'a str,
    pub netted: Option<i64>,
    pub seconds: Option<u32>,
    pub sure: bool,
    /// Photos sent with it that were not read.
    pub unread: usize,
    pub question: Option<Question>,
}

/// The page of a filed scoop.
pub fn scoop(
    visitor: &Visitor,
    filed: &Filed<'_>,
    shown: Option<&Shown>,
    settings: &Settings,
) -> Page {
    let past = filed.past;
    let title = heading(&past.tank, past.line.as_deref());
    let content = html! {
        h1 { (title) }
        @if let Some(shown) = shown {
            (top(&shown.scoop, filed.netted, settings))
            (off_types(&shown.scoop, Some(filed)))
            (holds(filed))
            (next(&shown.scoop, settings))
            (bars(&shown.scoop, settings.sale_rung))
            (rings(shown, &format!("/scoop/{}/rings.jpg", past.number), Some(past.number)))
        } @else {
            p { "No photo of this scoop was kept; this is what the book holds." }
            pre tabindex="0" aria-label="Animals of the scoop" {
                @for line in scoop_page(past) { (line.text) "\n" }
            }
        }
        (actions(filed))
        @if let Some(shown) = shown {
            (animals(&shown.scoop, past.number, filed.said))
            (of_scoop(visitor, past.number, filed.said))
            (details(&shown.scoop))
            @if shown.scoop.ladder.as_ref().map(|l| &l.sha256) != past.origin.ladder_sha256.as_ref() {
                p.box.warn { "The ladder was changed since: these are today's rungs; the book keeps those of then." }
            }
        }
        @if let Some(doubt) = &filed.when_doubt {
            p.box.warn { (sentence(&doubt.message)) " " (sentence(&doubt.hint)) }
        }
        p.faint {
            "Filed as scoop " (past.number) ", " (when_words((past.at, when_from(past.at, past.origin.taken_at.as_deref())))) ", by " (past.who)
            @if let Some(first) = past.second_of {
                ", another photo of " a.inline href={ "/scoop/" (first) } { "scoop " (first) } ": not counted again"
            }
            "."
        }
    };
    page(&title, Some(visitor), &content)
}

/// The page of a photo that was not filed: its cure, or a question.
pub fn waiting(
    visitor: &Visitor,
    tank: &Tank,
    shown: &Shown,
    waits: &Waits<'_>,
    settings: &Settings,
) -> Page {
    let title = heading(&tank.code, tank.line.as_deref());
    let content = html! {
        h1 { (title) }
        p.big { "Not filed yet." }
        @if waits.unread > 0 {
            p { (waits.unread) " more of the photos sent were not read: send them again after this one." }
        }
        @if let Some(question) = &waits.question {
            (ask(visitor, tank, waits, question))
        }
        (top(&shown.scoop, waits.netted, settings))
        (off_types(&shown.scoop, None))
        @if waits.question.is_none() { (next(&shown.scoop, settings)) }
        p { a.button.first href=(again_path(&tank.code, waits.netted)) { "Take another photo" } }
        (bars(&shown.scoop, settings.sale_rung))
        (rings(shown, waits.rings, None))
        (details(&shown.scoop))
    };
    page(&title, Some(visitor), &content)
}

fn heading(tank: &str, line: Option<&str>) -> String {
    match line {
        Some(line) => format!("{tank}, line {line}"),
        None => format!("{tank}, no line"),
    }
}

fn again_path(tank: &str, netted: Option<i64>) -> String {
    let netted = netted.map_or(String::new(), |at| format!("?netted={at}"));
    tank_path(tank) + &netted
}

/// Photo good or its cure, seconds since netting, animals found.
fn top(scoop: &Scoop, netted: Option<i64>, settings: &Settings) -> Markup {
    let (class, sign, verdict) = verdict(scoop);
    let reasons = scoop.check.reasons.iter();
    html! {
        @if let Some(words) = text::put_back_words(scoop) { p.box.alarm.big role="alert" { (words) } }
        div class={ "box " (class) } {
            p.big { span.sign aria-hidden="true" { (sign) } " " (verdict) }
            @for (at, reason) in reasons.enumerate().take(3) {
                p { (sentence(&reason.note.message)) }
                @if at == 0 { p { strong { "Cure: " } (sentence(&reason.note.hint)) } }
            }
        }
        p.big { (found(scoop.animals.len())) }
        (super::tank::timer(netted, settings.order.minutes))
        @if let Some(seconds) = scoop.in_cup.seconds {
            p { "Photographed " (seconds / 60) ":" (format!("{:02}", seconds % 60)) " min after netting." }
        }
    }
}

fn verdict(scoop: &Scoop) -> (&'static str, &'static str, &'static str) {
    let withheld = !scoop.withheld.is_empty();
    match scoop.check.answer {
        _ if withheld => ("alarm", "\u{2715}", "Photo: shoot again"),
        Answer::ShootAgain => (
            "alarm",
            "\u{2715}",
            "Photo: shoot again, these numbers can't be trusted",
        ),
        Answer::Usable => ("warn", "!", "Photo: usable"),
        Answer::Good => ("good", "\u{2713}", "Photo: good"),
    }
}

fn found(count: usize) -> String {
    match count {
        0 => "No animal found".into(),
        1 => "1 animal found".into(),
        n => format!("{n} animals found"),
    }
}

fn off_types(scoop: &Scoop, filed: Option<&Filed<'_>>) -> Markup {
    let off = scoop
        .animals
        .iter()
        .filter_map(|animal| match &animal.placing.off {
            Some(OffLadder::OffType(reasons)) => Some((animal.measures.no, reasons)),
            _ => None,
        });
    let off: Vec<_> = off.collect();
    html! {
        @if !off.is_empty() {
            div.box.alarm role="alert" {
                p.big { span.sign aria-hidden="true" { "\u{25b2}" } " OFF-TYPE" }
                ul {
                    @for (no, reasons) in &off {
                        li { "Animal " (no) ": " (words::off_type_sentence(reasons)) }
                    }
                }
                @if let Some(filed) = filed {
                    p {
                        @match filed.last_off_type {
                            Some(last) => {
                                "Last seen in this tank " (ago(last.at.date(), filed.today))
                                " (scoop " (last.number) ")."
                            }
                            None => "Never seen in this tank before.",
                        }
                    }
                }
            }
        }
    }
}

fn holds(filed: &Filed<'_>) -> Markup {
    html! {
        @for entry in &filed.state.holds.0 {
            p.box.warn {
                strong { @if entry.stops_selling() { "HOLD: " } @else { "Warning: " } }
                (hold(entry))
            }
        }
    }
}

fn next(scoop: &Scoop, settings: &Settings) -> Markup {
    let words = text::next_action_words(scoop, settings.sale_rung);
    html! {
        div.box.next {
            p.big { strong { "Next: " } span #spoken { (sentence(&words)) } }
        }
    }
}

/// The rungs with counts and the range for the whole tank.
fn bars(scoop: &Scoop, sale: Rung) -> Markup {
    let Some(ladder) = scoop.ladder.as_ref().filter(|_| scoop.mix.judged() > 0) else {
        return html! {};
    };
    html! {
        section aria-labelledby="rungs" {
            h2 #rungs { "Rungs of this scoop" }
            p { strong { (text::share_words(scoop, sale)) "." } }
            table.rungs {
                thead { tr { th scope="col" { "Rung" } th scope="col" { "Animals" } th scope="col" { "Of the tank, 95 % range" } } }
                tbody {
                    @for row in scoop.mix.rungs.iter().filter(|row| row.count > 0) {
                        tr {
                            th scope="row" { (words::rung(row.rung)) }
                            td.number { (row.count) @if row.between > 0 { br; span.faint { (row.between) " close" } } }
                            td {
                                (bar(row.share.unwrap_or(0.0), row.low, row.high))
                                span { (words::per_cent(row.low)) " to " (words::per_cent(row.high)) ", " (ladder.label(row.rung)) }
                            }
                        }
                    }
                }
            }
            (beside_the_ladder(scoop, ladder))
        }
    }
}

fn beside_the_ladder(scoop: &Scoop, ladder: &Ladder) -> Markup {
    let guessed = if scoop.line_guessed {
        " (guessed from the photo)"
    } else {
        ""
    };
    html! {
        p.faint {
            "Ladder: " (ladder.title) (guessed)
            @if scoop.mix.off_type > 0 { "; off-type: " (scoop.mix.off_type) }
            @for (reason, count) in &scoop.mix.left_out { "; " (reason.replace('_', " ")) ": " (count) }
            ". Close = too close to call between two rungs."
        }
    }
}

/// A bar for the share, and a line with ends for its range: shape, not colour, tells them apart.
fn bar(share: f64, low: f64, high: f64) -> Markup {
    let [share, low, high] = [share, low, high].map(|s| format!("{:.1}", 100.0 * s));
    let range = format!("M{low} 6V18M{low} 12H{high}M{high} 6V18");
    html! {
        svg.bar viewBox="-1 0 102 24" preserveAspectRatio="none" aria-hidden="true" {
            rect.track x="0" y="4" width="100" height="16" {}
            rect.share x="0" y="4" width=(share) height="16" {}
            path.range d=(range) vector-effect="non-scaling-stroke" {}
        }
    }
}

/// The photo with its rings, as large as the animals allow; with `number` each animal in it opens its page.
fn rings(shown: &Shown, address: &str, number: Option<i64>) -> Markup {
    let [width, height] = shown.size;
    let alt = format!(
        "The photo with {}: whole line on a rung, dashed too close to call, double line off-type",
        found(shown.scoop.animals.len()).to_lowercase()
    );
    html! {
        figure {
            svg.rings viewBox=(view(shown)) role="group" aria-label=(alt) {
                image href=(address) width=(width) height=(height) {}
                @if let Some(number) = number {
                    @for animal in &shown.scoop.animals {
                        a href={ "/scoop/" (number) "/animal/" (animal.measures.no) } aria-label={ "Animal " (animal.measures.no) } {
                            (hit(on_picture(shown, animal.measures.bbox)))
                        }
                    }
                }
            }
            figcaption {
                "Number and rung; dashed = too close to call, double line = off-type. Tap an animal. "
                a.inline href=(address) { "Whole picture" }
            }
        }
    }
}

/// Room around the animals for their labels, as a share of the picture's width.
const AROUND: f64 = 0.09;

/// The part of a picture with rings around one animal, with its number and its neighbours; nothing where there is no such
/// animal.
pub fn cutout(shown: &Shown, address: &str, no: u32, words: &str) -> Markup {
    let [width, height] = shown.size;
    let animals = &shown.scoop.animals;
    let Some(animal) = animals.iter().find(|animal| animal.measures.no == no) else {
        return html! {};
    };
    let [x, y, w, h] = on_picture(shown, animal.measures.bbox);
    let room = AROUND * f64::from(width);
    // A frame a little wider than the animal tells it from its neighbours.
    let frame = [
        x - 0.2 * room,
        y - 0.2 * room,
        w + 0.4 * room,
        h + 0.4 * room,
    ];
    let frame = frame.map(|v| format!("{v:.0}"));
    let part = format!(
        "{:.0} {:.0} {:.0} {:.0}",
        x - room,
        y - room,
        w + 2.0 * room,
        h + 2.0 * room
    );
    html! {
        svg.cutout viewBox=(part) role="img" aria-label=(words) {
            image href=(address) width=(width) height=(height) {}
            rect.asked x=(frame[0]) y=(frame[1]) width=(frame[2]) height=(frame[3]) {}
        }
    }
}

/// The part of the picture with the animals; all of it where none was found.
fn view(shown: &Shown) -> String {
    let [width, height] = shown.size.map(f64::from);
    let boxes = shown
        .scoop
        .animals
        .iter()
        .map(|a| on_picture(shown, a.measures.bbox));
    let all = boxes.reduce(|a, b| {
        let (right, bottom) = (
            (a[0] + a[2]).max(b[0] + b[2]),
            (a[1] + a[3]).max(b[1] + b[3]),
        );
        let (left, top) = (a[0].min(b[0]), a[1].min(b[1]));
        [left, top, right - left, bottom - top]
    });
    let Some([x, y, w, h]) = all else {
        return format!("0 0 {width} {height}");
    };
    let room = AROUND * width;
    let (left, top) = ((x - room).max(0.0), (y - room).max(0.0));
    let (right, bottom) = ((x + w + room).min(width), (y + h + room).min(height));
    format!("{left:.0} {top:.0} {:.0} {:.0}", right - left, bottom - top)
}

/// A box of the photo as a box of the picture shown.
fn on_picture(shown: &Shown, bbox: [i32; 4]) -> [f64; 4] {
    let scale = f64::from(shown.size[0]) / shown.scoop.photo.width.max(1) as f64;
    bbox.map(|v| f64::from(v) * scale)
}

fn hit(bbox: [f64; 4]) -> Markup {
    let [x, y, w, h] = bbox.map(|v| format!("{v:.0}"));
    html! { rect.hit x=(x) y=(y) width=(w) height=(h) {} }
}

/// A large target for each animal, in the order of the numbers.
fn animals(scoop: &Scoop, number: i64, said: &Said) -> Markup {
    html! {
        @if !scoop.animals.is_empty() {
            section aria-labelledby="animals" {
                h2 #animals { "Animals" }
                ul.tiles {
                    @for animal in &scoop.animals {
                        @let class = if animal.placing.is_off_type() { "alarm" } else if animal.placing.between.is_some() { "between" } else { "" };
                        li { a class={ "tile " (class) } href={ "/scoop/" (number) "/animal/" (animal.measures.no) } {
                            strong { (animal.measures.no) } " " (super::animal::standing(animal))
                            @for words in said.of(animal.measures.no) { br; span.faint { (words) } }
                        } }
                    }
                }
            }
        }
    }
}

fn details(scoop: &Scoop) -> Markup {
    html! {
        details {
            summary { "More about this photo" }
            @if !scoop.doubts.is_empty() {
                h3 { "Doubts" }
                ul { @for doubt in &scoop.doubts { li { (sentence(&doubt.message)) " Cure: " (sentence(&doubt.hint)) } } }
            }
            @if !scoop.turned_away.is_empty() {
                p { (scoop.turned_away.len()) " other things were seen and turned away: plants, snails, bubbles, moults and the like." }
            }
            p { "File: " (scoop.photo.file) ", " (scoop.photo.width) " x " (scoop.photo.height) " pixels." }
        }
    }
}

fn actions(filed: &Filed<'_>) -> Markup {
    let past = filed.past;
    let first = past.second_of.unwrap_or(past.number);
    let netted = filed
        .netted
        .map_or(String::new(), |at| format!("&netted={at}"));
    let again = format!("{}?again={first}{netted}", tank_path(&past.tank));
    html! {
        div.actions {
            a.button.first href=(tank_path(&past.tank)) { "Next scoop of " (past.tank) }
            a.button href=(again) { "Another photo of these animals" }
            a.button.plain href={ "/scoop/" (past.number) "/proof" } { "Make a proof" }
            a.button.plain href="/trail" { "Wrong? Take it back" }
            button.button.plain type="button" data-speak="spoken" hidden { "Say it aloud" }
        }
    }
}

fn ask(visitor: &Visitor, tank: &Tank, waits: &Waits<'_>, question: &Question) -> Markup {
    let yes = |which: Option<&str>, near: Option<i64>, sure: bool, words: &str| {
        html! {
            form method="post" action={ (tank_path(&tank.code)) "/file" } {
                (form_key(visitor))
                input type="hidden" name="photo" value=(waits.photo);
                input type="hidden" name="name" value=(waits.name);
                @if let Some(at) = waits.netted { input type="hidden" name="netted" value=(at); }
                @if let Some(seconds) = waits.seconds { input type="hidden" name="seconds" value=(seconds); }
                @if sure { input type="hidden" name="sure" value="true"; }
                @if let Some(which) = which { input type="hidden" name="which" value=(which); }
                @if let Some(near) = near { input type="hidden" name="near" value=(near); }
                button.button.first type="submit" { (words) }
            }
        }
    };
    html! {
        div.box.warn role="alert" {
            @match question {
                Question::Tank => {
                    p.big { "Is this really tank " (tank.code) "? Half of the animals or more are off-type for its line." }
                    (yes(None, None, true, &format!("Yes, it is {}: file it", tank.code)))
                    p { a.button href="/" { "No: choose another tank" } }
                }
                Question::Same { near, alike } => {
                    p.big { "Are these the animals of scoop " (near) ", photographed again?" }
                    p { @if *alike { "Number and sizes agree." } @else { "Number or sizes differ." } }
                    (yes(Some("again"), Some(*near), waits.sure, "Yes, the same animals"))
                    (yes(Some("own"), None, waits.sure, "No, a new scoop"))
                }
            }
        }
    }
}
