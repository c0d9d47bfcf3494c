//! Breeder selection in words and pictures: sorting, ranking, forecast, plans.

pub mod again;
pub mod ended;
pub mod forecast;
pub mod overlay;
pub mod rank;
pub mod shift;
pub mod sort;

use crate::ladder::Measure;
use crate::selection::worth::{SetAside, WeightsFrom, Yardstick};

use super::text::{Page, Tone};

/// `females` or `males`.
pub fn sexes(sex: usize) -> &'static str {
    ["females", "males"][sex.min(1)]
}

/// `15 females and 10 males`.
pub fn both(counts: [usize; 2]) -> String {
    let one = |count: usize, word: &str| {
        let plural = if count == 1 { "" } else { "s" };
        format!("{count} {word}{plural}")
    };
    format!(
        "{} and {}",
        one(counts[0], "female"),
        one(counts[1], "male")
    )
}

/// A measure as people say it.
pub fn measure_words(measure: Measure) -> String {
    measure
        .word()
        .replace('_', " ")
        .replace(" mm", "")
        .replace("line de00", "distance to the line's colour")
}

/// Why an animal is not judged.
pub fn aside_words(why: &SetAside) -> String {
    match why {
        SetAside::Juvenile => "too young to say".into(),
        SetAside::Cut => "cut by the edge".into(),
        SetAside::OffType => "off-type: not the line's colour".into(),
        SetAside::Milky => "milky or stiff: look at it".into(),
        SetAside::Unread(measure) => format!("{} could not be read", measure_words(*measure)),
    }
}

/// What the animals are judged by.
pub(super) fn yardstick(stick: &Yardstick, out: &mut Page) {
    let weights: Vec<String> = stick
        .weights
        .iter()
        .map(|(measure, weight)| format!("{} x {}", measure_words(*measure), rounded(*weight)))
        .collect();
    let from = match stick.from {
        WeightsFrom::Rules => "weights of the line's rules",
        WeightsFrom::BestRung => {
            "what the best rung asks for, all alike; other weights: a part [selection] in the line's rules"
        }
        WeightsFrom::SmithHazel => "weights and heritabilities of the line's rules",
    };
    out.wrapped(
        Tone::Plain,
        "  ",
        &format!("Judged by {} ({from}).", weights.join(" + ")),
    );
}

/// A number with two digits, without a needless end.
pub fn rounded(value: f64) -> String {
    let text = format!("{value:.2}");
    text.trim_end_matches('0').trim_end_matches('.').to_string()
}

/// A share in per cent.
pub fn percent(share: f64) -> String {
    let value = 100.0 * share;
    if value.abs() < 10.0 {
        format!("{value:.1} %")
    } else {
        format!("{value:.0} %")
    }
}

/// What always stands below an answer by which animals are moved.
pub(super) fn cautions(out: &mut Page) {
    out.wrapped(
        Tone::Faint,
        "",
        "Moved out means out of the breeding group: sold, given away, kept elsewhere. Never release \
         shrimp or pour out their water; check your local law. Egg-bearing and just moulted animals: look, do not chase.",
    );
    out.wrapped(Tone::Faint, "", "A colour grade is no health certificate.");
}
