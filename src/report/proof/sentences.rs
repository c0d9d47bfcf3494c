//! What may be said of a lot, in words that say no more than that.

use crate::proof::manifest::{Basis, Statement};

/// Per cent of thousandths: `80 %`, `87.5 %`.
pub fn permille(n: u32) -> String {
    if n.is_multiple_of(10) {
        format!("{} %", n / 10)
    } else {
        format!("{}.{} %", n / 10, n % 10)
    }
}

/// Per cent of ten-thousandths, whole.
fn e4(n: u32, up: bool) -> String {
    let whole = if up { n.div_ceil(100) } else { n / 100 };
    format!("{whole} %")
}

/// The statement, or that none is made.
pub fn headline(s: &Statement) -> String {
    let share = permille(s.permille);
    match (s.basis, s.supported) {
        (Basis::Whole, true) => format!(
            "At least {share} of the {} animals in this photo stand at {} or better.",
            s.animals, s.rung
        ),
        (Basis::Scoops, true) => {
            format!(
                "At least {share} of this lot stand at {} or better.",
                s.rung
            )
        }
        (_, false) => format!(
            "It is not claimed that {share} stand at {} or better.",
            s.rung
        ),
    }
}

/// Counts and limits behind it.
pub fn ground(s: &Statement) -> String {
    let confidence = permille(s.confidence_permille);
    match s.basis {
        Basis::Whole => format!(
            "The lot was photographed whole: {} of {} plainly do, those too close to call counted at their lower rung. \
             With misgrading allowed for, at least {} do (confidence {confidence}).",
            s.plain, s.animals, s.lower
        ),
        Basis::Scoops => format!(
            "{} of {} netted animals plainly do, those too close to call counted at their lower rung. With misgrading allowed \
             for, at least {} of the lot do and at most {} (confidence {confidence} for each limit, {} scoops, looked at after \
             each as declared beforehand).",
            s.plain,
            s.animals,
            e4(s.lower, false),
            e4(s.upper.unwrap_or(10_000), true),
            s.scoops.len()
        ),
    }
}

/// Sexes and sizes that were counted.
pub fn counted(s: &Statement) -> String {
    let [female, male, unsure] = s.sexes;
    let sexes: Vec<String> = [
        (female, "female"),
        (male, "male"),
        (unsure, "of unknown sex"),
    ]
    .into_iter()
    .filter(|(n, _)| *n > 0)
    .map(|(n, what)| format!("{n} {what}"))
    .collect();
    let sizes = s.lengths.map_or("lengths unknown".to_string(), |[a, b]| {
        format!("{} to {} mm long", tenths(a), tenths(b))
    });
    if sexes.is_empty() {
        return "no animal could be judged".into();
    }
    format!("{}; {sizes}", sexes.join(", "))
}

fn tenths(n: u32) -> String {
    format!("{}.{}", n / 10, n % 10)
}
