//! The grade mix over time as stacked bars.

use super::axis::Scale;
use super::svg::{Anchor, Svg};
use crate::report::trend::capital;
use crate::trends::over_time::MixPoint;

const HEIGHT: f64 = 420.0;
const LEFT: f64 = 58.0;
const RIGHT: f64 = 24.0;
const TOP: f64 = 94.0;
const BOTTOM: f64 = 350.0;
/// Room of a bar, and the widest picture.
const BAR: f64 = 52.0;
const WIDEST: usize = 40;
/// A rung is written into its piece where that is as high.
const WRITTEN_FROM: f64 = 15.0;

/// The picture; of more than 40 points the latest. `labels` are the house's own names of the rungs, G0 first, empty where it has none.
pub fn mix_svg(points: &[MixPoint], title: &str, labels: &[String; 6]) -> Svg {
    let points = &points[points.len().saturating_sub(WIDEST)..];
    let width = (LEFT + RIGHT + BAR * points.len() as f64).max(700.0);
    let title = format!("{}: grades over time", capital(title));
    let mut svg = Svg::new(width, HEIGHT, &title);
    svg.text(16.0, 26.0, Anchor::Start, "title", &title);
    key(&mut svg, labels, width);
    let y = Scale {
        values: (0.0, 1.0),
        paper: (BOTTOM, TOP),
    };
    for tick in y.ticks(4) {
        svg.line((LEFT, y.at(tick)), (width - RIGHT, y.at(tick)), "grid");
        let text = format!("{:.0} %", 100.0 * tick);
        svg.text(LEFT - 8.0, y.at(tick) + 4.5, Anchor::End, "small", &text);
    }
    let step = (width - LEFT - RIGHT) / points.len().max(1) as f64;
    let step = step.min(96.0);
    for (i, point) in points.iter().enumerate() {
        let x = LEFT + step * i as f64;
        bar(&mut svg, point, (x + 0.1 * step, 0.8 * step), &y);
        let name = match point.generation {
            Some(0) => "F0".to_string(),
            Some(g) => format!("F{g}"),
            None => point.since.strftime("%y-%m").to_string(),
        };
        svg.text(x + 0.5 * step, BOTTOM + 18.0, Anchor::Middle, "", &name);
        let n = format!("{}", point.animals());
        svg.text(x + 0.5 * step, BOTTOM + 34.0, Anchor::Middle, "small", &n);
    }
    svg.text(LEFT - 8.0, BOTTOM + 34.0, Anchor::End, "small", "animals");
    let note = "Shares of what was netted; for the tank's range: catchcup share TANK.";
    svg.text(16.0, HEIGHT - 12.0, Anchor::Start, "small", note);
    svg
}

/// What the colours mean, in two rows where one is too short.
fn key(svg: &mut Svg, labels: &[String; 6], width: f64) {
    let rungs = (0..6).rev().map(|i| {
        let label = match (i, labels[i].as_str()) {
            (5, "") => "best",
            (_, label) => label,
        };
        (format!("r{i} frame"), format!("G{i} {label}"))
    });
    let off = std::iter::once(("rx frame".to_string(), "off-type".to_string()));
    let (mut x, mut y) = (16.0, 38.0);
    for (class, text) in rungs.chain(off) {
        let room = 34.0 + 6.4 * text.trim_end().chars().count() as f64;
        if x + room > width {
            (x, y) = (16.0, y + 21.0);
        }
        svg.rect((x, y), (14.0, 14.0), &class, "");
        svg.text(x + 19.0, y + 12.0, Anchor::Start, "small", text.trim_end());
        x += room;
    }
}

/// One bar, best on top, off-types at the foot.
fn bar(svg: &mut Svg, point: &MixPoint, (x, width): (f64, f64), y: &Scale) {
    let all = point.animals() as f64;
    let mut from = 0.0;
    let off = std::iter::once(("rx", "off-type".to_string(), point.off_type));
    let classes = ["r0", "r1", "r2", "r3", "r4", "r5"];
    let rungs = (0..6).map(|i| (classes[i], format!("G{i}"), point.rungs[i]));
    for (class, name, count) in off.chain(rungs) {
        let to = from + count as f64 / all;
        let (low, high) = (y.at(from), y.at(to));
        if count > 0 {
            let told = format!("{name}: {count} of {all}");
            svg.rect(
                (x, high),
                (width, low - high),
                &format!("{class} edge"),
                &told,
            );
        }
        if low - high >= WRITTEN_FROM && class != "rx" {
            let ink = if ["r3", "r4", "r5"].contains(&class) {
                "small on"
            } else {
                "small off"
            };
            svg.text(
                x + 0.5 * width,
                0.5 * (low + high) + 4.0,
                Anchor::Middle,
                ink,
                &name,
            );
        }
        from = to;
    }
}
