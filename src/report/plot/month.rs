//! One page for the end of the month.

use super::axis::Scale;
use super::svg::{Anchor, Svg};
use crate::ladder::Rung;
use crate::trends::month::LineMonth;

const WIDTH: f64 = 794.0;
const ROW: f64 = 40.0;
const TOP: f64 = 128.0;
/// Where the bar of shares lies.
const BAR: (f64, f64) = (150.0, 430.0);

/// The page of `month` (`2026-10`); the last row sums over all lines.
pub fn month_svg(lines: &[LineMonth], month: &str, sale_rung: Rung) -> Svg {
    let title = format!("Month end {month}");
    let height = TOP + ROW * (lines.len() as f64 + 1.0) + 76.0;
    let mut svg = Svg::new(WIDTH, height, &title);
    svg.text(24.0, 40.0, Anchor::Start, "title", &title);
    let above = format!("at or above {sale_rung}, 95 % range");
    let heads = [
        (24.0, Anchor::Start, "line"),
        (BAR.0, Anchor::Start, above.as_str()),
        (500.0, Anchor::End, "animals"),
        (580.0, Anchor::End, "off-type"),
        (680.0, Anchor::End, "moved out"),
        (764.0, Anchor::End, "lost"),
    ];
    for (x, anchor, text) in heads {
        svg.text(x, 86.0, anchor, "bold", text);
    }
    let scale = Scale {
        values: (0.0, 1.0),
        paper: BAR,
    };
    let bottom = TOP + ROW * lines.len() as f64 - 12.0;
    for tick in scale.ticks(4) {
        svg.line((scale.at(tick), 112.0), (scale.at(tick), bottom), "grid");
        svg.text(
            scale.at(tick),
            106.0,
            Anchor::Middle,
            "small",
            &format!("{:.0} %", 100.0 * tick),
        );
    }
    for (i, line) in lines.iter().enumerate() {
        row(&mut svg, line, TOP + ROW * i as f64 + 12.0, &scale);
    }
    let y = TOP + ROW * lines.len() as f64 + 18.0;
    svg.line((24.0, y - 20.0), (764.0, y - 20.0), "axis");
    svg.text(24.0, y, Anchor::Start, "bold", "all lines");
    let sums = [
        (500.0, lines.iter().map(|l| l.animals).sum::<u64>()),
        (580.0, lines.iter().map(|l| l.off_type).sum()),
        (680.0, lines.iter().map(|l| l.moved_out).sum()),
        (764.0, lines.iter().map(|l| l.lost).sum()),
    ];
    for (x, sum) in sums {
        svg.text(x, y, Anchor::End, "bold", &sum.to_string());
    }
    let notes = [
        format!("Sale rung: {sale_rung}. Ring: the month before. Only noted losses and moves are counted."),
        "A colour grade is no health certificate. Never release ornamental animals; check your local law before you ship.".to_string(),
    ];
    for (i, note) in notes.iter().enumerate() {
        svg.text(
            24.0,
            y + 36.0 + 17.0 * i as f64,
            Anchor::Start,
            "small",
            note,
        );
    }
    svg
}

fn row(svg: &mut Svg, line: &LineMonth, y: f64, scale: &Scale) {
    svg.text(24.0, y + 4.0, Anchor::Start, "bold", &line.line);
    if line.animals == 0 {
        svg.text(
            BAR.0,
            y + 4.0,
            Anchor::Start,
            "small",
            "no scoop this month",
        );
    } else {
        let share = line.above.count as f64 / line.animals as f64;
        svg.line(
            (scale.at(line.above.range.low), y),
            (scale.at(line.above.range.high), y),
            "bar",
        );
        let told = format!("{} of {}", line.above.count, line.animals);
        if let Some(before) = line.share_before {
            svg.circle((scale.at(before), y), 5.5, "fainthole", "the month before");
        }
        svg.circle((scale.at(share), y), 5.0, "dot", &told);
        svg.text(500.0, y + 4.0, Anchor::End, "", &line.animals.to_string());
        let class = if line.off_type > 0 { "bold alarm" } else { "" };
        svg.text(
            580.0,
            y + 4.0,
            Anchor::End,
            class,
            &line.off_type.to_string(),
        );
    }
    svg.text(680.0, y + 4.0, Anchor::End, "", &line.moved_out.to_string());
    svg.text(764.0, y + 4.0, Anchor::End, "", &line.lost.to_string());
}
