//! A sequential JPEG decoded straight to half its size: each value is the mean of two by two coded ones.
//!
//! The coded data of a scan can only be read from the start, yet codes fall into step by themselves: a reader that starts
//! in the middle soon finds the true borders of the units. So one thread reads from the start, another from the middle on
//! a guess, and where the first arrives at a unit that the second began at the same bit, the rest of the second's work is
//! taken over; only the running sums of the first coefficients are set right. What is unusual is left to the plain decoder.
//!
//! What is read from the start is made into red, green and blue at once, a row of units at a time. What is read on a guess is
//! kept as it was coded until the running sums are known.
//!
//! # Source
//! [ITU-T81] annexes B, C, F. That codes fall into step: [KleinWiseman2003].

use rayon::prelude::*;

use crate::lanes::{Work, widest_of};

use super::half;
use super::jpeg_bits::{Bits, Codes, Place, read_ac, read_dc};
use super::jpeg_layout::{Layout, ORDER};
use super::jpeg_parts::segments;
use super::jpeg_transform::{Coefficients, add_block};

/// A decoded picture at half its size: units of luminance, then both colour differences, in the order of the scan.
#[derive(Debug)]
pub(super) struct HalfPicture {
    /// Width and height at half size.
    pub size: (usize, usize),
    /// Units across the picture.
    pub units_across: usize,
    /// Values of a unit at half size, across and down.
    pub tile: (usize, usize),
    /// Red, green and blue bytes of the first rows.
    done: Vec<u8>,
    parts: Vec<Part>,
}

/// Units read one after the other.
#[derive(Debug)]
struct Part {
    /// The first unit of the picture that is taken from here, and its index here.
    first: (usize, usize),
    /// What is to be added to each value, by component.
    offsets: [i16; 3],
    values: Vec<i16>,
}

impl HalfPicture {
    /// The picture of a file without end marker; `None` for odd sizes and unusual or damaged files.
    pub fn read(bytes: &[u8]) -> Option<Self> {
        let all = segments(bytes)?;
        let scan = *all.last()?;
        let (layout, size) = Layout::new(bytes, &all, scan)?;
        let data = &bytes[scan.end..];
        let mut out = Self {
            size: (size.0 / 2, size.1 / 2),
            units_across: layout.units.0,
            tile: layout.tile,
            done: Vec::new(),
            parts: Vec::new(),
        };
        (out.done, out.parts) = layout.read(data, out.size)?;
        Some(out)
    }

    /// Red, green and blue bytes of the picture, row by row as stored.
    pub fn into_bytes(mut self) -> Vec<u8> {
        let mut out = std::mem::take(&mut self.done);
        let (band, all) = (self.size.0 * 3 * self.tile.1, self.size.0 * self.size.1 * 3);
        if out.len() == all {
            return out;
        }
        // All rows but the last are of whole units.
        let from = out.len() / band;
        out.resize(all, 0);
        out[from * band..]
            .par_chunks_mut(band)
            .enumerate()
            .for_each(|(k, rows)| {
                let first = (from + k) * self.units_across;
                let units = (first..first + self.units_across).map(|index| self.unit(index));
                half::rows_of(units, self.tile.0, self.size.0, rows);
            });
        out
    }

    /// Values of a unit (luminance, blue and red difference, each a whole tile row by row, in sixteenths of a level; luminance
    /// less 128 levels), and what is to be added to each.
    fn unit(&self, index: usize) -> (&[i16], [i16; 3]) {
        let after = self.parts.iter().rposition(|p| p.first.0 <= index);
        let part = &self.parts[after.unwrap_or(0)];
        let count = 3 * self.tile.0 * self.tile.1;
        let at = (index - part.first.0 + part.first.1) * count;
        (&part.values[at..at + count], part.offsets)
    }
}

