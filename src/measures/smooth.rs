//! Opacity as a picture over the body's box: noise smoothed away, thin dark structures taken out.

use crate::animals::raster::Pixels;
use crate::lanes::widest;

/// Opacity over the box of a body, with a weight of 1 inside the body and 0 outside.
#[derive(Debug, Clone)]
pub struct Sheet {
    width: usize,
    height: usize,
    values: Vec<f32>,
    inside: Vec<f32>,
}

impl Sheet {
    /// A sheet of the body's pixels, `values` in their order.
    pub fn new(pixels: &Pixels, values: impl Iterator<Item = f64>) -> Self {
        let inside: Vec<f32> = pixels
            .station
            .iter()
            .map(|s| if *s > 0 { 1.0 } else { 0.0 })
            .collect();
        let mut sheet = Self {
            width: pixels.width,
            height: pixels.height,
            values: vec![0.0; inside.len()],
            inside,
        };
        let places = sheet
            .inside
            .iter()
            .enumerate()
            .filter(|(_, v)| **v > 0.0)
            .map(|(i, _)| i);
        for (i, v) in places.collect::<Vec<_>>().into_iter().zip(values) {
            sheet.values[i] = v as f32;
        }
        sheet
    }

    /// The values of the body's pixels, in order.
    pub fn values(&self) -> impl Iterator<Item = f64> + '_ {
        self.values
            .iter()
            .zip(&self.inside)
            .filter(|(_, w)| **w > 0.0)
            .map(|(v, _)| f64::from(*v))
    }

    /// Smooths with a binomial kernel `passes` times (variance half a pixel each), only pixels of the body counting.
    pub fn smooth(&mut self, passes: usize) {
        let mut weights = self.inside.clone();
        for _ in 0..passes {
            binomial(&mut self.values, self.width, self.height);
            binomial(&mut weights, self.width, self.height);
        }
        for ((v, w), inside) in self.values.iter_mut().zip(&weights).zip(&self.inside) {
            *v = if *inside > 0.0 { *v / w.max(1e-6) } else { 0.0 };
        }
    }

    /// Gives the outermost `layers` of body pixels the mean of their neighbours further in: there the lens mixes in the ground,
    /// and an outline that runs a little wide takes in ground. Parts too thin to have an inside keep their values.
    pub fn carry_outward(&mut self, layers: usize) {
        let depth = self.depths(layers);
        for layer in (1..=layers as u8).rev() {
            for i in (0..depth.len()).filter(|&i| depth[i] == layer) {
                let (mut sum, mut count) = (0.0, 0);
                for k in self.around(i).filter(|&k| depth[k] > layer) {
                    sum += self.values[k];
                    count += 1;
                }
                if count > 0 {
                    self.values[i] = sum / count as f32;
                }
            }
        }
    }

    /// For body pixels the layer from outside (1 = outermost), `layers + 1` further in; 0 beyond the body.
    fn depths(&self, layers: usize) -> Vec<u8> {
        let deepest = layers as u8 + 1;
        let mut depth: Vec<u8> = self
            .inside
            .iter()
            .map(|w| if *w > 0.0 { deepest } else { 0 })
            .collect();
        for layer in 1..deepest {
            let before = depth.clone();
            for (i, d) in depth.iter_mut().enumerate().filter(|(_, d)| **d == deepest) {
                let open = self
                    .beside(i)
                    .into_iter()
                    .any(|k| k.is_none_or(|k| before[k] < deepest));
                if open {
                    *d = layer;
                }
            }
        }
        depth
    }

    /// The four direct neighbours; `None` beyond the box.
    fn beside(&self, i: usize) -> [Option<usize>; 4] {
        let x = i % self.width;
        [
            (x > 0).then(|| i - 1),
            (x + 1 < self.width).then(|| i + 1),
            i.checked_sub(self.width),
            Some(i + self.width).filter(|&k| k < self.inside.len()),
        ]
    }

    /// The eight neighbours within the box.
    fn around(&self, i: usize) -> impl Iterator<Item = usize> + '_ {
        let (x, y) = (i % self.width, i / self.width);
        let columns = x.saturating_sub(1)..=(x + 1).min(self.width - 1);
        let rows = y.saturating_sub(1)..=(y + 1).min(self.height - 1);
        rows.flat_map(move |r| columns.clone().map(move |c| r * self.width + c))
            .filter(move |&k| k != i)
    }

    /// Takes out whatever stands above its surroundings and is narrower than `2 radius + 1` pixels
    /// (grey opening with a square; beyond the body counts as high, so that rims stay).
    pub fn open(&mut self, radius: usize) {
        if self.values.iter().all(|v| *v <= 0.0) {
            return;
        }
        let mut out: Vec<f32> = self
            .values
            .iter()
            .zip(&self.inside)
            .map(|(v, w)| if *w > 0.0 { *v } else { f32::INFINITY })
            .collect();
        sweep(&mut out, self.width, self.height, radius, smaller);
        sweep(&mut out, self.width, self.height, radius, larger);
        for ((v, o), w) in self.values.iter_mut().zip(&out).zip(&self.inside) {
            if *w > 0.0 {
                *v = v.min(*o);
            }
        }
    }
}

