//! A shaped body as pixels.

use super::blobs::Mask;
use super::body::Body;
use super::runs::{Run, groups, runs};

/// Pixels of one body: its box in the picture, and for each pixel the station of the axis it belongs to.
#[derive(Debug, Clone)]
pub struct Pixels {
    /// x, y of the box's first pixel.
    pub origin: [i32; 2],
    /// Width of the box.
    pub width: usize,
    /// Height of the box.
    pub height: usize,
    /// Station counted from the head, 1-based, for body pixels; 0 elsewhere.
    pub station: Vec<u16>,
    /// Count of stations.
    pub stations: usize,
}

/// The body's pixels after `map` takes its fine positions to the wanted picture, clipped to `width` x `height`.
pub fn rasterise(
    body: &Body,
    map: &dyn Fn([f32; 2]) -> [f32; 2],
    width: usize,
    height: usize,
) -> Pixels {
    let edges: Vec<[[f32; 2]; 2]> = (0..body.left.len())
        .map(|k| body.edges(k).map(map))
        .collect();
    let all = || edges.iter().flatten();
    let low = |c: usize, size: usize| {
        all()
            .map(|p| p[c])
            .fold(f32::INFINITY, f32::min)
            .floor()
            .clamp(0.0, size as f32 - 1.0) as i32
    };
    let high = |c: usize, size: usize| {
        all()
            .map(|p| p[c])
            .fold(f32::NEG_INFINITY, f32::max)
            .ceil()
            .clamp(0.0, size as f32 - 1.0) as i32
    };
    let (x0, y0) = (low(0, width), low(1, height));
    let (x1, y1) = (high(0, width), high(1, height));
    let mut out = Pixels {
        origin: [x0, y0],
        width: (x1 - x0 + 1) as usize,
        height: (y1 - y0 + 1) as usize,
        station: Vec::new(),
        stations: edges.len(),
    };
    out.station = vec![0; out.width * out.height];
    for (k, pair) in edges.windows(2).enumerate() {
        fill_quad(
            &mut out,
            [pair[0][0], pair[0][1], pair[1][1], pair[1][0]],
            (k + 1) as u16,
        );
    }
    out
}

/// Sets the pixels whose centre lies in the quadrilateral (even-odd rule), row by row, edges included.
fn fill_quad(out: &mut Pixels, quad: [[f32; 2]; 4], value: u16) {
    let ys = quad.map(|p| p[1]);
    let top = ceiling(ys.iter().copied().fold(f32::INFINITY, f32::min));
    let bottom = floor(ys.iter().copied().fold(f32::NEG_INFINITY, f32::max));
    for y in top.max(out.origin[1])..=bottom.min(out.origin[1] + out.height as i32 - 1) {
        let row = (y - out.origin[1]) as usize * out.width;
        let row = &mut out.station[row..row + out.width];
        for [from, to] in spans(&quad, y as f32).into_iter().flatten() {
            let left = out.origin[0];
            let from = ceiling(from - 1e-3).max(left);
            let to = floor(to + 1e-3).min(left + out.width as i32 - 1);
            if from <= to {
                row[(from - left) as usize..=(to - left) as usize].fill(value);
            }
        }
    }
}

/// Smallest whole number that is not below `v`, without a call.
fn ceiling(v: f32) -> i32 {
    let whole = v as i32;
    whole.saturating_add(i32::from((whole as f32) < v))
}

/// Largest whole number that is not above `v`, without a call.
fn floor(v: f32) -> i32 {
    let whole = v as i32;
    whole.saturating_sub(i32::from((whole as f32) > v))
}

