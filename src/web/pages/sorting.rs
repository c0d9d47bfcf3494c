//! Sorting cup by cup: begin, the next cup, what to do with each animal, the end.

use catchcup::book::cups::Ended;
use catchcup::book::{SortingEntry, Tank};
use catchcup::report::selection::ended::ended as ended_lines;
use catchcup::report::selection::forecast::after_sorting;
use catchcup::report::selection::shift::shift_words;
use catchcup::report::selection::sort::{self as text, ToldCup};
use catchcup::report::text::TextLine;
use catchcup::selection::sorting::find::Find;
use catchcup::selection::sorting::{Before, Cup, MOST_PLACES, Sorting, Verdict};
use maud::{Markup, html};

use super::frame::{Page, form_key, page, sentence};
use super::tank_path;
use crate::web::access::Visitor;
use crate::web::upload::MOST_PHOTO;

/// Address of a tank's sorting.
pub fn sort_path(tank: &str) -> String {
    format!("{}/sort", tank_path(tank))
}

/// Address of a cup of the latest sorting.
pub fn cup_path(tank: &str, no: usize) -> String {
    format!("{}/cup/{no}", sort_path(tank))
}

/// Where the sorting of a tank stands, with what comes next; `is_again` where the last cup is to be photographed again.
pub fn sorting(
    visitor: &Visitor,
    tank: &Tank,
    entry: Option<&SortingEntry>,
    is_again: bool,
) -> Page {
    let title = format!("Sorting of {}", tank.code);
    let open = entry.filter(|entry| entry.ended.is_none());
    let content = html! {
        h1 { (title) }
        p { a.button href=(tank_path(&tank.code)) { "Back to " (tank.code) } }
        @match (open, entry) {
            (Some(entry), _) => (under_way(visitor, entry, is_again)),
            (None, Some(entry)) => {
                p { "The last sorting has ended." }
                (standing(entry))
                (begin(visitor, &tank.code))
            }
            (None, None) => (begin(visitor, &tank.code)),
        }
    };
    page(&title, Some(visitor), &content)
}

fn begin(visitor: &Visitor, tank: &str) -> Markup {
    html! {
        form method="post" action={ (sort_path(tank)) "/start" } {
            (form_key(visitor))
            h2 { "Begin a sorting" }
            p { "The tank is netted cup by cup; each photo says which animals to keep while they are in the cup." }
            (count("females", "Females to keep", 15))
            (count("males", "Males to keep", 10))
            (count("animals", "Animals in the tank", 100))
            (tick("counted", "I counted them; else it is a guess and estimated anew from each cup", false))
            (count("tub", "Places in the holding tub for each sex, 0 without a tub", MOST_PLACES))
            button.button.first type="submit" { "Begin" }
        }
    }
}

fn count(name: &str, words: &str, usual: usize) -> Markup {
    html! {
        label for=(name) { (words) }
        input id=(name) name=(name) type="number" inputmode="numeric" min="0" max="100000" value=(usual) required;
    }
}

fn tick(name: &str, words: &str, is_set: bool) -> Markup {
    html! {
        div.tick { input id=(name) name=(name) type="checkbox" value="true" checked[is_set]; label for=(name) { (words) } }
    }
}

fn under_way(visitor: &Visitor, entry: &SortingEntry, is_again: bool) -> Markup {
    let path = sort_path(&entry.tank);
    html! {
        (shoot(visitor, entry, is_again))
        @if !entry.cups.is_empty() {
            p { a.button href=(cup_path(&entry.tank, entry.cups.len())) { "The last cup again" } }
        }
        h2 { "Where it stands" }
        (standing(entry))
        form method="post" action={ (path) "/finish" } {
            (form_key(visitor))
            button.button.plain type="submit" { "End the sorting" }
        }
    }
}

/// Camera and choices of the next cup.
fn shoot(visitor: &Visitor, entry: &SortingEntry, is_again: bool) -> Markup {
    let next = entry.cups.len() + 1;
    let is_again = is_again && next > 1;
    html! {
        form.camera method="post" action={ (sort_path(&entry.tank)) "/cup" } enctype="multipart/form-data" data-send data-most=(MOST_PHOTO) {
            (form_key(visitor))
            h2 { @if is_again { "Cup " (next - 1) " again" } @else { "Cup " (next) } }
            p { "Net about six animals and photograph at once. Three minutes in the cup are fine, ten are too many." }
            fieldset {
                legend { "In this cup are" }
                @for (value, words) in [("", "females and males"), ("female", "females only"), ("male", "males only")] {
                    div.tick {
                        input id={ "sex" (value) } type="radio" name="sex" value=(value) checked[value.is_empty()];
                        label for={ "sex" (value) } { (words) }
                    }
                }
            }
            (tick("last", "The tank is empty after this cup", false))
            @if !entry.cups.is_empty() { (tick("again", &format!("These are the animals of cup {} again", next - 1), is_again)) }
            label.button.first for="take" { "Take a photo" }
            input #take type="file" name="photo" accept="image/*" capture="environment";
            label.button for="choose" { "Choose a photo" }
            input #choose type="file" name="photo" accept="image/*";
            p #sending role="status" aria-live="polite" {}
            progress #sent max="100" value="0" hidden aria-label="Sent" {}
            button.button type="submit" { "Send" }
        }
    }
}

