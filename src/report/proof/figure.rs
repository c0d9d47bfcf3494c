//! The photo with its animals numbered, and cut-outs of single animals, as shapes to be drawn over the photo.

use crate::report::wire::stored::StoredAnimal;

/// Border pixels between two corners of a drawn outline, at most: fine enough on paper.
const CORNERS: usize = 120;
/// Ink of outlines and numbers.
const BLUE: &str = "#00308f";

/// A shape in pixels of the upright photo, y downwards.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Shape {
    /// A closed line.
    Outline {
        corners: Vec<[i32; 2]>,
        ink: &'static str,
        width: f64,
        /// Length of dashes and gaps.
        dash: Option<f64>,
    },
    /// A white disc with a blue edge.
    Disc {
        at: [f64; 2],
        radius: f64,
        width: f64,
    },
    /// A white plate through which a little can be seen: left, top, width, height.
    Plate([f64; 4]),
    /// Straight lines, each from and to, black.
    Lines {
        lines: Vec<[[f64; 2]; 2]>,
        width: f64,
    },
    /// Words on a base line: in the middle, bold and blue, or from the left and black.
    Words {
        at: [f64; 2],
        size: f64,
        is_number: bool,
        text: String,
    },
}

/// The photo with all animals outlined and numbered, and a scale bar where the scale is known.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Whole {
    /// Size of the photo.
    pub size: [f64; 2],
    /// Number of animals.
    pub animals: usize,
    /// What is drawn over it, in that order.
    pub shapes: Vec<Shape>,
}

impl Whole {
    /// The photo of that size with these animals.
    pub(super) fn new(size: [f64; 2], animals: &[StoredAnimal], px_per_mm: Option<f64>) -> Self {
        let text = size[0].max(size[1]) / 45.0;
        let mut shapes: Vec<Shape> = animals
            .iter()
            .flat_map(|animal| outline(animal, text))
            .collect();
        let mut taken: Vec<[f64; 4]> = Vec::new();
        for animal in animals {
            shapes.extend(number(animal, animals, size, text, &mut taken));
        }
        if let Some(scale) = px_per_mm {
            shapes.extend(scale_bar(size, scale, text));
        }
        Self {
            size,
            animals: animals.len(),
            shapes,
        }
    }

    /// The shapes as SVG.
    pub(super) fn svg(&self) -> String {
        let [width, height] = self.size;
        let shapes: String = self.shapes.iter().map(svg).collect();
        format!(
            "<svg viewBox=\"0 0 {width} {height}\" aria-hidden=\"true\" font-family=\"sans-serif\">{shapes}</svg>"
        )
    }
}

fn svg(shape: &Shape) -> String {
    match shape {
        Shape::Outline {
            corners,
            ink,
            width,
            dash,
        } => {
            let corners: Vec<String> = corners.iter().map(|[x, y]| format!("{x},{y}")).collect();
            let dash = dash.map_or(String::new(), |dash| {
                format!(" stroke-dasharray=\"{dash:.1} {dash:.1}\"")
            });
            format!(
                "<polygon points=\"{}\" fill=\"none\" stroke=\"{ink}\" stroke-width=\"{width:.1}\"{dash}/>",
                corners.join(" ")
            )
        }
        Shape::Disc {
            at: [cx, cy],
            radius,
            width,
        } => format!(
            "<circle cx=\"{cx:.1}\" cy=\"{cy:.1}\" r=\"{radius:.1}\" fill=\"#fff\" stroke=\"{BLUE}\" stroke-width=\"{width:.1}\"/>"
        ),
        Shape::Plate([x, y, w, h]) => format!(
            "<rect x=\"{x:.1}\" y=\"{y:.1}\" width=\"{w:.1}\" height=\"{h:.1}\" fill=\"#fff\" opacity=\"0.85\"/>"
        ),
        Shape::Lines { lines, width } => {
            let lines: String = lines.iter().map(svg_line).collect();
            format!("<path d=\"{lines}\" stroke=\"#000\" stroke-width=\"{width:.1}\"/>")
        }
        Shape::Words {
            at: [x, y],
            size,
            is_number,
            text,
        } => {
            let look = if *is_number {
                format!(" font-weight=\"bold\" text-anchor=\"middle\" fill=\"{BLUE}\"")
            } else {
                String::new()
            };
            format!("<text x=\"{x:.1}\" y=\"{y:.1}\" font-size=\"{size:.1}\"{look}>{text}</text>")
        }
    }
}

/// A line along one axis.
fn svg_line([[x, y], [to_x, to_y]]: &[[f64; 2]; 2]) -> String {
    let along = if y == to_y {
        format!("h{:.1}", to_x - x)
    } else {
        format!("v{:.1}", to_y - y)
    };
    format!("M{x:.1} {y:.1}{along}")
}

fn outline(animal: &StoredAnimal, text: f64) -> [Shape; 2] {
    let chain = &animal.measures.outline;
    let step = chain.len().div_ceil(CORNERS).max(1);
    let corners: Vec<[i32; 2]> = chain.iter().step_by(step).copied().collect();
    let line = |ink, width, dash| Shape::Outline {
        corners: corners.clone(),
        ink,
        width,
        dash,
    };
    let dash = animal.between.is_some().then_some(text * 0.4);
    [
        line("#fff", text * 0.22, None),
        line(BLUE, text * 0.11, dash),
    ]
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
) -> [Shape; 2] {
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
    [
        Shape::Disc {
            at: [cx, cy],
            radius,
            width: text * 0.1,
        },
        Shape::Words {
            at: [cx, cy + text * 0.36],
            size: text,
            is_number: true,
            text: animal.measures.no.to_string(),
        },
    ]
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
fn scale_bar([width, height]: [f64; 2], px_per_mm: f64, text: f64) -> Vec<Shape> {
    let long = 10.0 * px_per_mm;
    let (left, top) = (text, height - text * 1.2);
    let plate = [
        left - text * 0.5,
        top - text * 1.6,
        long.max(text * 3.0) + text,
        text * 2.4,
    ];
    if plate[2] > width {
        return Vec::new();
    }
    let (right, tick, down) = (left + long, top - text * 0.3, text * 0.6);
    let upright = |x: f64| [[x, tick], [x, tick + down]];
    vec![
        Shape::Plate(plate),
        Shape::Lines {
            lines: vec![[[left, top], [right, top]], upright(left), upright(right)],
            width: text * 0.15,
        },
        Shape::Words {
            at: [left, top - text * 0.5],
            size: text,
            is_number: false,
            text: "10 mm".into(),
        },
    ]
}

/// A square cut-out of the photo around one animal.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct CutOut {
    /// Size of the photo.
    pub size: [f64; 2],
    /// Left and top of the cut-out.
    pub at: [f64; 2],
    /// Its side.
    pub side: f64,
    /// Which animal it is, in a word.
    pub what: &'static str,
    /// Its number.
    pub no: u32,
}

impl CutOut {
    /// The cut-out around `animal` of a photo of that size.
    pub(super) fn new(size: [f64; 2], animal: &StoredAnimal, what: &'static str) -> Self {
        let [width, height] = size;
        let [x, y, w, h] = animal.measures.bbox.map(f64::from);
        let side = (w.max(h) * 1.25).min(width).min(height).max(1.0);
        let left = (x + w / 2.0 - side / 2.0).clamp(0.0, width - side);
        let top = (y + h / 2.0 - side / 2.0).clamp(0.0, height - side);
        Self {
            size,
            at: [left, top],
            side,
            what,
            no: animal.measures.no,
        }
    }
}
