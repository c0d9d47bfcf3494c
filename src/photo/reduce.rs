//! Stored bytes to upright linear light, whole and reduced by blocks, without turning the stored picture.

use std::ops::Range;

use rayon::prelude::*;

use super::linear::LinearImage;
use super::orientation::Orientation;
use super::profile::ToLinear;

/// Largest step whose sums and counts share 32 bits: 225 pixels * 65535 < 2^24, and 225 < 2^8.
const MAX_PACKED_STEP: usize = 15;
/// Bits of a packed sum below the count of clipped pixels.
const SUM_BITS: u32 = 24;
/// Linear light of white in the integer sums.
const FULL: f32 = 65535.0;

/// The stored picture, how to read it and which way is up.
#[derive(Debug, Clone, Copy)]
pub(super) struct Stored<'a> {
    /// Red, green, blue bytes, row by row as stored.
    pub bytes: &'a [u8],
    /// Stored width and height.
    pub size: (usize, usize),
    /// Which way is up.
    pub orientation: Orientation,
    /// From bytes to linear light.
    pub to_linear: &'a ToLinear,
}

/// Start and end of each block along one stored axis; a part block comes first where the axis is mirrored.
#[derive(Debug, Clone, Copy)]
struct Blocks {
    length: usize,
    step: usize,
    /// Length of the first block.
    first: usize,
}

impl Blocks {
    fn new(length: usize, step: usize, mirrored: bool) -> Self {
        let rest = length % step;
        let first = if mirrored && rest > 0 {
            rest
        } else {
            step.min(length)
        };
        Self {
            length,
            step,
            first,
        }
    }

    fn count(self) -> usize {
        self.length.div_ceil(self.step)
    }

    fn range(self, i: usize) -> std::ops::Range<usize> {
        let start = if i == 0 {
            0
        } else {
            self.first + (i - 1) * self.step
        };
        let end = if i == 0 {
            self.first
        } else {
            (start + self.step).min(self.length)
        };
        start..end
    }
}

/// Block means in linear light, and by block the share of pixels with a channel at 255 (0..=255; the worst channel).
pub(super) fn reduce(stored: Stored<'_>, step: usize) -> (LinearImage, Vec<u8>) {
    let step = step.clamp(1, MAX_PACKED_STEP);
    let (across, down) = (
        Blocks::new(stored.size.0, step, stored.orientation.stored_x_mirrored()),
        Blocks::new(stored.size.1, step, stored.orientation.stored_y_mirrored()),
    );
    let width = across.count();
    let mut image = LinearImage::new(width, down.count());
    let mut clipped = vec![0u8; width * down.count()];
    let table = packed_table(stored.to_linear);
    let [red, green, blue] = &mut image.planes;
    red.par_chunks_exact_mut(width)
        .zip(green.par_chunks_exact_mut(width))
        .zip(blue.par_chunks_exact_mut(width))
        .zip(clipped.par_chunks_exact_mut(width))
        .enumerate()
        .for_each_init(
            || vec![[0u32; 3]; width],
            |sums, (row, (((r, g), b), clip))| {
                sums.fill([0; 3]);
                let rows = down.range(row);
                for y in rows.clone() {
                    let line = &stored.bytes[y * stored.size.0 * 3..(y + 1) * stored.size.0 * 3];
                    add_line(line, across, &table, sums);
                }
                let row = OutRow {
                    planes: [r, g, b],
                    clip,
                };
                finish_row(
                    sums,
                    across,
                    rows.len(),
                    stored.to_linear.matrix.as_ref(),
                    row,
                );
            },
        );
    upright(image, clipped, stored.orientation)
}

/// One row of the result.
struct OutRow<'a> {
    planes: [&'a mut [f32]; 3],
    clip: &'a mut [u8],
}

