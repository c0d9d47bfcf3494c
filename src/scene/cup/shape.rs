//! Outlines of cups: ellipses and rounded rectangles as one family of superellipses.

/// A closed outline |x/a|^n + |y/b|^n = 1, turned by `turn` radians: n = 2 an ellipse, larger n a rounded rectangle.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(in crate::scene) struct Outline {
    pub cx: f32,
    pub cy: f32,
    pub a: f32,
    pub b: f32,
    pub turn: f32,
    pub n: f32,
}

/// A point of an outline with its outward unit normal.
#[derive(Debug, Clone, Copy)]
pub(super) struct Spot {
    pub x: f32,
    pub y: f32,
    pub nx: f32,
    pub ny: f32,
}

impl Outline {
    pub fn circle(cx: f32, cy: f32, r: f32) -> Self {
        Self {
            cx,
            cy,
            a: r,
            b: r,
            turn: 0.0,
            n: 2.0,
        }
    }

    /// The same outline with both half-axes multiplied.
    pub fn scaled(mut self, k: f32) -> Self {
        self.a *= k;
        self.b *= k;
        self
    }

    /// The same outline on a grid whose pixels are `k` times as fine (pixel centres on whole numbers).
    pub fn on_finer_grid(mut self, k: f32) -> Self {
        self.cx = (self.cx + 0.5) * k - 0.5;
        self.cy = (self.cy + 0.5) * k - 0.5;
        self.scaled(k)
    }

    /// Size as one number: the geometric mean of the half-axes.
    pub fn size(&self) -> f32 {
        (self.a * self.b).sqrt()
    }

    /// How far a point lies out, in units of the outline: 1 on it, below 1 inside.
    pub fn reach(&self, x: f32, y: f32) -> f32 {
        let (s, c) = self.turn.sin_cos();
        let (dx, dy) = (x - self.cx, y - self.cy);
        let (u, v) = (
            ((dx * c + dy * s) / self.a).abs(),
            ((dy * c - dx * s) / self.b).abs(),
        );
        root(power(u, self.n) + power(v, self.n), self.n)
    }

    /// First column inside the outline on the row `y`, and the one past the last, within 0..=`w` (equal: none).
    pub fn columns(&self, y: f32, w: usize) -> [usize; 2] {
        let (s, c) = self.turn.sin_cos();
        // A superellipse is convex: its reach along the row has one lowest place, and rises on both sides of it.
        let farthest = self.a.max(self.b) * 1.5;
        let inside = |x: f32| self.reach(x, y) <= 1.0;
        let slant = (self.a * self.a - self.b * self.b) * s * c;
        let down = (self.a * s).powi(2) + (self.b * c).powi(2);
        let middle = if self.n == 2.0 {
            self.cx + (y - self.cy) * slant / down.max(1e-6)
        } else {
            self.lowest(y, farthest)
        };
        if !inside(middle) {
            return [0, 0];
        }
        let edge = |mut far: f32| {
            let mut near = middle;
            for _ in 0..12 {
                let half = 0.5 * (near + far);
                if inside(half) {
                    near = half
                } else {
                    far = half
                }
            }
            near
        };
        let from = edge(middle - 2.0 * farthest).ceil().clamp(0.0, w as f32) as usize;
        let past = (edge(middle + 2.0 * farthest).floor() + 1.0).clamp(0.0, w as f32) as usize;
        [from, past.max(from)]
    }

    /// Where on the row `y` the reach is least (thirds by turns).
    fn lowest(&self, y: f32, farthest: f32) -> f32 {
        let (mut lo, mut hi) = (self.cx - farthest, self.cx + farthest);
        for _ in 0..24 {
            let (a, b) = (lo + (hi - lo) / 3.0, hi - (hi - lo) / 3.0);
            if self.reach(a, y) < self.reach(b, y) {
                hi = b
            } else {
                lo = a
            }
        }
        0.5 * (lo + hi)
    }

    /// Where this outline crosses the ray from the middle of `about` through one of its spots: share of the way to the
    /// spot, between 0 and 2; `None` where it does not.
    pub(super) fn along(&self, about: &Outline, spot: &Spot) -> Option<f32> {
        let out = |t: f32| {
            let (x, y) = (
                about.cx + t * (spot.x - about.cx),
                about.cy + t * (spot.y - about.cy),
            );
            self.reach(x, y) > 1.0
        };
        let (mut near, mut far) = (0.0, 2.0);
        if out(near) || !out(far) {
            return None;
        }
        for _ in 0..11 {
            let half = 0.5 * (near + far);
            if out(half) { far = half } else { near = half }
        }
        Some(0.5 * (near + far))
    }

    /// `count` points at even directions from the centre, with their outward normals.
    pub(super) fn spots(&self, count: usize) -> Vec<Spot> {
        let (s, c) = self.turn.sin_cos();
        (0..count)
            .map(|k| {
                let (st, ct) = (k as f32 / count as f32 * std::f32::consts::TAU).sin_cos();
                let (across, up) = (ct / self.a, st / self.b);
                let (pu, pv) = (power(across, self.n), power(up, self.n));
                let reach = 1.0 / root(pu + pv, self.n);
                let (u, v) = (reach * ct, reach * st);
                // The gradient of |x/a|^n + |y/b|^n, but for its length.
                let slope = |p: f32, v: f32, half: f32| if v == 0.0 { 0.0 } else { p / (v * half) };
                let (gu, gv) = (slope(pu, across, self.a), slope(pv, up, self.b));
                let len = (gu * gu + gv * gv).sqrt().max(1e-30);
                Spot {
                    x: self.cx + u * c - v * s,
                    y: self.cy + u * s + v * c,
                    nx: (gu * c - gv * s) / len,
                    ny: (gu * s + gv * c) / len,
                }
            })
            .collect()
    }
}

/// |v| to the power `n`; quick for the two forms tried.
fn power(v: f32, n: f32) -> f32 {
    let square = v * v;
    if n == 2.0 {
        square
    } else if n == 6.0 {
        square * square * square
    } else {
        v.abs().powf(n)
    }
}

/// The `n`th root of a value that is not negative.
fn root(v: f32, n: f32) -> f32 {
    if n == 2.0 {
        v.sqrt()
    } else if n == 6.0 {
        v.sqrt().cbrt()
    } else {
        v.powf(1.0 / n)
    }
}
