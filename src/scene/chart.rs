//! Finds a colour chart of six by four square patches, at any turn.
//!
//! Patches are flat areas, about square, of like size, linked to neighbours at a common pitch.

use super::grid::Grid;

/// A chart on the grid it was searched on.
#[derive(Debug, Clone)]
pub(super) struct ChartSeen {
    /// Corners around the chart, pixels of the grid: the corner beyond the first patch of the coloured rows, then along
    /// the six patches, then around to the white end of the neutral row.
    pub corners: [[f32; 2]; 4],
    /// Luminance of the white patch, linear.
    pub white: f32,
}

/// Patches in a row, rows, and the least number of patches that must be seen.
const COLUMNS: i32 = 6;
const ROWS: i32 = 4;
const LEAST_PATCHES: usize = 14;
/// Difference of square-rooted light between neighbours above which there is an edge (blurred frames fall by 0.03 and more).
const EDGE: f32 = 0.025;
/// Frame beyond the outer patches' centres, in pitches (common charts: half a patch and a narrow border).
const BORDER: f32 = 0.56;

/// A patch (by its number) with its column and row.
type Place = (usize, [i32; 2]);

/// A flat area.
#[derive(Debug, Clone, Copy)]
struct Patch {
    x: f32,
    y: f32,
    side: f32,
}

/// Finds the chart on three planes of linear light of one size, or `None`.
pub(super) fn find_chart(planes: &[Grid; 3]) -> Option<ChartSeen> {
    let patches = square_patches(planes);
    (0..patches.len()).find_map(|seed| {
        let places = lattice(&patches, seed)?;
        let frame = affine(&patches, &places)?;
        Some(oriented(planes, &frame))
    })
}