/// Linear light 0..=65535 of each byte with a 1 above [`SUM_BITS`] for the byte 255.
fn packed_table(to_linear: &ToLinear) -> [[u32; 256]; 3] {
    to_linear.curves.map(|curve| {
        std::array::from_fn(|i| {
            let light = (curve[i] * FULL).round().clamp(0.0, FULL) as u32;
            if i == 255 {
                light | 1 << SUM_BITS
            } else {
                light
            }
        })
    })
}

/// Adds one stored line to the sums of its blocks.
fn add_line(line: &[u8], across: Blocks, table: &[[u32; 256]; 3], sums: &mut [[u32; 3]]) {
    let (head, rest) = line.split_at(across.first * 3);
    let Some((first, others)) = sums.split_first_mut() else {
        return;
    };
    add_pixels(head, table, first);
    match across.step {
        1 => add_blocks::<1>(rest, table, others),
        2 => add_blocks::<2>(rest, table, others),
        3 => add_blocks::<3>(rest, table, others),
        4 => add_blocks::<4>(rest, table, others),
        5 => add_blocks::<5>(rest, table, others),
        6 => add_blocks::<6>(rest, table, others),
        step => rest
            .chunks(step * 3)
            .zip(others)
            .for_each(|(block, sum)| add_pixels(block, table, sum)),
    }
}

/// The same for whole blocks of a length known to the compiler, and the part block at the end.
fn add_blocks<const STEP: usize>(line: &[u8], table: &[[u32; 256]; 3], sums: &mut [[u32; 3]]) {
    let (pixels, _) = line.as_chunks::<3>();
    let (blocks, rest) = pixels.as_chunks::<STEP>();
    let [red, green, blue] = table;
    for (block, sum) in blocks.iter().zip(sums.iter_mut()) {
        // Three running sums of their own keep the block in registers.
        let (mut r, mut g, mut b) = (0, 0, 0);
        for pixel in block {
            r += red[usize::from(pixel[0])];
            g += green[usize::from(pixel[1])];
            b += blue[usize::from(pixel[2])];
        }
        *sum = [sum[0] + r, sum[1] + g, sum[2] + b];
    }
    if let Some(last) = sums.get_mut(blocks.len()) {
        add_pixels(rest.as_flattened(), table, last);
    }
}

fn add_pixels(bytes: &[u8], table: &[[u32; 256]; 3], sum: &mut [u32; 3]) {
    for pixel in bytes.as_chunks::<3>().0 {
        for c in 0..3 {
            sum[c] += table[c][usize::from(pixel[c])];
        }
    }
}

fn finish_row(
    sums: &[[u32; 3]],
    across: Blocks,
    rows: usize,
    matrix: Option<&[[f32; 3]; 3]>,
    out: OutRow<'_>,
) {
    let [red, green, blue] = out.planes;
    let last = sums.len() - 1;
    finish(
        sums,
        across.step * rows,
        matrix,
        OutRow {
            planes: [&mut *red, &mut *green, &mut *blue],
            clip: &mut *out.clip,
        },
    );
    // The blocks at the two ends may be smaller.
    for i in [0, last] {
        let planes = [&mut red[i..=i], &mut green[i..=i], &mut blue[i..=i]];
        finish(
            &sums[i..=i],
            across.range(i).len() * rows,
            matrix,
            OutRow {
                planes,
                clip: &mut out.clip[i..=i],
            },
        );
    }
}

/// Means of blocks that have `pixels` pixels each.
fn finish(sums: &[[u32; 3]], pixels: usize, matrix: Option<&[[f32; 3]; 3]>, out: OutRow<'_>) {
    let [red, green, blue] = out.planes;
    let scale = 1.0 / (pixels as f32 * FULL);
    let outputs = red.iter_mut().zip(green).zip(blue).zip(out.clip);
    for (packed, (((r, g), b), clip)) in sums.iter().zip(outputs) {
        // As a signed number the sum converts to a float in one step.
        let light = packed.map(|p| (p & ((1 << SUM_BITS) - 1)) as i32 as f32 * scale);
        [*r, *g, *b] = in_srgb(matrix, light);
        let any = (packed[0] | packed[1] | packed[2]) >> SUM_BITS;
        *clip = if any == 0 {
            0
        } else {
            clipped_share(packed, pixels)
        };
    }
}

