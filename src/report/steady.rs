//! What repeated photos say, for a terminal.

use super::text::{Page, TextLine, Tone, shorten};
use crate::trends::steady::{ColourAgreement, FEWEST_ANIMALS, MeasureAgreement, Steady};
use crate::trends::{MatchedBy, Matching, Sighting};

/// The answer for repeated photos: `files` and `photos` in the same order.
pub fn steady_lines(files: &[&str], photos: &[Vec<Sighting>], found: &Steady) -> Vec<TextLine> {
    let mut out = Page::default();
    out.line(
        Tone::Heading,
        format!("{} photos of one scoop", files.len()),
    );
    matching_lines(files, photos, &found.matching, &mut out);
    out.blank();
    if found.measures.is_empty() {
        out.wrapped(
            Tone::Alarm,
            "  ",
            "No animal was known again in two photos, so nothing can be compared.",
        );
        out.wrapped(
            Tone::Plain,
            "  ",
            "  Cure: photograph the same animals without stirring them, all of them in view.",
        );
        return out.lines;
    }
    table(&found.measures, &mut out);
    out.blank();
    shifts(files, &found.measures, &mut out);
    colour_and_rungs(found, &mut out);
    out.blank();
    meaning(found, &mut out);
    out.lines
}

/// Who was known again in which photo.
pub(super) fn matching_lines(
    files: &[&str],
    photos: &[Vec<Sighting>],
    matching: &Matching,
    out: &mut Page,
) {
    for (at, file) in files.iter().enumerate() {
        let known = matching
            .animals
            .iter()
            .filter(|row| row[at].is_some())
            .count();
        let how = match matching.by[at] {
            MatchedBy::Reference => "the others are held against it".to_string(),
            MatchedBy::Place => format!("{known} known again by their place"),
            MatchedBy::Looks => format!("{known} known again by size and colour"),
        };
        let left = &matching.unmatched[at];
        let alone = if left.is_empty() {
            String::new()
        } else {
            format!("; not matched: {}", super::words::animals(left))
        };
        out.wrapped(
            Tone::Plain,
            "    ",
            &format!(
                "  {}: {} animals, {how}{alone}",
                shorten(file, 30),
                photos[at].len()
            ),
        );
    }
    if matching.by.contains(&MatchedBy::Looks) {
        out.wrapped(
            Tone::Plain,
            "  ",
            "Beware: animals known again by their looks flatter these figures, for what changed most is not known again.",
        );
    }
}

/// A measure's name for people, its unit, and the factor and digits with which it is shown.
pub(super) fn shown(measure: &str) -> (&'static str, &'static str, f64, usize) {
    match measure {
        "coverage" => ("coverage", "points of 100", 100.0, 1),
        "opacity" => ("opacity", "points of 100", 100.0, 1),
        "length_mm" => ("length", "mm", 1.0, 2),
        "length_share" => ("length", "% of the median", 100.0, 1),
        "lightness" => ("lightness", "L*", 1.0, 1),
        "chroma" => ("chroma", "C*", 1.0, 1),
        _ => ("", "", 1.0, 2),
    }
}

fn table(measures: &[MeasureAgreement], out: &mut Page) {
    out.line(Tone::Heading, format!("{:>72}", "worth believing from"));
    out.line(
        Tone::Heading,
        format!(
            "{:<27}{:>8}{:>18}{:>6}{:>8}{:>8}",
            "Measure", "animals", "ICC (95 % range)", "SD", "animal", "scoop"
        ),
    );
    for m in measures {
        let (name, unit, factor, digits) = shown(m.measure);
        let icc = m.icc.map_or("too few".to_string(), |icc| {
            format!(
                "{:.2} ({:.2}-{:.2})",
                icc.value,
                icc.interval.low.max(0.0),
                icc.interval.high
            )
        });
        let number = |v: f64| format!("{:.digits$}", factor * v);
        out.line(
            Tone::Plain,
            format!(
                "{:<27}{:>8}{icc:>18}{:>6}{:>8}{:>8}",
                format!("{name}, {unit}"),
                m.animals,
                number(m.within_sd),
                number(m.believable),
                m.mean_believable.map_or(String::new(), number),
            ),
        );
    }
}

/// For each measure the two photos that agree least.
fn shifts(files: &[&str], measures: &[MeasureAgreement], out: &mut Page) {
    out.line(
        Tone::Heading,
        "Photos that agree least (second minus first: mean, 95 % limits)",
    );
    for m in measures {
        let (name, _, factor, digits) = shown(m.measure);
        if let Some((a, b, l)) = &m.worst_pair {
            let n = |v: f64| format!("{:+.digits$}", factor * v);
            out.wrapped(
                Tone::Plain,
                "    ",
                &format!(
                    "  {name}: {} to {} in {} and {}, mean {}",
                    n(l.low),
                    n(l.high),
                    shorten(files[*a], 18),
                    shorten(files[*b], 18),
                    n(l.shift)
                ),
            );
        }
    }
}

fn colour_and_rungs(found: &Steady, out: &mut Page) {
    if let Some(ColourAgreement {
        pairs,
        median,
        nine_in_ten,
    }) = found.colour
    {
        out.wrapped(
            Tone::Plain,
            "    ",
            &format!("  colour: median difference {median:.1} CIEDE2000, nine in ten below {nine_in_ten:.1} ({pairs} pairs)"),
        );
    }
    let (pairs, agree) = found.rungs;
    if pairs > 0 {
        out.wrapped(
            Tone::Plain,
            "    ",
            &format!("  rungs: the same, or too close to call with it, in {agree} of {pairs} pairs ({:.0} %)", 100.0 * agree as f64 / pairs as f64),
        );
    }
}

/// What the columns mean, in a sentence each, with this house's own number.
fn meaning(found: &Steady, out: &mut Page) {
    out.wrapped(
        Tone::Faint,
        "  ",
        "SD: how far one animal's number strays from photo to photo. ICC: 1 where animals differ and photos do not. Worth believing from: smaller differences come by chance.",
    );
    if let Some(coverage) = found.measures.iter().find(|m| m.measure == "coverage") {
        let mean = coverage.mean_believable.map_or(String::new(), |v| {
            format!(", and of the scoop's mean only from {:.1} on", 100.0 * v)
        });
        out.wrapped(
            Tone::Heading,
            "  ",
            &format!("Smallest change worth believing: of one animal's coverage from {:.1} points on{mean}.", 100.0 * coverage.believable),
        );
    }
    if found.measures.iter().all(|m| m.icc.is_none()) {
        out.wrapped(Tone::Plain, "  ", &format!("Fewer than {FEWEST_ANIMALS} animals were known again in every photo: net more for these figures."));
    }
}
