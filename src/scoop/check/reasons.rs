//! The words for what is wrong with a photo: what was found, what gets worse by how much, and the cure.

use super::limits::{self, Cause, GOOD_ERROR, Step};
use super::measures::CheckMeasures;
use super::{Answer, Reason};
use crate::doubt::Note;

/// All reasons that the measures give, in no order.
pub(super) fn reasons(m: &CheckMeasures) -> Vec<Reason> {
    let of =
        |cause: &Cause, found: &dyn Fn(f64) -> String, hint: &str| reason(m, cause, found, hint);
    let shaken = of(
        &limits::SHAKE,
        &|v| format!("the phone was moved: edges are {v:.1} times as wide one way as the other"),
        "rest your elbows, use a stand or more light, and tap once",
    );
    let focus = "wipe the lens, tap on an animal to focus, and hold still";
    let blurred = of(
        &limits::BLUR,
        &|v| {
            format!(
                "blurred: edges are {:.0} % of a body's width wide, sharp ones 10 %",
                100.0 * v
            )
        },
        focus,
    );
    let soft = of(
        &limits::SOFT,
        &|_| "blurred: nothing on the floor has sharp edges".to_string(),
        focus,
    );
    let dark = of(
        &limits::DARK,
        &|v| {
            format!(
                "too dark: the cup has {:.0} % of full light, 30 to 80 % is right",
                100.0 * v
            )
        },
        "more light, or tap on the cup and raise the exposure",
    );
    let grain = of(
        &limits::GRAIN,
        &|_| "grainy: too little light for this phone".to_string(),
        "more light on the cup",
    );
    let bright = of(
        &limits::BRIGHT,
        &|v| {
            format!(
                "too bright: the cup has {:.0} % of full light, 30 to 80 % is right",
                100.0 * v
            )
        },
        "tap on the cup and lower the exposure",
    );
    let clipped = of(
        &limits::CLIPPED,
        &|v| format!("{:.0} % of the floor is burnt out", 100.0 * v),
        "lower the exposure, or move the lamp aside",
    );
    [
        // One cause is told once: the direction says more than the width, the whole photo more than its grain.
        shaken.or(worse(blurred, soft)),
        if dark.is_some() { at_least(dark, grain) } else { grain },
        if bright.is_some() { at_least(bright, clipped) } else { clipped },
        of(&limits::JPEG, &|v| format!("saved too coarsely (JPEG step {v:.0}; phones save with 2 to 8), as messengers do"), "copy the file itself, not through a messenger"),
        of(&limits::FAR, &|v| format!("too far away: {v:.0} pixels to a body's length, 100 or more are right"), "go nearer until the cup fills the picture"),
        of(&limits::GLARE, &|v| format!("glare lies on or beside {:.0} % of the animals", 100.0 * v), "move the lamp, not the phone, and let the water come to rest"),
        of(&limits::CROWD, &|_| "crowded: animals lie over one another".to_string(), "take fewer at a time, or stir the cup gently so that they part"),
        of(&limits::SLANT, &|v| format!("the floor looks {:.0} % shorter one way: taken from the side (or the cup is oval); lengths are off by up to that much", 100.0 * (1.0 - v)), "hold the phone level above the cup"),
        of(&limits::OBSTACLE, &|v| format!("a hand, a net or the like covers {:.0} % of the floor", 100.0 * v), "take it out of the picture"),
        m.second_cup.then(second_cup),
    ]
    .into_iter()
    .flatten()
    .collect()
}

/// The one of two reasons with the worse answer, the first of equals.
fn worse(a: Option<Reason>, b: Option<Reason>) -> Option<Reason> {
    match (a, b) {
        (Some(a), Some(b)) if b.answer > a.answer => Some(b),
        (a, b) => a.or(b),
    }
}

/// The first reason, made as grave as the second, which has the same cure.
fn at_least(first: Option<Reason>, second: Option<Reason>) -> Option<Reason> {
    let grave = second.map(|s| s.answer);
    first.map(|f| Reason {
        answer: f.answer.max(grave.unwrap_or(Answer::Good)),
        ..f
    })
}

fn reason(
    m: &CheckMeasures,
    cause: &Cause,
    found: &dyn Fn(f64) -> String,
    hint: &str,
) -> Option<Reason> {
    let value = (cause.measure)(m)?;
    let answer = match cause.degree(value) {
        d if d >= 2.0 => Answer::ShootAgain,
        d if d >= 1.0 => Answer::Usable,
        _ => return None,
    };
    let expected = cause.expected(value);
    let message = format!(
        "{}{}",
        found(value),
        expected.map_or_else(String::new, |s| effect(&s))
    );
    Some(Reason {
        answer,
        note: Note::new(cause.code, message, hint),
        coverage_error: expected.map(|s| s.coverage_error),
    })
}

/// Least change that is worth a word: a point of coverage, one animal in twenty.
const LEAST_ERROR: f64 = 0.01;
const LEAST_LOST: f64 = 0.05;

/// What gets worse, and by how much.
fn effect(step: &Step) -> String {
    let mut text = String::new();
    if step.coverage_error - GOOD_ERROR >= LEAST_ERROR {
        text += &format!(
            "; coverage is off by about {:.0} points instead of {:.0}",
            100.0 * step.coverage_error,
            100.0 * GOOD_ERROR
        );
    }
    if step.lost >= LEAST_LOST {
        text += &format!("; about {:.0} of 100 animals are missed", 100.0 * step.lost);
    }
    text
}

fn second_cup() -> Reason {
    Reason {
        answer: Answer::ShootAgain,
        note: Note::new(
            "two_cups",
            "two cups are in view; only one of them is graded",
            "one cup to a photo",
        ),
        coverage_error: None,
    }
}
