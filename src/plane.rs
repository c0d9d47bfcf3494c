//! One-channel pictures of `f32` and the neighbourhood operations the finding is built on.
//!
//! All operations keep the size and treat the border by leaving out what lies outside the picture.
//! Results do not depend on the number of threads: each output row is computed by one thread in a fixed order.

mod places;

pub use places::Places;

use crate::lanes::widest;
use rayon::prelude::*;

/// A `width` x `height` grid of numbers, row by row from the top left.
#[derive(Debug, Clone, PartialEq)]
pub struct Plane {
    /// Width in pixels.
    pub width: usize,
    /// Height in pixels.
    pub height: usize,
    /// `width * height` values.
    pub values: Vec<f32>,
}

/// Values that one task of a pass over single values takes.
const CHUNK: usize = 1 << 15;
/// Rows that one task of a pass over rows takes.
const ROWS: usize = 32;

impl Plane {
    /// A plane filled with one value.
    pub fn filled(width: usize, height: usize, value: f32) -> Self {
        Self {
            width,
            height,
            values: vec![value; width * height],
        }
    }

    /// The part in these columns and rows, which lie within the plane.
    pub fn cut(&self, across: std::ops::Range<usize>, down: std::ops::Range<usize>) -> Plane {
        let (width, height) = (across.len(), down.len());
        let rows = down.map(|y| &self.values[y * self.width..][across.clone()]);
        Plane {
            width,
            height,
            values: rows.collect::<Vec<_>>().concat(),
        }
    }

    /// The value at (x, y), the nearest border value outside.
    pub fn at_clamped(&self, x: i32, y: i32) -> f32 {
        let x = x.clamp(0, self.width as i32 - 1) as usize;
        let y = y.clamp(0, self.height as i32 - 1) as usize;
        self.values[y * self.width + x]
    }

    /// Bilinear value at a fractional position (pixel centres at whole numbers), nearest border value outside.
    #[inline]
    pub fn sample(&self, x: f32, y: f32) -> f32 {
        let [value] = Self::sample_all([self], x, y);
        value
    }

    /// [`Plane::sample`] of several planes of one size.
    #[inline]
    pub fn sample_all<const N: usize>(planes: [&Plane; N], x: f32, y: f32) -> [f32; N] {
        let (w, h) = (planes[0].width, planes[0].height);
        let x = x.clamp(0.0, (w - 1) as f32);
        let y = y.clamp(0.0, (h - 1) as f32);
        // By way of 32 bits: machines convert to these in one step.
        let (x0, y0) = (x as i32 as usize, y as i32 as usize);
        let right = usize::from(x0 + 1 < w);
        let (top, bottom) = (y0 * w + x0, (y0 + 1).min(h - 1) * w + x0);
        let (fx, fy) = (x - x0 as i32 as f32, y - y0 as i32 as f32);
        planes.map(|plane| {
            let row = |i: usize| {
                let pair = &plane.values[i..=i + right];
                let (p, q) = (pair[0], pair[right]);
                p + (q - p) * fx
            };
            let (top, bottom) = (row(top), row(bottom));
            top + (bottom - top) * fy
        })
    }

    /// Each value mapped by `f`.
    pub fn map(&self, f: impl Fn(f32) -> f32 + Sync) -> Plane {
        self.clone().mapped(f)
    }

    /// [`Plane::map`] in the plane's own memory.
    pub fn mapped(mut self, f: impl Fn(f32) -> f32 + Sync) -> Plane {
        self.values
            .par_chunks_mut(CHUNK)
            .for_each(|part| widest((part, &f), change));
        self
    }

    /// Two planes of one size combined value by value.
    pub fn zip(&self, other: &Plane, f: impl Fn(f32, f32) -> f32 + Sync) -> Plane {
        self.clone().zipped(other, f)
    }

    /// [`Plane::zip`] in the plane's own memory.
    pub fn zipped(mut self, other: &Plane, f: impl Fn(f32, f32) -> f32 + Sync) -> Plane {
        self.values
            .par_chunks_mut(CHUNK)
            .zip(other.values.par_chunks(CHUNK))
            .for_each(|(out, part)| widest((out, part, &f), combine));
        self
    }

    /// Mean over the (2r+1) x (2r+1) square around each pixel.
    pub fn box_mean(&self, r: usize) -> Plane {
        if r == 0 {
            return self.clone();
        }
        self.row_mean(r).column_mean(r)
    }

    /// Two passes of [`Plane::box_mean`]: close to a Gaussian of standard deviation about 0.82 r.
    pub fn smooth(&self, r: usize) -> Plane {
        self.box_mean(r).box_mean(r)
    }

