//! A sequential JPEG as two files that decode on their own, so that two threads share the work.
//!
//! The coded data of a scan can only be read from the start: one thread decodes the upper part at once, while the
//! other steps over it (three times as fast; at once where restart markers show the rows), writes the lower part as a file of its own and decodes that.
//! The rows about the seam are decoded once more with their neighbours, because colour is interpolated between rows.
//! The pixels are those of the whole file, byte by byte; whatever is unusual is left to decoding in one piece.

use super::jpeg_bits::{Bits, Codes, Place, Writer, read_dc, skip_ac};
use super::jpeg_parts::{SOS, Segment, segments};

/// Share of the rows in the upper part: both threads are then done at about the same time (measured on 12 megapixels).
const UPPER_SHARE: f64 = 0.62;
/// More of the file than that share, in case the upper rows are the richer ones.
const UPPER_SPARE: f64 = 0.25;
/// Below this many pixels the split costs more than it saves.
const MIN_PIXELS: usize = 2_000_000;

/// Marker of the segment that tells the restart interval.
const RESTART_INTERVAL: u8 = 0xDD;

/// What one component takes in each unit of the scan.
#[derive(Debug, Clone, Copy)]
struct Component {
    blocks: usize,
    dc: usize,
    ac: usize,
}

/// A file that can be split.
#[derive(Debug)]
pub(super) struct Plan<'a> {
    bytes: &'a [u8],
    head: Vec<Segment>,
    scan: usize,
    height: usize,
    components: Vec<Component>,
    dc: [Option<Codes>; 4],
    ac: [Option<Codes>; 4],
    units_across: usize,
    /// Pixel rows of one row of units.
    unit_rows: usize,
    /// Rows of units in the upper part.
    upper_units: usize,
    /// True when each row of units starts afresh behind a restart marker.
    restarts: bool,
}

/// State at the start of a row of units.
#[derive(Debug, Clone, Copy)]
struct RowStart {
    place: Place,
    predictions: [i32; 3],
}

/// The lower part and the rows about the seam as files.
#[derive(Debug)]
pub(super) struct Lower {
    /// File of the lower part.
    pub part: Vec<u8>,
    /// File of one row of units above the seam and one below.
    pub seam: Vec<u8>,
}

impl<'a> Plan<'a> {
    /// A plan for a file without end marker; `None` for small and unusual ones.
    pub fn new(bytes: &'a [u8]) -> Option<Self> {
        let all = segments(bytes)?;
        let scan = *all.last()?;
        let content = |s: &Segment| &bytes[s.content..s.end];
        // Other frames (progressive, lossless) and a second frame are not split.
        let frames: Vec<&Segment> = all.iter().filter(|s| is_frame(s.marker)).collect();
        if frames.len() != 1 || frames[0].marker != 0xC0 || all.iter().any(|s| s.marker == 0xCC) {
            return None;
        }
        let &[8, h1, h0, w1, w0, 3, ref comps @ ..] = content(frames[0]) else {
            return None;
        };
        let (height, width) = (
            usize::from(u16::from_be_bytes([h1, h0])),
            usize::from(u16::from_be_bytes([w1, w0])),
        );
        let &[3, ref picks @ ..] = content(&scan) else {
            return None;
        };
        if comps.len() != 9
            || picks.len() != 9
            || picks[6..] != [0, 63, 0]
            || width * height < MIN_PIXELS
        {
            return None;
        }
        let sampling: Vec<(usize, usize)> = comps
            .chunks(3)
            .map(|c| (usize::from(c[1] >> 4), usize::from(c[1] & 15)))
            .collect();
        let (across, down) = sampling[0];
        if !matches!((across, down), (1 | 2, 1 | 2)) || sampling[1..] != [(1, 1), (1, 1)] {
            return None;
        }
        let mut components = Vec::new();
        for i in 0..3 {
            let (id, tables) = (picks[2 * i], picks[2 * i + 1]);
            if id != comps[3 * i] {
                return None;
            }
            let blocks = sampling[i].0 * sampling[i].1;
            components.push(Component {
                blocks,
                dc: usize::from(tables >> 4),
                ac: usize::from(tables & 15),
            });
        }
        let (mut dc, mut ac) = (Default::default(), Default::default());
        for table in all.iter().filter(|s| s.marker == 0xC4) {
            read_tables(content(table), &mut dc, &mut ac)?;
        }
        let (units_across, unit_rows) = (width.div_ceil(8 * across), 8 * down);
        let restart = all
            .iter()
            .filter(|s| s.marker == RESTART_INTERVAL)
            .map(|s| be16(content(s)))
            .next_back();
        let restarts = match restart.unwrap_or(Some(0))? {
            0 => false,
            interval if interval == units_across => true,
            _ => return None,
        };
        let upper_units = (height.div_ceil(unit_rows) as f64 * UPPER_SHARE) as usize;
        let head = all.into_iter().filter(|s| is_needed(s.marker)).collect();
        Some(Self {
            bytes,
            head,
            scan: scan.end,
            height,
            components,
            dc,
            ac,
            units_across,
            unit_rows,
            upper_units,
            restarts,
        })
    }

