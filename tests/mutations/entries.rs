//! Changes to tables of entries that point to their data: the directories of TIFF and EXIF, the tags of colour profiles.

use super::bytes::{edge, write};
use super::draw::Draw;

/// Bytes of an entry of a TIFF directory: tag, kind, count, value or place.
const ENTRY: usize = 12;

/// Changes one field of one entry of a TIFF block's first directory; false where there is none.
pub fn change_directory(draw: &mut Draw, block: &mut [u8]) -> bool {
    let little = block.starts_with(b"II");
    let Some(first) = number(block, 4, 4, little) else {
        return false;
    };
    let Some(count) = number(block, first, 2, little).filter(|c| *c > 0) else {
        return false;
    };
    let at = first + 2 + ENTRY * draw.below(count.min(64));
    let (offset, wide, value) = match draw.below(4) {
        0 => (0, 2, *draw.pick(&TAGS)),
        1 => (2, 2, draw.below(20) as u64),
        2 => (4, 4, edge(draw)),
        _ => (8, 4, place(draw, block.len())),
    };
    let Some(field) = block.get_mut(at + offset..at + offset + wide) else {
        return false;
    };
    write(field, value, little);
    true
}

/// Tags of pictures and of capture data that the program or its decoders look at [CIPA-DC008].
const TAGS: [u64; 32] = [
    254, 256, 257, 258, 259, 262, 266, 270, 271, 272, 273, 274, 277, 278, 279, 284, 306, 317, 320,
    322, 323, 324, 325, 330, 338, 339, 34665, 34675, 34853, 33434, 36867, 41985,
];

fn place(draw: &mut Draw, length: usize) -> u64 {
    if draw.once_in(2) {
        draw.below(length + 2) as u64
    } else {
        edge(draw)
    }
}

fn number(bytes: &[u8], at: usize, wide: usize, little: bool) -> Option<usize> {
    let field = bytes.get(at..at.checked_add(wide)?)?;
    Some(field.iter().enumerate().fold(0, |sum, (i, b)| {
        let place = if little { i } else { wide - 1 - i };
        sum | usize::from(*b) << (8 * place)
    }))
}

/// Changes one field of the table of a colour profile's tags, or of its head [ICC.1]; false where there is none.
pub fn change_profile(draw: &mut Draw, profile: &mut [u8]) -> bool {
    let Some(count) = number(profile, 128, 4, false).filter(|c| *c > 0) else {
        return false;
    };
    let at = 132 + 12 * draw.below(count.min(64));
    let at = match draw.below(8) {
        0 => 4 * draw.below(33),
        1..=3 => at + 4,
        4 | 5 => at + 8,
        // Inside the tag's data: its kind, or the count of its values.
        _ => number(profile, at + 4, 4, false).unwrap_or(0) + 4 * draw.below(4),
    };
    let value = place(draw, profile.len());
    let Some(field) = profile.get_mut(at..at.saturating_add(4)) else {
        return false;
    };
    if draw.once_in(6) {
        let kind: &&[u8; 4] = draw.pick(&KINDS);
        field.copy_from_slice(*kind);
    } else {
        write(field, value, false);
    }
    true
}

/// Kinds of a profile's data and spaces.
const KINDS: [&[u8; 4]; 10] = [
    b"curv", b"para", b"XYZ ", b"desc", b"mluc", b"text", b"mft2", b"mAB ", b"GRAY", b"CMYK",
];
