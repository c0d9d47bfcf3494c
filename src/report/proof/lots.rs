//! Bought-in lots and disputes, for a terminal.

use crate::proof::arrival::{Claim, Look, SETTLE_DAYS};
use crate::proof::compare::Beside;
use crate::proof::inspection::{Inspection, failing_at, passes};
use crate::report::text::{Page, TextLine, Tone};
use crate::report::words::per_cent;

/// Columns of the drawn curve.
const CURVE_COLUMNS: usize = 40;

/// A plan, both its risks, and its operating curve.
pub fn plan(lot: u32, limit: &str, found: &Inspection) -> Vec<TextLine> {
    let mut out = Page::default();
    let whole = if found.whole_lot {
        " (the whole lot)"
    } else {
        ""
    };
    out.wrapped(
        Tone::Heading,
        "  ",
        &format!(
            "Lot of {lot}, quality limit {limit} %: look at {}{whole}, at most {} may fail",
            found.sample, found.accept
        ),
    );
    if !found.whole_lot {
        let text = format!(
            "Seller's risk: a lot with {} failing is turned away 1 time in 20. Your risk: a lot with {} failing passes 1 time in 10.",
            per_cent(failing_at(found, 0.95)),
            per_cent(failing_at(found, 0.10))
        );
        out.wrapped(Tone::Plain, "  ", &text);
        out.blank();
        out.line(Tone::Plain, "really failing   chance to pass");
        for failing in [0.01, 0.02, 0.05, 0.10, 0.15, 0.20, 0.30, 0.40] {
            let chance = passes(found, failing);
            let bar = "#".repeat((chance * CURVE_COLUMNS as f64).round() as usize);
            out.line(
                Tone::Plain,
                format!("{:>14}   {:>6}  {bar}", per_cent(failing), per_cent(chance)),
            );
        }
    }
    out.wrapped(Tone::Faint, "  ", "Take them from all parts of the lot. Look on the day of arrival and again after seven days: what is pale from the bag has its colour back by then.");
    out.lines
}

/// Looks on arrival and after settling.
pub fn arrival(looks: &[Look], plan: &Inspection, claim: Claim) -> Vec<TextLine> {
    let mut out = Page::default();
    let text = match claim {
        Claim::None => "The lot passes for the rung that was paid for.".to_string(),
        Claim::Wait => format!("No claim yet: look again from day {SETTLE_DAYS} on."),
        Claim::Yes => "The lot fails after settling: claim.".into(),
        Claim::TooFew => format!(
            "Too few were judged after settling: the plan asks for {}.",
            plan.sample
        ),
    };
    out.wrapped(Tone::Heading, "  ", &text);
    out.line(
        Tone::Plain,
        "day  judged  plainly below  plainly at it  plan",
    );
    for look in looks {
        let answer = match look.passes {
            Some(true) => "passes",
            Some(false) => "fails",
            None => "too few",
        };
        out.line(
            Tone::Plain,
            format!(
                "{:>3}  {:>6}  {:>13}  {:>13}  {answer}",
                look.day, look.count.judged, look.failing, look.count.plain
            ),
        );
    }
    out.wrapped(
        Tone::Plain,
        "  ",
        &format!(
            "At most {} of {} may fail. Animals too close to call count for the seller here.",
            plan.accept, plan.sample
        ),
    );
    out.lines
}

/// A buyer's photo beside the page's.
pub fn beside(found: &Beside) -> Vec<TextLine> {
    let mut out = Page::default();
    match (found.same_chart_de00, found.spread_de00) {
        (Some(d), Some(s)) => {
            let far = if d <= 2.0 * s {
                "no further apart than animals of one scoop scatter"
            } else {
                "further apart than the scatter of the animals explains"
            };
            out.wrapped(Tone::Heading, "  ", &format!("By the charts in both photos the mean colours are {d:.1} apart (CIEDE2000), scatter {s:.1}: {far}."));
        }
        _ => out.wrapped(
            Tone::Heading,
            "  ",
            "Colours can't be held together: a colour chart was not read in both photos.",
        ),
    }
    out.line(
        Tone::Plain,
        format!(
            "animals: {} on the page, {} in the buyer's photo",
            found.animals[0], found.animals[1]
        ),
    );
    if let [Some(a), Some(b)] = found.coverage {
        out.line(
            Tone::Plain,
            format!("mean coverage: {} and {}", per_cent(a), per_cent(b)),
        );
    }
    if let [Some(a), Some(b)] = found.length_mm {
        out.line(Tone::Plain, format!("mean length: {a:.1} and {b:.1} mm"));
    }
    out.wrapped(Tone::Plain, "  ", "What this can say: whether the colours in both photos are alike. Coverage holds without a chart, if the cup is white and the animals had seven days to settle.");
    out.wrapped(Tone::Plain, "  ", "What it can't: whether these are the same animals, and what floor, feed, light and the journey did in between.");
    out.wrapped(Tone::Plain, "  ", "Fair to ask for: a photo in a white cup with the same chart, a week after arrival, of all animals.");
    out.lines
}
