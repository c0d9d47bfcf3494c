//! What was learned of a ladder, in words.

use std::collections::BTreeMap;

use super::per_cent;
use crate::eye::claims::Claim;
use crate::eye::teach::{Answer as Taught, Lesson, Need, NoRange};
use crate::ladder::{Ladder, Measure, Rung};
use crate::proof::statement::{Answer, Standing};
use crate::report::proof::answers;
use crate::report::text::{Page, TextLine, Tone};
use crate::report::words;

/// Animals listed that would change rung.
const SHOWN: usize = 12;

/// How the line's past would read: counts by rung on the present and on the learned ladder, and which of the animals with
/// an own rung move.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Past {
    /// Animals of the past on each rung now.
    pub now: [usize; 6],
    /// The same on the learned ladder.
    pub then: [usize; 6],
    /// Scoop, number, rung now, learned rung, the house's own rung where there is one.
    pub moves: Vec<(i64, u32, Rung, Rung, Option<Rung>)>,
    /// Declared statements that scoops were netted for.
    pub claims: Vec<Claim>,
}

impl Past {
    /// Counts of moves by from and to.
    fn counted(&self) -> BTreeMap<(Rung, Rung), usize> {
        let mut counts = BTreeMap::new();
        self.moves
            .iter()
            .for_each(|m| *counts.entry((m.2, m.3)).or_insert(0) += 1);
        counts
    }
}

/// The answer in words. `seen` is the share of rungs that were given with the program's in view.
pub fn teach_lines(
    ladder: &Ladder,
    answer: &Taught,
    past: &Past,
    seen: f64,
    all: bool,
) -> Vec<TextLine> {
    let mut out = Page::default();
    out.line(
        Tone::Heading,
        format!("Ladder {} and the eye of the house", ladder.line),
    );
    counts(answer, &mut out);
    for note in &answer.refused {
        out.wrapped(
            Tone::Alarm,
            "  ",
            &format!("Nothing learned: {}", note.message),
        );
        out.wrapped(Tone::Plain, "  ", &format!("  Cure: {}", note.hint));
    }
    needs(&answer.needs, &mut out);
    if seen > 0.5 {
        out.wrapped(
            Tone::Plain,
            "  ",
            &format!(
                "Beware: {} of these rungs were given with the program's in view and lean to it.",
                per_cent(seen)
            ),
        );
    }
    if let Some(lesson) = &answer.lesson {
        out.blank();
        learned(lesson, &mut out);
        history(past, all, &mut out);
        out.blank();
        verdict(lesson, &ladder.line, &mut out);
    }
    out.lines
}

fn counts(answer: &Taught, out: &mut Page) {
    let each: Vec<String> = Rung::all()
        .rev()
        .map(|r| format!("{r} {}", answer.counts[r.index()]))
        .collect();
    let left = match answer.left_out {
        0 => String::new(),
        n => format!("; {n} left out, a measure is missing"),
    };
    out.wrapped(
        Tone::Plain,
        "  ",
        &format!(
            "{} animals with your own rung: {}{left}",
            answer.animals,
            each.join(", ")
        ),
    );
}

fn needs(needs: &[Need], out: &mut Page) {
    if needs.is_empty() {
        return;
    }
    let each: Vec<String> = needs
        .iter()
        .map(|n| format!("{} more {}", n.needs - n.has, n.rung))
        .collect();
    out.wrapped(
        Tone::Plain,
        "  ",
        &format!("To learn every border, grade: {}", each.join(", ")),
    );
}

fn amount(measure: Measure, value: f64) -> String {
    words::amount(measure, value)
}

