//! Breeder selection in pictures: what more or fewer males bring and cost, and what coming generations bring.

use super::axis::Scale;
use super::svg::{Anchor, Svg};
use crate::report::selection::forecast::PlanTold;
use crate::report::selection::{both, percent};
use crate::selection::plan::{Coming, Range};

const WIDTH: f64 = 760.0;
/// Height of one panel, and the place of its plotting area.
const PANEL: f64 = 430.0;
const LEFT: f64 = 66.0;
const RIGHT: f64 = 740.0;
const TOP: f64 = 46.0;
const BOTTOM: f64 = 376.0;
/// Ticks on each axis, about.
const TICKS: usize = 6;
/// Days of a year.
const YEAR: f64 = 365.25;

/// One possible group of breeders.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Trade {
    /// Males kept.
    pub males: usize,
    /// Rise of inbreeding a generation, 0..=1.
    pub rate: f64,
    /// Share of the young better than the middle of today's animals, 0..=1.
    pub better: f64,
    /// True for the group chosen.
    pub chosen: bool,
}

/// A plotting area with its scales.
struct Panel {
    x: Scale,
    y: Scale,
}

impl Panel {
    /// Frame, grid, numbers and names of the axes.
    fn new(
        svg: &mut Svg,
        down: f64,
        values: [(f64, f64); 2],
        title: &str,
        names: [&str; 2],
    ) -> Self {
        let panel = Self {
            x: Scale {
                values: values[0],
                paper: (LEFT, RIGHT),
            },
            y: Scale {
                values: values[1],
                paper: (down + BOTTOM, down + TOP),
            },
        };
        svg.text(16.0, down + 26.0, Anchor::Start, "title", title);
        for tick in panel.x.ticks(TICKS) {
            let x = panel.x.at(tick);
            svg.line((x, down + TOP), (x, down + BOTTOM), "grid");
            let text = format!("{tick:.*}", panel.x.digits(TICKS));
            svg.text(x, down + BOTTOM + 18.0, Anchor::Middle, "small", &text);
        }
        for tick in panel.y.ticks(TICKS) {
            let y = panel.y.at(tick);
            svg.line((LEFT, y), (RIGHT, y), "grid");
            let text = format!("{tick:.*}", panel.y.digits(TICKS));
            svg.text(LEFT - 8.0, y + 4.5, Anchor::End, "small", &text);
        }
        svg.rect(
            (LEFT, down + TOP),
            (RIGHT - LEFT, BOTTOM - TOP),
            "frame",
            "",
        );
        svg.text(
            0.5 * (LEFT + RIGHT),
            down + BOTTOM + 38.0,
            Anchor::Middle,
            "",
            names[0],
        );
        svg.upright(20.0, down + 0.5 * (TOP + BOTTOM), "", names[1]);
        panel
    }

    fn at(&self, x: f64, y: f64) -> (f64, f64) {
        (self.x.at(x), self.y.at(y))
    }
}

