//! What was read from each patch of a chart, as a table.

use super::text::{TextLine, Tone};
use crate::scene::{Correction, PATCH_NAMES};
use crate::scoop::Scoop;

/// The patches with their differences before and after correction; a sentence where no chart was read.
pub fn patch_lines(scoop: &Scoop) -> Vec<TextLine> {
    let line = |tone, text: String| TextLine {
        tone,
        text,
        continues: false,
    };
    let Some(fit) = scoop.scene.chart.as_ref().and_then(|c| c.fit.as_ref()) else {
        return vec![line(Tone::Plain, "no colour chart was read".to_string())];
    };
    let form = match fit.correction {
        Correction::Linear(_) => "linear",
        Correction::RootPolynomial(_) => "root polynomial",
    };
    let mut out = vec![
        line(Tone::Plain, String::new()),
        line(
            Tone::Heading,
            format!(
                "chart: CIEDE2000 {:.1} before, {:.1} after, {:.1} left out ({form}, {})",
                fit.de00_before,
                fit.de00_after,
                fit.de00_left_out,
                fit.set.word()
            ),
        ),
        line(
            Tone::Plain,
            format!(
                "{:<15} {:>6} {:>6} {:>6}   {:>5} {:>6} {:>6}",
                "patch", "before", "after", "weight", "L*", "a*", "b*"
            ),
        ),
    ];
    out.extend(PATCH_NAMES.iter().zip(&fit.patches).map(|(name, p)| {
        let [l, a, b] = p.after;
        line(
            Tone::Plain,
            format!(
                "{name:<15} {:>6.1} {:>6.1} {:>6.2}   {l:>5.1} {a:>6.1} {b:>6.1}",
                p.de00_before, p.de00_after, p.weight
            ),
        )
    }));
    out
}
