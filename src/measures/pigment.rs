//! Pigment opacity of a pixel: how far pigment hides what an unpigmented body would show there.
//!
//! Linear light relative to the floor: `seen = a clear + b full + k dark`, `a + b + k = 1`; `dark` stands for
//! gut, eyes and shade. Shade dims pigment and clear body alike, so the pigment's share is `b / (a + b)`; a back turned to the
//! lamp is brighter than that, which is a `k` a little below zero; far below, it is sheen or pale opaque pigment.
//! A bend then turns shares of light into opacity.

use super::line_colour::{CLEAR_ON_DARK, LineColour};
use crate::colour;

/// What gut contents, eyes and deep shade show: a near-black without hue.
const DARK: [f64; 3] = [0.03, 0.03, 0.03];
/// The dark share beyond which it is gut or eye rather than shade: not divided out any further.
/// Any value from 0.5 to 0.85 measures alike on the rendered scenes.
const DEEPEST_SHADE: f64 = 0.7;
/// How much brighter than the line's colours a lit back may be, as a dark share below zero (measured: 0.2 to 0.4 on yellow backs,
/// more on stripes; drab pigment has nothing to tell light from paleness by, so none there).
const BRIGHTEST: f64 = 0.5;
/// A lit back is brighter by up to this (as a dark share below zero); what goes beyond is a sheen on the shell, which adds to
/// what the pigment shows. Taken for light altogether, pale stripes along lit backs read 0.08 too low (rendered scenes, each
/// photo left out, which chooses 0.25 to 0.35; at 0.3 and less plain red animals photographed again cover 0.001 too much).
const LIT: f64 = 0.35;
/// No pigment shows less than this in any channel: that is what the surface itself throws back.
const DEEPEST: f64 = 0.005;
/// Of the clear pixels the brighter ones are free of shade and of the last pigment.
const CLEAR_QUANTILE: f64 = 0.7;
/// An animal shows a clear part of its own when this share of its body has hardly any pigment.
const CLEAR_SHARE: f64 = 0.08;
/// The most absorbed part of the pigmented pixels that places the full colour in the line's range, as shares of their ranking:
/// never the darkest of all, which are eyes, gut and shade.
const PLACED_BY: (usize, usize) = (75, 95);
/// The paint is worked out from about this many pixels.
const SAMPLE: usize = 2500;

/// The bend: `opacity = 1 - (1 - share)^(1 / p)` with `p = BEND_AT_NONE + BEND_BY_CONTRAST * |full - BEND_CLEAR|`.
/// Pigment that takes much light (black, red) looks full early, one that takes only blue (yellow) late.
/// Measured on the rendered scenes: below 0.9 for yellow, 1.2 for red, 1.4 for black; slopes from 0.7 to 0.9 measure alike.
const BEND_AT_NONE: f64 = 0.55;
/// Unpigmented body against which the contrast is taken: the rules files' default, not the animal's own, since it is the pigment that bends.
const BEND_CLEAR: [f64; 3] = [0.72, 0.69, 0.66];
const BEND_BY_CONTRAST: f64 = 0.7;
const BEND_LIMITS: (f64, f64) = (0.7, 1.3);
/// For pigment that can hardly be told from dark (black, brown, green) the bend is at least this: shade adds to it.
const BEND_DRAB: f64 = 1.4;
/// CIELAB chroma of full pigment below which it can't well be told from gut and shade.
const DRAB_CHROMA: f64 = 18.0;
/// And only pigment darker than this in every channel: white is no gut.
const DRAB_DEEPEST: f64 = 0.5;
/// Steps of the table of the bend.
const STEPS: usize = 128;

/// The two colours one animal's opacity is measured between, and the bend between light and opacity.
#[derive(Debug, Clone, PartialEq)]
pub struct Paint {
    /// Unpigmented body.
    pub clear: [f64; 3],
    /// Full pigment.
    pub full: [f64; 3],
    /// No hue to tell pigment from gut: dark is taken for pigment.
    pub achromatic: bool,
    drab: bool,
    table: Vec<f64>,
    least_squares: LeastSquares,
}