fn learned(lesson: &Lesson, out: &mut Page) {
    let names: Vec<&str> = lesson
        .learned
        .scales
        .iter()
        .map(|s| words::noun(s.measure))
        .collect();
    out.wrapped(
        Tone::Plain,
        "  ",
        &format!("Your eye follows: {}", names.join(", then ")),
    );
    out.line(
        Tone::Heading,
        "Rung  measure              now  learned  range",
    );
    for limit in lesson.limits.iter().rev() {
        let old = limit
            .old
            .map_or("-".into(), |old| amount(limit.measure, old));
        let range = match (limit.interval, limit.no_range) {
            (Some(i), _) => format!(
                "{} to {}",
                amount(limit.measure, i.low),
                amount(limit.measure, i.high)
            ),
            (None, Some(NoRange::TooFew)) => "too few animals beside it".into(),
            (None, Some(NoRange::NotLearned)) => "not learned, stays as it is".into(),
            (None, _) => "none by itself".into(),
        };
        out.line(
            Tone::Plain,
            format!(
                "{:<5} {:<17} {old:>6}  {:>7}  {range}",
                limit.rung.to_string(),
                words::short_noun(limit.measure),
                amount(limit.measure, limit.new)
            ),
        );
    }
    if lesson
        .limits
        .iter()
        .any(|l| l.no_range == Some(NoRange::Together))
    {
        out.wrapped(Tone::Plain, "  ", "No ranges: your eye follows several measures, and a rung asks for all their limits together, so that none of them has a range by itself.");
    }
    for (rung, measure) in &lesson.learned.translation.dropped {
        out.wrapped(
            Tone::Plain,
            "    ",
            &format!(
                "  {rung}: the limit of {} falls away",
                words::noun(*measure)
            ),
        );
    }
    let g = lesson.gain;
    out.wrapped(
        Tone::Plain,
        "  ",
        &format!(
            "Agreement with you, on animals not learned from: {:.2} now, {:.2} learned (gain {:+.2}, error {:.2})",
            g.old, g.new, g.new - g.old, g.error
        ),
    );
    if let Some(r) = lesson.unmeasured {
        out.wrapped(
            Tone::Alarm,
            "  ",
            &format!("Your people see something alike that no measure carries (correlation {r:.2} of what is left open): no limit can follow it."),
        );
    }
}

fn history(past: &Past, all: bool, out: &mut Page) {
    let moved = past.moves.len();
    let total: usize = past.now.iter().sum();
    out.wrapped(
        Tone::Plain,
        "  ",
        &format!("Of {total} animals in the book {moved} would stand elsewhere:"),
    );
    for ((from, to), n) in past.counted() {
        out.line(Tone::Plain, format!("  {n:>5}  {from} to {to}"));
    }
    let own: Vec<_> = past.moves.iter().filter(|m| m.4.is_some()).collect();
    let shown = if all { own.len() } else { SHOWN.min(own.len()) };
    for (scoop, no, from, to, own) in &own[..shown] {
        let own = own.map_or(String::new(), |rung| format!(", you said {rung}"));
        out.line(
            Tone::Faint,
            format!("  scoop {scoop} animal {no}: {from} to {to}{own}"),
        );
    }
    if own.len() > shown {
        out.line(
            Tone::Faint,
            format!("  and {} more with your own rung: --all", own.len() - shown),
        );
    }
    claims(&past.claims, out);
    out.wrapped(Tone::Faint, "  ", "Grades in the book keep the ladder they were given by; both texts are kept with their digest. So do proofs already made: their rules lie in their own folder.");
}

/// How declared statements would read.
fn claims(claims: &[Claim], out: &mut Page) {
    if claims.is_empty() {
        return;
    }
    out.wrapped(
        Tone::Plain,
        "  ",
        "Statements being worked on, with the animals that count so far:",
    );
    for claim in claims {
        let tank = claim.plan.tank.as_deref().unwrap_or("?");
        let read = |standing: &Standing| {
            let (count, judged) = standing
                .looks
                .last()
                .map_or((0.0, 0), |look| (look.by_chance, look.judged));
            format!("{count:.0} of {judged}, {}", short_answer(standing.answer))
        };
        out.wrapped(
            Tone::Plain,
            "    ",
            &format!("  {tank}, {}", answers::wanted(&claim.plan)),
        );
        out.line(Tone::Plain, format!("    now      {}", read(&claim.now)));
        out.line(Tone::Plain, format!("    learned  {}", read(&claim.then)));
    }
    if claims.iter().any(|c| c.now.answer != c.then.answer) {
        out.wrapped(
            Tone::Alarm,
            "  ",
            "Beware: a ladder changed after scoops were seen makes their statement worthless. Declare anew and net anew.",
        );
    }
}

/// An answer in a word or three.
fn short_answer(answer: Answer) -> String {
    match answer {
        Answer::Supported => "supported".into(),
        Answer::NotSupported => "not supported".into(),
        Answer::More(n) => format!("not yet, about {n} more"),
        Answer::Blocked => "nothing may be stated".into(),
    }
}

fn verdict(lesson: &Lesson, line: &str, out: &mut Page) {
    if lesson.is_proposed {
        out.wrapped(
            Tone::Heading,
            "  ",
            "Proposed: the learned ladder agrees better with you. Nothing is changed yet.",
        );
        out.line(Tone::Plain, format!("  catchcup teach {line} --accept"));
    } else {
        out.wrapped(
            Tone::Heading,
            "  ",
            "No change proposed: the gain does not exceed its error. The ladder stays as it is.",
        );
    }
}
