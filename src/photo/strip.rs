//! A photo as it may be published: image data, colour profile and which way is up, and nothing else the file carries.

use super::jpeg_parts::{SOS, Segment, next_marker, segment_at};
use super::{capture, strip_png};
use crate::error::Error;

/// Markers whose segments are needed to decode the picture: frames, code tables, arithmetic conditioning, quantisers,
/// line count, restart interval, hierarchy.
const NEEDED: [std::ops::RangeInclusive<u8>; 4] =
    [0xC0..=0xC7, 0xC9..=0xCF, 0xDB..=0xDD, 0xDE..=0xDF];
/// File header of the exchange format.
const APP0: u8 = 0xE0;
/// EXIF data.
const APP1: u8 = 0xE1;
/// Colour profile, among other things.
const APP2: u8 = 0xE2;
/// Which colour transform the components went through; without it some files decode to other colours.
const APP14: u8 = 0xEE;
/// End of the picture.
const END: [u8; 2] = [0xFF, 0xD9];
/// What an EXIF segment begins with [CIPA-DC008].
const EXIF: &[u8] = b"Exif\0\0";
/// What a segment with a part of the profile begins with [ICC.1].
const PROFILE: &[u8] = b"ICC_PROFILE\0";
/// What the segment of the colour transform begins with; its fixed part is twelve bytes long.
const TRANSFORM: &[u8] = b"Adobe";
const TRANSFORM_LENGTH: usize = 12;

/// The photo in `bytes`, a JPEG or PNG, with only what shows the picture, each kind by its own allow-list. Nothing is encoded
/// anew, so it decodes to the same pixels.
///
/// # Errors
/// [`Error::Photo`]: another kind of file, or its parts do not add up.
pub fn published(bytes: &[u8]) -> Result<Vec<u8>, Error> {
    match bytes {
        [0xFF, 0xD8, 0xFF, ..] => jpeg(bytes).ok_or_else(|| broken("JPEG")),
        _ if is_png(bytes) => strip_png::published(bytes).ok_or_else(|| broken("PNG")),
        _ => Err(other_kind()),
    }
}

/// True for a file that begins as a PNG does.
pub fn is_png(bytes: &[u8]) -> bool {
    bytes.starts_with(&strip_png::SIGNATURE)
}

/// The JPEG in `bytes` with only what shows the picture: tables, frames and scans byte for byte as they are, the colour
/// profile, the header of the exchange format without its thumbnail, and an EXIF segment of our own that says nothing but
/// the orientation. By allow-list: time, place, camera, remarks, previews, maker notes, gain maps and what follows the
/// picture are left behind whatever they are called. `None` where its parts do not add up.
///
/// # Source
/// Segments [ITU-T81] annex B, [ITU-T871]; orientation [CIPA-DC008].
fn jpeg(bytes: &[u8]) -> Option<Vec<u8>> {
    let mut kept = Vec::with_capacity(bytes.len());
    let (mut header, mut orientation) = (None, None);
    let mut at = 2;
    loop {
        if bytes.get(at..at + 2)? == END {
            break;
        }
        let segment = segment_at(bytes, at)?;
        let content = &bytes[segment.content..segment.end];
        at = segment.end;
        match segment.marker {
            SOS => {
                put(&mut kept, SOS, content);
                at = end_of_scan(bytes, &segment)?;
                kept.extend_from_slice(&bytes[segment.end..at]);
            }
            APP0 if content.starts_with(b"JFIF\0") && header.is_none() => {
                header = Some(without_thumbnail(content)?);
            }
            APP1 if content.starts_with(EXIF) && orientation.is_none() => {
                orientation = capture::orientation_value(&content[EXIF.len()..]);
            }
            APP2 if content.starts_with(PROFILE) => put(&mut kept, APP2, content),
            APP14 if content.starts_with(TRANSFORM) => {
                put(&mut kept, APP14, content.get(..TRANSFORM_LENGTH)?);
            }
            marker if NEEDED.iter().any(|range| range.contains(&marker)) => {
                put(&mut kept, marker, content);
            }
            _ => {}
        }
    }
    let mut out = vec![0xFF, 0xD8];
    if let Some(header) = header {
        put(&mut out, APP0, &header);
    }
    if let Some(value) = orientation.filter(|value| (2..=8).contains(value)) {
        put(&mut out, APP1, &exif_with(value));
    }
    out.extend(kept);
    out.extend(END);
    Some(out)
}

fn put(out: &mut Vec<u8>, marker: u8, content: &[u8]) {
    let length = u16::try_from(content.len() + 2).unwrap_or(u16::MAX);
    out.extend([0xFF, marker]);
    out.extend(length.to_be_bytes());
    out.extend_from_slice(content);
}