    /// Pixel rows of the upper part.
    pub fn upper_rows(&self) -> usize {
        self.upper_units * self.unit_rows
    }

    /// Pixel rows of one row of units.
    pub fn unit_rows(&self) -> usize {
        self.unit_rows
    }

    /// The upper part as a file of its own.
    pub fn upper(&self) -> Vec<u8> {
        let coded = self.bytes.len() - self.scan;
        let share = ((UPPER_SHARE + UPPER_SPARE) * coded as f64) as usize;
        let mut file = self.head(self.upper_rows());
        file.extend_from_slice(&self.bytes[self.scan..self.scan + share.min(coded)]);
        file
    }

    /// The lower part and the seam; `None` when the data are not as they should be or can't be written with the
    /// file's own tables.
    pub fn lower(&self) -> Option<Lower> {
        let data = &self.bytes[self.scan..];
        if self.restarts {
            return self.lower_by_restarts(data);
        }
        let mut bits = Bits::new(data, Place { byte: 0, bit: 0 });
        let mut state = RowStart {
            place: bits.place(),
            predictions: [0; 3],
        };
        let mut above = state;
        for row in 0..self.upper_units {
            if row + 1 == self.upper_units {
                above = state;
            }
            state = self.skip_row(&mut bits, state)?;
        }
        let below = self.skip_row(&mut bits, state)?;
        let seam = self.rewrite(
            &data[..(below.place.byte + 1).min(data.len())],
            above,
            2 * self.unit_rows,
        )?;
        let part = self.rewrite(data, state, self.height - self.upper_rows())?;
        Some(Lower { part, seam })
    }

    /// The same where restart markers show the rows of units: nothing is stepped over and nothing rewritten.
    fn lower_by_restarts(&self, data: &[u8]) -> Option<Lower> {
        let mut markers = restart_markers(data).skip(self.upper_units.checked_sub(2)?);
        let (above, at, below) = (markers.next()?, markers.next()?, markers.next()?);
        let file = |rows: usize, coded: &[u8]| {
            let mut file = self.head(rows);
            let from = file.len();
            file.extend_from_slice(coded);
            // The markers of a file count from 0 to 7 and round again.
            let places: Vec<usize> = restart_markers(coded).collect();
            places
                .iter()
                .enumerate()
                .for_each(|(i, at)| file[from + at + 1] = 0xD0 + (i % 8) as u8);
            file
        };
        Some(Lower {
            part: file(self.height - self.upper_rows(), &data[at + 2..]),
            seam: file(2 * self.unit_rows, &data[above + 2..below]),
        })
    }

