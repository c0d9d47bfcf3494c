//! Where labels go: beside their animal, off the bodies and off each other.

/// A rectangle: left, top, right, bottom.
pub(super) type Box4 = [f32; 4];

/// What is taken on the picture, counted on a coarse grid.
pub(super) struct Taken {
    width: usize,
    height: usize,
    cell: f32,
    /// Sums over all cells above and left, one row and column of zeros first.
    sums: Vec<f32>,
    labels: Vec<Box4>,
    size: [f32; 2],
}

impl Taken {
    /// Bodies are given as outlines in picture coordinates; boxes that must stay free as rectangles.
    pub(super) fn new(size: [f32; 2], cell: f32, outlines: &[Vec<[f32; 2]>]) -> Self {
        let width = (size[0] / cell).ceil() as usize;
        let height = (size[1] / cell).ceil() as usize;
        let mut filled = vec![0.0f32; width * height];
        for outline in outlines {
            fill(&mut filled, width, height, cell, outline);
        }
        let mut sums = vec![0.0; (width + 1) * (height + 1)];
        for v in 0..height {
            for u in 0..width {
                let here = filled[v * width + u];
                let (up, left) = (
                    sums[v * (width + 1) + u + 1],
                    sums[(v + 1) * (width + 1) + u],
                );
                sums[(v + 1) * (width + 1) + u + 1] = here + up + left - sums[v * (width + 1) + u];
            }
        }
        Self {
            width,
            height,
            cell,
            sums,
            labels: Vec::new(),
            size,
        }
    }

    /// Top left corner for a label of that size near `outline`; the place is taken from then on.
    pub(super) fn place(&mut self, label: [f32; 2], outline: &[[f32; 2]], gap: f32) -> [f32; 2] {
        let mut best = ([0.0, 0.0], f32::INFINITY);
        for at in candidates(label, outline, gap) {
            let at = self.inside(at, label);
            let area = [at[0], at[1], at[0] + label[0], at[1] + label[1]];
            let cost = self.cost(area, outline, gap);
            if cost < best.1 {
                best = (at, cost);
            }
        }
        let at = best.0;
        self.labels
            .push([at[0], at[1], at[0] + label[0], at[1] + label[1]]);
        at
    }

    fn inside(&self, at: [f32; 2], label: [f32; 2]) -> [f32; 2] {
        let edge = 3.0;
        std::array::from_fn(|i| at[i].min(self.size[i] - label[i] - edge).max(edge))
    }

    /// Overlap with labels weighs most, then with bodies, then the way to the animal.
    fn cost(&self, area: Box4, outline: &[[f32; 2]], gap: f32) -> f32 {
        let own = (area[2] - area[0]) * (area[3] - area[1]);
        let with_labels: f32 = self
            .labels
            .iter()
            .map(|other| overlap(grown(area, gap / 2.0), *other))
            .sum();
        let with_bodies = self.bodies_in(area) * self.cell * self.cell;
        let way = nearest(area, outline).1;
        20.0 * with_labels / own + 6.0 * with_bodies / own + way / (8.0 * gap)
    }

    fn bodies_in(&self, area: Box4) -> f32 {
        let index =
            |value: f32, limit: usize| ((value / self.cell).round().max(0.0) as usize).min(limit);
        let (x0, x1) = (index(area[0], self.width), index(area[2], self.width));
        let (y0, y1) = (index(area[1], self.height), index(area[3], self.height));
        let at = |v: usize, u: usize| self.sums[v * (self.width + 1) + u];
        at(y1, x1) - at(y0, x1) - at(y1, x0) + at(y0, x0)
    }
}

/// The outline's point nearest to the rectangle and its distance.
pub(super) fn nearest(area: Box4, outline: &[[f32; 2]]) -> ([f32; 2], f32) {
    let away = |p: &[f32; 2]| {
        let dx = (area[0] - p[0]).max(p[0] - area[2]).max(0.0);
        let dy = (area[1] - p[1]).max(p[1] - area[3]).max(0.0);
        dx.hypot(dy)
    };
    let point = outline.iter().min_by(|a, b| away(a).total_cmp(&away(b)));
    point.map_or(([area[0], area[1]], 0.0), |p| (*p, away(p)))
}

/// Places just off points spread around the outline, near ones first.
fn candidates(label: [f32; 2], outline: &[[f32; 2]], gap: f32) -> Vec<[f32; 2]> {
    let mut places = Vec::new();
    let step = (outline.len() / 24).max(1);
    for away in [gap, 2.5 * gap, 5.0 * gap] {
        for p in outline.iter().step_by(step) {
            places.push([p[0] - label[0] / 2.0, p[1] - label[1] - away]);
            places.push([p[0] - label[0] / 2.0, p[1] + away]);
            places.push([p[0] + away, p[1] - label[1] / 2.0]);
            places.push([p[0] - label[0] - away, p[1] - label[1] / 2.0]);
        }
    }
    places
}

fn grown(area: Box4, by: f32) -> Box4 {
    [area[0] - by, area[1] - by, area[2] + by, area[3] + by]
}

fn overlap(a: Box4, b: Box4) -> f32 {
    (a[2].min(b[2]) - a[0].max(b[0])).max(0.0) * (a[3].min(b[3]) - a[1].max(b[1])).max(0.0)
}

/// Marks the cells whose centre lies in the outline (even-odd rule).
fn fill(filled: &mut [f32], width: usize, height: usize, cell: f32, outline: &[[f32; 2]]) {
    for v in 0..height {
        let y = (v as f32 + 0.5) * cell;
        let mut cuts: Vec<f32> = Vec::new();
        for (i, a) in outline.iter().enumerate() {
            let b = outline[(i + 1) % outline.len()];
            if (a[1] <= y) != (b[1] <= y) {
                cuts.push(a[0] + (y - a[1]) / (b[1] - a[1]) * (b[0] - a[0]));
            }
        }
        cuts.sort_by(f32::total_cmp);
        for pair in cuts.chunks_exact(2) {
            let first = (pair[0] / cell - 0.5).ceil().max(0.0) as usize;
            let end = ((pair[1] / cell + 0.5).floor().max(0.0) as usize).min(width);
            if first < end {
                filled[v * width + first..v * width + end].fill(1.0);
            }
        }
    }
}