/// Where the row at `y` lies within the quadrilateral: from and to, at most twice.
fn spans(quad: &[[f32; 2]; 4], y: f32) -> [Option<[f32; 2]>; 2] {
    let (mut cuts, mut count) = ([0.0; 4], 0);
    for k in 0..4 {
        let (p, q) = (quad[k], quad[(k + 1) % 4]);
        if (p[1] <= y) != (q[1] <= y) {
            cuts[count] = p[0] + (y - p[1]) / (q[1] - p[1]) * (q[0] - p[0]);
            count += 1;
        }
    }
    // A closed outline is cut an even number of times, mostly twice.
    let [a, b, ..] = cuts;
    if count == 2 && a.total_cmp(&b).is_le() {
        return [Some([a, b]), None];
    }
    cuts[..count].sort_unstable_by(f32::total_cmp);
    let [a, b, c, d] = cuts;
    [(count > 0).then_some([a, b]), (count > 2).then_some([c, d])]
}

impl Pixels {
    /// Station (1-based) at (x, y), 0 when not of the body.
    pub fn at(&self, x: i32, y: i32) -> u16 {
        let (i, j) = (x - self.origin[0], y - self.origin[1]);
        if i < 0 || j < 0 || i as usize >= self.width || j as usize >= self.height {
            return 0;
        }
        self.station[j as usize * self.width + i as usize]
    }

    /// Body pixels as (x, y, station).
    pub fn iter(&self) -> impl Iterator<Item = (i32, i32, u16)> + '_ {
        let [left, top] = self.origin;
        let rows = self.station.chunks_exact(self.width).zip(top..);
        rows.flat_map(move |(row, y)| {
            let pixels = row.iter().zip(left..).filter(|(s, _)| **s > 0);
            pixels.map(move |(s, x)| (x, y, *s))
        })
    }

    /// Count of pixels that are both of this body and of another.
    pub fn in_common(&self, other: &Pixels) -> usize {
        let span = |c: usize, one: usize, two: usize| {
            let from = self.origin[c].max(other.origin[c]);
            let to = (self.origin[c] + one as i32).min(other.origin[c] + two as i32);
            from..to.max(from)
        };
        let across = span(0, self.width, other.width);
        let part = |p: &Pixels, y: i32| {
            let from = (y - p.origin[1]) as usize * p.width + (across.start - p.origin[0]) as usize;
            from..from + across.len()
        };
        span(1, self.height, other.height)
            .map(|y| {
                let rows = self.station[part(self, y)].iter();
                let pairs = rows.zip(&other.station[part(other, y)]);
                pairs.filter(|(a, b)| **a > 0 && **b > 0).count()
            })
            .sum()
    }

    /// Count of body pixels.
    pub fn area(&self) -> usize {
        self.station.iter().filter(|s| **s > 0).count()
    }

    /// Removes the pixels for which `taken` holds, then all but the largest connected part.
    pub fn without(&mut self, taken: &dyn Fn(i32, i32) -> bool) {
        for run in self.runs() {
            for x in run.from..run.to {
                if taken(x as i32 + self.origin[0], run.y as i32 + self.origin[1]) {
                    self.station[run.y * self.width + x] = 0;
                }
            }
        }
        self.keep_largest();
    }

    /// Removes all but the largest 8-connected part.
    pub fn keep_largest(&mut self) {
        let parts = groups(&self.runs(), true);
        let area = |part: &&Vec<Run>| part.iter().map(Run::count).sum::<usize>();
        let largest = parts
            .iter()
            .max_by_key(area)
            .and_then(|part| part.first())
            .copied();
        for run in parts
            .iter()
            .filter(|part| part.first().copied() != largest)
            .flatten()
        {
            self.station[run.y * self.width + run.from..run.y * self.width + run.to].fill(0);
        }
    }

    /// Runs of body pixels, counted from the box's first pixel.
    pub fn runs(&self) -> Vec<Run> {
        runs(&self.station, self.width, |s| s > 0)
    }

    /// The pixels as a mask of the box.
    pub fn mask(&self) -> Mask {
        let bits = self.station.iter().map(|&s| u8::from(s > 0)).collect();
        Mask {
            width: self.width,
            height: self.height,
            bits,
        }
    }
}