fn standing(entry: &SortingEntry) -> Markup {
    let sorting = Sorting::resumed(entry.setup.clone(), &entry.decided());
    lines(&text::standing(&entry.tank, &sorting, &entry.stick))
}

/// Lines of an answer as paragraphs: what was broken at 80 columns for a terminal is put together again.
fn lines(all: &[TextLine]) -> Markup {
    let mut told: Vec<String> = Vec::new();
    for line in all.iter().filter(|line| !line.text.trim().is_empty()) {
        match told.last_mut().filter(|_| line.continues) {
            Some(before) => {
                *before += " ";
                *before += line.text.trim();
            }
            None => told.push(line.text.trim().to_string()),
        }
    }
    html! { div.told { @for text in &told { p { (text) } } } }
}

/// What to do with the animals of a cup, those to keep first.
pub fn cup(
    visitor: &Visitor,
    entry: &SortingEntry,
    no: usize,
    finds: &[Find],
    after: &Sorting,
) -> Page {
    let decided = &entry.cups[no - 1].decided;
    let title = format!("{}, cup {no}", entry.tank);
    let told = ToldCup {
        tank: &entry.tank,
        no,
        cup: &decided.cup,
        decision: &decided.decision,
        finds,
        wells: &[],
        after,
        photos: None,
    };
    let mut animals: Vec<_> = decided.decision.animals.iter().collect();
    animals.sort_by_key(|judged| match judged.verdict {
        Verdict::Keep => (0, judged.no),
        Verdict::Hold(place) => (1, place),
        Verdict::MoveOut => (2, judged.no),
        Verdict::Back => (3, judged.no),
    });
    let few = text::too_few_words(&decided.decision, after);
    let content = html! {
        h1 { (title) }
        @if let Some(words) = shift_words(after) { p.box.warn role="alert" { strong { (words) } } }
        ul.list {
            @for judged in animals {
                li { div class=(class(judged.verdict)) {
                    strong.big { (judged.no) ": " (text::order(judged.verdict, judged.sex, judged.look_twice)) }
                    @if let Some(before) = before(&decided.cup, judged.no) {
                        br; (elsewhere(before.no, judged.done))
                    }
                    @if let Some(find) = finds.iter().find(|find| find.no == judged.no) {
                        br; (sentence(&text::find_words(find, judged.sex).replace("no. ", "no.\u{a0}")))
                    }
                } }
            }
        }
        @if decided.decision.animals.iter().any(|judged| judged.look_twice) {
            p { "? = look twice: the reading leaves it open. Photograph the same cup again, or trust your eye." }
        }
        @for words in &few { p { (words) } }
        figure {
            img.straight src={ (cup_path(&entry.tank, no)) "/orders.jpg" } alt="The cup's photo with what to do written on each animal; the same stands in the list above";
            figcaption { a.inline href={ (cup_path(&entry.tank, no)) "/orders.jpg" } { "Whole picture" } }
        }
        @if entry.ended.is_none() {
            p { a.button.first href=(sort_path(&entry.tank)) { "Next cup" } }
            @if no == entry.cups.len() { p { a.button href={ (sort_path(&entry.tank)) "?again=true" } { "Photograph this cup again" } } }
        }
        p { a.button.plain href="/trail" { "Wrong? Take it back" } }
        details { summary { "All that was said of this cup" } (lines(&text::cup(&told))) }
    };
    page(&title, Some(visitor), &content)
}

fn before(cup: &Cup, no: u32) -> Option<Before> {
    cup.animals.iter().find(|animal| animal.no == no)?.before
}

/// That the last photo does not show an animal.
fn elsewhere(no: u32, is_done: bool) -> String {
    let what = if is_done {
        "moved already"
    } else {
        "not in the last photo"
    };
    format!("{what}: no. {no} of an earlier one")
}

fn class(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::Keep => "row keep",
        Verdict::Hold(_) => "row hold",
        Verdict::MoveOut | Verdict::Back => "row",
    }
}

/// A sorting that has ended.
pub fn ended(visitor: &Visitor, tank: &str, ended: &Ended) -> Page {
    let title = format!("Sorting of {tank} ended");
    let costs = after_sorting(
        tank,
        &ended.after,
        ended.effective_size,
        ended.next_generation.as_deref(),
    );
    let content = html! {
        h1 { (title) }
        // The first line is the heading.
        (lines(ended_lines(tank, ended, &costs).get(1..).unwrap_or_default()))
        p { a.button href=(tank_path(tank)) { "Back to " (tank) } }
    };
    page(&title, Some(visitor), &content)
}
