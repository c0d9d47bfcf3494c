//! The inverse cosine transform of a block, at full size or as means of neighbouring pairs, axis by axis.
//!
//! # Source
//! [ITU-T81] annex A.3.3 for the transform. The mean of two neighbours 2m and 2m+1 of the cosine of index k is
//! cos(k pi / 16) times the cosine of (2m+1) k pi / 8, which for k above 4 is that of 8 - k with the sign turned:
//! means cost a transform of length 4 and are exact.

use crate::lanes::each as lanes;

/// Steps of the transformed values to one level of the picture.
pub(super) const FINE: f32 = 16.0;

/// Coefficients of a block by horizontal, then vertical index, multiplied by [`weights`].
pub(super) type Coefficients = [[f32; 8]; 8];

/// The factor of each coefficient before the transforms here: the transform's own scale and [`FINE`].
pub(super) fn weights() -> Coefficients {
    let of = |k: usize| if k == 0 { 0.125f32.sqrt() } else { 0.5 };
    std::array::from_fn(|u| std::array::from_fn(|v| of(u) * of(v) * FINE))
}

/// cos(k pi / 16).
const COS: [f32; 8] = [
    1.0,
    0.980_785_25,
    0.923_879_5,
    0.831_469_6,
    0.707_106_77,
    0.555_570_24,
    0.382_683_43,
    0.195_090_32,
];

/// How a block is brought to the half-size picture.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Shape {
    /// Means of pairs of columns are taken; else columns stay.
    pub halve_across: bool,
    /// Means of pairs of rows are taken; else rows stay.
    pub halve_down: bool,
}

/// The block's values (in [`FINE`] steps, rounded) added to `out`, rows `stride` apart: 8 or 4 rows of 8 or 4 values.
///
/// `low` says that only the first four indices of either axis are in use.
#[inline(always)]
pub(super) fn add_block(
    block: &Coefficients,
    low: bool,
    shape: Shape,
    out: &mut [i16],
    stride: usize,
) {
    match (shape.halve_across, shape.halve_down) {
        (true, true) if low => add::<4, 4, 4>(&halved_low(&first4(block)), halved_low, out, stride),
        (true, true) => add::<8, 4, 4>(&halved(block), halved, out, stride),
        (false, false) if low => add::<4, 8, 8>(&whole_low(&first4(block)), whole_low, out, stride),
        (false, false) => add::<8, 8, 8>(&whole(block), whole, out, stride),
        (false, true) => add::<8, 8, 4>(&whole(block), halved, out, stride),
        (true, false) => add::<8, 4, 8>(&halved(block), whole, out, stride),
    }
}

/// The second pass over what the first left: `columns` values by vertical index for each column.
#[inline(always)]
fn add<const V: usize, const W: usize, const H: usize>(
    columns: &[[f32; V]; W],
    second: impl Fn(&[[f32; W]; V]) -> [[f32; W]; H],
    out: &mut [i16],
    stride: usize,
) {
    let mut turned = [[0.0; W]; V];
    for (v, row) in turned.iter_mut().enumerate() {
        for (x, o) in row.iter_mut().enumerate() {
            *o = columns[x][v];
        }
    }
    for (row, out) in second(&turned).iter().zip(out.chunks_mut(stride)) {
        for (value, o) in row.iter().zip(out) {
            *o = o.wrapping_add(rounded(*value));
        }
    }
}

/// The nearest whole number, for numbers below 2^22, without a call or a branch; others wrap.
#[inline(always)]
fn rounded(value: f32) -> i16 {
    const MAGIC: f32 = 12_582_912.0;
    (value + MAGIC).to_bits() as i16
}

#[inline(always)]
fn first4(block: &Coefficients) -> [[f32; 4]; 4] {
    let mut out = [[0.0; 4]; 4];
    for (row, from) in out.iter_mut().zip(block) {
        row.copy_from_slice(&from[..4]);
    }
    out
}

/// Transform of length 4 from already folded values, on `L` lanes at once.
#[inline(always)]
fn of_four<const L: usize>(x: [[f32; L]; 4]) -> [[f32; L]; 4] {
    let [x0, x1, x2, x3] = &x;
    let even = lanes::<L>(|i| x0[i] + x2[i] * COS[4]);
    let other = lanes::<L>(|i| x0[i] - x2[i] * COS[4]);
    let odd = lanes::<L>(|i| x1[i] * COS[2] + x3[i] * COS[6]);
    let last = lanes::<L>(|i| x1[i] * COS[6] - x3[i] * COS[2]);
    [
        lanes(|i| even[i] + odd[i]),
        lanes(|i| other[i] + last[i]),
        lanes(|i| other[i] - last[i]),
        lanes(|i| even[i] - odd[i]),
    ]
}

