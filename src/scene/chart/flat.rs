//! Flat areas that are about square: what patches of a chart look like at any turn.

use super::super::grid::Grid;
use super::super::regions::visit_region;

/// Difference of square-rooted light between neighbours above which there is an edge (blurred frames fall by 0.03 and more).
const EDGE: f32 = 0.025;
/// Least pixels of a patch, and the largest share of the picture that one may fill.
const LEAST_PIXELS: f64 = 12.0;
const MOST_OF_PICTURE: f64 = 1.0 / 30.0;
/// Longest over shortest spread (squared) of a square seen at a slant, and how full its box must be.
const MOST_LONG: f64 = 2.2;
const FILL: std::ops::Range<f64> = 0.8..1.12;

/// A flat area, about square.
#[derive(Debug, Clone, Copy)]
pub(super) struct Flat {
    /// Middle, pixels of the grid.
    pub x: f32,
    pub y: f32,
    /// Length of a side, pixels.
    pub side: f32,
}

/// Flat areas that are about square, in reading order of their first pixel.
pub(super) fn flat_squares(planes: &[Grid; 3]) -> Vec<Flat> {
    let (w, h) = (planes[0].w, planes[0].h);
    let root: Vec<[f32; 3]> = (0..w * h)
        .map(|i| std::array::from_fn(|c| planes[c].px[i].max(0.0).sqrt()))
        .collect();
    let alike = |i: usize, k: usize| {
        let (p, q) = (&root[i], &root[k]);
        let apart = (p[0] - q[0]).abs().max((p[1] - q[1]).abs());
        apart.max((p[2] - q[2]).abs()) <= EDGE
    };
    let mut seen = vec![false; w * h];
    let mut out = Vec::new();
    let most = (w * h) as f64 * MOST_OF_PICTURE;
    for start in 0..w * h {
        if std::mem::replace(&mut seen[start], true) {
            continue;
        }
        let mut area = Moments::default();
        visit_region(start, (w, h), &mut seen, alike, |x, y, _| {
            area.add(x as f64, y as f64);
        });
        out.extend(area.square(most));
    }
    out
}

/// Count, sums and sums of squares of places.
#[derive(Debug, Default)]
struct Moments {
    n: f64,
    x: f64,
    y: f64,
    xx: f64,
    yy: f64,
    xy: f64,
}

impl Moments {
    fn add(&mut self, x: f64, y: f64) {
        self.n += 1.0;
        self.x += x;
        self.y += y;
        self.xx += x * x;
        self.yy += y * y;
        self.xy += x * y;
    }

    /// The area as a square, when it is about one, full, and neither a speck nor larger than `most` pixels.
    fn square(&self, most: f64) -> Option<Flat> {
        if self.n < LEAST_PIXELS || self.n > most {
            return None;
        }
        let (x, y) = (self.x / self.n, self.y / self.n);
        // One twelfth: the spread of a pixel itself.
        let (p, r) = (
            self.xx / self.n - x * x + 1.0 / 12.0,
            self.yy / self.n - y * y + 1.0 / 12.0,
        );
        let q = self.xy / self.n - x * y;
        let (mean, half) = (0.5 * (p + r), (0.25 * (p - r).powi(2) + q * q).sqrt());
        let (long, short) = (mean + half, (mean - half).max(1e-9));
        let fill = self.n / (12.0 * (long * short).sqrt());
        (long < MOST_LONG * short && FILL.contains(&fill)).then(|| Flat {
            x: x as f32,
            y: y as f32,
            side: (12.0 * (long * short).sqrt()).sqrt() as f32,
        })
    }
}