impl Layout {
    /// All units, read from the start and from the middle at once: bytes of the first rows of a picture of `size` at half
    /// size, and the units behind them.
    fn read(&self, data: &[u8], size: (usize, usize)) -> Option<(Vec<u8>, Vec<Part>)> {
        let total = self.units.0 * self.units.1;
        let middle = self.middle(data);
        let mut front = Reader::new(self, data, Place { byte: 0, bit: 0 }, self.units.0)?;
        front.rows = Some(Rows {
            size,
            bytes: Vec::with_capacity(size.0 * size.1 * 3),
        });
        let Some(middle) = middle.filter(|_| rayon::current_num_threads() > 1) else {
            front.read_to(None, total)?;
            front.ended().then_some(())?;
            return Some(front.parts(None));
        };
        let (read, guessed) = rayon::join(
            || front.read_to(Some(middle), total),
            || Reader::guessed(self, data, middle, total),
        );
        read?;
        let met = guessed.and_then(|back| front.meet(&back, total).map(|at| (back, at)));
        let Some((back, at)) = met else {
            front.read_to(None, total)?;
            front.ended().then_some(())?;
            return Some(front.parts(None));
        };
        if front.count() + back.count() - at != total {
            return None;
        }
        let offsets = std::array::from_fn(|c| {
            let ahead = front.predictions[c].wrapping_sub(back.starts[at].1[c]);
            ahead.wrapping_mul(self.components[c].first_step) as i16
        });
        let rest = Part {
            first: (front.count(), at),
            offsets,
            values: back.values,
        };
        Some(front.parts(Some(rest)))
    }

    /// Where a second reader starts: about half way, behind a restart marker where there are some.
    fn middle(&self, data: &[u8]) -> Option<Place> {
        // The first reader has the colours to make, too.
        let half = data.len() / 25 * 12;
        let byte = if self.restart > 0 {
            let is_restart = |w: &[u8]| w[0] == 0xFF && w[1] & 0xF8 == 0xD0;
            half + data[half..].windows(2).position(is_restart)? + 2
        } else {
            half
        };
        Some(Place { byte, bit: 0 })
    }
}

/// Reads units one after the other.
#[derive(Debug)]
struct Reader<'a> {
    layout: &'a Layout,
    tables: [(&'a Codes, &'a Codes); 3],
    data: &'a [u8],
    bits: Bits<'a>,
    predictions: [i32; 3],
    /// Of each unit of a guessing reader: where it began, and the predictions there.
    starts: Vec<(Place, [i32; 3])>,
    /// Units read and not yet made into rows.
    values: Vec<i16>,
    /// Units made into rows.
    finished: usize,
    /// Where finished rows go; `None` for a guessing reader.
    rows: Option<Rows>,
}

/// Red, green and blue bytes of the first rows of a picture at half size.
#[derive(Debug)]
struct Rows {
    size: (usize, usize),
    bytes: Vec<u8>,
}

impl<'a> Reader<'a> {
    fn new(layout: &'a Layout, data: &'a [u8], from: Place, units: usize) -> Option<Self> {
        Some(Self {
            layout,
            tables: layout.tables()?,
            data,
            bits: Bits::new(data, from),
            predictions: [0; 3],
            starts: Vec::new(),
            values: Vec::with_capacity(units * layout.values_of_unit()),
            finished: 0,
            rows: None,
        })
    }

    /// Units read.
    fn count(&self) -> usize {
        self.finished + self.values.len() / self.layout.values_of_unit()
    }

    /// Makes a whole row of units into rows of bytes.
    fn finish_row(&mut self) {
        let (count, across) = (self.layout.values_of_unit(), self.layout.units.0);
        let Some(rows) = &mut self.rows else {
            return;
        };
        if self.values.len() < across * count {
            return;
        }
        let (line, from) = (rows.size.0 * 3, rows.bytes.len());
        let to = (from + line * self.layout.tile.1).min(line * rows.size.1);
        rows.bytes.resize(to, 0);
        let units = self.values.chunks_exact(count).map(|unit| (unit, [0; 3]));
        half::rows_of(
            units,
            self.layout.tile.0,
            rows.size.0,
            &mut rows.bytes[from..],
        );
        self.values.clear();
        self.finished += across;
    }

