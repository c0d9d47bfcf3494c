//! One animal: straightened, with its measures and why it stands where it stands.

use catchcup::ladder::Measure;
use catchcup::measures::{AnimalMeasures, Sex, View};
use catchcup::report::{text, words};
use catchcup::scoop::{GradedAnimal, PastScoop, Scoop};
use catchcup::units::Reading;
use maud::{Markup, html};

use super::corrections::{Said, buttons};
use super::frame::{Page, page, sentence};
use crate::web::access::Visitor;

/// Standard uncertainties to each side of a 95 % range [JCGM100].
const RANGE_95: f64 = 1.96;

/// The animal's page.
pub fn animal(
    visitor: &Visitor,
    past: &PastScoop,
    scoop: &Scoop,
    animal: &GradedAnimal,
    said: &Said,
    just_kept: bool,
) -> Page {
    let no = animal.measures.no;
    let title = format!("Animal {no} of scoop {}, {}", past.number, past.tank);
    let path = format!("/scoop/{}", past.number);
    let most = scoop.animals.len() as u32;
    let content = html! {
        h1 { (title) }
        @if just_kept { p.box.good role="status" { "Kept. Wrong tap? " a.inline href="/trail" { "Take it back" } } }
        p.big { (standing(animal)) }
        @if let Some(why) = text::explanation(animal) { p { (sentence(&why)) } }
        figure {
            img.straight src={ (path) "/animal/" (no) "/straight.jpg" }
                alt={ "Animal " (no) " straightened, head left; below it again with its covered area hatched" };
            figcaption { "Straightened, head left; below, the covered area is hatched." }
        }
        div.actions {
            @if no > 1 { a.button href={ (path) "/animal/" (no - 1) } { "Animal " (no - 1) } }
            @if no < most { a.button href={ (path) "/animal/" (no + 1) } { "Animal " (no + 1) } }
            a.button href=(path) { "Back to the scoop" }
        }
        (buttons(visitor, past.number, animal, said))
        (measures(&animal.measures))
    };
    page(&title, Some(visitor), &content)
}

/// Where it stands, in a few words.
pub fn standing(animal: &GradedAnimal) -> String {
    let placing = &animal.placing;
    match (&placing.off, placing.between, placing.rung) {
        (Some(off), ..) if off.word() == "off_type" => "OFF-TYPE".into(),
        (Some(off), ..) => format!("no rung: {}", off.word()),
        (None, Some((low, high)), _) => format!("{low}/{high} too close to call"),
        (None, None, Some(rung)) => words::rung(rung),
        (None, None, None) => "no rung".into(),
    }
}

fn measures(m: &AnimalMeasures) -> Markup {
    let rows = [
        (Measure::Coverage, m.coverage),
        (Measure::Opacity, m.opacity),
        (Measure::Evenness, m.evenness),
        (Measure::ClearWindow, m.clear_window),
        (Measure::LineDe00, m.line_de00),
        (Measure::Legs, m.legs),
        (Measure::Stripe, m.stripe),
        (Measure::ClearMiddle, m.clear_middle),
    ];
    html! {
        table {
            caption { "Measures with 95 % ranges" }
            thead { tr { th scope="col" { "Measure" } th scope="col" { "Value" } th scope="col" { "Range" } } }
            tbody {
                @if let Some(length) = m.length_mm { (row(Measure::LengthMm, Reading::Value(length))) }
                @for (measure, reading) in rows { (row(measure, reading)) }
            }
        }
        p {
            "Sex: " (sex(m.sex)) ". Seen from: " (view(m.view)) "."
            @if !m.flags.is_empty() {
                " Noted: " (m.flags.iter().map(|f| words::flag(*f)).collect::<Vec<_>>().join(", ")) "."
            }
        }
    }
}

fn row(measure: Measure, reading: Reading) -> Markup {
    let (low, high) = measure.range();
    html! {
        @match (reading.measured(), reading.withheld()) {
            (Some(m), _) => tr {
                th scope="row" { (words::noun(measure)) }
                td { (words::amount(measure, m.value)) }
                td {
                    (words::amount(measure, (m.value - RANGE_95 * m.uncertainty).max(low))) " to "
                    (words::amount(measure, (m.value + RANGE_95 * m.uncertainty).min(high)))
                }
            },
            (None, Some(code)) if code != "not_measured" => tr {
                th scope="row" { (words::noun(measure)) }
                td colspan="2" { (words::reason(code)) }
            },
            _ => {}
        }
    }
}

fn sex(sex: Sex) -> &'static str {
    match sex {
        Sex::Female => "female",
        Sex::Male => "male",
        Sex::Unsure => "unsure",
    }
}

fn view(view: View) -> &'static str {
    match view {
        View::Side => "the side",
        View::Top => "above",
        View::Unsure => "unsure",
    }
}