    fn row_mean(&self, r: usize) -> Plane {
        let mut out = Plane::filled(self.width, self.height, 0.0);
        let w = self.width;
        out.values
            .par_chunks_mut(w * ROWS)
            .zip(self.values.par_chunks(w * ROWS))
            .for_each(|(out, rows)| {
                let mut sums = vec![0.0f64; w + 1];
                for (o, row) in out.chunks_mut(w).zip(rows.chunks(w)) {
                    running_mean(row, r, &mut sums, o);
                }
            });
        out
    }

    fn column_mean(&self, r: usize) -> Plane {
        let (w, h) = (self.width, self.height);
        let mut out = Plane::filled(w, h, 0.0);
        // Bands of rows: each starts its column sums anew, so that rounding does not depend on the thread count.
        let band = 64;
        out.values
            .par_chunks_mut(w * band)
            .enumerate()
            .for_each(|(b, chunk)| {
                let first = b * band;
                let mut sums = vec![0.0f32; w];
                let (mut top, mut bottom) = (first.saturating_sub(r), first.saturating_sub(r));
                for (k, o) in chunk.chunks_mut(w).enumerate() {
                    let y = first + k;
                    while bottom < (y + r + 1).min(h) {
                        add_row(&mut sums, &self.values[bottom * w..(bottom + 1) * w], 1.0);
                        bottom += 1;
                    }
                    while top < y.saturating_sub(r) {
                        add_row(&mut sums, &self.values[top * w..(top + 1) * w], -1.0);
                        top += 1;
                    }
                    let scale = 1.0 / (bottom - top) as f32;
                    widest((o, &sums[..], &|_, s| s * scale), combine);
                }
            });
        out
    }

    /// Largest value over the (2r+1) x (2r+1) square around each pixel.
    pub fn box_max(&self, r: usize) -> Plane {
        self.clone().take_box_max(r)
    }

    fn take_box_max(mut self, r: usize) -> Plane {
        for (dx, dy) in [(1, 0), (-1, 0), (0, 1), (0, -1)] {
            self.take_reach_max(dx, dy, r);
        }
        self
    }

    /// Smallest value over the (2r+1) x (2r+1) square around each pixel.
    pub fn box_min(&self, r: usize) -> Plane {
        self.map(|v| -v).take_box_max(r).mapped(|v| -v)
    }

    /// Grey opening with the square: bright spots narrower than 2r+1 vanish.
    pub fn open(&self, r: usize) -> Plane {
        self.box_min(r).take_box_max(r)
    }

    /// Largest value on the ray from each pixel over `reach` steps in direction (dx, dy), the pixel itself included.
    pub fn reach_max(&self, dx: i32, dy: i32, reach: usize) -> Plane {
        let mut out = self.clone();
        out.take_reach_max(dx, dy, reach);
        out
    }

    fn take_reach_max(&mut self, dx: i32, dy: i32, reach: usize) {
        let mut covered = 0usize; // the largest over steps 0..=covered
        while covered < reach {
            let step = (covered + 1).min(reach - covered);
            self.take_shifted(dx * step as i32, dy * step as i32);
            covered += step;
        }
    }

    /// Value by value the larger of this plane and this plane read (dx, dy) further on.
    fn take_shifted(&mut self, dx: i32, dy: i32) {
        let (w, h) = (self.width, self.height);
        let (right, down) = (dx.unsigned_abs() as usize, dy.unsigned_abs() as usize);
        if right >= w || down >= h {
            return;
        }
        // Columns written, and the same as they are read.
        let (to, from) = if dx >= 0 {
            (0..w - right, right..w)
        } else {
            (right..w, 0..w - right)
        };
        if dy == 0 {
            self.values.par_chunks_mut(w * ROWS).for_each(|rows| {
                let mut read = vec![0.0; w - right];
                for row in rows.chunks_mut(w) {
                    read.copy_from_slice(&row[from.clone()]);
                    take_larger(&mut row[to.clone()], &read);
                }
            });
            return;
        }
        // Rows in such an order that each is read before it is written.
        for k in 0..h - down {
            if dy > 0 {
                let (upper, lower) = self.values.split_at_mut((k + down) * w);
                take_larger(&mut upper[k * w..][to.clone()], &lower[..w][from.clone()]);
            } else {
                let y = h - 1 - k;
                let (upper, lower) = self.values.split_at_mut(y * w);
                take_larger(
                    &mut lower[..w][to.clone()],
                    &upper[(y - down) * w..][from.clone()],
                );
            }
        }
    }

