//! A PNG as it may be published: the chunks that show the picture, and a note of which way is up.

use super::capture;
use super::strip::orientation_block;

/// What a PNG begins with [PNG3] 5.2.
pub(super) const SIGNATURE: [u8; 8] = *b"\x89PNG\r\n\x1a\n";
/// Longest name of a profile [PNG3] 11.3.2.3.
const LONGEST_NAME: usize = 79;
/// Name given to every colour profile: the one it came with is free text.
const PROFILE_NAME: &[u8] = b"profile\0";

/// A chunk that the pixels or their colours hang on, with the lengths its content may have: a longer one would carry
/// something else along.
struct Needed {
    kind: &'static [u8; 4],
    fits: fn(usize) -> bool,
}

/// They are written in this order, ahead of the picture's data, which is one that the standard allows: colour space before
/// palette, palette before transparency [PNG3] 5.6, 11.2 and 11.3. The grader reads the profile alone; the others tell
/// programs that show the photo which colours are meant.
const NEEDED: [Needed; 9] = [
    needed(b"IHDR", |length| length == 13),
    needed(b"cICP", |length| length == 4),
    needed(b"cHRM", |length| length == 32),
    needed(b"gAMA", |length| length == 4),
    needed(b"sRGB", |length| length == 1),
    needed(b"iCCP", |length| length > 0),
    needed(b"sBIT", |length| (1..=4).contains(&length)),
    needed(b"PLTE", |length| {
        (3..=768).contains(&length) && length.is_multiple_of(3)
    }),
    needed(b"tRNS", |length| (1..=256).contains(&length)),
];

const fn needed(kind: &'static [u8; 4], fits: fn(usize) -> bool) -> Needed {
    Needed { kind, fits }
}

/// The PNG in `bytes` with only what shows the picture: header, colour space, palette, transparency and data byte for byte
/// as they are, and an `eXIf` chunk of our own that says nothing but the orientation. By allow-list: texts, times, places,
/// previews, further pictures and what follows the end are left behind whatever they are called. Nothing is encoded anew.
///
/// `None` where chunks are cut off, stand twice or in the wrong place, or a check sum does not fit.
///
/// # Source
/// [PNG3] chapters 5 and 11.
pub(super) fn published(bytes: &[u8]) -> Option<Vec<u8>> {
    let mut rest = bytes.strip_prefix(&SIGNATURE)?;
    let mut kept: [Option<&[u8]>; NEEDED.len()] = [None; NEEDED.len()];
    let (mut data, mut orientation) = (Vec::new(), None);
    let mut before = *b"    ";
    loop {
        let (kind, content, after) = chunk(rest)?;
        rest = after;
        let is_ahead = data.is_empty();
        if let Some(at) = NEEDED.iter().position(|needed| needed.kind == kind) {
            let in_place = is_ahead && (at == 0) == (before == *b"    ");
            if !in_place || !(NEEDED[at].fits)(content.len()) || kept[at].is_some() {
                return None;
            }
            kept[at] = Some(content);
        } else if kind == b"IDAT" {
            // The picture's data stand together.
            if !is_ahead && before != *b"IDAT" {
                return None;
            }
            put(&mut data, kind, content);
        } else if kind == b"eXIf" && is_ahead && orientation.is_none() {
            // Behind the data it is not read when the photo is graded.
            orientation = capture::orientation_value(content);
        } else if kind == b"IEND" {
            break;
        }
        before = *kind;
    }
    kept[0].filter(|_| !data.is_empty())?;
    assembled(kept, orientation, &data)
}

fn assembled(
    kept: [Option<&[u8]>; NEEDED.len()],
    orientation: Option<u16>,
    data: &[u8],
) -> Option<Vec<u8>> {
    let mut out = SIGNATURE.to_vec();
    for (needed, content) in NEEDED.iter().zip(kept) {
        match content {
            Some(content) if needed.kind == b"iCCP" => {
                put(&mut out, needed.kind, &renamed(content)?);
            }
            Some(content) => put(&mut out, needed.kind, content),
            None => {}
        }
    }
    if let Some(value) = orientation.filter(|value| (2..=8).contains(value)) {
        put(&mut out, b"eXIf", &orientation_block(value));
    }
    out.extend(data);
    put(&mut out, b"IEND", &[]);
    Some(out)
}

/// Kind, content and what follows of the chunk at the start; `None` where it is cut off or its check sum does not fit.
fn chunk(bytes: &[u8]) -> Option<(&[u8; 4], &[u8], &[u8])> {
    let (length, rest) = bytes.split_first_chunk::<4>()?;
    let length = usize::try_from(u32::from_be_bytes(*length)).ok()?;
    let named = rest.get(..length.checked_add(4)?)?;
    let (sum, after) = rest[named.len()..].split_first_chunk::<4>()?;
    let (kind, content) = named.split_first_chunk::<4>()?;
    (crc32fast::hash(named) == u32::from_be_bytes(*sum)).then_some((kind, content, after))
}