    /// Reads on until a unit begins at or behind `until`, or until there are `total` units.
    fn read_to(&mut self, until: Option<Place>, total: usize) -> Option<()> {
        while self.count() < total {
            self.restart()?;
            if until.is_some_and(|until| self.bits.place() >= until) {
                return Some(());
            }
            self.unit()?;
        }
        Some(())
    }

    /// Reads on until the next unit is one that `other` began at the same bit: its index there.
    fn meet(&mut self, other: &Reader<'_>, total: usize) -> Option<usize> {
        let mut at = 0;
        while self.count() < total {
            self.restart()?;
            let place = self.bits.place();
            while other.starts.get(at)?.0 < place {
                at += 1;
            }
            if other.starts[at].0 == place {
                return Some(at);
            }
            self.unit()?;
        }
        None
    }

    /// A reader that starts at `from` without knowing what stands there, and has read to the end of the data.
    fn guessed(layout: &'a Layout, data: &'a [u8], from: Place, total: usize) -> Option<Self> {
        let mut reader = Self::new(layout, data, from, total)?;
        let last_start = from.byte + (data.len() - from.byte) / 4;
        loop {
            let start = reader.bits.place();
            reader.starts.push((start, reader.predictions));
            if reader.unit().is_some() && reader.count() <= total {
                if reader.restart().is_none() {
                    break;
                }
                continue;
            }
            // Less than a whole unit is left behind the last one, at most fill bits.
            let place = reader.bits.place();
            if place.byte + FILL_BYTES >= data.len() {
                break;
            }
            if start.byte > last_start || layout.restart > 0 {
                return None;
            }
            let mut next = place.byte.max(start.byte) + 1;
            // A zero behind 0xFF belongs to it.
            next += usize::from(data[next - 1] == 0xFF);
            reader = Self {
                bits: Bits::new(data, Place { byte: next, bit: 0 }),
                predictions: [0; 3],
                ..reader
            };
            reader.starts.clear();
            reader.values.clear();
        }
        let whole = reader.count() * layout.values_of_unit();
        reader.values.truncate(whole);
        Some(reader)
    }

    /// Steps over the restart marker where one is due.
    fn restart(&mut self) -> Option<()> {
        let (interval, count) = (self.layout.restart, self.count());
        if interval == 0 || count == 0 || count % interval > 0 {
            return Some(());
        }
        let place = self.bits.place();
        let at = place.byte + usize::from(place.bit > 0);
        let [0xFF, 0xD0..=0xD7] = *self.data.get(at..at + 2)? else {
            return None;
        };
        self.bits = Bits::new(
            self.data,
            Place {
                byte: at + 2,
                bit: 0,
            },
        );
        self.predictions = [0; 3];
        Some(())
    }

    /// Reads one unit; with `None` nothing is kept of it.
    fn unit(&mut self) -> Option<()> {
        let from = self.values.len();
        self.values.resize(from + self.layout.values_of_unit(), 0);
        let read = widest_of(UnitAt { reader: self, from });
        if read.is_none() {
            self.values.truncate(from);
        } else {
            self.finish_row();
        }
        read
    }

