//! Words for people: measures, numbers and reasons.

use crate::ladder::{Measure, NextRung, OffTypeReason, ShortOf};
use crate::measures::Flag;

/// The measure's name in a sentence.
pub fn noun(measure: Measure) -> &'static str {
    match measure {
        Measure::Coverage => "coverage",
        Measure::CoverageHead => "coverage of the head third",
        Measure::CoverageMiddle => "coverage of the middle third",
        Measure::CoverageTail => "coverage of the tail third",
        Measure::Opacity => "opacity",
        Measure::Evenness => "evenness",
        Measure::ClearWindow => "largest clear window",
        Measure::Islands => "islands of colour",
        Measure::Legs => "coloured legs",
        Measure::Stripe => "unbroken back stripe",
        Measure::ClearMiddle => "clear middle",
        Measure::LineDe00 => "colour distance to the line",
        Measure::LengthMm => "length",
        Measure::Lightness => "lightness",
        Measure::Chroma => "chroma",
        Measure::Hue => "hue",
        Measure::WrongHueShare => "wrong hue",
        Measure::BrownShare => "wild-type brown",
    }
}

/// The measure's name where space is short.
pub fn short_noun(measure: Measure) -> &'static str {
    match measure {
        Measure::Coverage => "cover",
        Measure::CoverageHead => "head",
        Measure::CoverageMiddle => "middle",
        Measure::CoverageTail => "tail",
        Measure::Opacity => "opaque",
        Measure::Evenness => "even",
        Measure::ClearWindow => "window",
        Measure::Islands => "islands",
        Measure::Legs => "legs",
        Measure::Stripe => "stripe",
        Measure::ClearMiddle => "clear mid",
        Measure::LineDe00 => "colour dE",
        Measure::LengthMm => "length",
        Measure::Lightness => "light",
        Measure::Chroma => "chroma",
        Measure::Hue => "hue",
        Measure::WrongHueShare => "hue off",
        Measure::BrownShare => "brown",
    }
}

/// The value with its unit, as it stands in a sentence.
pub fn amount(measure: Measure, value: f64) -> String {
    match measure {
        Measure::LengthMm => format!("{value:.1} mm"),
        Measure::Hue => format!("{value:.0} degrees"),
        Measure::LineDe00 => format!("{value:.1}"),
        _ if measure.is_share() => per_cent(value),
        _ => format!("{value:.0}"),
    }
}

/// A share as per cent, whole unless that would hide all of it.
pub fn per_cent(share: f64) -> String {
    format!("{:.0} %", 100.0 * share)
}

/// The shortfall's two numbers, with one more digit where they would look the same.
fn pair(short: &ShortOf) -> (String, String) {
    let (value, needs) = (
        amount(short.measure, short.value),
        amount(short.measure, short.needs),
    );
    if value != needs {
        return (value, needs);
    }
    let finer = |v: f64| match short.measure {
        m if m.is_share() => format!("{:.1} %", 100.0 * v),
        Measure::LengthMm => format!("{v:.2} mm"),
        _ => format!("{v:.1}"),
    };
    let (value, needs) = (finer(short.value), finer(short.needs));
    if value == needs {
        (
            format!("just {}", if short.too_high { "above" } else { "below" }),
            needs,
        )
    } else {
        (value, needs)
    }
}

/// What the next rung lacks, as a sentence without its full stop.
pub fn next_sentence(next: &NextRung) -> String {
    let parts: Vec<String> = next
        .short_of
        .iter()
        .map(|short| {
            let (has, needs) = pair(short);
            let way = if short.too_high {
                "at most"
            } else {
                "at least"
            };
            format!("{} of {way} {needs} (has {has})", noun(short.measure))
        })
        .collect();
    format!("{} asks for {}", next.rung, join(&parts))
}

/// What the next rung asks, short: `G5: cover 95 %, opaque 80 %`.
pub fn next_short(next: &NextRung) -> String {
    let parts: Vec<String> = next
        .short_of
        .iter()
        .map(|short| {
            format!(
                "{}{} {}",
                short_noun(short.measure),
                if short.too_high { " max" } else { "" },
                pair(short).1
            )
        })
        .collect();
    format!("{}: {}", next.rung, parts.join(", "))
}

/// Why an animal is off-type, with the numbers.
pub fn off_type_sentence(reasons: &[OffTypeReason]) -> String {
    let parts: Vec<String> = reasons
        .iter()
        .map(|r| {
            format!(
                "{} over {} of the body (limit {})",
                noun(r.measure),
                per_cent(r.value),
                per_cent(r.limit)
            )
        })
        .collect();
    join(&parts)
}