    /// Largest value over the disc of radius r around each pixel.
    pub fn disc_max(&self, r: usize) -> Plane {
        let (w, h) = (self.width, self.height);
        let widths: Vec<usize> = (0..=r)
            .map(|dy| (((r * r - dy * dy) as f32 + r as f32).sqrt() as usize).min(r))
            .collect();
        let rows: Vec<Plane> = widths
            .iter()
            .map(|&hw| self.reach_max(1, 0, hw).reach_max(-1, 0, hw))
            .collect();
        let mut out = rows[0].clone();
        out.values.par_chunks_mut(w).enumerate().for_each(|(y, o)| {
            for (dy, plane) in rows.iter().enumerate().skip(1) {
                for from in [y.checked_sub(dy), Some(y + dy)]
                    .into_iter()
                    .flatten()
                    .filter(|&f| f < h)
                {
                    take_larger(o, &plane.values[from * w..(from + 1) * w]);
                }
            }
        });
        out
    }

    /// Smallest value over the disc of radius r around each pixel.
    pub fn disc_min(&self, r: usize) -> Plane {
        self.map(|v| -v).disc_max(r).mapped(|v| -v)
    }

    /// Median over the 3 x 3 square around each pixel.
    pub fn median3(&self) -> Plane {
        let mut out = self.clone();
        let w = self.width;
        out.values
            .par_chunks_mut(w)
            .enumerate()
            .for_each(|(y, row)| {
                for (x, o) in row.iter_mut().enumerate() {
                    let mut v: [f32; 9] = std::array::from_fn(|k| {
                        self.at_clamped(x as i32 + k as i32 % 3 - 1, y as i32 + k as i32 / 3 - 1)
                    });
                    v.sort_by(f32::total_cmp);
                    *o = v[4];
                }
            });
        out
    }

    /// Mean over blocks of `step` x `step`; partial blocks at the far edges are averaged over what is there.
    pub fn reduced(&self, step: usize) -> Plane {
        Self::reduced_from(&self.values, self.width, step)
    }

    /// [`Plane::reduced`] of rows of `width` values.
    pub fn reduced_from(values: &[f32], width: usize, step: usize) -> Plane {
        let height = values.len() / width;
        let (w, h) = (width.div_ceil(step), height.div_ceil(step));
        let mut out = Plane::filled(w, h, 0.0);
        let last = width - (w - 1) * step;
        out.values
            .par_chunks_mut(w * ROWS)
            .zip(values.par_chunks(width * step * ROWS))
            .for_each(|(out, rows)| {
                for (out, rows) in out.chunks_mut(w).zip(rows.chunks(width * step)) {
                    for row in rows.chunks(width) {
                        add_blocks(row, step, out);
                    }
                    let scale = |columns: usize| (rows.len() / width * columns) as f32;
                    let (end, inner) = out
                        .split_last_mut()
                        .expect("a plane is at least one pixel wide");
                    inner.iter_mut().for_each(|o| *o /= scale(step));
                    *end /= scale(last);
                }
            });
        out
    }

    /// Bilinear enlargement of a plane made by [`Plane::reduced`] with this `step`, to the given size.
    pub fn enlarged(&self, step: usize, width: usize, height: usize) -> Plane {
        let mut out = Plane::filled(width, height, 0.0);
        let enlarging = Enlarging::new(self.width, self.height, step, width);
        out.values
            .par_chunks_mut(width * ROWS)
            .enumerate()
            .for_each(|(part, rows)| {
                let mut mixed = Vec::new();
                for (k, row) in rows.chunks_mut(width).enumerate() {
                    enlarging.row(self, part * ROWS + k, &mut mixed, row);
                }
            });
        out
    }
}

/// Each value changed by the function.
#[inline(always)]
fn change<F: Fn(f32) -> f32>((values, f): (&mut [f32], &F)) {
    values.iter_mut().for_each(|v| *v = f(*v));
}

/// Each value changed by the function of it and of the other at its place.
#[inline(always)]
fn combine<F: Fn(f32, f32) -> f32>((values, others, f): (&mut [f32], &[f32], &F)) {
    for (v, &o) in values.iter_mut().zip(others) {
        *v = f(*v, o);
    }
}

/// Bilinear enlargement row by row.
#[derive(Debug)]
pub struct Enlarging {
    step: usize,
    height: usize,
    /// How far each column is from its left to its right column of the plane.
    shares: Vec<f32>,
    /// First column of the plane to the left, and how many columns lie behind it before the next.
    stretches: Vec<(usize, usize)>,
}

impl Enlarging {
    /// Of planes of this size, made by [`Plane::reduced`] with this `step`, to rows of `wide` pixels.
    pub fn new(width: usize, height: usize, step: usize, wide: usize) -> Self {
        let mut stretches: Vec<(usize, usize)> = Vec::new();
        let mut shares = Vec::with_capacity(wide);
        for x in 0..wide {
            let (first, share) = Self::between(x, step, width);
            shares.push(share);
            match stretches.last_mut() {
                Some(last) if last.0 == first => last.1 += 1,
                _ => stretches.push((first, 1)),
            }
        }
        Self {
            step,
            height,
            shares,
            stretches,
        }
    }