/// Constants of the two-colour least squares.
#[derive(Debug, Clone, Copy, PartialEq)]
struct LeastSquares {
    p: [f64; 3],
    q: [f64; 3],
    pp: f64,
    pq: f64,
    qq: f64,
}

impl Paint {
    /// Paint between two colours.
    pub fn new(clear: [f64; 3], full: [f64; 3], achromatic: bool) -> Self {
        let (p, q) = (minus(full, clear), minus(DARK, clear));
        let least_squares = LeastSquares {
            p,
            q,
            pp: dot(p, p).max(1e-9),
            pq: dot(p, q),
            qq: dot(q, q).max(1e-9),
        };
        let pale = full.iter().any(|v| *v > DRAB_DEEPEST);
        let drab = !pale && (achromatic || colour::chroma(colour::lab(full)) < DRAB_CHROMA);
        let mut paint = Self {
            clear,
            full,
            achromatic,
            drab,
            table: Vec::new(),
            least_squares,
        };
        let power = 1.0 / paint.bend();
        paint.table = (0..=STEPS)
            .map(|k| 1.0 - (1.0 - k as f64 / STEPS as f64).powf(power))
            .collect();
        paint
    }

    /// The exponent p of the bend.
    pub fn bend(&self) -> f64 {
        let contrast = minus(self.full, BEND_CLEAR);
        let p = (BEND_AT_NONE + BEND_BY_CONTRAST * dot(contrast, contrast).sqrt())
            .clamp(BEND_LIMITS.0, BEND_LIMITS.1);
        if self.is_drab() { p.max(BEND_DRAB) } else { p }
    }

    /// True when the pigment can't well be told from gut and shade by its colour.
    pub fn is_drab(&self) -> bool {
        self.drab
    }

    /// Pigment opacity 0..=1 of a colour.
    pub fn opacity(&self, seen: [f64; 3]) -> f64 {
        self.bent(self.share(seen))
    }

    /// Share of full pigment 0..=1 with shade divided out.
    fn share(&self, seen: [f64; 3]) -> f64 {
        self.depth(seen).min(1.0)
    }

    /// The same, above 1 where the colour takes more light than full pigment does.
    fn depth(&self, seen: [f64; 3]) -> f64 {
        let (b, k) = self.parts(seen);
        b / (1.0 - k.max(-LIT)).max(1.0 - DEEPEST_SHADE)
    }

    /// Square of what the three colours leave unexplained of one, in linear light.
    pub fn unexplained(&self, seen: [f64; 3]) -> f64 {
        let (b, k) = self.parts(seen);
        let left =
            |c: usize| seen[c] - (1.0 - b - k) * self.clear[c] - b * self.full[c] - k * DARK[c];
        (0..3).map(|c| left(c).powi(2)).sum()
    }

    /// Opacity of a share of light 0..=1.
    fn bent(&self, share: f64) -> f64 {
        let at = share * STEPS as f64;
        let k = (at as usize).min(STEPS - 1);
        self.table[k] + (at - k as f64) * (self.table[k + 1] - self.table[k])
    }

    /// Shares of full pigment (0 and up) and of dark in a colour, by least squares over the three channels.
    /// The dark share is at most 1, and below 0 where the colour is brighter than pigment and clear body are.
    pub fn parts(&self, seen: [f64; 3]) -> (f64, f64) {
        let LeastSquares { p, q, pp, pq, qq } = self.least_squares;
        let y = minus(seen, self.clear);
        let (yp, yq) = (dot(y, p), dot(y, q));
        let det = pp * qq - pq * pq;
        if self.achromatic || det < 1e-6 {
            return ((yp / pp).clamp(0.0, 1.0), 0.0);
        }
        let (b, k) = ((yp * qq - yq * pq) / det, (yq * pp - yp * pq) / det);
        let lowest = if self.drab { 0.0 } else { -BRIGHTEST };
        if b <= 0.0 {
            (0.0, (yq / qq).clamp(lowest, 1.0))
        } else if k < lowest {
            (((yp - lowest * pq) / pp).max(0.0), lowest)
        } else {
            (b, k.min(1.0))
        }
    }
}

