//! What the header of a sequential JPEG says of its scan: components, tables, units.
//!
//! # Source
//! [ITU-T81] annexes A and B.

use super::jpeg_bits::Codes;
use super::jpeg_parts::Segment;
use super::jpeg_transform::{FINE, Shape, weights};

/// Marker of the segment that tells the restart interval.
const RESTART_INTERVAL: u8 = 0xDD;

/// Column-major place of each coefficient of the zigzag order [ITU-T81] figure A.6.
pub(super) const ORDER: [u8; 64] = order();

const fn order() -> [u8; 64] {
    let (mut out, mut u, mut v) = ([0; 64], 0usize, 0usize);
    let mut k = 0;
    while k < 64 {
        out[k] = (u * 8 + v) as u8;
        if (u + v) % 2 == 0 {
            if u == 7 {
                v += 1;
            } else if v == 0 {
                u += 1;
            } else {
                u += 1;
                v -= 1;
            }
        } else if v == 7 {
            u += 1;
        } else if u == 0 {
            v += 1;
        } else {
            u -= 1;
            v += 1;
        }
        k += 1;
    }
    out
}

/// One component of the scan.
#[derive(Debug)]
pub(super) struct Component {
    /// Blocks of a unit, across and down.
    pub blocks: (usize, usize),
    pub dc: usize,
    pub ac: usize,
    /// Steps of [`FINE`] values to one of the first coefficient.
    pub first_step: i32,
    /// Weight of each coefficient of the zigzag order.
    pub weights: [f32; 64],
    pub shape: Shape,
    /// Values of one block at half size, across and down.
    pub part: (usize, usize),
}

/// What is to be decoded.
#[derive(Debug)]
pub(super) struct Layout {
    pub components: Vec<Component>,
    pub dc: [Option<Codes>; 4],
    pub ac: [Option<Codes>; 4],
    /// Units of the picture, across and down.
    pub units: (usize, usize),
    /// Values of a unit at half size, across and down, for each component.
    pub tile: (usize, usize),
    /// Units between restart markers; 0 = none.
    pub restart: usize,
}

impl Layout {
    /// Layout and size of the picture; `None` for odd sizes and what is unusual.
    pub fn new(bytes: &[u8], all: &[Segment], scan: Segment) -> Option<(Self, (usize, usize))> {
        let content = |s: &Segment| &bytes[s.content..s.end];
        // Other frames (progressive, lossless) and a second frame are not read here.
        let frames: Vec<&Segment> = all.iter().filter(|s| is_frame(s.marker)).collect();
        if frames.len() != 1 || !matches!(frames[0].marker, 0xC0 | 0xC1) {
            return None;
        }
        let &[8, h1, h0, w1, w0, 3, ref comps @ ..] = content(frames[0]) else {
            return None;
        };
        let size = (
            usize::from(u16::from_be_bytes([w1, w0])),
            usize::from(u16::from_be_bytes([h1, h0])),
        );
        let &[3, ref picks @ ..] = content(&scan) else {
            return None;
        };
        if comps.len() != 9
            || picks.len() != 9
            || picks[6..] != [0, 63, 0]
            || size.0 % 2 + size.1 % 2 > 0
        {
            return None;
        }
        let (across, down) = (usize::from(comps[1] >> 4), usize::from(comps[1] & 15));
        if !matches!((across, down), (1 | 2, 1 | 2)) || comps[4] != 0x11 || comps[7] != 0x11 {
            return None;
        }
        let tables = Tables::read(all, content)?;
        let mut components = Vec::new();
        for i in 0..3 {
            let (comp, pick) = (&comps[3 * i..3 * i + 3], &picks[2 * i..2 * i + 2]);
            if pick[0] != comp[0] {
                return None;
            }
            let steps = (*tables.steps.get(usize::from(comp[2]))?)?;
            let blocks = if i == 0 { (across, down) } else { (1, 1) };
            // Where luminance has two blocks, the single block of a colour difference is at half size already.
            let shape = Shape {
                halve_across: blocks.0 == across,
                halve_down: blocks.1 == down,
            };
            components.push(Component::new(blocks, pick[1], &steps, shape));
        }
        let layout = Self {
            components,
            dc: tables.dc,
            ac: tables.ac,
            units: (size.0.div_ceil(8 * across), size.1.div_ceil(8 * down)),
            tile: (4 * across, 4 * down),
            restart: tables.restart,
        };
        layout.tables()?;
        Some((layout, size))
    }