/// Share of clipped pixels in the channel that has most of them, 0..=255.
fn clipped_share(packed: &[u32; 3], pixels: usize) -> u8 {
    let worst = packed.iter().map(|p| p >> SUM_BITS).fold(0, u32::max);
    (worst * 255).div_ceil(pixels as u32).min(255) as u8
}

#[inline]
fn times(m: &[[f32; 3]; 3], v: [f32; 3]) -> [f32; 3] {
    std::array::from_fn(|r| m[r][0] * v[0] + m[r][1] * v[1] + m[r][2] * v[2])
}

/// The small picture turned upright.
fn upright(
    image: LinearImage,
    clipped: Vec<u8>,
    orientation: Orientation,
) -> (LinearImage, Vec<u8>) {
    if orientation == Orientation::default() {
        return (image, clipped);
    }
    let (stored_width, size) = (
        image.width,
        orientation.upright_size(image.width, image.height),
    );
    let planes = image
        .planes
        .map(|plane| turn(plane, stored_width, size, orientation));
    let clipped = turn(clipped, stored_width, size, orientation);
    (
        LinearImage {
            width: size.0,
            height: size.1,
            planes,
        },
        clipped,
    )
}

/// Upright rows that are filled together: where the picture lies on its side, pixels side by side in the stored one go to as
/// many rows, and are read while they are at hand.
const ROWS_TOGETHER: usize = 16;

fn turn<T: Copy + Default + Send + Sync>(
    plane: Vec<T>,
    stored_width: usize,
    size: (usize, usize),
    orientation: Orientation,
) -> Vec<T> {
    let mut out = vec![T::default(); plane.len()];
    out.par_chunks_mut(size.0 * ROWS_TOGETHER)
        .enumerate()
        .for_each(|(part, rows)| {
            let first = part * ROWS_TOGETHER;
            let count = rows.len() / size.0;
            let line = |v: usize| line(orientation, stored_width, v, size);
            let ((start, step), (last, _)) = (line(first), line(first + count - 1));
            if step.abs() == 1 {
                for (v, row) in (first..).zip(rows.chunks_exact_mut(size.0)) {
                    copy_line(&plane, line(v), row);
                }
                return;
            }
            for u in 0..size.0 {
                let at = |start: isize| (start + u as isize * step) as usize;
                let side = &plane[at(start.min(last))..=at(start.max(last))];
                let column = rows[u..].iter_mut().step_by(size.0);
                if last >= start {
                    column.zip(side).for_each(|(o, v)| *o = *v);
                } else {
                    (column.zip(side.iter().rev())).for_each(|(o, v)| *o = *v);
                }
            }
        });
    out
}

/// Pixels of a stored row, forwards or backwards.
fn copy_line<T: Copy>(plane: &[T], (start, step): (isize, isize), row: &mut [T]) {
    let start = start as usize;
    if step > 0 {
        row.copy_from_slice(&plane[start..start + row.len()]);
    } else {
        let stored = plane[start + 1 - row.len()..=start].iter().rev();
        row.iter_mut().zip(stored).for_each(|(o, v)| *o = *v);
    }
}

/// The stored place of the first pixel of row `v` of the upright picture of this size, and how far it is to the next.
pub(super) fn line(
    orientation: Orientation,
    stored_width: usize,
    v: usize,
    size: (usize, usize),
) -> (isize, isize) {
    let at = |u: usize| {
        let (x, y) = orientation.stored_of(u, v, size);
        (y * stored_width + x) as isize
    };
    (at(0), at(1.min(size.0 - 1)) - at(0))
}

/// Linear light of each byte by channel, before the matrix, as the means of [`reduce`] have it.
pub(super) fn light_of_bytes(to_linear: &ToLinear) -> [[f32; 256]; 3] {
    let scale = 1.0 / FULL;
    packed_table(to_linear)
        .map(|channel| channel.map(|p| (p & ((1 << SUM_BITS) - 1)) as f32 * scale))
}