fn put(out: &mut Vec<u8>, kind: &[u8; 4], content: &[u8]) {
    let length = u32::try_from(content.len()).unwrap_or(u32::MAX);
    out.extend(length.to_be_bytes());
    let from = out.len();
    out.extend(kind);
    out.extend(content);
    out.extend(crc32fast::hash(&out[from..]).to_be_bytes());
}

/// The profile under our own name, its packed content as it is.
fn renamed(content: &[u8]) -> Option<Vec<u8>> {
    let end = content
        .iter()
        .take(LONGEST_NAME + 1)
        .position(|b| *b == 0)?;
    Some([PROFILE_NAME, &content[end + 1..]].concat())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn file(chunks: &[(&[u8; 4], &[u8])], trailer: &[u8]) -> Vec<u8> {
        let mut file = SIGNATURE.to_vec();
        for (kind, content) in chunks {
            put(&mut file, kind, content);
        }
        [file, trailer.to_vec()].concat()
    }

    const HEADER: &[u8] = b"header 13 lng";

    /// The end chunk as it stands in every PNG, check sum and all.
    #[test]
    fn the_end_is_the_published_one() {
        assert_eq!(
            &file(&[(b"IEND", b"")], b"")[8..],
            b"\0\0\0\0IEND\xAE\x42\x60\x82"
        );
    }

    #[test]
    fn what_is_not_on_the_list_is_left_behind() {
        let note = orientation_block(6);
        let noted = [&note[..], b"secret"].concat();
        let whole = file(
            &[
                (b"IHDR", HEADER),
                (b"tEXt", b"Author\0secret"),
                (b"iTXt", b"XML:com.adobe.xmp\0secret"),
                (b"zTXt", b"secret"),
                (b"gAMA", b"\0\0\xb1\x8f"),
                (b"iCCP", b"Ann's screen\0\0packed"),
                (b"eXIf", &noted),
                (b"caBX", b"secret"),
                (b"PLTE", b"abc"),
                (b"pHYs", b"secret"),
                (b"sPLT", b"secret"),
                (b"tIME", b"secret"),
                (b"acTL", b"secret"),
                (b"IDAT", b"one"),
                (b"IDAT", b"two"),
                (b"fdAT", b"secret"),
                (b"prVt", b"secret"),
                (b"eXIf", &noted),
                (b"IEND", b""),
            ],
            b"secret trailer",
        );
        let found = published(&whole).expect("a file whose parts add up");
        let expected = file(
            &[
                (b"IHDR", HEADER),
                (b"gAMA", b"\0\0\xb1\x8f"),
                (b"iCCP", b"profile\0\0packed"),
                (b"PLTE", b"abc"),
                (b"eXIf", &note),
                (b"IDAT", b"one"),
                (b"IDAT", b"two"),
                (b"IEND", b""),
            ],
            b"",
        );
        assert_eq!(found, expected);
        assert_eq!(published(&found), Some(found.clone()), "twice is once");
        for at in 0..whole.len() - b"secret trailer".len() {
            let mut hurt = whole.clone();
            hurt[at] ^= 1;
            assert_eq!(
                published(&hurt),
                None,
                "byte {at}: a check sum that does not fit"
            );
        }
        for end in 0..whole.len() - b"secret trailer".len() {
            assert_eq!(published(&whole[..end]), None, "cut off at {end}");
        }
    }

    #[test]
    fn chunks_stand_once_in_their_place_and_hold_no_more_than_they_may() {
        let parts: [&[(&[u8; 4], &[u8])]; 8] = [
            &[
                (b"gAMA", b"four"),
                (b"IHDR", HEADER),
                (b"IDAT", b"one"),
                (b"IEND", b""),
            ],
            &[
                (b"IHDR", HEADER),
                (b"IHDR", HEADER),
                (b"IDAT", b"one"),
                (b"IEND", b""),
            ],
            &[
                (b"IHDR", HEADER),
                (b"gAMA", b"four and more"),
                (b"IDAT", b"one"),
                (b"IEND", b""),
            ],
            &[
                (b"IHDR", HEADER),
                (b"sRGB", b"0"),
                (b"sRGB", b"0"),
                (b"IDAT", b"one"),
                (b"IEND", b""),
            ],
            &[
                (b"IHDR", HEADER),
                (b"IDAT", b"one"),
                (b"tEXt", b"a"),
                (b"IDAT", b"two"),
                (b"IEND", b""),
            ],
            &[
                (b"IHDR", HEADER),
                (b"IDAT", b"one"),
                (b"PLTE", b"abc"),
                (b"IEND", b""),
            ],
            &[
                (b"IHDR", HEADER),
                (b"iCCP", b"a name without an end"),
                (b"IDAT", b"one"),
                (b"IEND", b""),
            ],
            &[(b"IHDR", HEADER), (b"IEND", b"")],
        ];
        for chunks in parts {
            assert_eq!(published(&file(chunks, b"")), None, "{:?}", chunks[1].0);
        }
    }
}