/// One pass of 1-2-1 along both axes; beyond the box is nothing.
fn binomial(values: &mut [f32], width: usize, height: usize) {
    let mut before = vec![0.0f32; width];
    for row in values.chunks_exact_mut(width) {
        before.copy_from_slice(row);
        widest((row, &before[..]), binomial_row);
    }
    before.fill(0.0);
    for y in 0..height {
        let (here, below) = values[y * width..].split_at_mut(width);
        let below = below.get(..width).unwrap_or_default();
        widest((&mut before[..], here, below), binomial_down);
    }
}

/// Values of a row mixed with those to either side in `from`, the row as it was.
#[inline(always)]
fn binomial_row((row, from): (&mut [f32], &[f32])) {
    let last = row.len() - 1;
    let mixed = |before: f32, here: f32, after: f32| 0.25 * before + 0.5 * here + 0.25 * after;
    for (o, near) in row[1..].iter_mut().zip(from.windows(3)) {
        *o = mixed(near[0], near[1], near[2]);
    }
    row[0] = mixed(0.0, from[0], from.get(1).copied().unwrap_or(0.0));
    if last > 0 {
        row[last] = mixed(from[last - 1], from[last], 0.0);
    }
}

/// Values of a row mixed with those above, which `before` keeps as they were, and below; nothing is below the last row.
#[inline(always)]
fn binomial_down((before, row, below): (&mut [f32], &mut [f32], &[f32])) {
    if below.is_empty() {
        for (v, before) in row.iter_mut().zip(before) {
            *v = 0.25 * *before + 0.5 * *v + 0.0;
        }
        return;
    }
    for ((v, before), after) in row.iter_mut().zip(before).zip(below) {
        let here = *v;
        *v = 0.25 * *before + 0.5 * here + 0.25 * after;
        *before = here;
    }
}

/// Running extreme over a square of half-width `radius`, rows then columns: `pick` is the smaller or the larger of two.
fn sweep(
    values: &mut [f32],
    width: usize,
    height: usize,
    radius: usize,
    pick: impl Fn(f32, f32) -> f32,
) {
    let source = values.to_vec();
    for (out, row) in values
        .chunks_exact_mut(width)
        .zip(source.chunks_exact(width))
    {
        for k in 1..=radius.min(width - 1) {
            widest((&mut *out, &row[k..], &pick), take);
            widest((&mut out[k..], row, &pick), take);
        }
    }
    let source = values.to_vec();
    for y in 0..height {
        let (from, to) = (y.saturating_sub(radius), (y + radius).min(height - 1));
        let out = &mut values[y * width..(y + 1) * width];
        for k in from..=to {
            widest(
                (&mut *out, &source[k * width..(k + 1) * width], &pick),
                take,
            );
        }
    }
}

/// Each value picked from it and the other at its place.
#[inline(always)]
fn take((out, from, pick): (&mut [f32], &[f32], &impl Fn(f32, f32) -> f32)) {
    for (o, s) in out.iter_mut().zip(from) {
        *o = pick(*o, *s);
    }
}

#[inline(always)]
fn smaller(p: f32, q: f32) -> f32 {
    if q < p { q } else { p }
}

#[inline(always)]
fn larger(p: f32, q: f32) -> f32 {
    if q > p { q } else { p }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn body(width: usize, height: usize) -> Pixels {
        Pixels {
            origin: [0, 0],
            width,
            height,
            station: vec![1; width * height],
            stations: 1,
        }
    }

    #[test]
    fn smoothing_keeps_an_even_sheet_and_the_mean() {
        let mut sheet = Sheet::new(&body(9, 7), std::iter::repeat(0.6));
        sheet.smooth(3);
        assert!(sheet.values().all(|v| (v - 0.6).abs() < 1e-5));
    }

    #[test]
    fn the_rim_takes_what_lies_further_in() {
        // A body of 12 x 9 with a rim of one pixel that looks clear around a covered inside.
        let rim = |i: usize| [0, 11].contains(&(i % 12)) || [0, 8].contains(&(i / 12));
        let mut sheet = Sheet::new(
            &body(12, 9),
            (0..108).map(|i| if rim(i) { 0.0 } else { 0.8 }),
        );
        sheet.carry_outward(1);
        assert!(sheet.values().all(|v| (v - 0.8).abs() < 1e-6));
        let mut thin = Sheet::new(&body(12, 1), (0..12).map(|i| i as f64 / 11.0));
        thin.carry_outward(2);
        assert!(
            thin.values()
                .zip(0..12)
                .all(|(v, i)| (v - f64::from(i) / 11.0).abs() < 1e-6)
        );
    }

    #[test]
    fn opening_takes_a_thin_line_and_leaves_a_broad_patch() {
        let value = |x: usize, y: usize| if y == 4 || x >= 12 { 0.9 } else { 0.1 };
        let mut sheet = Sheet::new(&body(20, 11), (0..220).map(|i| value(i % 20, i / 20)));
        sheet.open(2);
        let out: Vec<f64> = sheet.values().collect();
        assert!(out[4 * 20 + 3] < 0.2 && out[4 * 20 + 15] > 0.8);
    }
}
