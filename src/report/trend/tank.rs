//! Whole tanks, trials, mixed tanks, the room and the month, in words.

use super::{amount, capital, difference, moved, name, plural, sentence, with_range};
use crate::ladder::Rung;
use crate::report::text::{Page, TextLine, Tone};
use crate::stats::Interval;
use crate::trends::Watched;
use crate::trends::mixed::Mixed;
use crate::trends::month::LineMonth;
use crate::trends::tank_trend::MeasureTrend;
use crate::trends::trial::{Outcome, SideMean, Trial};
use crate::trends::verdict::FALSE_ALARM;
use crate::trends::whole_tank::{AtOrAbove, SizeUnused, WholeTank};

fn per_cent(share: f64) -> String {
    format!("{:.0}", 100.0 * share)
}

/// A tank's shares. `more` is what [`crate::trends::whole_tank::scoops_needed`] says for `within`, with scoops of `size`.
pub fn share_lines(
    found: &WholeTank,
    title: &str,
    sale_rung: Rung,
    more: (Option<u64>, f64, u64),
    detail: bool,
) -> Vec<TextLine> {
    let mut out = Page::default();
    if let Some(sale) = found.rungs.iter().find(|r| r.rung == sale_rung) {
        let text = format!(
            "{}: {} to {} % of the tank at or above {sale_rung} ({} of {} animals in {} {}{})",
            capital(title),
            per_cent(sale.above.range.low),
            per_cent(sale.above.range.high),
            sale.above.count,
            found.animals,
            found.scoops,
            plural(found.scoops, "scoop"),
            close_calls(&sale.above, ", ")
        );
        out.wrapped(Tone::Heading, "  ", &text);
        if let Some((low, high)) = sale.of_tank {
            let text = format!("That is {low} to {high} of the animals you say it holds.");
            out.wrapped(Tone::Plain, "  ", &text);
        }
    }
    match found.size_unused {
        Some(SizeUnused::PutBack) => out.wrapped(
            Tone::Plain,
            "  ",
            "The number of animals in the tank makes no range narrower: those of earlier scoops were put back and may have been met again.",
        ),
        Some(SizeUnused::TooSmall) => out.wrapped(
            Tone::Plain,
            "  ",
            "More animals were netted than you say the tank holds; the number was not used.",
        ),
        None => {}
    }
    out.blank();
    for rung in &found.rungs {
        let name = if rung.rung == Rung::BEST {
            "G5 best".into()
        } else {
            rung.rung.to_string()
        };
        // All that is judged and not off-type stands at G0 or above: that says nothing of its colour.
        let above = if rung.rung == Rung::G0 {
            String::new()
        } else {
            format!("   at or above {:>10} %", range(&rung.above.range))
        };
        out.line(
            Tone::Plain,
            format!(
                "  {name:<8}{:>4} animals {:>10} %{above}",
                rung.on,
                range(&rung.on_range)
            ),
        );
    }
    if found.off_type > 0 {
        let text = format!(
            "  off-type {:>3} animals {:>10} %",
            found.off_type,
            range(&found.off_type_range)
        );
        out.line(Tone::Alarm, text);
    }
    out.blank();
    out.wrapped(Tone::Plain, "  ", &more_words(more));
    if detail {
        out.wrapped(
            Tone::Faint,
            "  ",
            &format!(
                "Each range by itself at 95 %, by exact tails of the beta-binomial distribution, correlation within scoops {:.3}; lower \
                 ends from the sure animals, upper ends as if all too close to call stood there.",
                found.icc
            ),
        );
    }
    out.lines
}

fn range(range: &Interval) -> String {
    format!("{} to {}", per_cent(range.low), per_cent(range.high))
}

/// How many of those at or above a rung, and of those below, are too close to call; empty where none is.
fn close_calls(above: &AtOrAbove, lead: &str) -> String {
    let of_them = above.count - above.sure;
    let below = above.undecided - of_them;
    let what = match (of_them, below) {
        (0, 0) => return String::new(),
        (n, 0) => format!("{n} of them"),
        (0, n) => format!("{n} below it"),
        (n, m) => format!("{n} of them and {m} below it"),
    };
    format!("{lead}{what} too close to call")
}