    fn skip_row(&self, bits: &mut Bits<'_>, start: RowStart) -> Option<RowStart> {
        let mut predictions = start.predictions;
        let tables = self.tables()?;
        for _ in 0..self.units_across {
            for ((component, (dc, ac)), prediction) in
                self.components.iter().zip(tables).zip(&mut predictions)
            {
                for _ in 0..component.blocks {
                    *prediction += read_dc(bits, dc)?;
                    skip_ac(bits, ac)?;
                }
            }
        }
        (!bits.overrun()).then(|| RowStart {
            place: bits.place(),
            predictions,
        })
    }

    fn tables(&self) -> Option<[(&Codes, &Codes); 3]> {
        let of = |i: usize| {
            let c = self.components[i];
            Some((self.dc.get(c.dc)?.as_ref()?, self.ac.get(c.ac)?.as_ref()?))
        };
        Some([of(0)?, of(1)?, of(2)?])
    }

    /// A file of `rows` pixel rows from a row of units on: its first blocks carry the predictions, the rest is moved.
    fn rewrite(&self, data: &[u8], start: RowStart, rows: usize) -> Option<Vec<u8>> {
        let mut bits = Bits::new(data, start.place);
        let mut head = self.head(rows);
        head.reserve(data.len() - start.place.byte + 4096);
        let mut writer = Writer::new(head);
        for (i, (component, (dc, ac))) in self.components.iter().zip(self.tables()?).enumerate() {
            for block in 0..component.blocks {
                let first = if block == 0 { start.predictions[i] } else { 0 };
                writer.put_dc(read_dc(&mut bits, dc)? + first, dc)?;
                writer.copy_ac(&mut bits, ac)?;
            }
        }
        Some(writer.copy_rest(bits))
    }

    /// The segments that decoding needs, with another height.
    fn head(&self, rows: usize) -> Vec<u8> {
        let mut head = vec![0xFF, 0xD8];
        for segment in &self.head {
            let content = &self.bytes[segment.content..segment.end];
            head.extend([0xFF, segment.marker]);
            head.extend((content.len() as u16 + 2).to_be_bytes());
            let at = head.len();
            head.extend_from_slice(content);
            if is_frame(segment.marker) {
                head[at + 1..at + 3].copy_from_slice(&(rows as u16).to_be_bytes());
            }
        }
        head
    }
}

/// Frame headers; 0xC4, 0xC8 and 0xCC of the same range are something else.
fn is_frame(marker: u8) -> bool {
    matches!(marker, 0xC0..=0xCF) && !matches!(marker, 0xC4 | 0xC8 | 0xCC)
}

/// Where the restart markers of coded data stand.
fn restart_markers(data: &[u8]) -> impl Iterator<Item = usize> {
    data.windows(2)
        .enumerate()
        .filter(|(_, w)| w[0] == 0xFF && w[1] & 0xF8 == 0xD0)
        .map(|(at, _)| at)
}

/// The number in the first two bytes.
fn be16(content: &[u8]) -> Option<usize> {
    content
        .first_chunk::<2>()
        .map(|b| usize::from(u16::from_be_bytes(*b)))
}

/// Frame, scan, tables, and the two application segments that say what the channels are.
fn is_needed(marker: u8) -> bool {
    is_frame(marker) || matches!(marker, SOS | RESTART_INTERVAL | 0xC4 | 0xDB | 0xE0 | 0xEE)
}

/// Reads the code tables of one segment.
fn read_tables(
    mut content: &[u8],
    dc: &mut [Option<Codes>; 4],
    ac: &mut [Option<Codes>; 4],
) -> Option<()> {
    while let Some((&kind, rest)) = content.split_first() {
        let (counts, rest) = rest.split_first_chunk::<16>()?;
        let symbols = counts.iter().map(|&c| usize::from(c)).sum();
        let table = Codes::new(counts, rest.get(..symbols)?)?;
        let place = usize::from(kind & 15);
        match kind >> 4 {
            0 => *dc.get_mut(place)? = Some(table),
            1 => *ac.get_mut(place)? = Some(table),
            _ => return None,
        }
        content = &rest[symbols..];
    }
    Some(())
}
