//! Plots of forecast and plan as SVG, readable without colour: lines differ by dash and carry their name.

use std::fmt::Write;

use super::forecast::PlanTold;
use super::{both, percent};
use crate::selection::plan::{Coming, Range};

/// Size of a picture and of its plotting area, pixels.
const WIDTH: f64 = 760.0;
const HEIGHT: f64 = 440.0;
const LEFT: f64 = 70.0;
const RIGHT: f64 = 20.0;
const TOP: f64 = 48.0;
const BOTTOM: f64 = 62.0;

/// A plotting area with its axes.
struct Frame {
    svg: String,
    top: f64,
    x: [f64; 2],
    y: [f64; 2],
}

/// Text with the signs of XML made harmless.
fn safe(text: &str) -> String {
    text.replace('&', "&amp;")
        .replace('<', "&lt;")
        .replace('>', "&gt;")
        .replace('"', "&quot;")
}

impl Frame {
    fn new(top: f64, x: [f64; 2], y: [f64; 2], title: &str, labels: [&str; 2]) -> Self {
        let mut frame = Self {
            svg: String::new(),
            top,
            x,
            y,
        };
        frame.text([LEFT, top + 28.0], 16.0, "start", "#111", title);
        let (w, h) = (WIDTH - LEFT - RIGHT, HEIGHT - TOP - BOTTOM);
        let _ = writeln!(
            frame.svg,
            "<rect x=\"{LEFT}\" y=\"{}\" width=\"{w}\" height=\"{h}\" fill=\"#fff\" stroke=\"#888\"/>",
            top + TOP
        );
        frame.text(
            [LEFT + w / 2.0, top + HEIGHT - 18.0],
            14.0,
            "middle",
            "#111",
            labels[0],
        );
        let (tx, ty) = (20.0, top + TOP + h / 2.0);
        let _ = writeln!(
            frame.svg,
            "<text x=\"{tx}\" y=\"{ty}\" font-size=\"14\" text-anchor=\"middle\" transform=\"rotate(-90 {tx} {ty})\">{}</text>",
            safe(labels[1])
        );
        frame.ticks();
        frame
    }

    fn place(&self, [x, y]: [f64; 2]) -> [f64; 2] {
        let share = |v: f64, [low, high]: [f64; 2]| (v - low) / (high - low);
        [
            LEFT + share(x, self.x) * (WIDTH - LEFT - RIGHT),
            self.top + HEIGHT - BOTTOM - share(y, self.y) * (HEIGHT - TOP - BOTTOM),
        ]
    }

    fn ticks(&mut self) {
        for (axis, range) in [(0, self.x), (1, self.y)] {
            let step = step(range);
            let mut at = (range[0] / step).ceil() * step;
            while at <= range[1] + step * 1e-6 {
                let p = self.place(if axis == 0 {
                    [at, self.y[0]]
                } else {
                    [self.x[0], at]
                });
                let (end, words, anchor) = if axis == 0 {
                    ([p[0], self.top + TOP], [p[0], p[1] + 18.0], "middle")
                } else {
                    ([WIDTH - RIGHT, p[1]], [p[0] - 7.0, p[1] + 4.5], "end")
                };
                let _ = writeln!(
                    self.svg,
                    "<line x1=\"{:.1}\" y1=\"{:.1}\" x2=\"{:.1}\" y2=\"{:.1}\" stroke=\"#ddd\"/>",
                    p[0], p[1], end[0], end[1]
                );
                let digits = usize::from(step < 1.0) + usize::from(step < 0.1);
                self.text(words, 12.0, anchor, "#333", &format!("{at:.digits$}"));
                at += step;
            }
        }
    }

    fn text(&mut self, at: [f64; 2], size: f64, anchor: &str, ink: &str, text: &str) {
        let _ = writeln!(
            self.svg,
            "<text x=\"{:.1}\" y=\"{:.1}\" font-size=\"{size}\" text-anchor=\"{anchor}\" fill=\"{ink}\">{}</text>",
            at[0],
            at[1],
            safe(text)
        );
    }