/// Gain against inbreeding for groups with the chosen number of females and more or fewer males.
pub fn trade_svg(title: &str, trades: &[Trade]) -> Svg {
    let highest = |of: fn(&Trade) -> f64, least: f64| trades.iter().map(of).fold(least, f64::max);
    let most_rate = 100.0 * highest(|t| t.rate, 0.01);
    let most = 100.0 * highest(|t| t.better, 0.5);
    // Half of the young are better where nothing is gained.
    let least = trades.iter().map(|t| 100.0 * t.better).fold(50.0, f64::min);
    let mut svg = Svg::new(WIDTH, PANEL, &format!("{title}: gain against inbreeding"));
    let names = [
        "inbreeding added by this generation, %",
        "young better than today's middle, of 100",
    ];
    let ranges = [
        (0.0, 1.08 * most_rate),
        (least, most + 0.12 * (most - least).max(1.0)),
    ];
    let panel = Panel::new(&mut svg, 0.0, ranges, title, names);
    let place = |t: &Trade| panel.at(100.0 * t.rate, 100.0 * t.better);
    let points: Vec<(f64, f64)> = trades.iter().map(place).collect();
    svg.path(&points, false, "line");
    let told = |t: &Trade| {
        format!(
            "{} males: {} inbreeding, {:.0} of 100 young better",
            t.males,
            percent(t.rate),
            100.0 * t.better
        )
    };
    for trade in trades.iter().filter(|t| !t.chosen) {
        let (x, y) = place(trade);
        svg.circle((x, y), 4.5, "dot", &told(trade));
        if [1, 2, 3, 5].contains(&trade.males) || trade.males.is_multiple_of(20) {
            let (dx, anchor) = if trade.males > 5 {
                (9.0, Anchor::Start)
            } else {
                (0.0, Anchor::Middle)
            };
            let dy = if trade.males > 5 { 12.0 } else { -10.0 };
            svg.text(x + dx, y + dy, anchor, "small", &trade.males.to_string());
        }
    }
    // Last, so that nothing lies over it.
    for trade in trades.iter().filter(|t| t.chosen) {
        let (x, y) = place(trade);
        svg.rect((x - 8.0, y - 8.0), (16.0, 16.0), "alarm edge", &told(trade));
        let words = format!("chosen: {} males, {}", trade.males, percent(trade.rate));
        svg.text(x + 16.0, y + 22.0, Anchor::Start, "bold", &words);
    }
    let note = "Numbers at the points: males kept.";
    svg.text(RIGHT - 10.0, BOTTOM - 12.0, Anchor::End, "small", note);
    svg
}

/// Line and band of each policy: colour, dashes and the key tell them apart.
const STYLES: [(&str, &str); 3] = [
    ("line", "band"),
    ("line second", "band two"),
    ("line third", "band three"),
];

/// Shares that can be sold, and diversity left, by generation.
pub fn plan_svg(told: &PlanTold) -> Svg {
    let coming = told
        .policies
        .iter()
        .map(|p| p.coming.len())
        .max()
        .unwrap_or(1);
    let years = (coming.max(2) - 1) as f64 * told.generation_days / YEAR;
    let sold = format!(
        "Line {}: animals on {} or better",
        told.line, told.sale_rung
    );
    let left = format!("Line {}: diversity that is left", told.line);
    let sale = told.sale_rung.index();
    let mut svg = Svg::new(
        WIDTH,
        2.0 * PANEL + 20.0,
        &format!("Line {}: coming generations", told.line),
    );
    let share = move |c: &Coming| c.at_or_above[sale];
    let ranges = [(0.0, years), (0.0, 100.0)];
    let panel = Panel::new(&mut svg, 0.0, ranges, &sold, ["years", "animals, %"]);
    curves(&mut svg, &panel, told, &share);
    let panel = Panel::new(
        &mut svg,
        PANEL,
        ranges,
        &left,
        ["years", "of today's diversity, %"],
    );
    curves(&mut svg, &panel, told, &|c: &Coming| c.diversity);
    let note = "Bands: what nine of ten runs lie between.";
    svg.text(16.0, 2.0 * PANEL + 8.0, Anchor::Start, "small", note);
    svg
}

fn curves(svg: &mut Svg, panel: &Panel, told: &PlanTold, of: &dyn Fn(&Coming) -> Range) {
    for (at, policy) in told.policies.iter().enumerate() {
        let (line, band) = STYLES[at % STYLES.len()];
        let points = |pick: fn(&Range) -> f64| -> Vec<(f64, f64)> {
            let place = |c: &Coming| {
                let year = c.generation as f64 * told.generation_days / YEAR;
                panel.at(year, 100.0 * pick(&of(c)))
            };
            policy.coming.iter().map(place).collect()
        };
        let mut around = points(|r| r.low);
        around.extend(points(|r| r.high).into_iter().rev());
        svg.path(&around, true, band);
        svg.path(&points(|r| r.mean), false, line);
        let y = panel.y.paper.0 - 16.0 - 19.0 * at as f64;
        svg.path(&[(LEFT + 14.0, y), (LEFT + 58.0, y)], false, line);
        let words = format!(
            "{}, {} inherited",
            both(policy.keep),
            percent(policy.heritability)
        );
        svg.text(LEFT + 66.0, y + 4.5, Anchor::Start, "", &words);
    }
}
