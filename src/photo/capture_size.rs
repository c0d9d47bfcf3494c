//! Whether a block of capture data is as small as cameras write it: looked at before a reader unfolds it.
//!
//! A text of sixty megabytes of zeros would be taken apart into as many empty texts, each of which takes memory of its own.

/// Largest block in bytes (house rule: a JPEG can hold 64 KB of it, other files of cameras have little more).
const MOST_BYTES: usize = 1 << 20;
/// Most values of an entry that is read (house rule: names and times have tens of letters).
const MOST_VALUES: usize = 1 << 16;
/// Bytes of an entry [CIPA-DC008] 4.6.2.
const ENTRY: usize = 12;
/// Where the directory of capture data stands.
const EXIF_DIRECTORY: u16 = 0x8769;
/// Entries with as many values as the picture has strips, or as the maker likes; none of them is read as capture data.
const MAY_BE_LONG: [u16; 12] = [
    273, 279, 324, 325, // places and lengths of strips and tiles
    320, // palette
    270, 700, 33723, 34377, 34675,
    37510, // descriptions by people and programs, colour profile
    37500, // the maker's own
];

/// True for a block of few bytes, or a whole TIFF file whose first directories have none but small entries.
pub(super) fn is_small(block: &[u8]) -> bool {
    block.len() <= MOST_BYTES || entries_are_small(block).unwrap_or(true)
}

/// Kind of an entry that holds text [CIPA-DC008] 4.6.2.
const TEXT: u16 = 2;
/// Texts of any length in which no number is looked for: descriptions by people and programs.
const DESCRIPTIONS: [u16; 5] = [270, 700, 33723, 34377, 37510];

/// True for a TIFF file whose first directory says no text, where numbers are looked for, longer than cameras write. The
/// decoder prints a line of its own to the terminal over one that is longer than its bound, which is never below
/// `MOST_VALUES`: pictures of fewer bytes are refused before.
pub(super) fn texts_are_short(file: &[u8]) -> bool {
    let reader = Numbers::of(file);
    let first = reader.long(4).unwrap_or(0) as usize;
    reader.entries(first).all(|entry| {
        entry.kind != TEXT || entry.count <= MOST_VALUES || DESCRIPTIONS.contains(&entry.tag)
    })
}

/// True where no entry of the first directory and of the capture data in it is too long; `None` where there is none.
fn entries_are_small(block: &[u8]) -> Option<bool> {
    let reader = Numbers::of(block);
    let first = reader.long(4)? as usize;
    let mut small = true;
    let mut capture = None;
    for entry in reader.entries(first) {
        small &= is_entry_small(&entry);
        if entry.tag == EXIF_DIRECTORY {
            capture = Some(entry.value);
        }
    }
    if let Some(at) = capture {
        small &= reader.entries(at).all(|entry| is_entry_small(&entry));
    }
    Some(small)
}

fn is_entry_small(entry: &Entry) -> bool {
    entry.count <= MOST_VALUES || MAY_BE_LONG.contains(&entry.tag)
}

/// An entry of a directory: its value, or the place of it.
struct Entry {
    tag: u16,
    kind: u16,
    count: usize,
    value: usize,
}

/// Numbers of a block in its own order of bytes.
#[derive(Clone, Copy)]
struct Numbers<'a> {
    block: &'a [u8],
    little: bool,
}

impl<'a> Numbers<'a> {
    fn of(block: &'a [u8]) -> Self {
        Self {
            block,
            little: block.starts_with(b"II"),
        }
    }

    fn short(self, at: usize) -> Option<u16> {
        let bytes = *self.block.get(at..)?.first_chunk()?;
        Some(if self.little {
            u16::from_le_bytes(bytes)
        } else {
            u16::from_be_bytes(bytes)
        })
    }

    fn long(self, at: usize) -> Option<u32> {
        let bytes = *self.block.get(at..)?.first_chunk()?;
        Some(if self.little {
            u32::from_le_bytes(bytes)
        } else {
            u32::from_be_bytes(bytes)
        })
    }

    /// Each entry of the directory at `at`, as far as there are any.
    fn entries(self, at: usize) -> impl Iterator<Item = Entry> + use<'a> {
        let count = usize::from(self.short(at).unwrap_or(0));
        (0..count).map_while(move |i| {
            let at = at + 2 + ENTRY * i;
            Some(Entry {
                tag: self.short(at)?,
                kind: self.short(at + 2)?,
                count: self.long(at + 4)? as usize,
                value: self.long(at + 8)? as usize,
            })
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A block of two megabytes with one entry in its capture data.
    fn block(tag: u16, count: u32) -> Vec<u8> {
        let mut block =
            b"II\x2a\0\x08\0\0\0\x01\0\x69\x87\x04\0\x01\0\0\0\x1a\0\0\0\0\0\0\0".to_vec();
        block.extend([1, 0]);
        block.extend(tag.to_le_bytes());
        block.extend([2, 0]);
        block.extend(count.to_le_bytes());
        block.extend([0; 8]);
        block.resize(2 << 20, 0);
        block
    }

    #[test]
    fn entries_longer_than_any_camera_writes() {
        assert!(is_small(&block(0x9003, 20)));
        assert!(!is_small(&block(0x9003, 2_000_000)));
        assert!(is_small(&block(37500, 2_000_000)), "the maker's own");
        assert!(is_small(&block(0x9003, 2_000_000)[..1000]));
        assert!(is_small(&vec![0xFF; 2 << 20]));
    }
}