    #[inline(always)]
    fn unit_into(&mut self, from: usize) -> Option<()> {
        let (stride, rows) = self.layout.tile;
        let tiles = self.values[from..].chunks_exact_mut(stride * rows);
        let parts = self.layout.components.iter().zip(self.tables).zip(tiles);
        let mut bits = self.bits;
        for (((component, (dc, ac)), tile), prediction) in parts.zip(&mut self.predictions) {
            let (across, down) = component.part;
            for block in 0..component.blocks.0 * component.blocks.1 {
                let (x, y) = (block % component.blocks.0, block / component.blocks.0);
                *prediction = prediction.wrapping_add(read_dc(&mut bits, dc)?);
                let first = prediction.wrapping_mul(component.first_step) as i16;
                let out = &mut tile[y * down * stride + x * across..];
                for row in out.chunks_mut(stride).take(down) {
                    row[..across].fill(first);
                }
                let mut block: Coefficients = [[0.0; 8]; 8];
                let flat = block.as_flattened_mut();
                let mut used = 0;
                read_ac(&mut bits, ac, |k, value| {
                    let at = ORDER[k & 63];
                    used |= at;
                    flat[usize::from(at & 63)] = value as f32 * component.weights[k & 63];
                })?;
                if used > 0 {
                    add_block(&block, used & HIGH == 0, component.shape, out, stride);
                }
            }
        }
        self.bits = bits;
        (!bits.overrun()).then_some(())
    }

    /// True when nothing but fill bits is left.
    fn ended(&self) -> bool {
        self.bits.place().byte + FILL_BYTES >= self.data.len()
    }

    /// The rows and units read from the start, and the `rest`.
    fn parts(self, rest: Option<Part>) -> (Vec<u8>, Vec<Part>) {
        let own = Part {
            first: (self.finished, 0),
            offsets: [0; 3],
            values: self.values,
        };
        let rows = self.rows.map_or_else(Vec::new, |rows| rows.bytes);
        (rows, std::iter::once(own).chain(rest).collect())
    }
}

/// A reader about to write the unit that comes next from a place of its values on.
struct UnitAt<'r, 'a> {
    reader: &'r mut Reader<'a>,
    from: usize,
}

impl Work for UnitAt<'_, '_> {
    type Output = Option<()>;

    #[inline(always)]
    fn call(self) -> Option<()> {
        self.reader.unit_into(self.from)
    }
}

/// Bits of a place in [`ORDER`] that are set where an index is above 3.
const HIGH: u8 = 0b10_0100;

/// Bytes behind the last unit, at most: fill bits of the last byte.
const FILL_BYTES: usize = 1;

#[cfg(test)]
mod tests {
    use super::*;

    /// The plain decoder's bytes of a sample with halved colour, and both ways of reading it here.
    #[test]
    fn a_sample_is_the_mean_of_the_plain_decoding() {
        let file = include_bytes!("../../sample-images/red-clear-to-solid_8-animals.jpg");
        let bytes = crate::photo::jpeg_parts::first_picture(file)
            .expect("whole")
            .bytes;
        let full = crate::photo::decode::full_size(file).expect("whole");
        let whole = HalfPicture::read(bytes).expect("a usual file");
        let pool = rayon::ThreadPoolBuilder::new().num_threads(2).build();
        let pool = pool.expect("threads");
        let parted = pool
            .install(|| HalfPicture::read(bytes))
            .expect("a usual file");
        assert_eq!(parted.parts.len(), 2);
        let (width, height) = whole.size;
        let half = whole.into_bytes();
        assert!(half == parted.into_bytes());
        assert_eq!(half.len(), 3 * width * height);
        // [ITU-T871] equation for Y.
        let luminance = |bytes: &[u8], at: usize| {
            let [r, g, b] = [0, 1, 2].map(|c| f64::from(bytes[3 * at + c]));
            0.299 * r + 0.587 * g + 0.114 * b
        };
        let mut total = 0.0;
        for (y, x) in (0..height).flat_map(|y| (0..width).map(move |x| (y, x))) {
            let four = [(0, 0), (1, 0), (0, 1), (1, 1)];
            let mean = four
                .map(|(dx, dy)| luminance(&full, (2 * y + dy) * 2 * width + 2 * x + dx))
                .iter()
                .sum::<f64>()
                / 4.0;
            let off = luminance(&half, y * width + x) - mean;
            // Clipped channels and rounding to whole levels.
            assert!(off.abs() < 12.0, "{x} {y}: {off}");
            total += off.abs();
        }
        let mean = total / (width * height) as f64;
        assert!(mean < 0.4, "{mean}");
    }
}