/// Where the coded data behind a scan's header end.
fn end_of_scan(bytes: &[u8], scan: &Segment) -> Option<usize> {
    next_marker(bytes, scan.end)
}

/// Version, unit and density of the exchange format's header, with a thumbnail of no size.
fn without_thumbnail(content: &[u8]) -> Option<Vec<u8>> {
    let mut header = content.get(..12)?.to_vec();
    header.extend([0, 0]);
    Some(header)
}

/// An EXIF segment that holds the orientation alone.
fn exif_with(orientation: u16) -> Vec<u8> {
    [EXIF, &orientation_block(orientation)].concat()
}

/// EXIF data that hold the orientation alone, big-endian.
pub(super) fn orientation_block(orientation: u16) -> Vec<u8> {
    let mut out = Vec::new();
    // Header, one entry: tag 0x0112, type 3 (short), count 1, the value, two unused bytes; no next directory.
    out.extend(b"MM\0\x2A\0\0\0\x08\0\x01\x01\x12\0\x03\0\0\0\x01");
    out.extend(orientation.to_be_bytes());
    out.extend([0; 6]);
    out
}

fn other_kind() -> Error {
    Error::photo(
        "publish_kind",
        "only JPEG and PNG photos can be published: of other files it is not known how to leave out all that the camera noted without changing the picture",
        "set the camera to JPEG (\"most compatible\") and take the photo again, or export the photo as JPEG and grade that file",
    )
}

fn broken(kind: &str) -> Error {
    Error::photo(
        "photo_damaged",
        format!("the parts of the {kind} file do not add up"),
        "copy the file again from the camera, or take the photo again",
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    fn segment(marker: u8, content: &[u8]) -> Vec<u8> {
        let mut out = Vec::new();
        put(&mut out, marker, content);
        out
    }

    /// Bytes of a real file with orientation 6, from the published facts on EXIF segments.
    #[test]
    fn the_orientation_segment_is_the_published_one() {
        let mut expected = vec![0xFF, 0xE1, 0x00, 0x22];
        expected
            .extend(b"Exif\0\0MM\0\x2A\0\0\0\x08\0\x01\x01\x12\0\x03\0\0\0\x01\0\x06\0\0\0\0\0\0");
        assert_eq!(segment(APP1, &exif_with(6)), expected);
    }

    #[test]
    fn what_is_not_on_the_list_is_left_behind() {
        let scan = [
            &segment(SOS, &[1, 1, 0, 0, 63, 0])[..],
            b"\x01\xFF\x00\x02\xFF\xD0\x03",
        ]
        .concat();
        let mut file = vec![0xFF, 0xD8];
        file.extend(segment(APP0, b"JFIF\0\x01\x01\0\0\x01\0\x01\x01\x01abc"));
        file.extend(segment(APP0, b"JFXX\0secret"));
        file.extend(segment(APP1, &[&exif_with(8)[..], b"secret"].concat()));
        file.extend(segment(APP1, b"another kind\0secret"));
        file.extend(segment(APP2, b"ICC_PROFILE\0\x01\x01abc"));
        file.extend(segment(APP2, b"MPF\0secret"));
        file.extend(segment(0xED, b"press data\0secret"));
        file.extend(segment(APP14, b"Adobe\0\x64\0\0\0\0\x01secret"));
        file.extend(segment(0xFE, b"secret"));
        file.extend(segment(0xDB, b"steps"));
        file.extend(segment(0xC0, b"frame"));
        file.extend(&scan);
        file.extend(END);
        file.extend(b"secret trailer");
        let found = published(&file).expect("a file whose parts add up");
        let mut expected = vec![0xFF, 0xD8];
        expected.extend(segment(APP0, b"JFIF\0\x01\x01\0\0\x01\0\x01\0\0"));
        expected.extend(segment(APP1, &exif_with(8)));
        expected.extend(segment(APP2, b"ICC_PROFILE\0\x01\x01abc"));
        expected.extend(segment(APP14, b"Adobe\0\x64\0\0\0\0\x01"));
        expected.extend(segment(0xDB, b"steps"));
        expected.extend(segment(0xC0, b"frame"));
        expected.extend(&scan);
        expected.extend(END);
        assert_eq!(found, expected);
        assert_eq!(
            published(&found).expect("its own work"),
            found,
            "twice is once"
        );
    }

    #[test]
    fn other_files_are_refused() {
        for bytes in [
            &b"\x89PNG\r\n\x1a\n"[..],
            b"",
            b"\xFF\xD8\xFF",
            b"\xFF\xD8\xFF\xE0\x00\x10",
        ] {
            assert!(published(bytes).is_err());
        }
    }
}