/// Means of pairs.
#[inline(always)]
fn halved<const L: usize>(x: &[[f32; L]; 8]) -> [[f32; L]; 4] {
    of_four([
        x[0],
        lanes(|i| x[1][i] * COS[1] - x[7][i] * COS[7]),
        lanes(|i| x[2][i] * COS[2] - x[6][i] * COS[6]),
        lanes(|i| x[3][i] * COS[3] - x[5][i] * COS[5]),
    ])
}

/// Means of pairs where the upper four indices are zero.
#[inline(always)]
fn halved_low<const L: usize>(x: &[[f32; L]; 4]) -> [[f32; L]; 4] {
    of_four([
        x[0],
        lanes(|i| x[1][i] * COS[1]),
        lanes(|i| x[2][i] * COS[2]),
        lanes(|i| x[3][i] * COS[3]),
    ])
}

/// All eight values.
#[inline(always)]
fn whole<const L: usize>(x: &[[f32; L]; 8]) -> [[f32; L]; 8] {
    let even = of_four([x[0], x[2], x[4], x[6]]);
    let odd = |c: [f32; 4]| {
        lanes::<L>(|i| x[1][i] * c[0] + x[3][i] * c[1] + x[5][i] * c[2] + x[7][i] * c[3])
    };
    joined(
        even,
        [
            odd([COS[1], COS[3], COS[5], COS[7]]),
            odd([COS[3], -COS[7], -COS[1], -COS[5]]),
            odd([COS[5], -COS[1], COS[7], COS[3]]),
            odd([COS[7], -COS[5], COS[3], -COS[1]]),
        ],
    )
}

/// All eight values where the upper four indices are zero.
#[inline(always)]
fn whole_low<const L: usize>(x: &[[f32; L]; 4]) -> [[f32; L]; 8] {
    let even = of_four([x[0], x[2], [0.0; L], [0.0; L]]);
    let odd = |a: f32, b: f32| lanes::<L>(|i| x[1][i] * a + x[3][i] * b);
    joined(
        even,
        [
            odd(COS[1], COS[3]),
            odd(COS[3], -COS[7]),
            odd(COS[5], -COS[1]),
            odd(COS[7], -COS[5]),
        ],
    )
}

#[inline(always)]
fn joined<const L: usize>(even: [[f32; L]; 4], odd: [[f32; L]; 4]) -> [[f32; L]; 8] {
    let mut out = [[0.0; L]; 8];
    for n in 0..4 {
        out[n] = lanes(|i| even[n][i] + odd[n][i]);
        out[7 - n] = lanes(|i| even[n][i] - odd[n][i]);
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::f64::consts::PI;

    /// The transform by its definition, one value at a time [ITU-T81] A.3.3.
    fn by_definition(block: &[[f64; 8]; 8]) -> [[f64; 8]; 8] {
        let c = |k: usize| if k == 0 { 0.5f64.sqrt() } else { 1.0 };
        let wave = |n: usize, k: usize| ((2 * n + 1) as f64 * k as f64 * PI / 16.0).cos();
        std::array::from_fn(|y| {
            std::array::from_fn(|x| {
                let mut sum = 0.0;
                for (u, column) in block.iter().enumerate() {
                    for (v, value) in column.iter().enumerate() {
                        sum += c(u) * c(v) * value * wave(x, u) * wave(y, v) / 4.0;
                    }
                }
                sum
            })
        })
    }

    #[test]
    fn every_shape_is_the_definition_or_its_means() {
        let weights = weights();
        for low in [false, true] {
            let size = if low { 4 } else { 8 };
            let block: [[f64; 8]; 8] = std::array::from_fn(|u| {
                std::array::from_fn(|v| {
                    let value = ((u * 37 + v * 101 + 13) * 7919 % 401) as f64 - 200.0;
                    if u < size && v < size { value } else { 0.0 }
                })
            });
            let scaled = std::array::from_fn(|u| {
                std::array::from_fn(|v| block[u][v] as f32 * weights[u][v])
            });
            let plain = by_definition(&block);
            for (across, down) in [(false, false), (true, false), (false, true), (true, true)] {
                let (kx, ky) = (1 + usize::from(across), 1 + usize::from(down));
                let mut out = vec![3i16; 8 * 8 / kx / ky];
                let shape = Shape {
                    halve_across: across,
                    halve_down: down,
                };
                add_block(&scaled, low, shape, &mut out, 8 / kx);
                for (i, seen) in out.iter().enumerate() {
                    let (x, y) = (i % (8 / kx), i / (8 / kx));
                    let mut mean = 0.0;
                    for j in 0..ky {
                        for k in 0..kx {
                            mean += plain[y * ky + j][x * kx + k] / (kx * ky) as f64;
                        }
                    }
                    let off = f64::from(seen - 3) - 16.0 * mean;
                    assert!(off.abs() < 0.51, "{low} {across} {down} {x} {y}: {off}");
                }
            }
        }
    }
}
