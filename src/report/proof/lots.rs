//! Bought-in lots and disputes, for a terminal.

use crate::ladder::Ladder;
use crate::proof::arrival::{Claim, Look, SETTLE_DAYS};
use crate::proof::compare::Beside;
use crate::proof::lot_plan::LotPlan;
use crate::report::text::{Page, TextLine, Tone};
use crate::report::words::per_cent;

/// Columns of the drawn curve.
const CURVE_COLUMNS: usize = 40;

/// Shares of failing animals whose chances are told, in lots too large to tell them all.
const SHARES: [f64; 8] = [0.01, 0.02, 0.05, 0.10, 0.15, 0.20, 0.30, 0.40];
/// Lots up to this size are told animal by animal.
const TOLD_WHOLE: u32 = 10;

/// A plan, both its risks, and its operating curve, in whole animals of the lot.
pub fn plan(limit: &str, found: &LotPlan) -> Vec<TextLine> {
    let mut out = Page::default();
    let look_at = if found.whole_lot() {
        format!("all {}", found.sample)
    } else {
        found.sample.to_string()
    };
    out.wrapped(
        Tone::Heading,
        "  ",
        &format!(
            "Lot of {}, quality limit {limit} %, which is {} of them: look at {look_at}, {} may fail",
            found.lot,
            none_or(found.usual),
            if found.accept == 0 { "none".into() } else { format!("at most {}", found.accept) },
        ),
    );
    if !found.whole_lot() {
        risks(found, &mut out);
        out.blank();
        out.line(Tone::Plain, "really failing         chance to pass");
        for failing in told(found) {
            let chance = found.passes(failing);
            let bar = "#".repeat((chance * CURVE_COLUMNS as f64).round() as usize);
            let row = format!(
                "{:<21}  {:>6}  {bar}",
                of_lot(failing, found),
                chance_of(chance)
            );
            out.line(Tone::Plain, row.trim_end());
        }
    }
    out.wrapped(Tone::Faint, "  ", "Take them from all parts of the lot. Look on the day of arrival and again after seven days: what is pale from the bag has its colour back by then.");
    out.lines
}

/// Both risks in a sentence each.
fn risks(found: &LotPlan, out: &mut Page) {
    let good = found.mostly_passed();
    let seller = if good < found.usual {
        format!(
            "a lot at the limit, with {} failing, is turned away {} of the time.",
            of_lot(found.usual, found),
            chance_of(1.0 - found.passes(found.usual))
        )
    } else {
        let passed = match good {
            0 => "a lot without a failing animal always passes".to_string(),
            _ if found.passes(good) >= 1.0 => {
                format!("a lot with {} failing always passes", of_lot(good, found))
            }
            _ => format!(
                "a lot with {} failing is turned away {} of the time",
                of_lot(good, found),
                chance_of(1.0 - found.passes(good))
            ),
        };
        format!(
            "{passed}; with {} it is turned away {} of the time.",
            good + 1,
            chance_of(1.0 - found.passes(good + 1))
        )
    };
    let bad = found.rarely_passed();
    let buyer = format!(
        "a lot with {} failing passes {} of the time.",
        of_lot(bad, found),
        chance_of(found.passes(bad))
    );
    out.wrapped(Tone::Plain, "  ", &format!("Seller's risk: {seller}"));
    out.wrapped(Tone::Plain, "  ", &format!("Your risk: {buyer}"));
}

/// Numbers of failing animals whose chances are told.
fn told(found: &LotPlan) -> Vec<u32> {
    if found.lot <= TOLD_WHOLE {
        return (1..=found.lot).collect();
    }
    let mut counts: Vec<u32> = SHARES
        .iter()
        .map(|share| (f64::from(found.lot) * share).round() as u32)
        .filter(|count| *count > 0)
        .collect();
    counts.dedup();
    counts
}

fn none_or(count: u32) -> String {
    if count == 0 {
        "none".into()
    } else {
        count.to_string()
    }
}

/// `3 of 60 (5 %)`.
fn of_lot(failing: u32, found: &LotPlan) -> String {
    let share = f64::from(failing) / f64::from(found.lot);
    format!("{failing} of {} ({})", found.lot, per_cent(share))
}

/// A chance in per cent that is never rounded to "never" or "always".
fn chance_of(chance: f64) -> String {
    match chance {
        c if c > 0.995 && c < 1.0 => "> 99 %".into(),
        c if c < 0.005 && c > 1e-9 => "< 1 %".into(),
        c => per_cent(c),
    }
}