    fn points(&self, points: &[[f64; 2]]) -> String {
        let words: Vec<String> = points
            .iter()
            .map(|p| {
                let [x, y] = self.place(*p);
                format!("{x:.1},{y:.1}")
            })
            .collect();
        words.join(" ")
    }

    fn line(&mut self, points: &[[f64; 2]], ink: &str, dash: &str) {
        let _ = writeln!(
            self.svg,
            "<polyline points=\"{}\" fill=\"none\" stroke=\"{ink}\" stroke-width=\"2.4\" stroke-dasharray=\"{dash}\"/>",
            self.points(points)
        );
    }

    fn band(&mut self, low: &[[f64; 2]], high: &[[f64; 2]], ink: &str) {
        let around: Vec<[f64; 2]> = low.iter().chain(high.iter().rev()).copied().collect();
        let _ = writeln!(
            self.svg,
            "<polygon points=\"{}\" fill=\"{ink}\" fill-opacity=\"0.13\"/>",
            self.points(&around)
        );
    }

    fn label(&mut self, at: [f64; 2], shift: [f64; 2], anchor: &str, ink: &str, text: &str) {
        let [x, y] = self.place(at);
        let at = [x + shift[0], y + shift[1]];
        let _ = writeln!(
            self.svg,
            "<text x=\"{:.1}\" y=\"{:.1}\" font-size=\"13\" text-anchor=\"{anchor}\" fill=\"{ink}\" stroke=\"#fff\" \
             stroke-width=\"4\" paint-order=\"stroke\">{}</text>",
            at[0],
            at[1],
            safe(text)
        );
    }
}

/// A round step that makes four to nine ticks.
fn step([low, high]: [f64; 2]) -> f64 {
    let raw = (high - low) / 6.0;
    let power = 10f64.powf(raw.log10().floor());
    let lead = raw / power;
    let round = [1.0, 2.0, 5.0, 10.0]
        .into_iter()
        .find(|r| lead <= *r)
        .unwrap_or(10.0);
    round * power
}

fn page(height: f64, body: &str, about: &str) -> String {
    format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {WIDTH} {height}\" font-family=\"sans-serif\" role=\"img\">\n\
         <title>{}</title>\n<rect width=\"{WIDTH}\" height=\"{height}\" fill=\"#fff\"/>\n{body}</svg>\n",
        safe(about)
    )
}

/// One possible group of breeders.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Trade {
    /// Males kept.
    pub males: usize,
    /// Rise of inbreeding a generation, 0..=1.
    pub rate: f64,
    /// Expected gain a generation, in standard deviations.
    pub gain: f64,
    /// True for the group chosen.
    pub chosen: bool,
}

/// Gain against inbreeding for groups with the chosen number of females and more or fewer males.
pub fn trade_off(title: &str, trades: &[Trade]) -> String {
    let most_rate = trades.iter().map(|t| t.rate).fold(0.01, f64::max) * 100.0;
    let gains: Vec<f64> = trades.iter().map(|t| t.gain).collect();
    let low = gains.iter().copied().fold(f64::INFINITY, f64::min).min(0.0);
    let high = gains.iter().copied().fold(low + 0.1, f64::max);
    let mut frame = Frame::new(
        0.0,
        [0.0, most_rate * 1.08],
        [low, high * 1.12],
        title,
        [
            "inbreeding added by this generation, %",
            "expected gain, standard deviations",
        ],
    );
    let points: Vec<[f64; 2]> = trades.iter().map(|t| [100.0 * t.rate, t.gain]).collect();
    frame.line(&points, "#00508c", "none");
    let pairs = || trades.iter().zip(&points);
    for (trade, point) in pairs().filter(|(trade, _)| !trade.chosen) {
        frame.choice(trade, *point);
    }
    // Last, so that nothing lies over it.
    for (trade, point) in pairs().filter(|(trade, _)| trade.chosen) {
        let [x, y] = frame.place(*point);
        let _ = writeln!(
            frame.svg,
            "<rect x=\"{:.1}\" y=\"{:.1}\" width=\"15\" height=\"15\" fill=\"#111\" stroke=\"#fff\"/>",
            x - 7.5,
            y - 7.5
        );
        let words = format!("chosen: {} males, {}", trade.males, percent(trade.rate));
        frame.label(*point, [14.0, 18.0], "start", "#111", &words);
    }
    let about = format!("{title}: gain against inbreeding; numbers at the points are males kept");
    let body = frame.svg;
    page(HEIGHT, &body, &about)
}

