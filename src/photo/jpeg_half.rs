//! A sequential JPEG decoded straight to half its size: each value is the mean of two by two coded ones.
//!
//! The coded data of a scan can only be read from the start, yet codes fall into step by themselves: a reader that starts
//! in the middle soon finds the true borders of the units. So one thread reads from the start, another from the middle on
//! a guess, and where the first arrives at a unit that the second began at the same bit, the rest of the second's work is
//! taken over; only the running sums of the first coefficients are set right. What is unusual is left to the plain decoder.
//!
//! # Source
//! [ITU-T81] annexes B, C, F. That codes fall into step: [KleinWiseman2003].

use crate::lanes::{Work, widest_of};

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
    parts: Vec<Part>,
}

/// Units read one after the other.
#[derive(Debug, Default)]
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
        Some(Self {
            size: (size.0 / 2, size.1 / 2),
            units_across: layout.units.0,
            tile: layout.tile,
            parts: layout.read(data)?,
        })
    }

    /// Values of a unit (luminance, blue and red difference, each a whole tile row by row, in sixteenths of a level; luminance
    /// less 128 levels), and what is to be added to each.
    pub fn unit(&self, index: usize) -> (&[i16], [i16; 3]) {
        let after = self.parts.iter().rposition(|p| p.first.0 <= index);
        let part = &self.parts[after.unwrap_or(0)];
        let count = 3 * self.tile.0 * self.tile.1;
        let at = (index - part.first.0 + part.first.1) * count;
        (&part.values[at..at + count], part.offsets)
    }
}

impl Layout {
    /// All units, read from the start and from the middle at once.
    fn read(&self, data: &[u8]) -> Option<Vec<Part>> {
        let total = self.units.0 * self.units.1;
        let middle = self.middle(data);
        let mut front = Reader::new(self, data, Place { byte: 0, bit: 0 }, total)?;
        let Some(middle) = middle.filter(|_| rayon::current_num_threads() > 1) else {
            front.read_to(None, total)?;
            front.ended().then_some(())?;
            return Some(vec![front.part()]);
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
            return Some(vec![front.part()]);
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
        Some(vec![front.part(), rest])
    }

    /// Where a second reader starts: half way, behind a restart marker where there are some.
    fn middle(&self, data: &[u8]) -> Option<Place> {
        let half = data.len() / 2;
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
    values: Vec<i16>,
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
        })
    }

    /// Units read.
    fn count(&self) -> usize {
        self.values.len() / self.layout.values_of_unit()
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

    /// The units read, from the first unit of the picture on.
    fn part(self) -> Part {
        Part {
            values: self.values,
            ..Part::default()
        }
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
        let value = |picture: &HalfPicture, x: usize, y: usize, c: usize| {
            let (w, h) = picture.tile;
            let (values, offsets) = picture.unit(y / h * picture.units_across + x / w);
            values[c * w * h + y % h * w + x % w].wrapping_add(offsets[c])
        };
        let mut total = 0.0;
        for y in 0..whole.size.1 {
            for x in 0..whole.size.0 {
                (0..3).for_each(|c| assert_eq!(value(&whole, x, y, c), value(&parted, x, y, c)));
                let mut luminance = 0.0;
                for (dx, dy) in [(0, 0), (1, 0), (0, 1), (1, 1)] {
                    let at = ((2 * y + dy) * 2 * whole.size.0 + 2 * x + dx) * 3;
                    let [r, g, b] = [0, 1, 2].map(|c| f64::from(full[at + c]));
                    // [ITU-T871] equation for Y.
                    luminance += (0.299 * r + 0.587 * g + 0.114 * b) / 4.0;
                }
                let off = f64::from(value(&whole, x, y, 0)) / 16.0 + 128.0 - luminance;
                // Clipped channels and rounding to whole levels.
                assert!(off.abs() < 12.0, "{x} {y}: {off}");
                total += off.abs();
            }
        }
        let mean = total / (whole.size.0 * whole.size.1) as f64;
        assert!(mean < 0.4, "{mean}");
    }
}