    /// The values at column `x`, row `y` of planes of one size enlarged `step` times.
    pub fn values<const N: usize>(
        planes: [&Plane; N],
        step: usize,
        x: usize,
        y: usize,
    ) -> [f32; N] {
        let (width, height) = (planes[0].width, planes[0].height);
        let (x0, fx) = Self::between(x, step, width);
        let (y0, fy) = Self::between(y, step, height);
        let (x1, y1) = ((x0 + 1).min(width - 1), (y0 + 1).min(height - 1));
        planes.map(|plane| {
            let at = |x: usize, y: usize| plane.values[y * width + x];
            let mixed = |x: usize| at(x, y0) + (at(x, y1) - at(x, y0)) * fy;
            mixed(x0) + (mixed(x1) - mixed(x0)) * fx
        })
    }

    /// The pixel of a row of `count` before the `i`-th of the enlarged one, and how far that is to the next.
    fn between(i: usize, step: usize, count: usize) -> (usize, f32) {
        let c = ((i as f32 + 0.5) / step as f32 - 0.5).max(0.0);
        // By way of 32 bits: machines convert to these in one step.
        let first = (c as i32 as usize).min(count - 1);
        (first, (c - first as f32).min(1.0))
    }

    /// Row `y` of the enlarged plane; `mixed` is room for one row of the plane.
    pub fn row(&self, plane: &Plane, y: usize, mixed: &mut Vec<f32>, out: &mut [f32]) {
        let (y0, fy) = Self::between(y, self.step, self.height);
        let y1 = (y0 + 1).min(self.height - 1);
        let w = plane.width;
        let pairs = plane.values[y0 * w..(y0 + 1) * w]
            .iter()
            .zip(&plane.values[y1 * w..(y1 + 1) * w]);
        mixed.clear();
        mixed.extend(pairs.map(|(a, b)| a + (b - a) * fy));
        let (mut out, mut shares) = (out, self.shares.as_slice());
        for &(first, count) in &self.stretches {
            let (left, right) = (mixed[first], mixed[(first + 1).min(w - 1)]);
            let (part, rest) = std::mem::take(&mut out).split_at_mut(count);
            for (o, share) in part.iter_mut().zip(shares) {
                *o = left + (right - left) * share;
            }
            (out, shares) = (rest, &shares[count..]);
        }
    }
}

/// Adds the sums of `step` values side by side.
fn add_blocks(row: &[f32], step: usize, out: &mut [f32]) {
    match step {
        2 => add_blocks_of::<2>(row, out),
        3 => add_blocks_of::<3>(row, out),
        4 => add_blocks_of::<4>(row, out),
        _ => out
            .iter_mut()
            .zip(row.chunks(step))
            .for_each(|(o, block)| *o += block.iter().sum::<f32>()),
    }
}

fn add_blocks_of<const STEP: usize>(row: &[f32], out: &mut [f32]) {
    let (blocks, rest) = row.as_chunks::<STEP>();
    for (o, block) in out.iter_mut().zip(blocks) {
        *o += block.iter().sum::<f32>();
    }
    if let Some(o) = out.get_mut(blocks.len()) {
        *o += rest.iter().sum::<f32>();
    }
}

fn take_larger(values: &mut [f32], others: &[f32]) {
    widest((values, others, &|v, o| if o > v { o } else { v }), combine);
}

fn add_row(sums: &mut [f32], row: &[f32], sign: f32) {
    widest((sums, row, &|s, v| s + sign * v), combine);
}

/// Means over `r` values to either side; `sums` is room for one value more than the row has.
fn running_mean(row: &[f32], r: usize, sums: &mut [f64], out: &mut [f32]) {
    let n = row.len();
    let mut sum = 0.0f64;
    for (s, v) in sums[1..].iter_mut().zip(row) {
        sum += f64::from(*v);
        *s = sum;
    }
    let inner = r.min(n)..n.saturating_sub(r).max(r.min(n));
    let scale = 1.0 / (2 * r + 1) as f64;
    let pairs = sums.iter().zip(sums.get(2 * r + 1..).unwrap_or_default());
    for (o, (before, after)) in out[inner.clone()].iter_mut().zip(pairs) {
        *o = ((after - before) * scale) as f32;
    }
    for x in (0..inner.start).chain(inner.end..n) {
        let (first, last) = (x.saturating_sub(r), (x + r + 1).min(n));
        out[x] = ((sums[last] - sums[first]) / (last - first) as f64) as f32;
    }
}

#[cfg(test)]
mod tests;
