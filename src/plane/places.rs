//! Bilinear values at many places at once.

use super::Plane;
use crate::lanes::widest;

/// `N` places between the pixels of planes of one size, none of them in the last column or row or outside.
#[derive(Debug)]
pub struct Places<const N: usize> {
    width: usize,
    /// Index of the pixel to the upper left.
    first: [u32; N],
    /// How far each place is from there to the next column and to the next row.
    shares: [[f32; N]; 2],
}

impl<const N: usize> Places<N> {
    /// The places (x, y) in planes of `width` x `height` pixels; `None` where one lies in the last column or row or outside:
    /// [`Plane::sample`] deals with those.
    pub fn new(x: &[f32; N], y: &[f32; N], width: usize, height: usize) -> Option<Self> {
        let mut out = Self {
            width,
            first: [0; N],
            shares: [[0.0; N]; 2],
        };
        widest((&mut out, x, y, height), locate).then_some(out)
    }

    /// The plane's values there, the same as of [`Plane::sample`].
    pub fn values(&self, plane: &Plane, out: &mut [f32]) {
        let lower_row = &plane.values[self.width..];
        let mut corners = [[0.0f32; N]; 4];
        let [upper, upper_next, lower, lower_next] = &mut corners;
        for (k, first) in self.first.iter().enumerate() {
            let at = *first as usize;
            let (pair, pair_below) = (&plane.values[at..at + 2], &lower_row[at..at + 2]);
            (upper[k], upper_next[k]) = (pair[0], pair[1]);
            (lower[k], lower_next[k]) = (pair_below[0], pair_below[1]);
        }
        widest((&self.shares, &corners, out), mix);
    }
}

/// Fills in the places; false where one is too far out.
#[inline(always)]
fn locate<const N: usize>(
    (out, x, y, height): (&mut Places<N>, &[f32; N], &[f32; N], usize),
) -> bool {
    let (right, bottom) = ((out.width - 1) as f32, (height - 1) as f32);
    let mut inside = true;
    for k in 0..N {
        inside &= (x[k] >= 0.0) & (x[k] < right) & (y[k] >= 0.0) & (y[k] < bottom);
    }
    if !inside {
        return false;
    }
    let width = out.width as i32;
    let [across, down] = &mut out.shares;
    for k in 0..N {
        let (column, row) = (x[k] as i32, y[k] as i32);
        out.first[k] = row.wrapping_mul(width).wrapping_add(column) as u32;
        (across[k], down[k]) = (x[k] - column as f32, y[k] - row as f32);
    }
    true
}

/// Values between four corners.
#[inline(always)]
fn mix<const N: usize>((shares, corners, out): (&[[f32; N]; 2], &[[f32; N]; 4], &mut [f32])) {
    let [across, down] = shares;
    let [upper, upper_next, lower, lower_next] = corners;
    for (k, o) in out.iter_mut().enumerate().take(N) {
        let top = upper[k] + (upper_next[k] - upper[k]) * across[k];
        let bottom = lower[k] + (lower_next[k] - lower[k]) * across[k];
        *o = top + (bottom - top) * down[k];
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn plane() -> Plane {
        Plane {
            width: 9,
            height: 7,
            values: (0..63u32).map(|i| (i * 37 % 64) as f32 / 7.0).collect(),
        }
    }

    #[test]
    fn values_are_those_of_single_samples() {
        let plane = plane();
        let x: [f32; 11] = std::array::from_fn(|k| 0.731 * k as f32);
        let y: [f32; 11] = std::array::from_fn(|k| 5.9 - 0.53 * k as f32);
        let places = Places::new(&x, &y, 9, 7).expect("all lie within");
        let mut out = [0.0; 11];
        places.values(&plane, &mut out);
        let single: [f32; 11] = std::array::from_fn(|k| plane.sample(x[k], y[k]));
        assert_eq!(out.map(f32::to_bits), single.map(f32::to_bits));
    }

    #[test]
    fn places_at_the_far_border_and_outside_are_refused() {
        for (x, y) in [
            (-0.1, 3.0),
            (8.0, 3.0),
            (4.0, -2.0),
            (4.0, 6.0),
            (f32::NAN, 1.0),
        ] {
            assert!(Places::new(&[2.0, x], &[2.0, y], 9, 7).is_none(), "{x} {y}");
        }
        assert!(Places::new(&[0.0, 7.99], &[0.0, 5.99], 9, 7).is_some());
    }
}