/// The paint of one animal: its full colour placed in the line's range by its most absorbed pixels, and as deep as those;
/// its clear colour that of its own clear parts, or else the line's default. `body` is not empty of colours for a real animal.
pub fn paint_of(line: &LineColour, body: &[[f64; 3]]) -> Paint {
    let middle = line.full[line.full.len() / 2];
    let start = Paint::new(line.clear, middle, line.achromatic);
    let step = (body.len() / SAMPLE).max(1);
    let mut ranked: Vec<(f64, [f64; 3])> = body
        .iter()
        .step_by(step)
        .map(|&c| (start.share(c), c))
        .collect();
    ranked.sort_by(|a, b| a.0.total_cmp(&b.0));
    let clear = own_clear(line, &ranked).unwrap_or(line.clear);
    let Some(most) = most_absorbed(&ranked) else {
        return Paint::new(clear, middle, line.achromatic);
    };
    let placed = Paint::new(clear, nearest_in_range(&line.full, most), line.achromatic);
    if line.clear == CLEAR_ON_DARK {
        return placed;
    }
    Paint::new(clear, deepened(&placed, most), line.achromatic)
}

/// The full colour as deep as the animal's most absorbed pixels: where those take more light than the line's range has, it was
/// not full. An evenly coloured animal whose range is too pale would else read as paint all over. Not on dark ground: there
/// pigment is what is bright, and pixels beyond the range are backs turned to the lamp.
fn deepened(paint: &Paint, most: [f64; 3]) -> [f64; 3] {
    let depth = paint.depth(most).max(1.0);
    std::array::from_fn(|c| {
        (paint.clear[c] + depth * (paint.full[c] - paint.clear[c])).max(DEEPEST)
    })
}

/// Mean colour of the animal's most absorbed pixels; `None` where it has hardly any pigment.
fn most_absorbed(ranked: &[(f64, [f64; 3])]) -> Option<[f64; 3]> {
    let pigmented = &ranked[ranked.partition_point(|p| p.0 <= 0.4)..];
    if pigmented.is_empty() || pigmented.len() * 25 < ranked.len() {
        return None;
    }
    let from = pigmented.len() * PLACED_BY.0 / 100;
    let to = (pigmented.len() * PLACED_BY.1 / 100).max(from + 1);
    let most: Vec<[f64; 3]> = pigmented[from..to].iter().map(|p| p.1).collect();
    Some(mean(&most))
}