/// Looks on arrival and after settling.
pub fn arrival(looks: &[Look], plan: &LotPlan, claim: Claim) -> Vec<TextLine> {
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
        "day  judged  plainly below  may fail  plainly at it  plan",
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
                "{:>3}  {:>6}  {:>13}  {:>8}  {:>13}  {answer}",
                look.day, look.count.judged, look.failing, look.may_fail, look.count.plain
            ),
        );
    }
    out.wrapped(
        Tone::Plain,
        "  ",
        &format!(
            "Of a lot of {}, at most {} of {} looked at may fail. Animals too close to call count for the seller here.",
            plan.lot, plan.accept, plan.sample
        ),
    );
    out.lines
}

/// A buyer's photo beside the page's, with what is to be said of both.
#[derive(Debug, Clone, Copy)]
pub struct Dispute<'a> {
    /// What was found.
    pub found: &'a Beside,
    /// True where the buyer's photo is the very picture of the page.
    pub same_picture: bool,
    /// The page's ladder.
    pub ladder: &'a Ladder,
    /// The ladder of the line that the buyer's animals look like, where they are not of the page's.
    pub looks_like: Option<&'a Ladder>,
    /// True where the buyer's photo has a scale.
    pub scale_known: bool,
}

/// A buyer's photo beside the page's: what is plain first.
pub fn beside(shown: &Dispute<'_>) -> Vec<TextLine> {
    let mut out = Page::default();
    let found = shown.found;
    if shown.same_picture {
        out.wrapped(Tone::Alarm, "  ", "This is the same picture as on the page: it shows the animals before they were sent, and says nothing of those that arrived.");
    }
    line_of(shown, &mut out);
    shades(found, &mut out);
    out.line(
        Tone::Plain,
        format!(
            "animals: {} on the page, {} in the buyer's photo",
            found.animals[0], found.animals[1]
        ),
    );
    if let [Some(a), Some(b)] = found.coverage {
        let of = if found.other_line() {
            format!(" with the colour of {}", plain(shown.ladder))
        } else {
            String::new()
        };
        out.line(
            Tone::Plain,
            format!("mean coverage{of}: {} and {}", per_cent(a), per_cent(b)),
        );
    }
    if let [Some(a), Some(b)] = found.length_mm {
        out.line(Tone::Plain, format!("mean length: {a:.1} and {b:.1} mm"));
    } else if !shown.scale_known {
        out.wrapped(
            Tone::Plain,
            "  ",
            "The scale of the buyer's photo is unknown: say --cup-mm, and lengths are told too.",
        );
    }
    let shade = if found.same_chart_de00.is_some() {
        "also whether their shades are alike, by the charts"
    } else {
        "not whether their shades are alike, for want of charts"
    };
    out.wrapped(Tone::Plain, "  ", &format!("What this can say: whether the animals in both photos are of the page's line, and how much of them is coloured, if the cup is white and they had seven days to settle; {shade}."));
    out.wrapped(Tone::Plain, "  ", "What it can't: whether these are the same animals, and what floor, feed, light and the journey did in between.");
    if !shown.same_picture {
        out.wrapped(Tone::Plain, "  ", "Fair to ask for: a photo in a white cup with the same chart, a week after arrival, of all animals.");
    }
    out.lines
}

/// The line in plain words, without what its title adds behind a comma.
fn plain(ladder: &Ladder) -> &str {
    ladder.title.split(',').next().unwrap_or(&ladder.title)
}

/// Whether the animals are of the page's line at all.
fn line_of(shown: &Dispute<'_>, out: &mut Page) {
    let [page, buyer] = shown.found.off_type;
    let [of_page, of_buyer] = shown.found.animals;
    let line = plain(shown.ladder);
    if shown.found.other_line() {
        let like = shown.looks_like.map_or(String::new(), |like| {
            format!(" They look like {}.", plain(like))
        });
        out.wrapped(Tone::Alarm, "  ", &format!("Another colour: {buyer} of {of_buyer} animals in the buyer's photo are not of the page's line, {line}; on the page {page} of {of_page}.{like}"));
    } else if buyer + page > 0 {
        out.wrapped(Tone::Heading, "  ", &format!("Of another colour than the page's line, {line}: {page} of {of_page} on the page, {buyer} of {of_buyer} in the buyer's photo."));
    } else {
        out.wrapped(
            Tone::Heading,
            "  ",
            &format!(
                "No animal in either photo is of another colour than the page's line, {line}."
            ),
        );
    }
}

/// The shades, where both photos had a chart.
fn shades(found: &Beside, out: &mut Page) {
    match (found.same_chart_de00, found.spread_de00) {
        (Some(d), Some(s)) => {
            let far = if d <= 2.0 * s {
                "no further apart than animals of one scoop scatter"
            } else {
                "further apart than the scatter of the animals explains"
            };
            out.wrapped(Tone::Plain, "  ", &format!("By the charts in both photos the mean colours are {d:.1} apart (CIEDE2000), scatter {s:.1}: {far}."));
        }
        _ => out.wrapped(
            Tone::Plain,
            "  ",
            "Shades of colour can't be compared: a colour chart was not read in both photos.",
        ),
    }
}
