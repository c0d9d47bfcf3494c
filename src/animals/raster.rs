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
    let top = ys.iter().copied().fold(f32::INFINITY, f32::min).ceil() as i32;
    let bottom = ys.iter().copied().fold(f32::NEG_INFINITY, f32::max).floor() as i32;
    for y in top.max(out.origin[1])..=bottom.min(out.origin[1] + out.height as i32 - 1) {
        let mut cuts: Vec<f32> = Vec::with_capacity(4);
        for k in 0..4 {
            let (p, q) = (quad[k], quad[(k + 1) % 4]);
            if (p[1] <= y as f32) != (q[1] <= y as f32) {
                cuts.push(p[0] + (y as f32 - p[1]) / (q[1] - p[1]) * (q[0] - p[0]));
            }
        }
        cuts.sort_by(f32::total_cmp);
        for span in cuts.chunks_exact(2) {
            let from = ((span[0] - 1e-3).ceil() as i32).max(out.origin[0]);
            let to = ((span[1] + 1e-3).floor() as i32).min(out.origin[0] + out.width as i32 - 1);
            for x in from..=to {
                out.station
                    [(y - out.origin[1]) as usize * out.width + (x - out.origin[0]) as usize] =
                    value;
            }
        }
    }
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
        self.station
            .iter()
            .enumerate()
            .filter(|(_, s)| **s > 0)
            .map(|(i, &s)| {
                (
                    (i % self.width) as i32 + self.origin[0],
                    (i / self.width) as i32 + self.origin[1],
                    s,
                )
            })
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
