//! All tanks side by side, small, on one scale: where to look first.

use super::axis::{Scale, stretch};
use super::svg::{Anchor, Svg};
use crate::trends::series::Point;
use crate::trends::tank_trend::MeasureTrend;
use crate::trends::verdict::{Ranged, Verdict};

const CELL: (f64, f64) = (232.0, 158.0);
const ACROSS: usize = 4;
const TOP: f64 = 50.0;

/// One tank of the room.
#[derive(Debug, Clone, PartialEq)]
pub struct RoomTank<'a> {
    /// Tank and line.
    pub title: String,
    /// Its trend.
    pub trend: &'a MeasureTrend,
}

/// One word or two for a verdict.
pub fn in_short(trend: &MeasureTrend) -> &'static str {
    let down = trend.judged.verdict.change().is_some_and(|c| c < 0.0);
    match (&trend.judged.verdict, down) {
        (Verdict::TooEarly(_), _) => "too early to say",
        (Verdict::Holds { .. }, _) => "holds",
        (Verdict::CantTell { .. }, _) => "can't be told yet",
        (Verdict::Moves { .. }, true) => "falls",
        (Verdict::Moves { .. }, false) => "rises",
        (Verdict::Stepped { .. }, true) => "fell at once",
        (Verdict::Stepped { .. }, false) => "rose at once",
        (Verdict::Strays { .. }, true) => "lower lately",
        (Verdict::Strays { .. }, false) => "higher lately",
    }
}

/// The picture of all `tanks`; `what` names the measure.
pub fn room_svg(tanks: &[RoomTank<'_>], what: &str) -> Svg {
    let rows = tanks.len().div_ceil(ACROSS).max(1);
    let title = format!("All tanks: {what}, each from its first scoop to its last");
    let size = (
        CELL.0 * ACROSS as f64 + 32.0,
        TOP + CELL.1 * rows as f64 + 28.0,
    );
    let mut svg = Svg::new(size.0, size.1, &title);
    svg.text(16.0, 26.0, Anchor::Start, "title", &title);
    let ends = tanks
        .iter()
        .flat_map(|t| t.trend.series.points.iter().map(|p| p.value));
    let values = stretch(ends, 0.08);
    for (i, tank) in tanks.iter().enumerate() {
        let at = (
            16.0 + CELL.0 * (i % ACROSS) as f64,
            TOP + CELL.1 * (i / ACROSS) as f64,
        );
        cell(&mut svg, tank, at, values);
    }
    let note = "One scale for all. Orange and a word: it changes for the worse. Dashed: floor, lamp, feed, cup or camera changed. Ring: nothing alike.";
    svg.text(16.0, size.1 - 10.0, Anchor::Start, "small", note);
    svg
}

fn cell(svg: &mut Svg, tank: &RoomTank<'_>, (x, y): (f64, f64), values: (f64, f64)) {
    let trend = tank.trend;
    let alarm = trend.judged.verdict.is_alarm(trend.series.measure);
    svg.text(x + 4.0, y + 14.0, Anchor::Start, "bold", &tank.title);
    let class = if alarm { "bold alarm" } else { "small" };
    svg.text(
        x + CELL.0 - 18.0,
        y + 14.0,
        Anchor::End,
        class,
        in_short(trend),
    );
    let points = &trend.series.points;
    let box_of = ((x + 34.0, y + 24.0), (CELL.0 - 52.0, CELL.1 - 46.0));
    svg.rect(box_of.0, box_of.1, "frame", "");
    let bottom = box_of.0.1 + box_of.1.1;
    let up = Scale {
        values,
        paper: (bottom, box_of.0.1),
    };
    for tick in up.ticks(3) {
        svg.text(
            x + 30.0,
            up.at(tick) + 4.0,
            Anchor::End,
            "small",
            &format!("{tick:.*}", up.digits(3)),
        );
    }
    if points.is_empty() {
        return;
    }
    let across = Scale {
        values: stretch(points.iter().map(|p| p.x), 0.08),
        paper: (box_of.0.0, box_of.0.0 + box_of.1.0),
    };
    drawn(svg, points, &across, &up, alarm, (box_of.0.1, bottom));
    let days = format!(
        "{} to {}",
        points[0].days.0,
        points[points.len() - 1].days.1
    );
    svg.text(box_of.0.0, bottom + 14.0, Anchor::Start, "small", &days);
}

fn drawn(
    svg: &mut Svg,
    points: &[Point],
    across: &Scale,
    up: &Scale,
    alarm: bool,
    (top, bottom): (f64, f64),
) {
    for pair in points.windows(2).filter(|p| p[0].group != p[1].group) {
        let x = across.at(0.5 * (pair[0].x + pair[1].x));
        svg.line((x, top), (x, bottom), "mark");
    }
    for run in points.chunk_by(|a, b| a.group == b.group) {
        let ranges: Vec<Ranged> = run
            .iter()
            .map(|p| Ranged::of(p.value, p.variance.sqrt()))
            .collect();
        let clip = |v: f64| up.at(v).clamp(top, bottom);
        let upper = run
            .iter()
            .zip(&ranges)
            .map(|(p, r)| (across.at(p.x), clip(r.high)));
        let lower = run
            .iter()
            .zip(&ranges)
            .rev()
            .map(|(p, r)| (across.at(p.x), clip(r.low)));
        let band: Vec<(f64, f64)> = upper.chain(lower).collect();
        if run.len() > 1 {
            svg.path(&band, true, "band");
        }
        let line: Vec<(f64, f64)> = run
            .iter()
            .map(|p| (across.at(p.x), up.at(p.value)))
            .collect();
        svg.path(&line, false, if alarm { "alarmline" } else { "line" });
        if let [only] = run {
            svg.circle(
                (across.at(only.x), up.at(only.value)),
                3.0,
                "fainthole",
                "nothing alike to compare with",
            );
        }
    }
}
