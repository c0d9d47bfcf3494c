//! The map from places on the chart to the picture, as a plane seen by a camera.

use super::super::equations::Normal;

/// Map from (column, row), patch centres on whole numbers, to pixels.
///
/// # Source
/// [HartleyZisserman2003] 4.1, with normalised coordinates and the last element 1.
#[derive(Debug, Clone, Copy)]
pub(super) struct Perspective {
    m: [[f64; 3]; 3],
}

impl Perspective {
    /// The map that best takes places to points, by least squares; `None` for fewer than four or all on a line.
    pub fn fit(pairs: &[([f64; 2], [f64; 2])]) -> Option<Self> {
        if pairs.len() < 4 {
            return None;
        }
        let (from, to) = (
            Frame::of(pairs.iter().map(|p| p.0)),
            Frame::of(pairs.iter().map(|p| p.1)),
        );
        let mut fit = Normal::<8>::new();
        for (place, point) in pairs {
            let ([x, y], [u, v]) = (from.inside(*place), to.inside(*point));
            fit.add(&[x, y, 1.0, 0.0, 0.0, 0.0, -u * x, -u * y], u, 1.0);
            fit.add(&[0.0, 0.0, 0.0, x, y, 1.0, -v * x, -v * y], v, 1.0);
        }
        let h = fit.solved()?;
        let inner = [[h[0], h[1], h[2]], [h[3], h[4], h[5]], [h[6], h[7], 1.0]];
        let m =
            crate::colour::multiply(&to.back(), &crate::colour::multiply(&inner, &from.forth()));
        m.iter()
            .flatten()
            .all(|v| v.is_finite())
            .then_some(Self { m })
    }

    /// The pixel of a place.
    pub fn at(&self, column: f64, row: f64) -> [f64; 2] {
        let [x, y, w] = crate::colour::apply(&self.m, [column, row, 1.0]);
        [x / w, y / w]
    }

    /// Pixels to one pitch at a place: the square root of the area of a pitch by a pitch.
    pub fn pitch(&self, column: f64, row: f64) -> f64 {
        let [left, right, up, down] = [(-0.5, 0.0), (0.5, 0.0), (0.0, -0.5), (0.0, 0.5)]
            .map(|(c, r)| self.at(column + c, row + r));
        let (u, v) = (
            [right[0] - left[0], right[1] - left[1]],
            [down[0] - up[0], down[1] - up[1]],
        );
        (u[0] * v[1] - u[1] * v[0]).abs().sqrt()
    }
}

/// Middle and spread of points, to bring them near the unit square.
#[derive(Debug, Clone, Copy)]
struct Frame {
    middle: [f64; 2],
    spread: f64,
}

impl Frame {
    fn of(points: impl Iterator<Item = [f64; 2]> + Clone) -> Self {
        let n = points.clone().count().max(1) as f64;
        let sum = points
            .clone()
            .fold([0.0; 2], |s, p| [s[0] + p[0], s[1] + p[1]]);
        let middle = [sum[0] / n, sum[1] / n];
        let far: f64 = points
            .map(|p| (p[0] - middle[0]).hypot(p[1] - middle[1]))
            .sum();
        Self {
            middle,
            spread: (far / n).max(1e-9),
        }
    }

    fn inside(&self, p: [f64; 2]) -> [f64; 2] {
        [
            (p[0] - self.middle[0]) / self.spread,
            (p[1] - self.middle[1]) / self.spread,
        ]
    }

    fn forth(&self) -> [[f64; 3]; 3] {
        let s = 1.0 / self.spread;
        [
            [s, 0.0, -s * self.middle[0]],
            [0.0, s, -s * self.middle[1]],
            [0.0, 0.0, 1.0],
        ]
    }

    fn back(&self) -> [[f64; 3]; 3] {
        let s = self.spread;
        [
            [s, 0.0, self.middle[0]],
            [0.0, s, self.middle[1]],
            [0.0, 0.0, 1.0],
        ]
    }
}