/// `a`, `a and b`, `a, b and c`.
pub fn join(parts: &[String]) -> String {
    match parts {
        [] => String::new(),
        [only] => only.clone(),
        [first @ .., last] => format!("{} and {last}", first.join(", ")),
    }
}

/// Chroma below which a floor is called without tint (house rule).
const NO_TINT: f64 = 2.0;

/// A cup's floor in words, from its CIELAB colour; with `detail` in numbers too.
pub fn floor_words([l, a, b]: [f64; 3], detail: bool) -> String {
    let (chroma, hue) = (a.hypot(b), b.atan2(a).to_degrees().rem_euclid(360.0));
    let tint = match hue {
        _ if chroma < NO_TINT => "no tint",
        h if !(30.0..330.0).contains(&h) => "a tint of red",
        h if h < 70.0 => "a tint of orange",
        h if h < 110.0 => "a tint of yellow",
        h if h < 200.0 => "a tint of green",
        _ => "a tint of blue",
    };
    let numbers = if detail {
        format!(" (L* {l:.1} a* {a:+.1} b* {b:+.1})")
    } else {
        String::new()
    };
    format!("{l:.0} of 100 light, {tint}{numbers}")
}

/// Codes of withheld measures with their words and, where there is one, the cure.
const REASONS: [(&str, &str); 15] = [
    (
        "white_on_white",
        "white on white can't be seen: use a dark cup and say --ground dark",
    ),
    (
        "no_white_in_view",
        "no colour without a white beside it: use a white cup",
    ),
    ("third_unreadable", "too little of that third can be read"),
    ("too_few_covered", "too little colour to judge"),
    ("too_little_colour", "too little colour to judge"),
    ("scale_unknown", "the scale is unknown: give --cup-mm"),
    ("glare", "glare lies over it"),
    ("too_small", "too few pixels: go nearer"),
    ("too_few_pixels", "too few pixels: go nearer"),
    (
        "legs_not_seen",
        "legs are too thin to be read from a photo: look at them",
    ),
    ("back_not_seen", "the back can't be seen from the side"),
    ("no_stripe_seen", "no stripe shows along the back"),
    ("not_measured", "not measured yet"),
    ("unseen", "not seen from this side"),
    ("not_seen", "not seen from this side"),
];

/// A code of a withheld measure or of a doubt in words, with the cure where there is one.
pub fn reason(code: &str) -> String {
    let known = REASONS.iter().find(|(known, _)| *known == code);
    known.map_or_else(|| code.replace('_', " "), |(_, words)| (*words).to_string())
}

/// The code as this program knows it; `not_measured` for one that it does not know.
pub fn known_reason(code: &str) -> &'static str {
    let known = REASONS.iter().find(|(known, _)| *known == code);
    known.map_or("not_measured", |(known, _)| known)
}

/// A flag in words.
pub fn flag(flag: Flag) -> &'static str {
    match flag {
        Flag::Cut => "cut",
        Flag::Touching => "touching",
        Flag::Juvenile => "juvenile",
        Flag::Saddle => "saddle",
        Flag::Berried => "berried",
        Flag::Glare => "glare",
        Flag::Milky => "milky: look at it",
        Flag::OffType => "off-type",
    }
}

/// The flag's word in the record.
pub fn flag_code(flag: Flag) -> &'static str {
    match flag {
        Flag::Milky => "milky",
        Flag::OffType => "off_type",
        other => self::flag(other),
    }
}

/// Animal numbers as `animal 3` or `animals 3, 7 and 9`.
pub fn animals(numbers: &[u32]) -> String {
    let words: Vec<String> = numbers.iter().map(u32::to_string).collect();
    format!(
        "animal{} {}",
        if words.len() == 1 { "" } else { "s" },
        join(&words)
    )
}

/// A rung as it stands in a ladder: the best one is named so, as breeders write G for generations too.
pub fn rung(rung: crate::ladder::Rung) -> String {
    if rung == crate::ladder::Rung::BEST {
        format!("{rung} best")
    } else {
        rung.to_string()
    }
}

/// `1 plant`, `3 snails`, `2 too small`.
pub fn turned_away(reason: &str, count: u32) -> String {
    let plural = count != 1 && !matches!(reason, "too_small" | "unknown");
    format!(
        "{count} {}{}",
        reason.replace('_', " "),
        if plural { "s" } else { "" }
    )
}