/// Shares that can be sold, and diversity left, by generation.
pub fn plan(told: &PlanTold) -> String {
    let count = told
        .policies
        .iter()
        .map(|p| p.coming.len())
        .max()
        .unwrap_or(1);
    let years = (count.max(2) - 1) as f64 * told.generation_days / 365.25;
    let sale = told.sale_rung.index();
    let panels: [(String, &str, fn(&Coming, usize) -> Range); 2] = [
        (
            format!(
                "Line {}: animals on {} or better",
                told.line, told.sale_rung
            ),
            "animals, %",
            |c, sale| c.at_or_above[sale],
        ),
        (
            format!("Line {}: diversity that is left", told.line),
            "of today's diversity, %",
            |c, _| c.diversity,
        ),
    ];
    let mut body = String::new();
    for (panel, (title, label, of)) in panels.iter().enumerate() {
        let top = panel as f64 * HEIGHT;
        let mut frame = Frame::new(top, [0.0, years], [0.0, 100.0], title, ["years", label]);
        for (at, policy) in told.policies.iter().enumerate() {
            let (ink, dash) = STYLES[at % STYLES.len()];
            let points = |pick: fn(&Range) -> f64| -> Vec<[f64; 2]> {
                policy
                    .coming
                    .iter()
                    .map(|c| {
                        [
                            c.generation as f64 * told.generation_days / 365.25,
                            100.0 * pick(&of(c, sale)),
                        ]
                    })
                    .collect()
            };
            frame.band(&points(|r| r.low), &points(|r| r.high), ink);
            let middle = points(|r| r.mean);
            frame.line(&middle, ink, dash);
            let words = format!(
                "{}, {} inherited",
                both(policy.keep),
                percent(policy.heritability)
            );
            frame.key(at, ink, dash, &words);
        }
        body += &frame.svg;
    }
    page(
        2.0 * HEIGHT,
        &body,
        &format!(
            "Line {}: coming generations; bands hold nine of ten runs",
            told.line
        ),
    )
}

/// Ink and dashes of the policies.
const STYLES: [(&str, &str); 6] = [
    ("#00508c", "none"),
    ("#a02800", "9 5"),
    ("#3c6e00", "2 4"),
    ("#5a2878", "12 4 2 4"),
    ("#6e5000", "5 2"),
    ("#333333", "1 3"),
];

impl Frame {
    /// One of the groups that were not chosen, with its number of males where there is room.
    fn choice(&mut self, trade: &Trade, point: [f64; 2]) {
        let [x, y] = self.place(point);
        let _ = writeln!(
            self.svg,
            "<circle cx=\"{x:.1}\" cy=\"{y:.1}\" r=\"4.5\" fill=\"#fff\" stroke=\"#00508c\" stroke-width=\"2\"/>"
        );
        if [1, 2, 3, 5].contains(&trade.males) || trade.males.is_multiple_of(20) {
            self.label(
                point,
                [8.0, -9.0],
                "start",
                "#00508c",
                &trade.males.to_string(),
            );
        }
    }

    /// A line of the legend, inside the plotting area below its upper edge or above its lower one.
    fn key(&mut self, at: usize, ink: &str, dash: &str, words: &str) {
        let y = self.top + HEIGHT - BOTTOM - 14.0 - 18.0 * at as f64;
        let x = LEFT + 14.0;
        let _ = writeln!(
            self.svg,
            "<line x1=\"{x}\" y1=\"{y}\" x2=\"{}\" y2=\"{y}\" stroke=\"{ink}\" stroke-width=\"2.4\" stroke-dasharray=\"{dash}\"/>",
            x + 44.0
        );
        let _ = writeln!(
            self.svg,
            "<text x=\"{}\" y=\"{}\" font-size=\"13\" fill=\"{ink}\" stroke=\"#fff\" stroke-width=\"4\" paint-order=\"stroke\">{}</text>",
            x + 52.0,
            y + 4.5,
            safe(words)
        );
    }
}
