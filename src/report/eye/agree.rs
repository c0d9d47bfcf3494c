//! Agreement of raters in words.

use super::{per_cent, rater};
use crate::eye::agreement::{Agreement, FEWEST_AT_RUNG, FEWEST_PHOTOS};
use crate::eye::raters::{Comparison, Rater};
use crate::ladder::Rung;
use crate::report::text::{Page, TextLine, Tone};

/// All comparisons; with `detail` method names too.
pub fn agree_lines(title: &str, all: &[Comparison], detail: bool) -> Vec<TextLine> {
    let mut out = Page::default();
    out.line(Tone::Heading, format!("Agreement on rungs, {title}"));
    for comparison in all {
        out.blank();
        one(comparison, detail, &mut out);
    }
    if all.is_empty() {
        out.wrapped(
            Tone::Plain,
            "  ",
            "Nobody's rungs can be compared yet. Draw a blind test: catchcup rung test LINE DIR",
        );
    }
    out.lines
}

fn one(comparison: &Comparison, detail: bool, out: &mut Page) {
    let a = &comparison.agreement;
    let (first, second) = (rater(&comparison.first), rater(&comparison.second));
    out.wrapped(
        Tone::Heading,
        "  ",
        &format!(
            "{first} and {second}: {} animals in {}",
            a.animals,
            photos(a.photos)
        ),
    );
    out.wrapped(
        Tone::Plain,
        "    ",
        &format!(
            "  same rung {} ({}-{}), at most one apart {}",
            per_cent(a.exact.0),
            per_cent(a.exact.1.low),
            per_cent(a.exact.1.high),
            per_cent(a.within_one.0)
        ),
    );
    if let (Some(kappa), Some(interval)) = (a.kappa, a.kappa_interval) {
        let name = if detail {
            "weighted kappa (quadratic)"
        } else {
            "agreement beyond chance"
        };
        out.wrapped(
            Tone::Plain,
            "    ",
            &format!(
                "  {name} {:.2} ({:.2} to {:.2}); 1 is full, 0 is chance",
                kappa.value, interval.low, interval.high
            ),
        );
    }
    if let Some(rank) = a.rank.filter(|_| detail) {
        out.line(
            Tone::Plain,
            format!("  rank correlation (Spearman) {rank:.2}"),
        );
    }
    bias(comparison, out);
    table(a, &first, &second, out);
    for month in &comparison.months {
        out.line(
            Tone::Faint,
            format!(
                "  {}: {} animals, same rung {}, shift {:+.2}",
                month.month,
                month.animals,
                per_cent(month.exact),
                month.shift
            ),
        );
    }
}

fn photos(count: usize) -> String {
    format!("{count} photo{}", if count == 1 { "" } else { "s" })
}

fn bias(comparison: &Comparison, out: &mut Page) {
    let a = &comparison.agreement;
    let second = match &comparison.second {
        Rater::Again(who) => format!("{who}, the second time,"),
        other => rater(other),
    };
    let softer = |shift: f64| if shift > 0.0 { "softer" } else { "harder" };
    let b = a.bias;
    let range = b.interval.map_or(String::new(), |i| {
        format!(" ({:+.2} to {:+.2})", i.low, i.high)
    });
    let said = if b.is_called {
        format!(
            "{second} grades {} by {:.2} rung{range}",
            softer(b.shift),
            b.shift.abs()
        )
    } else if b.is_judged {
        format!("no bias seen: {:+.2} rung{range}", b.shift)
    } else {
        format!(
            "{:+.2} rung{range}; a verdict needs {FEWEST_PHOTOS} photos",
            b.shift
        )
    };
    out.wrapped(
        if b.is_called {
            Tone::Alarm
        } else {
            Tone::Plain
        },
        "    ",
        &format!("  {said}"),
    );
    by_rung(a, &second, out);
}

/// Who grades softer at which rung.
fn by_rung(a: &Agreement, second: &str, out: &mut Page) {
    let softer = |shift: f64| if shift > 0.0 { "softer" } else { "harder" };
    let (mut few, mut any) = (Vec::new(), false);
    for rung in Rung::all().rev() {
        let Some(at) = a.by_rung[rung.index()] else {
            continue;
        };
        if at.animals < 1.0 {
            continue;
        }
        if !at.is_judged {
            few.push(format!("{rung} {:+.2} ({})", at.shift, halves(at.animals)));
        } else if at.is_called {
            any = true;
            let said = format!(
                "  {second} grades {:.2} rung {} at {rung} ({} animals)",
                at.shift.abs(),
                softer(at.shift),
                halves(at.animals)
            );
            out.wrapped(Tone::Alarm, "    ", &said);
        }
    }
    if !few.is_empty() {
        out.wrapped(
            Tone::Faint,
            "    ",
            &format!(
                "  too few for a verdict ({FEWEST_AT_RUNG:.0} animals a rung): {}",
                few.join(", ")
            ),
        );
    }
    if any || !few.is_empty() {
        out.wrapped(Tone::Faint, "    ", "  Here an animal counts at the rung midway between both raters' rungs; midway between two rungs it counts half at each.");
    }
}

/// A number of animals that may end on a half.
fn halves(animals: f64) -> String {
    let text = format!("{animals:.1}");
    text.strip_suffix(".0").map_or(text.clone(), str::to_string)
}

/// Counts: the first rater down, the second across, best rung first.
fn table(a: &Agreement, first: &str, second: &str, out: &mut Page) {
    out.wrapped(
        Tone::Faint,
        "    ",
        &format!("  counts: {first} down, {second} across"),
    );
    let heads: Vec<String> = Rung::all()
        .rev()
        .map(|rung| format!("{:>4}", rung.to_string()))
        .collect();
    out.line(Tone::Faint, format!("     {}", heads.join("")));
    for row in Rung::all().rev() {
        let counts = a.table[row.index()];
        if counts.iter().all(|n| *n == 0) {
            continue;
        }
        let cells: Vec<String> = Rung::all()
            .rev()
            .map(|column| match counts[column.index()] {
                0 => "   .".to_string(),
                n => format!("{n:>4}"),
            })
            .collect();
        out.line(Tone::Plain, format!("  {row} {}", cells.join("")));
    }
}