fn more_words((more, within, size): (Option<u64>, f64, u64)) -> String {
    let points = per_cent(within);
    match more {
        Some(0) => format!("The range is within {points} points either way already."),
        Some(n) => format!(
            "For a range of {points} points either way net about {n} more {} of {size} animals.",
            plural(n as usize, "scoop")
        ),
        None => format!(
            "A range of {points} points either way is out of reach by netting: ask for less, or grade with a better photo where animals are too close to call."
        ),
    }
}

/// A trial; `names` of the two sides, `worth` the difference that would be worth knowing.
pub fn trial_lines(all: &[Trial], names: [&str; 2], worth: f64, sale_rung: Rung) -> Vec<TextLine> {
    let mut out = Page::default();
    for trial in all {
        let text = outcome(trial, names, worth, sale_rung);
        let tone = if trial.outcome == Outcome::Differs {
            Tone::Heading
        } else {
            Tone::Plain
        };
        out.wrapped(tone, "  ", &capital(&text));
        for (side, name) in [&trial.first, &trial.second].into_iter().zip(names) {
            if let Some(side) = side {
                out.wrapped(
                    Tone::Faint,
                    "    ",
                    &format!("  {}", side_words(trial.measure, side, name)),
                );
            }
        }
    }
    if let Some(trial) = all.first().filter(|t| !t.unlike.is_empty()) {
        out.blank();
        for (what, a, b) in &trial.unlike {
            out.wrapped(
                Tone::Plain,
                "  ",
                &format!("Not alike: {what} {a} ({}), {b} ({})", names[0], names[1]),
            );
        }
    }
    out.blank();
    out.wrapped(
        Tone::Faint,
        "  ",
        "Two tanks differ in more than what you changed; what one pair shows, another may not.",
    );
    out.lines
}

fn outcome(trial: &Trial, names: [&str; 2], worth: f64, sale_rung: Rung) -> String {
    let what = name(trial.measure, sale_rung);
    let [first, second] = names;
    let Some(d) = trial.difference else {
        return format!("{what}: one side has nothing to compare.");
    };
    let less = format!(
        "{second} less {first}: {}",
        with_range(trial.measure, d.value, d.low, d.high)
    );
    match &trial.outcome {
        Outcome::TooEarly { weeks, asked } if weeks < asked => {
            format!("{what}: too early, {weeks:.0} of {asked:.0} weeks have passed; {less} so far.")
        }
        Outcome::TooEarly { .. } => {
            format!("{what}: too early, each side needs two scoops at least; {less} so far.")
        }
        Outcome::Nothing => format!("{what}: one side has nothing to compare."),
        Outcome::Differs => {
            format!(
                "{what} {} from {first} to {second}.",
                moved(trial.measure, &d)
            )
        }
        Outcome::NoDifference { more_scoops } => {
            let wanted = difference(trial.measure, worth, worth);
            let net = match more_scoops {
                0 => format!("one of {wanted} would have shown"),
                n => format!(
                    "net {n} more {} on each side to see one of {wanted}",
                    plural(*n, "scoop")
                ),
            };
            format!("{what}: no real difference ({less}); {net}.")
        }
    }
}

fn side_words(measure: Watched, side: &SideMean, name: &str) -> String {
    format!(
        "{name}: {} from {} animals in {} {}",
        amount(measure, side.value),
        side.animals,
        side.scoops,
        plural(side.scoops, "scoop")
    )
}

/// A mixed tank.
pub fn mixed_lines(found: &Mixed, title: &str, detail: bool) -> Vec<TextLine> {
    let mut out = Page::default();
    let text = format!(
        "{}: {} animals in {} {}",
        capital(title),
        found.animals,
        found.scoops,
        plural(found.scoops, "scoop")
    );
    out.line(Tone::Heading, text);
    for share in &found.shares {
        let shown = range(&share.range);
        let text = format!(
            "  {:<8}{:>4} {:>12} % of the tank",
            share.family.word(),
            share.count,
            shown
        );
        out.line(Tone::Plain, text);
    }
    if let Some(families) = found.families_in_effect {
        let text = format!("As varied as {families:.1} colours of equal share.");
        out.wrapped(Tone::Plain, "  ", &text);
    }
    slide(found, &mut out);
    if detail && let (Some(diversity), Some(brown)) = (found.diversity, found.brown) {
        let text = format!(
            "Simpson's diversity {diversity:.2}; trend in proportions of brown z {:.2}, chance of such a rise {:.4}.",
            brown.z, brown.p_rise
        );
        out.wrapped(Tone::Faint, "  ", &text);
    }
    out.lines
}

