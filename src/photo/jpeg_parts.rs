//! Where things stand in a JPEG file: segments, the scan, the end of the first picture.
//!
//! # Source
//! [ITU-T81] annex B.

/// A marker with what belongs to it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Segment {
    /// Second byte of the marker.
    pub marker: u8,
    /// Where the content begins (behind the length).
    pub content: usize,
    /// Where the content ends.
    pub end: usize,
}

/// Header of a scan.
pub(super) const SOS: u8 = 0xDA;
/// Frame header of a progressive picture.
const SOF_PROGRESSIVE: u8 = 0xC2;
/// End of the picture.
const EOI: u8 = 0xD9;

/// The segments from the start of the file to the first scan's header, that included; `None` when they do not add up.
pub(super) fn segments(bytes: &[u8]) -> Option<Vec<Segment>> {
    let mut found = vec![segment_at(bytes, 2)?];
    while let Some(last) = found.last().filter(|s| s.marker != SOS) {
        found.push(segment_at(bytes, last.end)?);
    }
    Some(found)
}

/// The segment whose marker begins at `start`, perhaps behind fill bytes.
pub(super) fn segment_at(bytes: &[u8], start: usize) -> Option<Segment> {
    let mut at = start;
    if *bytes.get(at)? != 0xFF {
        return None;
    }
    while *bytes.get(at)? == 0xFF {
        at += 1;
    }
    let length = usize::from(u16::from_be_bytes([
        *bytes.get(at + 1)?,
        *bytes.get(at + 2)?,
    ]));
    let (content, end) = (at + 3, at + 1 + length);
    (length >= 2 && end <= bytes.len()).then_some(Segment {
        marker: bytes[at],
        content,
        end,
    })
}

/// The file as the decoder must see it: nothing behind the first picture, and no end marker behind a sequential scan.
///
/// A decoder that meets the end marker before the picture is full takes it for the wish of the file and fills the rest
/// with grey; without the marker it must say that data are missing. Progressive files need it, so for those the scans
/// are counted instead. What follows the picture (previews, gain maps) is not ours.
///
/// # Errors
/// A progressive picture with scans missing.
pub(super) fn first_picture(bytes: &[u8]) -> Result<FirstPicture<'_>, &'static str> {
    let segments = segments(bytes).unwrap_or_default();
    let Some(&scan) = segments.last() else {
        return Ok(FirstPicture { bytes, scans: 0 });
    };
    let mut scans = 0;
    let Some(frame) = segments.iter().find(|s| s.marker == SOF_PROGRESSIVE) else {
        let end = walk_scans(bytes, scan, |_| scans += 1);
        let bytes = end.map_or(bytes, |end| &bytes[..end]);
        return Ok(FirstPicture { bytes, scans });
    };
    let mut progress = Progress::new(&bytes[frame.content..frame.end]);
    let end = walk_scans(bytes, scan, |header| {
        scans += 1;
        progress.take(header);
    });
    let bytes = &bytes[..end.ok_or("it has no end")? + 2];
    if progress.complete() {
        Ok(FirstPicture { bytes, scans })
    } else {
        Err("scans are missing")
    }
}

/// What the decoder is to see of a file.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct FirstPicture<'a> {
    /// The first picture's part of the file.
    pub bytes: &'a [u8],
    /// How many scans it has, the one without an end included.
    pub scans: usize,
}

/// Gives each scan's header to `visit` and returns where the end marker stands; `None` where there is none.
fn walk_scans(bytes: &[u8], first: Segment, mut visit: impl FnMut(&[u8])) -> Option<usize> {
    let mut segment = first;
    loop {
        let mut at = segment.end;
        if segment.marker == SOS {
            visit(&bytes[segment.content..segment.end]);
            at = next_marker(bytes, at)?;
        }
        // Tables between scans may hold any pair of bytes, so they are stepped over by their length.
        if bytes.get(at..at + 2)? == [0xFF, EOI] {
            return Some(at);
        }
        segment = segment_at(bytes, at)?;
    }
}

/// How far each coefficient of each component has come in a progressive picture.
struct Progress {
    /// Component id, and by coefficient the lowest bit received yet.
    components: Vec<(u8, [u8; 64])>,
}

