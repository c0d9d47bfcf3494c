//! Opacity as a picture over the body's box: noise smoothed away, thin dark structures taken out.

use crate::animals::raster::Pixels;

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
    for row in values.chunks_exact_mut(width) {
        let mut before = 0.0;
        for x in 0..width {
            let here = row[x];
            let after = if x + 1 < width { row[x + 1] } else { 0.0 };
            row[x] = 0.25 * before + 0.5 * here + 0.25 * after;
            before = here;
        }
    }
    let mut before = vec![0.0f32; width];
    for y in 0..height {
        for (x, before) in before.iter_mut().enumerate() {
            let i = y * width + x;
            let here = values[i];
            let after = if y + 1 < height {
                values[i + width]
            } else {
                0.0
            };
            values[i] = 0.25 * *before + 0.5 * here + 0.25 * after;
            *before = here;
        }
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
    let take = |out: &mut [f32], from: &[f32]| {
        for (o, s) in out.iter_mut().zip(from) {
            *o = pick(*o, *s);
        }
    };
    let source = values.to_vec();
    for (out, row) in values
        .chunks_exact_mut(width)
        .zip(source.chunks_exact(width))
    {
        for k in 1..=radius.min(width - 1) {
            take(out, &row[k..]);
            take(&mut out[k..], row);
        }
    }
    let source = values.to_vec();
    for y in 0..height {
        let (from, to) = (y.saturating_sub(radius), (y + radius).min(height - 1));
        let out = &mut values[y * width..(y + 1) * width];
        for k in from..=to {
            take(out, &source[k * width..(k + 1) * width]);
        }
    }
}

fn smaller(p: f32, q: f32) -> f32 {
    if q < p { q } else { p }
}

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
    fn opening_takes_a_thin_line_and_leaves_a_broad_patch() {
        let value = |x: usize, y: usize| if y == 4 || x >= 12 { 0.9 } else { 0.1 };
        let mut sheet = Sheet::new(&body(20, 11), (0..220).map(|i| value(i % 20, i / 20)));
        sheet.open(2);
        let out: Vec<f64> = sheet.values().collect();
        assert!(out[4 * 20 + 3] < 0.2 && out[4 * 20 + 15] > 0.8);
    }
}