/// Flat areas that are about square.
fn square_patches(planes: &[Grid; 3]) -> Vec<Patch> {
    let (w, h) = (planes[0].w, planes[0].h);
    let root: Vec<[f32; 3]> = (0..w * h)
        .map(|i| std::array::from_fn(|c| planes[c].px[i].max(0.0).sqrt()))
        .collect();
    let apart = |i: usize, k: usize| {
        (0..3)
            .map(|c| (root[i][c] - root[k][c]).abs())
            .fold(0.0, f32::max)
            > EDGE
    };
    let mut seen = vec![false; w * h];
    let (mut out, mut stack) = (Vec::new(), Vec::new());
    let most = w * h / 60;
    for start in 0..w * h {
        if seen[start] {
            continue;
        }
        seen[start] = true;
        stack.push(start);
        let mut area = Moments::default();
        while let Some(i) = stack.pop() {
            let (x, y) = (i % w, i / w);
            area.add(x as f32, y as f32);
            let mut visit = |k: usize| {
                if !seen[k] && !apart(i, k) {
                    seen[k] = true;
                    stack.push(k);
                }
            };
            if x > 0 {
                visit(i - 1);
            }
            if x + 1 < w {
                visit(i + 1);
            }
            if y > 0 {
                visit(i - w);
            }
            if y + 1 < h {
                visit(i + w);
            }
        }
        out.extend(area.square(most as f32));
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
    fn add(&mut self, x: f32, y: f32) {
        let (x, y) = (f64::from(x), f64::from(y));
        self.n += 1.0;
        self.x += x;
        self.y += y;
        self.xx += x * x;
        self.yy += y * y;
        self.xy += x * y;
    }

    /// The area as a patch, when it is about square, full, and neither a speck nor larger than `most`.
    fn square(&self, most: f32) -> Option<Patch> {
        if self.n < 16.0 || self.n > f64::from(most) {
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
        let fits = long < 2.2 * short && (0.8..1.12).contains(&fill);
        fits.then(|| Patch {
            x: x as f32,
            y: y as f32,
            side: (12.0 * (long * short).sqrt()).sqrt() as f32,
        })
    }
}

/// Places (column, row) of the patches linked to a seed, when they fill six by four; `None` otherwise.
fn lattice(patches: &[Patch], seed: usize) -> Option<Vec<Place>> {
    let u = first_step(patches, seed)?;
    let v = [-u[1], u[0]];
    let pitch2 = u[0] * u[0] + u[1] * u[1];
    let mut places = vec![(seed, [0, 0])];
    let mut next = 0;
    while next < places.len() {
        let (i, [column, row]) = places[next];
        next += 1;
        for (k, p) in patches.iter().enumerate() {
            let (dx, dy) = (p.x - patches[i].x, p.y - patches[i].y);
            let (a, b) = (
                (dx * u[0] + dy * u[1]) / pitch2,
                (dx * v[0] + dy * v[1]) / pitch2,
            );
            let (ra, rb) = (a.round(), b.round());
            let one_on =
                ra.abs() + rb.abs() == 1.0 && (a - ra).abs() < 0.22 && (b - rb).abs() < 0.22;
            if one_on && alike(p, &patches[seed]) && !places.iter().any(|(j, _)| *j == k) {
                places.push((k, [column + ra as i32, row + rb as i32]));
            }
        }
        if places.len() > (COLUMNS * ROWS) as usize {
            return None;
        }
    }
    (places.len() >= LEAST_PATCHES)
        .then(|| from_corner(places))
        .flatten()
}

/// Step from the seed to its nearest like neighbour at a pitch that a chart can have.
fn first_step(patches: &[Patch], seed: usize) -> Option<[f32; 2]> {
    let s = &patches[seed];
    patches
        .iter()
        .filter(|p| alike(p, s))
        .map(|p| [p.x - s.x, p.y - s.y])
        .filter(|d| (0.9..1.7).contains(&(d[0].hypot(d[1]) / s.side)))
        .min_by(|a, b| a[0].hypot(a[1]).total_cmp(&b[0].hypot(b[1])))
}

/// Whether two patches are of like size.
fn alike(a: &Patch, b: &Patch) -> bool {
    (0.65..1.55).contains(&(a.side / b.side))
}

/// The places counted from one corner, six across; `None` when they do not span six by four.
fn from_corner(mut places: Vec<Place>) -> Option<Vec<Place>> {
    let span = |k: usize| {
        let all = places.iter().map(|(_, p)| p[k]);
        (all.clone().min().unwrap_or(0), all.max().unwrap_or(0))
    };
    let ((left, right), (top, bottom)) = (span(0), span(1));
    let size = (right - left + 1, bottom - top + 1);
    places
        .iter_mut()
        .for_each(|(_, p)| *p = [p[0] - left, p[1] - top]);
    if size == (ROWS, COLUMNS) {
        // A quarter turn: (column, row) to (row, 3 - column).
        places
            .iter_mut()
            .for_each(|(_, p)| *p = [p[1], ROWS - 1 - p[0]]);
    } else if size != (COLUMNS, ROWS) {
        return None;
    }
    Some(places)
}

/// The map (column, row) to the grid by least squares: origin, step along a row, step down a column.
fn affine(patches: &[Patch], places: &[Place]) -> Option<[[f32; 2]; 3]> {
    let n = places.len() as f32;
    let mean = |f: &dyn Fn(&Place) -> f32| places.iter().map(f).sum::<f32>() / n;
    let (mc, mr) = (mean(&|p| p.1[0] as f32), mean(&|p| p.1[1] as f32));
    let (mx, my) = (mean(&|p| patches[p.0].x), mean(&|p| patches[p.0].y));
    let dc = |p: &Place| p.1[0] as f32 - mc;
    let dr = |p: &Place| p.1[1] as f32 - mr;
    let (cc, rr, cr) = (
        mean(&|p| dc(p) * dc(p)),
        mean(&|p| dr(p) * dr(p)),
        mean(&|p| dc(p) * dr(p)),
    );
    let det = cc * rr - cr * cr;
    if det.abs() < 1e-6 {
        return None;
    }
    let solve = |v: &dyn Fn(usize) -> f32| {
        let (vc, vr) = (mean(&|p| v(p.0) * dc(p)), mean(&|p| v(p.0) * dr(p)));
        ((vc * rr - vr * cr) / det, (vr * cc - vc * cr) / det)
    };
    let ((ux, vx), (uy, vy)) = (solve(&|i| patches[i].x - mx), solve(&|i| patches[i].y - my));
    Some([
        [mx - mc * ux - mr * vx, my - mc * uy - mr * vy],
        [ux, uy],
        [vx, vy],
    ])
}

/// The chart with the neutral row last and its white end first.
fn oriented(planes: &[Grid; 3], [origin, u, v]: &[[f32; 2]; 3]) -> ChartSeen {
    let at = |c: f32, r: f32| {
        [
            origin[0] + c * u[0] + r * v[0],
            origin[1] + c * u[1] + r * v[1],
        ]
    };
    let light = |c: i32, r: i32| patch_light(planes, at(c as f32, r as f32));
    let cast = |r: i32| {
        (0..COLUMNS)
            .map(|c| colourfulness(light(c, r)))
            .sum::<f32>()
    };
    let sum = |c: i32, r: i32| light(c, r).iter().sum::<f32>();
    let last_is_neutral = cast(ROWS - 1) <= cast(0);
    let neutral = if last_is_neutral { ROWS - 1 } else { 0 };
    let white_first = sum(0, neutral) >= sum(COLUMNS - 1, neutral);
    let (left, right) = (-BORDER, (COLUMNS - 1) as f32 + BORDER);
    let (top, bottom) = (-BORDER, (ROWS - 1) as f32 + BORDER);
    let (from, to) = if white_first {
        (left, right)
    } else {
        (right, left)
    };
    let (first, last) = if last_is_neutral {
        (top, bottom)
    } else {
        (bottom, top)
    };
    let white = light(if white_first { 0 } else { COLUMNS - 1 }, neutral);
    ChartSeen {
        corners: [at(from, first), at(to, first), at(to, last), at(from, last)],
        white: white
            .iter()
            .zip(super::grid::LUMINANCE)
            .map(|(v, l)| v * l)
            .sum(),
    }
}

/// Light at a patch's middle, one a channel.
fn patch_light(planes: &[Grid; 3], [x, y]: [f32; 2]) -> [f32; 3] {
    std::array::from_fn(|c| planes[c].at(x, y).unwrap_or(0.0))
}

/// Spread of the channels over their greatest.
fn colourfulness(rgb: [f32; 3]) -> f32 {
    let most = rgb.iter().copied().fold(1e-6, f32::max);
    (most - rgb.iter().copied().fold(f32::INFINITY, f32::min)) / most
}