    /// Code tables of each component, first and other coefficients.
    pub fn tables(&self) -> Option<[(&Codes, &Codes); 3]> {
        let of = |c: &Component| Some((self.dc.get(c.dc)?.as_ref()?, self.ac.get(c.ac)?.as_ref()?));
        let [one, two, three] = self.components.as_slice() else {
            return None;
        };
        Some([of(one)?, of(two)?, of(three)?])
    }

    /// Values of a unit at half size, all components.
    pub fn values_of_unit(&self) -> usize {
        3 * self.tile.0 * self.tile.1
    }
}

impl Component {
    fn new(blocks: (usize, usize), tables: u8, steps: &[u16; 64], shape: Shape) -> Self {
        let weights = weights();
        let weights = weights.as_flattened();
        let halved = |on: bool| if on { 4 } else { 8 };
        Self {
            blocks,
            dc: usize::from(tables >> 4),
            ac: usize::from(tables & 15),
            // A block's first coefficient is eight times its mean.
            first_step: i32::from(steps[0]) * FINE as i32 / 8,
            weights: std::array::from_fn(|k| f32::from(steps[k]) * weights[usize::from(ORDER[k])]),
            shape,
            part: (halved(shape.halve_across), halved(shape.halve_down)),
        }
    }
}

/// Tables of a file.
struct Tables {
    dc: [Option<Codes>; 4],
    ac: [Option<Codes>; 4],
    /// Steps of the coefficients in zigzag order.
    steps: [Option<[u16; 64]>; 4],
    restart: usize,
}

impl Tables {
    fn read<'a>(all: &[Segment], content: impl Fn(&Segment) -> &'a [u8]) -> Option<Self> {
        let mut tables = Self {
            dc: Default::default(),
            ac: Default::default(),
            steps: [None; 4],
            restart: 0,
        };
        for segment in all {
            match segment.marker {
                0xC4 => read_codes(content(segment), &mut tables.dc, &mut tables.ac)?,
                0xDB => read_steps(content(segment), &mut tables.steps)?,
                RESTART_INTERVAL => {
                    let [a, b] = *content(segment).first_chunk::<2>()?;
                    tables.restart = usize::from(u16::from_be_bytes([a, b]));
                }
                // Arithmetic coding.
                0xCC => return None,
                _ => {}
            }
        }
        Some(tables)
    }
}

/// Frame headers; 0xC4, 0xC8 and 0xCC of the same range are something else.
fn is_frame(marker: u8) -> bool {
    matches!(marker, 0xC0..=0xCF) && !matches!(marker, 0xC4 | 0xC8 | 0xCC)
}

/// Reads the code tables of one segment.
fn read_codes(
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

/// Reads the coefficient steps of one segment.
fn read_steps(mut content: &[u8], steps: &mut [Option<[u16; 64]>; 4]) -> Option<()> {
    while let Some((&kind, rest)) = content.split_first() {
        let wide = match kind >> 4 {
            0 => 1,
            1 => 2,
            _ => return None,
        };
        let table = rest.get(..64 * wide)?;
        let of = |k: usize| match wide {
            1 => u16::from(table[k]),
            _ => u16::from_be_bytes([table[2 * k], table[2 * k + 1]]),
        };
        *steps.get_mut(usize::from(kind & 15))? = Some(std::array::from_fn(of));
        content = &rest[64 * wide..];
    }
    Some(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_zigzag_order_is_the_published_one() {
        // [ITU-T81] figure A.6, first two diagonals and the end, as horizontal * 8 + vertical index.
        assert_eq!(ORDER[..10], [0, 8, 1, 2, 9, 16, 24, 17, 10, 3]);
        assert_eq!(ORDER[61..], [62, 55, 63]);
        let mut all = ORDER;
        all.sort_unstable();
        assert!(all.iter().enumerate().all(|(i, at)| i == usize::from(*at)));
    }
}
