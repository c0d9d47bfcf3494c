//! Changes to bytes of which nothing is known.

use super::draw::Draw;

/// Numbers at which parsers go wrong.
const EDGES: [u64; 18] = [
    0,
    1,
    2,
    3,
    7,
    8,
    0x7F,
    0x80,
    0xFF,
    0x100,
    0x7FFF,
    0x8000,
    0xFFFF,
    0x1_0000,
    0x7FFF_FFFF,
    0x8000_0000,
    0xFFFF_FFFF,
    0xFFFF_FFF8,
];

/// Longest file that is made.
pub const MOST_BYTES: usize = 16 << 10;

/// Changes `bytes` in one place. `others` are whole files to take pieces from.
pub fn change(draw: &mut Draw, bytes: &mut Vec<u8>, others: &[Vec<u8>]) {
    if bytes.is_empty() {
        bytes.push(draw.next() as u8);
        return;
    }
    let at = draw.below(bytes.len());
    match draw.below(12) {
        0 | 1 => bytes[at] ^= 1 << draw.below(8),
        2 => bytes[at] = draw.next() as u8,
        3 => bytes[at] = *draw.pick(&EDGES) as u8,
        4 => {
            bytes[at] = bytes[at]
                .wrapping_add(draw.below(35) as u8)
                .wrapping_sub(17)
        }
        5 | 6 => number(draw, bytes, at),
        7 => {
            let end = (at + draw.length(bytes.len())).min(bytes.len());
            bytes.drain(at..end);
        }
        8 => copy(draw, bytes, at),
        9 => {
            let fresh: Vec<u8> = (0..draw.length(64)).map(|_| draw.next() as u8).collect();
            bytes.splice(at..at, fresh);
        }
        10 => splice(draw, bytes, at, others),
        _ if draw.once_in(4) => bytes.truncate(at),
        _ => {
            let end = (at + draw.length(64)).min(bytes.len());
            let fill = *draw.pick(&[0, 0xFF, bytes[at]]);
            bytes[at..end].fill(fill);
        }
    }
    bytes.truncate(MOST_BYTES);
}

/// Writes a number of two or four bytes: one of the edges, the length, or what stood there a little changed.
fn number(draw: &mut Draw, bytes: &mut [u8], at: usize) {
    let wide = if draw.once_in(2) { 2 } else { 4 };
    let Some(field) = bytes.get(at..at + wide) else {
        return;
    };
    let little = draw.once_in(2);
    let before = field.iter().enumerate().fold(0u64, |sum, (i, b)| {
        let place = if little { i } else { wide - 1 - i };
        sum | u64::from(*b) << (8 * place)
    });
    let value = match draw.below(4) {
        0 => bytes.len() as u64,
        1 => before.wrapping_add(draw.below(9) as u64).wrapping_sub(4),
        _ => *draw.pick(&EDGES),
    };
    write(&mut bytes[at..at + wide], value, little);
}

/// Writes the low bytes of `value` over `field`.
pub fn write(field: &mut [u8], value: u64, little: bool) {
    let wide = field.len();
    for (i, byte) in field.iter_mut().enumerate() {
        let place = if little { i } else { wide - 1 - i };
        *byte = (value >> (8 * place)) as u8;
    }
}

/// Copies a run of bytes to another place, over what stands there or between.
fn copy(draw: &mut Draw, bytes: &mut Vec<u8>, at: usize) {
    let end = (at + draw.length(bytes.len())).min(bytes.len());
    let run = bytes[at..end].to_vec();
    let to = draw.below(bytes.len());
    let over = if draw.once_in(2) {
        (to + run.len()).min(bytes.len())
    } else {
        to
    };
    bytes.splice(to..over, run);
}

/// Puts a run of another file in, or goes on with its end.
fn splice(draw: &mut Draw, bytes: &mut Vec<u8>, at: usize, others: &[Vec<u8>]) {
    let other = draw.pick(others);
    if other.is_empty() {
        return;
    }
    let from = draw.below(other.len());
    if draw.once_in(3) {
        bytes.truncate(at);
        bytes.extend(&other[from..]);
    } else {
        let end = (from + draw.length(other.len())).min(other.len());
        bytes.splice(at..at, other[from..end].iter().copied());
    }
}

/// A number from the edges.
pub fn edge(draw: &mut Draw) -> u64 {
    *draw.pick(&EDGES)
}
