//! How many to net, how a plan stands, and what a check found, for a terminal.

use super::sentences::{self, permille};
use crate::book::TankState;
use crate::proof::Plan;
use crate::proof::count::COUNTS_FROM;
use crate::proof::manifest::{Basis, Manifest, Statement};
use crate::proof::plan::{POWER, Prospect, to_know_within_ten_points};
use crate::proof::statement::{Answer, Look, Standing};
use crate::proof::verify::{Checked, Verdict};
use crate::proof::weakness::Weakness;
use crate::report::text::{Page, TextLine, Tone};
use crate::report::words::per_cent;

/// The wanted statement in words.
pub fn wanted(plan: &Plan) -> String {
    format!(
        "at least {} at {} or better",
        permille(plan.permille),
        plan.rung
    )
}

/// What a plan asks for, before netting.
pub fn plan(plan: &Plan, prospects: &[Prospect], declared: bool, detail: bool) -> Vec<TextLine> {
    let mut out = Page::default();
    out.wrapped(
        Tone::Heading,
        "  ",
        &format!(
            "To say: {} (confidence {})",
            wanted(plan),
            permille(plan.confidence_permille)
        ),
    );
    let text = format!(
        "Net {} scoops of {} at most, from at least two places of the tank, each kept apart until the last is netted; look after each.",
        plan.looks, plan.per_look
    );
    out.wrapped(Tone::Plain, "  ", &text);
    needs(plan, &mut out);
    chances(prospects, &mut out);
    if let Some(lot) = plan.lot {
        let n = to_know_within_ten_points(lot);
        out.blank();
        out.wrapped(Tone::Plain, "  ", &format!("Merely to know the share of {lot} animals to within ten points: {n} animals, if each is drawn on its own."));
    }
    out.blank();
    if declared {
        out.wrapped(Tone::Plain, "  ", "Declared: scoops filed from now on count, in the order netted. See how it stands with catchcup howmany TANK.");
    } else {
        out.wrapped(Tone::Plain, "  ", "Declare it before netting, so that looking early costs nothing: catchcup howmany TANK ... --declare");
    }
    out.wrapped(
        Tone::Faint,
        "  ",
        "Minutes in the cup: aim at 3, 10 at most. Mind electricity beside water.",
    );
    if detail {
        let icc = format!(
            "Exact group-sequential boundary on a beta-binomial null, intraclass correlation {:.3}, error spent as alpha t^1.5; an animal counts where its chance of meeting the rung is at least {COUNTS_FROM}.",
            plan.icc
        );
        out.wrapped(Tone::Faint, "  ", &icc);
    }
    out.lines
}

/// Counts that each look needs.
fn needs(plan: &Plan, out: &mut Page) {
    out.blank();
    out.line(
        Tone::Plain,
        "after scoop  animals  enough when so many meet it",
    );
    let (mut seen, needs) = (0, plan.needed());
    for (look, need) in needs.iter().enumerate() {
        seen += plan.per_look;
        let need = if *need > seen {
            "can't be enough yet".into()
        } else {
            need.to_string()
        };
        out.line(Tone::Plain, format!("{:>11}  {seen:>7}  {need}", look + 1));
    }
}

/// What is to be expected of lots better than wanted.
fn chances(prospects: &[Prospect], out: &mut Page) {
    out.blank();
    out.line(
        Tone::Plain,
        "if really    chance to be supported   animals     at once, for",
    );
    out.line(
        Tone::Plain,
        format!(
            "meet it      within half   within all   on average  a chance of {}",
            per_cent(POWER)
        ),
    );
    for p in prospects {
        let half = p
            .by_look
            .get((p.by_look.len().div_ceil(2)).saturating_sub(1));
        let all = p.by_look.last();
        let share = |s: Option<&f64>| s.map_or("-".into(), |s| per_cent(*s));
        out.line(
            Tone::Plain,
            format!(
                "{:<11}  {:>11}   {:>10}   {:>10.0}  {}",
                per_cent(p.truth),
                share(half),
                share(all),
                p.expected_animals,
                p.at_once
                    .map_or("more than a tank holds".into(), |n| n.to_string())
            ),
        );
    }
}

/// How a declared plan stands.
pub fn standing(
    plan: &Plan,
    counted: &Statement,
    found: &Standing,
    weaknesses: &[Weakness],
) -> Vec<TextLine> {
    let mut out = Page::default();
    let tank = plan
        .tank
        .as_ref()
        .map_or(String::new(), |t| format!("Tank {t}: "));
    out.wrapped(
        Tone::Heading,
        "  ",
        &format!("{tank}{}", answer_sentence(plan, found)),
    );
    if !found.looks.is_empty() {
        out.blank();
        out.line(
            Tone::Plain,
            "after scoop  judged  meet it  plainly  enough when",
        );
        for (i, look) in found.looks.iter().enumerate() {
            out.line(Tone::Plain, look_row(i, look, found));
        }
        out.blank();
        let range = format!(
            "With misgrading allowed for, at least {} of the lot meet it and at most {} ({} confidence for each).",
            per_cent((found.lower * 100.0).floor() / 100.0),
            per_cent((found.upper * 100.0).ceil() / 100.0),
            permille(plan.confidence_permille)
        );
        out.wrapped(Tone::Plain, "  ", &range);
    }
    if counted.animals > 0 {
        let text = format!("Counted: {}.", sentences::counted(counted));
        out.wrapped(Tone::Plain, "  ", &text);
    }
    if found.beyond > 0 {
        out.wrapped(
            Tone::Plain,
            "  ",
            &format!(
                "{} scoops after the declared looks do not count.",
                found.beyond
            ),
        );
    }
    weak(weaknesses, &mut out);
    out.lines
}

