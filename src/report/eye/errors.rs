//! Corrections, and how often the program errs, in words.

use crate::eye::errors::{Correction, Errors, Rate, Right};
use crate::measures::Sex;
use crate::report::text::{Page, TextLine, Tone};

/// What is right of an animal, in words.
pub fn right_words(right: Right) -> &'static str {
    match right {
        Right::NotAnimal(true) => "not an animal",
        Right::NotAnimal(false) => "an animal",
        Right::TwoAnimals(true) => "two animals",
        Right::TwoAnimals(false) => "one animal",
        Right::OtherHead(true) => "head at the other end",
        Right::OtherHead(false) => "head where it was found",
        Right::Sex(Sex::Female) => "female",
        Right::Sex(Sex::Male) => "male",
        Right::Sex(Sex::Unsure) => "sex unsure",
        Right::Juvenile(true) => "juvenile",
        Right::Juvenile(false) => "no juvenile",
    }
}

/// A correction in one line.
pub fn correction_words(one: &Correction) -> String {
    format!(
        "scoop {} animal {}: {}, says {} on {}",
        one.scoop,
        one.no,
        right_words(one.right),
        one.who,
        one.at.date()
    )
}

/// Corrections, a line each.
pub fn correction_lines(all: &[Correction]) -> Vec<TextLine> {
    let mut out = Page::default();
    for one in all {
        out.wrapped(Tone::Plain, "    ", &correction_words(one));
    }
    if all.is_empty() {
        out.line(Tone::Faint, "nothing of this scoop is corrected");
    }
    out.lines
}

/// A kind of error as a heading.
pub fn kind_words(kind: &str) -> &'static str {
    match kind {
        "not_animal" => "taken for an animal, but none",
        "two_animals" => "two animals taken for one",
        "other_head" => "head end wrong",
        "sex" => "sex wrong",
        _ => "juvenile or not, wrong",
    }
}

/// A kind of error with its share.
pub fn rate_words(rate: &Rate, errors: &Errors) -> String {
    let share = if errors.animals == 0 {
        String::new()
    } else {
        format!(
            ", {:.0} to {:.0} % (95 % range)",
            100.0 * rate.range.low,
            100.0 * rate.range.high
        )
    };
    format!(
        "{}: {} of {}{share}; in all scoops {}",
        kind_words(rate.kind),
        rate.looked_through,
        errors.animals,
        rate.everywhere
    )
}

/// Own rungs beside the program's, in one sentence; `None` where there are none.
pub fn rung_words(errors: &Errors) -> Option<String> {
    let [same, one, more] = errors.rungs;
    let all = same + one + more;
    (all > 0).then(|| {
        format!(
            "own rungs: {same} of {all} as the program's, {one} one apart, {more} further apart; who agrees with whom: catchcup agree"
        )
    })
}

/// What the shares stand on.
pub fn basis_words(errors: &Errors) -> String {
    match errors.scoops {
        0 => "No scoop is noted as looked through yet, so no share can be told.".into(),
        1 => format!(
            "Shares are of the {} animals in the one scoop that somebody looked through.",
            errors.animals
        ),
        scoops => format!(
            "Shares are of the {} animals in {scoops} scoops that somebody looked through.",
            errors.animals
        ),
    }
}

/// How often the program errs.
pub fn error_lines(errors: &Errors) -> Vec<TextLine> {
    let mut out = Page::default();
    out.wrapped(Tone::Heading, "  ", "How often the program errs");
    out.wrapped(Tone::Plain, "  ", &basis_words(errors));
    for rate in &errors.rates {
        out.wrapped(
            Tone::Plain,
            "    ",
            &format!("  {}", rate_words(rate, errors)),
        );
    }
    if let Some(words) = rung_words(errors) {
        out.wrapped(Tone::Plain, "    ", &format!("  {words}"));
    }
    out.lines
}
