//! Pigment opacity of a pixel: how far pigment hides what an unpigmented body would show there.
//!
//! Linear light relative to the floor: `seen = clear + o (full - clear) + k (dark - clear)` with `o, k >= 0`,
//! where `dark` stands for gut, eyes and shade. Least squares over the three channels.

use super::line_colour::LineColour;

/// What gut contents and eyes show: a near-black without hue (from the rendered scenes).
const DARK: [f64; 3] = [0.10, 0.10, 0.09];
/// Share of the animal's own clear pixels in its clear colour; the rest is the line's default.
const OWN_CLEAR: f64 = 0.5;
/// An animal shows a clear part of its own when this share of its body has hardly any pigment.
const CLEAR_SHARE: f64 = 0.06;

/// The two colours one animal's opacity is measured between.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Paint {
    /// Unpigmented body.
    pub clear: [f64; 3],
    /// Full pigment.
    pub full: [f64; 3],
    /// No hue to tell pigment from gut: dark is taken for pigment.
    pub achromatic: bool,
}

impl Paint {
    /// Pigment opacity 0..=1 of a colour.
    pub fn opacity(&self, seen: [f64; 3]) -> f64 {
        self.parts(seen).0
    }

    /// Opacity of pigment and share of dark in a colour, each 0..=1.
    pub fn parts(&self, seen: [f64; 3]) -> (f64, f64) {
        let y = minus(seen, self.clear);
        let p = minus(self.full, self.clear);
        let q = minus(DARK, self.clear);
        let alone = (dot(y, p) / dot(p, p).max(1e-9)).clamp(0.0, 1.0);
        if self.achromatic {
            return (alone, 0.0);
        }
        let (pp, pq, qq, yp, yq) = (dot(p, p), dot(p, q), dot(q, q), dot(y, p), dot(y, q));
        let det = pp * qq - pq * pq;
        if det < 1e-6 {
            return (alone, 0.0);
        }
        let (o, k) = ((yp * qq - yq * pq) / det, (yq * pp - yp * pq) / det);
        if k <= 0.0 {
            (alone, 0.0)
        } else if o <= 0.0 {
            (0.0, (yq / qq).clamp(0.0, 1.0))
        } else {
            (o.min(1.0), k.min(1.0))
        }
    }
}

/// The paint of one animal: its full colour placed in the line's range by its most absorbed pixels,
/// its clear colour between its own clear parts and the line's default.
pub fn paint_of(line: &LineColour, body: &[[f64; 3]]) -> Paint {
    let middle = line.full[line.full.len() / 2];
    let start = Paint { clear: line.clear, full: middle, achromatic: line.achromatic };
    let mut by_opacity: Vec<(f64, [f64; 3])> = body.iter().map(|&c| (start.opacity(c), c)).collect();
    by_opacity.sort_by(|a, b| a.0.total_cmp(&b.0));
    let n = by_opacity.len();
    let pigmented: Vec<[f64; 3]> = by_opacity.iter().filter(|p| p.0 > 0.4).map(|p| p.1).collect();
    let full = if pigmented.len() * 25 >= n {
        let from = pigmented.len() * 60 / 100;
        let to = (pigmented.len() * 95 / 100).max(from + 1);
        nearest_in_range(&line.full, mean(&pigmented[from..to.min(pigmented.len())]))
    } else {
        middle
    };
    let pale: Vec<[f64; 3]> =
        by_opacity.iter().filter(|p| p.0 < 0.12 && p.1.iter().all(|v| (0.4..0.95).contains(v))).map(|p| p.1).collect();
    let clear = if pale.len() as f64 >= CLEAR_SHARE * n as f64 && !pale.is_empty() {
        let own = mean(&pale);
        std::array::from_fn(|c| OWN_CLEAR * own[c] + (1.0 - OWN_CLEAR) * line.clear[c])
    } else {
        line.clear
    };
    Paint { clear, full, achromatic: line.achromatic }
}

/// The point of the chain of colours nearest to `colour`.
pub fn nearest_in_range(range: &[[f64; 3]], colour: [f64; 3]) -> [f64; 3] {
    let mut best = (f64::INFINITY, range[0]);
    let mut consider = |p: [f64; 3]| {
        let d = minus(p, colour);
        if dot(d, d) < best.0 {
            best = (dot(d, d), p);
        }
    };
    consider(range[0]);
    for pair in range.windows(2) {
        let along = minus(pair[1], pair[0]);
        let t = (dot(minus(colour, pair[0]), along) / dot(along, along).max(1e-12)).clamp(0.0, 1.0);
        consider(std::array::from_fn(|c| pair[0][c] + t * along[c]));
    }
    best.1
}

/// Mean of colours; black for none.
pub fn mean(colours: &[[f64; 3]]) -> [f64; 3] {
    let n = colours.len().max(1) as f64;
    std::array::from_fn(|c| colours.iter().map(|p| p[c]).sum::<f64>() / n)
}

fn minus(p: [f64; 3], q: [f64; 3]) -> [f64; 3] {
    std::array::from_fn(|c| p[c] - q[c])
}

fn dot(p: [f64; 3], q: [f64; 3]) -> f64 {
    (0..3).map(|c| p[c] * q[c]).sum()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_mixture_gives_its_shares_back() {
        let paint = Paint { clear: [0.72, 0.69, 0.66], full: [0.38, 0.08, 0.08], achromatic: false };
        let mix = |o: f64, k: f64| -> [f64; 3] {
            std::array::from_fn(|c| (1.0 - o - k) * paint.clear[c] + o * paint.full[c] + k * DARK[c])
        };
        for (o, k) in [(0.0, 0.0), (0.3, 0.0), (0.5, 0.2), (1.0, 0.0), (0.0, 0.6)] {
            let (got_o, got_k) = paint.parts(mix(o, k));
            assert!((got_o - o).abs() < 1e-9 && (got_k - k).abs() < 1e-9, "{o} {k}: {got_o} {got_k}");
        }
        assert_eq!(paint.opacity([0.95, 0.95, 0.95]), 0.0); // glare is no pigment
    }
}