fn look_row(i: usize, look: &Look, found: &Standing) -> String {
    let need = if look.needed > look.judged {
        "can't be yet".into()
    } else {
        look.needed.to_string()
    };
    let mark = if found.supported_at == Some(i) {
        "  <- supported"
    } else {
        ""
    };
    format!(
        "{:>11}  {:>6}  {:>7.1}  {:>7}  {need}{mark}",
        i + 1,
        look.judged,
        look.by_chance,
        look.plain
    )
}

fn answer_sentence(plan: &Plan, found: &Standing) -> String {
    let what = wanted(plan);
    match found.answer {
        Answer::Supported => format!("supported: {what}"),
        Answer::NotSupported => format!("not supported: {what}"),
        Answer::More(n) => format!("not yet: {what}; about {n} more animals would settle it"),
        Answer::Blocked => format!("nothing may be stated now ({what})"),
    }
}

/// Weaknesses, those that forbid a statement first.
pub fn weak(weaknesses: &[Weakness], out: &mut Page) {
    for blocks in [true, false] {
        for w in weaknesses.iter().filter(|w| w.blocks == blocks) {
            let (word, tone) = if blocks {
                ("Stop", Tone::Alarm)
            } else {
                ("Weakens it", Tone::Plain)
            };
            out.wrapped(tone, "  ", &format!("{word}: {}", w.message));
            out.wrapped(Tone::Plain, "    ", &format!("  cure: {}", w.hint));
        }
    }
}

/// What a check of a proof found.
pub fn checked(found: &Checked) -> Vec<TextLine> {
    let mut out = Page::default();
    out.wrapped(Tone::Heading, "  ", &verdict(found));
    for fault in &found.faults {
        out.wrapped(
            Tone::Alarm,
            "  ",
            &format!("What is wrong: {}", fault.message),
        );
        out.wrapped(Tone::Plain, "    ", &format!("  cure: {}", fault.hint));
    }
    for remark in &found.remarks {
        out.wrapped(Tone::Plain, "  ", &format!("Note: {}", remark.message));
        if !remark.hint.is_empty() {
            out.wrapped(Tone::Plain, "    ", &format!("  do: {}", remark.hint));
        }
    }
    if let Some(m) = found.manifest.as_ref().filter(|_| found.faults.is_empty()) {
        signed(m, &mut out);
    }
    out.wrapped(
        Tone::Faint,
        "  ",
        "A signature says that nothing was changed since, and by whose key. It says nothing of which animals were sent, of the day of the photo, or of health.",
    );
    out.lines
}

/// The answer in one sentence.
pub fn verdict(found: &Checked) -> String {
    let day = found
        .manifest
        .as_ref()
        .map_or(String::new(), |m| m.signed_on.to_string());
    let key = found.key.map_or("unknown".into(), |k| k.fingerprint());
    match found.verdict {
        Verdict::Unchanged => format!(
            "Unchanged since signed on {day} with the key you named; every number follows from the photo."
        ),
        Verdict::UnknownKey => format!(
            "Consistent, signed on {day} by unknown key {key}. Ask the seller for the fingerprint by another way and check again with --key."
        ),
        Verdict::OtherKey => {
            format!("Signed with another key than the one you named: {key}. Do not rely on it.")
        }
        Verdict::Changed => "Changed, or not what its photo gives. Do not rely on it.".into(),
        Verdict::OtherProgram => format!(
            "Signed on {day} by key {key} and unchanged, but this version can't make the same page or numbers."
        ),
    }
}

fn signed(m: &Manifest, out: &mut Page) {
    out.wrapped(
        Tone::Plain,
        "  ",
        &format!("Lot {}, written by catchcup {}", m.lot, m.program),
    );
    if let Some(s) = &m.statement {
        out.wrapped(Tone::Plain, "  ", &sentences::headline(s));
        out.wrapped(Tone::Plain, "  ", &sentences::ground(s));
        let what = match s.basis {
            Basis::Whole => "It follows from the record of the photo.",
            Basis::Scoops => {
                "It follows from the signed counts; of the other scoops' photos only digests are here."
            }
        };
        out.wrapped(Tone::Plain, "  ", what);
    }
}

/// Holds of a tank as weaknesses: nothing is stated from a tank on hold.
pub fn holds(state: &TankState) -> Vec<Weakness> {
    let cure = "wait until the tank is free; a colour grade is no health certificate";
    state
        .holds
        .0
        .iter()
        .map(|hold| {
            let text = format!(
                "tank {}: {}",
                state.tank.code,
                crate::report::book::hold(hold)
            );
            if hold.stops_selling() {
                Weakness::blocking("on_hold", text, cure)
            } else {
                Weakness::new("watched", text, cure)
            }
        })
        .collect()
}