/// Light of the profile's primaries as that of sRGB's.
#[inline]
pub(super) fn in_srgb(matrix: Option<&[[f32; 3]; 3]>, light: [f32; 3]) -> [f32; 3] {
    matrix.map_or(light, |m| times(m, light))
}

/// Full-size linear light of the upright rectangle from (`x`, `y`); what lies outside the picture is cut away.
pub(super) fn crop(
    stored: Stored<'_>,
    x: usize,
    y: usize,
    width: usize,
    height: usize,
) -> LinearImage {
    let (across, down) = within(
        stored,
        x..x.saturating_add(width),
        y..y.saturating_add(height),
    );
    let (width, height) = (across.len(), down.len());
    let mut image = LinearImage::new(width, height);
    if width == 0 || height == 0 {
        return image;
    }
    let [red, green, blue] = &mut image.planes;
    red.par_chunks_exact_mut(width)
        .zip(green.par_chunks_exact_mut(width))
        .zip(blue.par_chunks_exact_mut(width))
        .zip(down)
        .for_each(|(((r, g), b), y)| {
            let lights = row(stored, y, across.clone());
            for (((r, g), b), light) in r.iter_mut().zip(g).zip(b).zip(lights) {
                [*r, *g, *b] = light;
            }
        });
    image
}

/// The weighted sum of the channels' linear light in the upright rectangle, row by row, and its width; what lies outside the
/// picture is cut away.
pub(super) fn weighted(
    stored: Stored<'_>,
    across: Range<usize>,
    down: Range<usize>,
    weights: [f32; 3],
) -> (Vec<f32>, usize) {
    let (across, down) = within(stored, across, down);
    let mut out = Vec::with_capacity(across.len() * down.len());
    for y in down {
        let lights = row(stored, y, across.clone());
        out.extend(lights.map(|[r, g, b]| weights[0] * r + weights[1] * g + weights[2] * b));
    }
    (out, across.len())
}

/// The part of a rectangle that lies in the upright picture.
fn within(
    stored: Stored<'_>,
    across: Range<usize>,
    down: Range<usize>,
) -> (Range<usize>, Range<usize>) {
    let (width, height) = stored
        .orientation
        .upright_size(stored.size.0, stored.size.1);
    let cut = |r: Range<usize>, size: usize| r.start.min(size)..r.end.min(size);
    (cut(across, width), cut(down, height))
}

/// Linear light of the upright pixels of row `y` in these columns.
fn row(stored: Stored<'_>, y: usize, across: Range<usize>) -> impl Iterator<Item = [f32; 3]> + '_ {
    let size = stored
        .orientation
        .upright_size(stored.size.0, stored.size.1);
    let (start, step) = line(stored.orientation, stored.size.0, y, size);
    across.map(move |x| {
        let at = (start + x as isize * step) as usize;
        let bytes = &stored.bytes[3 * at..3 * at + 3];
        linear(stored, [bytes[0], bytes[1], bytes[2]])
    })
}

/// The stored bytes of the upright pixel (`u`, `v`).
pub(super) fn byte_at(
    stored: Stored<'_>,
    u: usize,
    v: usize,
    upright_size: (usize, usize),
) -> [u8; 3] {
    let (x, y) = stored.orientation.stored_of(u, v, upright_size);
    let at = (y * stored.size.0 + x) * 3;
    [stored.bytes[at], stored.bytes[at + 1], stored.bytes[at + 2]]
}

/// Linear light (sRGB primaries, not clipped) of one stored pixel.
pub(super) fn linear(stored: Stored<'_>, byte: [u8; 3]) -> [f32; 3] {
    let light = std::array::from_fn(|c| stored.to_linear.curves[c][usize::from(byte[c])]);
    in_srgb(stored.to_linear.matrix.as_ref(), light)
}