/// The slide toward brown in a sentence; true where it is one to be alarmed about.
pub fn slide_sentence(found: &Mixed) -> (bool, String) {
    let Some(brown) = found.brown else {
        let any = found
            .brown_by_generation
            .iter()
            .any(|(_, brown, _)| *brown > 0);
        let text = if any {
            "Too early to say whether it slides toward brown."
        } else {
            "No brown animal was seen so far."
        };
        return (false, text.into());
    };
    if brown.p_rise < FALSE_ALARM {
        let points = 100.0 * brown.slope;
        let text = format!("It slides toward brown, about {points:.1} points a generation.");
        return (true, text);
    }
    (false, "No slide toward brown can be told.".into())
}

/// The slide toward brown.
fn slide(found: &Mixed, out: &mut Page) {
    let (alarm, text) = slide_sentence(found);
    let by: Vec<String> = found
        .brown_by_generation
        .iter()
        .map(|(g, brown, n)| {
            format!(
                "{} {brown} of {n}",
                crate::book::lines::generation_name(*g as u32)
            )
        })
        .collect();
    let text = match found.brown {
        Some(_) => format!("{}: {}.", text.trim_end_matches('.'), by.join(", ")),
        None => text,
    };
    let tone = if alarm { Tone::Alarm } else { Tone::Plain };
    out.wrapped(tone, "  ", &text);
}

/// The room: a line for each tank, those that change for the worse first.
pub fn room_lines(tanks: &[(String, &MeasureTrend)], sale_rung: Rung) -> Vec<TextLine> {
    let mut out = Page::default();
    let mut sorted: Vec<&(String, &MeasureTrend)> = tanks.iter().collect();
    sorted.sort_by_key(|(_, t)| !t.judged.verdict.is_alarm(t.series.measure));
    for (title, trend) in sorted {
        let alarm = trend.judged.verdict.is_alarm(trend.series.measure);
        let tone = if alarm { Tone::Alarm } else { Tone::Plain };
        out.wrapped(
            tone,
            "    ",
            &format!("{title}: {}", sentence(trend, sale_rung)),
        );
    }
    if tanks.is_empty() {
        out.line(
            Tone::Faint,
            "no tank with scoops yet: catchcup scoop add TANK PHOTO",
        );
    }
    out.lines
}

/// The month.
pub fn month_lines(lines: &[LineMonth], month: &str, sale_rung: Rung) -> Vec<TextLine> {
    let mut out = Page::default();
    out.line(
        Tone::Heading,
        format!("Month {month}, sale rung {sale_rung}"),
    );
    if lines.is_empty() {
        out.line(
            Tone::Faint,
            "nothing was netted, moved out or lost in that month",
        );
        return out.lines;
    }
    for line in lines {
        let share = if line.animals == 0 {
            "no scoop".to_string()
        } else {
            let before = line
                .share_before
                .map_or(String::new(), |b| format!(", {} % before", per_cent(b)));
            format!(
                "{} of {} at or above {sale_rung} ({} %{before}){}",
                line.above.count,
                line.animals,
                range(&line.above.range),
                close_calls(&line.above, ", ")
            )
        };
        let mut text = format!(
            "  {:<8}{share}; moved out {}, lost {}",
            line.line, line.moved_out, line.lost
        );
        if line.off_type > 0 {
            text += &format!("; {} off-type", line.off_type);
        }
        let tone = if line.off_type > 0 {
            Tone::Alarm
        } else {
            Tone::Plain
        };
        out.wrapped(tone, "          ", &text);
    }
    out.lines
}