/// The animal's own clear colour; `None` where it shows no clear part.
fn own_clear(line: &LineColour, ranked: &[(f64, [f64; 3])]) -> Option<[f64; 3]> {
    let is_body = |c: &[f64; 3]| c.iter().all(|v| (0.4..0.95).contains(v));
    let pale: Vec<[f64; 3]> = ranked
        .iter()
        .take_while(|p| p.0 < 0.12)
        .map(|p| p.1)
        .filter(is_body)
        .collect();
    if pale.is_empty() || (pale.len() as f64) < CLEAR_SHARE * ranked.len() as f64 {
        return None;
    }
    Some(std::array::from_fn(|c| {
        let channel: Vec<f64> = pale.iter().map(|p| p[c]).collect();
        crate::stats::quantile(&channel, CLEAR_QUANTILE).unwrap_or(line.clear[c])
    }))
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

    fn red() -> Paint {
        Paint::new([0.72, 0.69, 0.66], [0.38, 0.05, 0.05], false)
    }

    #[test]
    fn a_mixture_gives_its_shares_back() {
        let paint = red();
        let mix = |o: f64, k: f64| -> [f64; 3] {
            std::array::from_fn(|c| {
                (1.0 - o - k) * paint.clear[c] + o * paint.full[c] + k * DARK[c]
            })
        };
        for (o, k) in [(0.0, 0.0), (0.3, 0.0), (0.5, 0.2), (1.0, 0.0), (0.0, 0.6)] {
            let (got_o, got_k) = paint.parts(mix(o, k));
            assert!(
                (got_o - o).abs() < 1e-9 && (got_k - k).abs() < 1e-9,
                "{o} {k}: {got_o} {got_k}"
            );
        }
        assert_eq!(paint.opacity([0.95, 0.95, 0.95]), 0.0); // glare is no pigment
    }

    #[test]
    fn opacity_rises_with_pigment_and_ignores_shade() {
        let paint = red();
        let mut last = -1.0;
        for step in 0..=20 {
            let o = f64::from(step) / 20.0;
            let lit: [f64; 3] =
                std::array::from_fn(|c| (1.0 - o) * paint.clear[c] + o * paint.full[c]);
            let shaded = lit.map(|v| 0.7 * (v - 0.03) + 0.03);
            assert!(paint.opacity(lit) > last, "at {o}");
            assert!(
                (paint.opacity(lit) - paint.opacity(shaded)).abs() < 1e-6,
                "at {o}"
            );
            last = paint.opacity(lit);
        }
        assert!(
            (paint.opacity(paint.clear)).abs() < 1e-9
                && (paint.opacity(paint.full) - 1.0).abs() < 1e-9
        );
    }

    #[test]
    fn full_colour_is_as_deep_as_the_animals_own() {
        let line = LineColour {
            line: "yellow".into(),
            model: crate::measures::SolidityModel::Shell,
            hue: None,
            chroma_floor: 12.0,
            achromatic: false,
            brown_allowed: false,
            full: vec![[1.00, 0.75, 0.24], [0.75, 0.52, 0.17]],
            clear: [0.72, 0.69, 0.66],
        };
        // Yellow that lets through far less blue than the palest of its line.
        let own = [0.88, 0.50, 0.03];
        let mix = |o: f64| -> [f64; 3] {
            std::array::from_fn(|c| (1.0 - o) * line.clear[c] + o * own[c])
        };
        let body: Vec<[f64; 3]> = (0..=400).map(|i| mix(f64::from(i) / 400.0)).collect();
        let paint = paint_of(&line, &body);
        assert!(paint.opacity(mix(1.0)) > 0.97);
        let part = paint.opacity(mix(0.7));
        assert!((0.6..0.93).contains(&part), "{part}");
        assert_eq!(
            Paint::new(line.clear, line.full[1], false).opacity(mix(0.9)),
            1.0,
            "by the line's range alone it is all paint"
        );
        assert!(paint.unexplained(mix(0.5)) < 1e-3);
    }

    /// Backs turned to the lamp, a third brighter than white pigment, in a black cup.
    #[test]
    fn on_dark_ground_full_colour_stays_in_the_lines_range() {
        let line = LineColour {
            line: "white".into(),
            model: crate::measures::SolidityModel::Shell,
            hue: None,
            chroma_floor: 0.0,
            achromatic: false,
            brown_allowed: false,
            full: vec![[0.70, 0.70, 0.68], [0.55, 0.55, 0.53]],
            clear: CLEAR_ON_DARK,
        };
        let body: Vec<[f64; 3]> = (0..=400)
            .map(|i| {
                let o = f64::from(i) / 300.0;
                std::array::from_fn(|c| (1.0 - o) * line.clear[c] + o * line.full[0][c])
            })
            .collect();
        let paint = paint_of(&line, &body);
        assert_eq!(paint.full, nearest_in_range(&line.full, paint.full));
        let on_white = paint_of(
            &LineColour {
                clear: [0.1; 3],
                ..line
            },
            &body,
        );
        assert!(on_white.full[0] > 0.75, "{:?}", on_white.full);
    }

    #[test]
    fn a_lit_back_reads_alike_and_beyond_it_pale_pigment_is_no_thin_one() {
        let paint = red();
        let at = |light: f64| -> f64 {
            let seen = |c: usize| 0.2 * paint.clear[c] + 0.8 * paint.full[c];
            paint.opacity(std::array::from_fn(|c| light * seen(c)))
        };
        assert!((at(1.0) - at(1.2)).abs() < 0.02);
        assert!(at(1.45) > at(1.2) + 0.05, "{} {}", at(1.2), at(1.45));
    }
}
