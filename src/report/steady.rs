//! What repeated photos say, for a terminal.

use super::text::{Page, TextLine, Tone, shorten};
use crate::trends::steady::{ColourAgreement, FEWEST_ANIMALS, MeasureAgreement, Steady};
use crate::trends::{MatchedBy, Matching, Sighting};

/// The answer for repeated photos: `files` and `photos` in the same order; with `detail` the figures and methods behind it.
pub fn steady_lines(
    files: &[&str],
    photos: &[Vec<Sighting>],
    found: &Steady,
    detail: bool,
) -> Vec<TextLine> {
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
    believable(&found.measures, &mut out);
    out.blank();
    shifts(files, &found.measures, &mut out);
    colour_and_rungs(found, detail, &mut out);
    out.blank();
    meaning(found, &mut out);
    if detail {
        out.blank();
        table(&found.measures, &mut out);
    }
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
        "lightness" => ("lightness", "points of 100", 1.0, 1),
        "chroma" => ("depth of colour", "points", 1.0, 1),
        _ => ("", "", 1.0, 2),
    }
}

/// A number with its digits; what is smaller than they show is not called nothing.
fn number(value: f64, factor: f64, digits: usize) -> String {
    let least = 0.5 * 10f64.powi(-(digits as i32));
    if factor * value < least {
        format!("< {:.digits$}", 2.0 * least)
    } else {
        format!("{:.digits$}", factor * value)
    }
}

/// From which difference on a change is worth believing.
fn believable(measures: &[MeasureAgreement], out: &mut Page) {
    out.line(
        Tone::Heading,
        "Worth believing from           animals  one animal  whole scoop",
    );
    for m in measures {
        let (name, unit, factor, digits) = shown(m.measure);
        out.line(
            Tone::Plain,
            format!(
                "{:<29}{:>9}{:>12}{:>13}",
                format!("{name}, {unit}"),
                m.animals,
                number(m.believable, factor, digits),
                m.mean_believable
                    .map_or("too few".into(), |v| number(v, factor, digits)),
            ),
        );
    }
}

/// The figures behind it.
fn table(measures: &[MeasureAgreement], out: &mut Page) {
    out.line(
        Tone::Faint,
        format!(
            "{:<34}{:>18}{:>8}   95 % limits",
            "Behind it", "ICC (95 % range)", "SD"
        ),
    );
    for m in measures {
        let (name, unit, factor, digits) = shown(m.measure);
        let icc = m.icc.map_or("-".to_string(), |icc| {
            format!(
                "{:.2} ({:.2}-{:.2})",
                icc.value,
                icc.interval.low.max(0.0),
                icc.interval.high
            )
        });
        let limits = m.worst_pair.as_ref().map_or(String::new(), |(_, _, l)| {
            format!(
                "{:+.digits$} to {:+.digits$}",
                factor * l.low,
                factor * l.high
            )
        });
        out.line(
            Tone::Faint,
            format!(
                "{:<34}{icc:>18}{:>8}   {limits}",
                format!("{name}, {unit}"),
                number(m.within_sd, factor, digits),
            ),
        );
    }
    out.wrapped(Tone::Faint, "  ", "ICC: intraclass correlation, 1 where animals differ and photos do not. SD: standard deviation of one animal from photo to photo. Limits of agreement: of the two photos that agree least. Lightness is CIELAB L*, depth of colour CIELAB C*.");
}

/// For each measure the two photos that agree least.
fn shifts(files: &[&str], measures: &[MeasureAgreement], out: &mut Page) {
    out.line(
        Tone::Heading,
        "Photos that agree least, and how far the second lies off on average",
    );
    for m in measures {
        let (name, _, factor, digits) = shown(m.measure);
        if let Some((a, b, l)) = &m.worst_pair {
            out.wrapped(
                Tone::Plain,
                "    ",
                &format!(
                    "  {name}: {} and {}, {:+.digits$}",
                    shorten(files[*a], 24),
                    shorten(files[*b], 24),
                    factor * l.shift
                ),
            );
        }
    }
}

fn colour_and_rungs(found: &Steady, detail: bool, out: &mut Page) {
    if let Some(ColourAgreement {
        pairs,
        median,
        nine_in_ten,
    }) = found.colour
    {
        out.wrapped(
            Tone::Plain,
            "    ",
            &format!("  colour: half of {pairs} pairs differ by less than {median:.1}, nine in ten by less than {nine_in_ten:.1}{}", if detail { " (CIEDE2000)" } else { "; 1 is hardly seen, 5 plainly" }),
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
        "Smaller differences than those come from photo to photo, without any change of the animals.",
    );
    if let Some(coverage) = found.measures.iter().find(|m| m.measure == "coverage") {
        let mean = coverage.mean_believable.map_or(String::new(), |v| {
            format!(
                ", and of the scoop's mean only from {} on",
                number(v, 100.0, 1)
            )
        });
        out.wrapped(
            Tone::Heading,
            "  ",
            &format!("Smallest change worth believing: of one animal's coverage from {} points on{mean}.", number(coverage.believable, 100.0, 1)),
        );
    }
    if found.measures.iter().all(|m| m.in_all < FEWEST_ANIMALS) {
        out.wrapped(Tone::Plain, "  ", &format!("Fewer than {FEWEST_ANIMALS} animals were known again in every photo: net more for these figures."));
    }
}
