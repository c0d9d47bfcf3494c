//! The photo with its animals numbered, and cut-outs of single animals, drawn over the photo that the page carries once.

use crate::report::wire::stored::StoredAnimal;

/// Border pixels between two corners of a drawn outline, at most: fine enough on paper.
const CORNERS: usize = 120;

/// The photo, all animals outlined and numbered, with a scale bar where the scale is known.
pub(super) fn whole(size: [f64; 2], animals: &[StoredAnimal], px_per_mm: Option<f64>) -> String {
    let [width, height] = size;
    let text = width.max(height) / 45.0;
    let mut svg = format!(
        "<svg viewBox=\"0 0 {width} {height}\" aria-hidden=\"true\" font-family=\"sans-serif\">"
    );
    for animal in animals {
        svg += &outline(animal, text);
    }
    let mut taken: Vec<[f64; 4]> = Vec::new();
    for animal in animals {
        svg += &number(animal, animals, size, text, &mut taken);
    }
    if let Some(scale) = px_per_mm {
        svg += &scale_bar(size, scale, text);
    }
    let ratio = format!("aspect-ratio:{width}/{height}");
    format!(
        "<div class=\"view photo\" role=\"img\" aria-label=\"The whole photo with {} numbered animals\" style=\"{ratio}\">{svg}</svg></div>",
        animals.len()
    )
}

fn outline(animal: &StoredAnimal, text: f64) -> String {
    let chain = &animal.measures.outline;
    let step = chain.len().div_ceil(CORNERS).max(1);
    let corners: Vec<String> = chain
        .iter()
        .step_by(step)
        .map(|[x, y]| format!("{x},{y}"))
        .collect();
    let corners = corners.join(" ");
    let dash = if animal.between.is_some() {
        format!(" stroke-dasharray=\"{0:.1} {0:.1}\"", text * 0.4)
    } else {
        String::new()
    };
    let line = |ink: &str, width: f64, dash: &str| {
        format!(
            "<polygon points=\"{corners}\" fill=\"none\" stroke=\"{ink}\" stroke-width=\"{width:.1}\"{dash}/>"
        )
    };
    line("#fff", text * 0.22, "") + &line("#00308f", text * 0.11, &dash)
}

/// Places beside a body, as shares of its box: above, below, right, left, then the corners.
const PLACES: [[f64; 2]; 8] = [
    [0.5, 0.0],
    [0.5, 1.0],
    [1.0, 0.5],
    [0.0, 0.5],
    [1.0, 0.0],
    [0.0, 0.0],
    [1.0, 1.0],
    [0.0, 1.0],
];

fn number(
    animal: &StoredAnimal,
    all: &[StoredAnimal],
    [width, height]: [f64; 2],
    text: f64,
    taken: &mut Vec<[f64; 4]>,
) -> String {
    let [x, y, w, h] = animal.measures.bbox.map(f64::from);
    let radius = text * 0.85;
    let spots = PLACES.map(|[u, v]| {
        let out = |share: f64| (share - 0.5) * 2.0 * radius * 1.15;
        let at = [x + u * w + out(u), y + v * h + out(v)];
        [
            at[0].clamp(radius, (width - radius).max(radius)),
            at[1].clamp(radius, (height - radius).max(radius)),
        ]
    });
    let cost = |at: &[f64; 2]| {
        let own = [at[0] - radius, at[1] - radius, 2.0 * radius, 2.0 * radius];
        let bodies = all.iter().map(|a| points_inside(a, &own)).sum::<f64>();
        let labels: f64 = taken.iter().map(|other| overlap(&own, other)).sum();
        bodies * radius + 10.0 * labels
    };
    let best = spots.into_iter().min_by(|a, b| cost(a).total_cmp(&cost(b)));
    let [cx, cy] = best.unwrap_or([x, y]);
    taken.push([cx - radius, cy - radius, 2.0 * radius, 2.0 * radius]);
    format!(
        "<circle cx=\"{cx:.1}\" cy=\"{cy:.1}\" r=\"{radius:.1}\" fill=\"#fff\" stroke=\"#00308f\" stroke-width=\"{:.1}\"/>\
         <text x=\"{cx:.1}\" y=\"{:.1}\" font-size=\"{text:.1}\" font-weight=\"bold\" text-anchor=\"middle\" fill=\"#00308f\">{}</text>",
        text * 0.1,
        cy + text * 0.36,
        animal.measures.no
    )
}

/// Border pixels of a body inside a box.
fn points_inside(animal: &StoredAnimal, [x, y, w, h]: &[f64; 4]) -> f64 {
    let inside = |p: &[i32; 2]| {
        let [px, py] = p.map(f64::from);
        px >= *x && px <= x + w && py >= *y && py <= y + h
    };
    animal.measures.outline.iter().filter(|p| inside(p)).count() as f64
}

fn overlap(a: &[f64; 4], b: &[f64; 4]) -> f64 {
    let side = |k: usize| (a[k] + a[k + 2]).min(b[k] + b[k + 2]) - a[k].max(b[k]);
    side(0).max(0.0) * side(1).max(0.0)
}

/// A bar of ten millimetres at the floor of the cup.
fn scale_bar([width, height]: [f64; 2], px_per_mm: f64, text: f64) -> String {
    let long = 10.0 * px_per_mm;
    let (left, top) = (text, height - text * 1.2);
    let plate = [
        left - text * 0.5,
        top - text * 1.6,
        long.max(text * 3.0) + text,
        text * 2.4,
    ];
    if plate[2] > width {
        return String::new();
    }
    let [x, y, w, h] = plate;
    let (right, tick, down) = (left + long, top - text * 0.3, text * 0.6);
    format!(
        "<rect x=\"{x:.1}\" y=\"{y:.1}\" width=\"{w:.1}\" height=\"{h:.1}\" fill=\"#fff\" opacity=\"0.85\"/>\
         <path d=\"M{left:.1} {top:.1}h{long:.1}M{left:.1} {tick:.1}v{down:.1}M{right:.1} {tick:.1}v{down:.1}\" stroke=\"#000\" stroke-width=\"{:.1}\"/>\
         <text x=\"{left:.1}\" y=\"{:.1}\" font-size=\"{text:.1}\">10 mm</text>",
        text * 0.15,
        top - text * 0.5,
    )
}

/// A square cut-out of the photo around one animal.
pub(super) fn cut_out(size: [f64; 2], animal: &StoredAnimal, what: &str) -> String {
    let [width, height] = size;
    let [x, y, w, h] = animal.measures.bbox.map(f64::from);
    let side = (w.max(h) * 1.25).min(width).min(height).max(1.0);
    let left = (x + w / 2.0 - side / 2.0).clamp(0.0, width - side);
    let top = (y + h / 2.0 - side / 2.0).clamp(0.0, height - side);
    // A background that is as large as the photo lies so that the cut-out begins at left, top.
    let share = |at: f64, whole: f64| {
        if whole > side {
            100.0 * at / (whole - side)
        } else {
            0.0
        }
    };
    format!(
        "<div class=\"view photo\" role=\"img\" aria-label=\"{what}: animal {}\" style=\"aspect-ratio:1;background-size:{:.3}% {:.3}%;background-position:{:.3}% {:.3}%\"></div>",
        animal.measures.no,
        100.0 * width / side,
        100.0 * height / side,
        share(left, width),
        share(top, height),
    )
}
