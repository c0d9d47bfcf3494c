//! The hues of a mixed tank around a wheel, and its slide toward brown.

use super::axis::Scale;
use super::svg::{Anchor, Svg};
use crate::book::lines::generation_name;
use crate::report::trend::capital;
use crate::report::trend::tank::slide_sentence;
use crate::trends::mixed::{Family, Mixed};

const SIZE: (f64, f64) = (720.0, 484.0);
/// Height of the part below the wheel, where brown was looked for in several generations.
const SLIDE: f64 = 216.0;
/// Most generations whose names stand below their points.
const NAMED: usize = 12;
const CENTRE: (f64, f64) = (220.0, 245.0);
const RADIUS: f64 = 165.0;
/// Chroma at the rim.
const RIM: f64 = 80.0;
/// Lightness at which hues are painted.
const LIGHTNESS: f64 = 58.0;

/// The picture: each animal of the latest scoops by hue (angle) and chroma (distance), shares of the families beside it.
pub fn wheel_svg(found: &Mixed, title: &str) -> Svg {
    let title = format!("{}: colours of {} animals", capital(title), found.animals);
    let told = found.brown_by_generation.len() > 1;
    let below = if told { SLIDE } else { 0.0 };
    let mut svg = Svg::new(SIZE.0, SIZE.1 + below, &title);
    svg.text(16.0, 26.0, Anchor::Start, "title", &title);
    for ring in [0.25, 0.5, 0.75, 1.0] {
        let points: Vec<(f64, f64)> = (0..72)
            .map(|i| place(f64::from(i) * 5.0, ring * RIM))
            .collect();
        svg.path(&points, true, "frame");
    }
    for (hue, name) in [
        (20.0, "red"),
        (57.0, "orange"),
        (88.0, "yellow"),
        (150.0, "green"),
        (270.0, "blue"),
    ] {
        let (x, y) = place(hue, RIM * 1.11);
        let anchor = if x > CENTRE.0 + 20.0 {
            Anchor::Start
        } else if x < CENTRE.0 - 20.0 {
            Anchor::End
        } else {
            Anchor::Middle
        };
        svg.text(x, y + 4.0, anchor, "", name);
    }
    for (hue, chroma) in &found.hues {
        let told = format!("hue {hue:.0} degrees, chroma {chroma:.0}");
        svg.coloured_circle(
            place(*hue, chroma.min(RIM)),
            5.0,
            &paint(*hue, *chroma),
            &told,
        );
    }
    table(&mut svg, found);
    let note = "Angle: hue. Distance from the middle: how deep the colour is (chroma).";
    svg.text(16.0, SIZE.1 - 12.0, Anchor::Start, "small", note);
    if told {
        slide(&mut svg, found);
    }
    svg
}

/// Share of brown animals, generation by generation.
fn slide(svg: &mut Svg, found: &Mixed) {
    let (top, bottom) = (SIZE.1 + 52.0, SIZE.1 + SLIDE - 44.0);
    let (left, right) = (70.0, SIZE.0 - 40.0);
    let (alarm, sentence) = slide_sentence(found);
    let class = if alarm { "bold alarm" } else { "bold" };
    svg.text(16.0, SIZE.1 + 22.0, Anchor::Start, class, &sentence);
    let share = |brown: u64, n: u64| brown as f64 / n.max(1) as f64;
    let all = &found.brown_by_generation;
    let most = all
        .iter()
        .map(|(_, b, n)| share(*b, *n))
        .fold(0.1, f64::max);
    let scale = Scale {
        values: (0.0, 1.1 * most),
        paper: (bottom, top),
    };
    for tick in [0.0, most / 2.0, most] {
        let y = scale.at(tick);
        svg.line((left - 20.0, y), (right + 20.0, y), "grid");
        let text = format!("{:.0} %", 100.0 * tick);
        svg.text(left - 28.0, y + 4.0, Anchor::End, "small", &text);
    }
    let step = (right - left) / (all.len().max(2) - 1) as f64;
    let at = |i: usize, value: f64| (left + step * i as f64, scale.at(value));
    let points: Vec<(f64, f64)> = all
        .iter()
        .enumerate()
        .map(|(i, (_, b, n))| at(i, share(*b, *n)))
        .collect();
    svg.path(&points, false, "line");
    let every = all.len().div_ceil(NAMED);
    for (i, ((generation, brown, n), (x, y))) in all.iter().zip(&points).enumerate() {
        let name = generation_name(*generation as u32);
        svg.circle(
            (*x, *y),
            5.0,
            "dot",
            &format!("{name}: {brown} of {n} brown"),
        );
        if i % every == 0 {
            svg.text(*x, bottom + 20.0, Anchor::Middle, "small", &name);
        }
    }
    let note = "Share of brown animals by generation.";
    svg.text(16.0, SIZE.1 + SLIDE - 8.0, Anchor::Start, "small", note);
}

fn place(hue: f64, chroma: f64) -> (f64, f64) {
    let (sine, cosine) = hue.to_radians().sin_cos();
    let r = RADIUS * chroma / RIM;
    (CENTRE.0 + r * cosine, CENTRE.1 - r * sine)
}

/// The colour itself, as CSS writes CIELAB.
fn paint(hue: f64, chroma: f64) -> String {
    format!("lch({LIGHTNESS} {chroma:.0} {hue:.0})")
}

fn table(svg: &mut Svg, found: &Mixed) {
    let (x, mut y) = (440.0, 90.0);
    svg.text(x, y, Anchor::Start, "bold", "Share of the tank, 95 % range");
    for share in &found.shares {
        y += 26.0;
        let text = format!(
            "{}: {} of {}, {:.0} to {:.0} %",
            share.family.word(),
            share.count,
            found.animals,
            100.0 * share.range.low,
            100.0 * share.range.high
        );
        let class = if share.family == Family::Brown {
            "bold alarm"
        } else {
            ""
        };
        svg.text(x, y, Anchor::Start, class, &text);
    }
    if let Some(families) = found.families_in_effect {
        y += 34.0;
        let text = format!("As varied as {families:.1} colours of equal share");
        svg.text(x, y, Anchor::Start, "", &text);
    }
}
