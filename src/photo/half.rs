//! A picture decoded at half size as red, green and blue bytes.
//!
//! # Source
//! [ITU-T871] for luminance and colour differences to red, green and blue.

use crate::lanes::widest;

/// Largest value: 255 levels in sixteenths.
const TOP: f32 = 4080.0;
/// Luminance is coded less 128 levels.
const MIDDLE: f32 = 2048.0;
/// Values of a unit and component, at most.
const TILE: usize = 64;

/// Writes the rows of one row of units, each `wide`, into rows of a picture `width` wide; what lies outside it is
/// left out. The units are given as their values and what is to be added to these.
pub(super) fn rows_of<'a>(
    units: impl Iterator<Item = (&'a [i16], [i16; 3])>,
    wide: usize,
    width: usize,
    rows: &mut [u8],
) {
    let mut levels = [[0; TILE]; 3];
    for (block, (values, offsets)) in units.enumerate() {
        widest((values, offsets, &mut levels), rgb);
        let columns = block * wide..((block + 1) * wide).min(width);
        for (y, row) in rows.chunks_exact_mut(width * 3).enumerate() {
            let (pixels, _) = row[columns.start * 3..columns.end * 3].as_chunks_mut::<3>();
            for (x, pixel) in pixels.iter_mut().enumerate() {
                let at = (y * wide + x) & (TILE - 1);
                *pixel = [levels[0][at], levels[1][at], levels[2][at]];
            }
        }
    }
}

/// What [`rgb`] works on: the values of a unit, what is to be added to them, and room for the levels of each channel.
type Unit<'a> = (&'a [i16], [i16; 3], &'a mut [[u8; TILE]; 3]);

/// Red, green and blue levels of the values of a unit.
#[inline(always)]
fn rgb((values, offsets, out): Unit<'_>) {
    const MAGIC: f32 = 8_388_608.0;
    let count = values.len() / 3;
    let (luminance, rest) = values.split_at(count);
    let (blue, red) = rest.split_at(count);
    let [one, two, three] = out;
    let outs = one.iter_mut().zip(two).zip(three);
    for ((((r, g), b), y), (cb, cr)) in outs.zip(luminance).zip(blue.iter().zip(red)) {
        let y = f32::from(y.wrapping_add(offsets[0])) + MIDDLE;
        let cb = f32::from(cb.wrapping_add(offsets[1]));
        let cr = f32::from(cr.wrapping_add(offsets[2]));
        let level = |v: f32| {
            let v = if v > 0.0 { v } else { 0.0 };
            let v = if v < TOP { v } else { TOP };
            // The low bits of the sum are the nearest whole number.
            (v / 16.0 + MAGIC).to_bits() as u8
        };
        *r = level(y + 1.402 * cr);
        *g = level(y - 0.344_136 * cb - 0.714_136 * cr);
        *b = level(y + 1.772 * cb);
    }
}

/// The bytes of a picture of twice the size, each pixel four times.
pub(super) fn doubled(half: &[u8], size: (usize, usize)) -> Vec<u8> {
    let (pixels, _) = half.as_chunks::<3>();
    let (width, height) = (size.0 / 2, size.1 / 2);
    let of = |i: usize| pixels[i / size.0 / 2 % height.max(1) * width + i % size.0 / 2];
    (0..size.0 * size.1).flat_map(of).collect()
}
