//! How a scoop fades, for a terminal.

use super::steady::{matching_lines, shown};
use super::text::{Page, TextLine, Tone};
use crate::trends::Sighting;
use crate::trends::fade::{Fade, Proposal, Timed};
use crate::trends::fading::{Course, FEWEST_ANIMALS, FEWEST_PHOTOS, Fading, TooFew};

/// The answer for photos some minutes apart: `files` and `photos` in the same order; `since_netting` where minutes are
/// counted from the netting, else from the first photo.
pub fn fade_lines(
    files: &[&str],
    photos: &[Timed],
    since_netting: bool,
    found: &Fade,
) -> Vec<TextLine> {
    let mut out = Page::default();
    let since = if since_netting {
        "netting"
    } else {
        "the first photo"
    };
    out.line(
        Tone::Heading,
        format!("{} photos of one scoop, minutes since {since}", files.len()),
    );
    let seen: Vec<Vec<Sighting>> = photos.iter().map(|p| p.animals.clone()).collect();
    let named: Vec<String> = files
        .iter()
        .zip(photos)
        .map(|(f, p)| format!("{:.1} min, {f}", p.minutes))
        .collect();
    let named: Vec<&str> = named.iter().map(String::as_str).collect();
    matching_lines(&named, &seen, &found.matching, &mut out);
    out.blank();
    for (measure, fading) in &found.measures {
        match fading {
            Ok(fading) => course(measure, fading, &mut out),
            Err(few) => out.wrapped(
                Tone::Plain,
                "  ",
                &format!("{}: {}", shown(measure).0, too_few(*few)),
            ),
        }
    }
    out.blank();
    proposal(found, since_netting, &mut out);
    out.lines
}

fn too_few(few: TooFew) -> String {
    match few {
        TooFew::Animals(n) => format!(
            "too few animals known again in every photo ({n}, at least {FEWEST_ANIMALS} are needed; ten tell much more)"
        ),
        TooFew::Times(n) => {
            format!("too few times ({n}, at least {FEWEST_PHOTOS} are needed; six tell much more)")
        }
    }
}

fn course(measure: &str, fading: &Fading, out: &mut Page) {
    let (name, unit, factor, _) = shown(measure);
    let shape = match fading.course {
        Course::Steady(_) => "a straight line (no curve can be told)".to_string(),
        Course::Levelling(c) => format!(
            "levelling off, half of it within {:.1} min",
            std::f64::consts::LN_2 / c.rate
        ),
    };
    out.wrapped(
        Tone::Heading,
        "  ",
        &format!(
            "{name}, {unit}, mean of {} animals: {shape}",
            fading.animals
        ),
    );
    let readings: Vec<String> = fading
        .minutes
        .iter()
        .zip(&fading.means)
        .map(|(t, v)| format!("{t:.1} min {:.1}", factor * v))
        .collect();
    out.wrapped(
        Tone::Plain,
        "    ",
        &format!("  read: {}", readings.join(", ")),
    );
    let losses: Vec<String> = looked_at(fading.until())
        .into_iter()
        .map(|t| {
            let (loss, half) = fading.loss(t);
            format!(
                "{t:.0} min {:.1} +-{:.1}",
                factor * loss.value,
                factor * half
            )
        })
        .collect();
    out.wrapped(
        Tone::Plain,
        "    ",
        &format!("  lost, with 95 % range: {}", losses.join(", ")),
    );
}

/// Minutes at which the loss is told: the house's own, as far as photos reach.
fn looked_at(until: f64) -> Vec<f64> {
    let mut at: Vec<f64> = [1.0, 2.0, 3.0, 5.0, 10.0]
        .into_iter()
        .filter(|t| *t < until - 0.25)
        .collect();
    at.push(until.round().max(1.0));
    at
}

fn proposal(found: &Fade, since_netting: bool, out: &mut Page) {
    let points = 100.0 * found.tolerated;
    let text = match found.proposal {
        Proposal::Unknown => "No limit can be proposed yet: see what is missing above.".to_string(),
        Proposal::Limits(rule) => format!(
            "Proposed for house.toml, for a mean loss of {points:.0} points of coverage: minutes_aim = {}, minutes_warn = {}, minutes_stop = {}",
            rule.aim, rule.warn, rule.stop
        ),
        Proposal::NoneNeeded(until) => format!(
            "Up to {until:.0} minutes the loss stays below {points:.0} points of coverage: this scoop asks for no tighter limit"
        ),
        Proposal::Unsure(from) => format!(
            "From {from:.1} minutes on the loss may reach {points:.0} points of coverage, but that is not sure: take more photos of more animals"
        ),
    };
    out.wrapped(Tone::Heading, "  ", &text);
    if !since_netting && !matches!(found.proposal, Proposal::Unknown) {
        out.wrapped(
            Tone::Plain,
            "  ",
            "Minutes before the first photo are not counted in: say when you netted with --netted 14:05.",
        );
    }
    out.wrapped(
        Tone::Faint,
        "  ",
        "One scoop is one scoop: another line, cup or day may fade otherwise. Put the animals back now.",
    );
}