impl Progress {
    /// Nothing received yet, for the components of a frame header.
    fn new(frame: &[u8]) -> Self {
        let ids = frame.get(6..).unwrap_or_default().chunks_exact(3);
        Self {
            components: ids.map(|c| (c[0], [u8::MAX; 64])).collect(),
        }
    }

    /// Notes what the scan with this header brings.
    fn take(&mut self, header: &[u8]) {
        let Some((&count, rest)) = header.split_first() else {
            return;
        };
        let listed = usize::from(count) * 2;
        let (Some(ids), Some(&[first, last, bits])) =
            (rest.get(..listed), rest.get(listed..listed + 3))
        else {
            return;
        };
        let band = usize::from(first.min(64))..usize::from(last.min(63)) + 1;
        for (id, lowest) in &mut self.components {
            if ids.iter().step_by(2).any(|i| i == id) && band.start < band.end {
                lowest[band.clone()].fill(bits & 0x0F);
            }
        }
    }

    /// True when every coefficient came down to its last bit.
    fn complete(&self) -> bool {
        self.components
            .iter()
            .all(|(_, lowest)| lowest.iter().all(|&bit| bit == 0))
    }
}

/// Bytes that are looked at in one go; the loop inside has no branch and becomes vector code.
const STRIDE: usize = 256;

/// The next marker at or behind `from` that is neither a stuffed 0xFF nor a restart marker.
pub(super) fn next_marker(bytes: &[u8], from: usize) -> Option<usize> {
    let is_marker = |first: u8, second: u8| {
        (first == 0xFF) & (second != 0) & (second != 0xFF) & (second & 0xF8 != 0xD0)
    };
    let firsts = bytes.get(from..bytes.len().checked_sub(1)?)?;
    let seconds = &bytes[from + 1..];
    for (i, (a, b)) in firsts
        .chunks(STRIDE)
        .zip(seconds.chunks(STRIDE))
        .enumerate()
    {
        let any = a
            .iter()
            .zip(b)
            .fold(false, |any, (&a, &b)| any | is_marker(a, b));
        if any {
            let inside = a.iter().zip(b).position(|(&a, &b)| is_marker(a, b))?;
            return Some(from + i * STRIDE + inside);
        }
    }
    None
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A progressive file of one component with the given scans (first and last coefficient, last bit).
    fn progressive(scans: &[[u8; 3]]) -> Vec<u8> {
        let mut file = vec![
            0xFF,
            0xD8,
            0xFF,
            SOF_PROGRESSIVE,
            0,
            11,
            8,
            0,
            8,
            0,
            8,
            1,
            7,
            0x11,
            0,
        ];
        for [first, last, bit] in scans {
            file.extend([0xFF, SOS, 0, 8, 1, 7, 0, *first, *last, *bit]);
            file.extend([1, 2, 0xFF, 0, 3, 0xFF, 0xD0, 4]);
        }
        file.extend([0xFF, EOI]);
        file
    }

    #[test]
    fn progressive_scans_must_reach_the_last_bit() {
        let whole = progressive(&[[0, 0, 1], [1, 63, 2], [0, 0, 0], [1, 63, 1], [1, 63, 0]]);
        let first = FirstPicture {
            bytes: &whole,
            scans: 5,
        };
        assert_eq!(first_picture(&whole), Ok(first));
        let longer = [whole.clone(), whole.clone()].concat();
        assert_eq!(first_picture(&longer), Ok(first));
        for short in [
            &[[0, 0, 0], [1, 63, 1]][..],
            &[[0, 0, 0], [1, 62, 0]],
            &[[1, 63, 0]],
        ] {
            assert_eq!(first_picture(&progressive(short)), Err("scans are missing"));
        }
        assert_eq!(
            first_picture(&whole[..whole.len() - 2]),
            Err("it has no end")
        );
    }

    #[test]
    fn the_end_marker_of_sequential_files_is_left_out() {
        let mut file = progressive(&[[0, 63, 0]]);
        file[3] = 0xC0;
        let seen = |file| first_picture(file).map(|first| (first.bytes, first.scans));
        assert_eq!(seen(&file), Ok((&file[..file.len() - 2], 1)));
        assert_eq!(seen(b"\xFF\xD8\xFF"), Ok((&b"\xFF\xD8\xFF"[..], 0)));
    }
}
