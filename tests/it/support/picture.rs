//! Photo files made in memory.

use image::{ExtendedColorType, ImageEncoder, codecs::jpeg::JpegEncoder, codecs::png::PngEncoder};

/// What goes into the file beside its pixels.
#[derive(Debug, Default, Clone)]
pub struct Extras {
    pub exif: Option<Vec<u8>>,
    pub icc: Option<Vec<u8>>,
}

/// A PNG file of red, green and blue bytes.
pub fn png(width: usize, height: usize, rgb: &[u8], extras: &Extras) -> Vec<u8> {
    let mut file = Vec::new();
    let mut encoder = PngEncoder::new(&mut file);
    attach(&mut encoder, extras);
    encoder
        .write_image(rgb, width as u32, height as u32, ExtendedColorType::Rgb8)
        .expect("a PNG file");
    file
}

/// A JPEG file at quality 90.
pub fn jpeg(
    width: usize,
    height: usize,
    pixels: &[u8],
    color: ExtendedColorType,
    extras: &Extras,
) -> Vec<u8> {
    let mut file = Vec::new();
    let mut encoder = JpegEncoder::new_with_quality(&mut file, 90);
    attach(&mut encoder, extras);
    encoder
        .write_image(pixels, width as u32, height as u32, color)
        .expect("a JPEG file");
    file
}

fn attach(encoder: &mut impl ImageEncoder, extras: &Extras) {
    if let Some(exif) = &extras.exif {
        encoder
            .set_exif_metadata(exif.clone())
            .expect("room for EXIF data");
    }
    if let Some(icc) = &extras.icc {
        encoder
            .set_icc_profile(icc.clone())
            .expect("room for a profile");
    }
}

/// A picture in which neighbours differ, the same for the same `seed`.
pub fn noise(width: usize, height: usize, seed: u32) -> Vec<u8> {
    let mut state = seed.wrapping_mul(2_654_435_761).max(1);
    (0..width * height * 3)
        .map(|_| {
            state ^= state << 13;
            state ^= state >> 17;
            state ^= state << 5;
            (state >> 16) as u8
        })
        .collect()
}

/// A smooth picture, as JPEG likes it.
pub fn gradient(width: usize, height: usize) -> Vec<u8> {
    (0..width * height)
        .flat_map(|i| {
            let (x, y) = (i % width, i / width);
            [
                (x * 255 / width) as u8,
                (y * 255 / height) as u8,
                ((x + y) * 255 / (width + height)) as u8,
            ]
        })
        .collect()
}

/// A TIFF block (as in an EXIF segment) with the given entries of the first directory.
pub fn exif(entries: &[(u16, Entry)]) -> Vec<u8> {
    let mut block = b"II\x2a\0\x08\0\0\0".to_vec();
    block.extend((entries.len() as u16).to_le_bytes());
    let mut behind = Vec::new();
    let behind_at = 8 + 2 + 12 * entries.len() + 4;
    for (tag, entry) in entries {
        block.extend(tag.to_le_bytes());
        match entry {
            Entry::Short(value) => {
                block.extend([3, 0, 1, 0, 0, 0]);
                block.extend(u32::from(*value).to_le_bytes());
            }
            Entry::Text(text) => {
                let bytes = [text.as_bytes(), b"\0\0\0\0\0"].concat();
                block.extend([2, 0]);
                block.extend((bytes.len() as u32).to_le_bytes());
                block.extend(((behind_at + behind.len()) as u32).to_le_bytes());
                behind.extend(bytes);
            }
        }
    }
    block.extend([0; 4]);
    block.extend(behind);
    block
}

/// Value of an entry.
#[derive(Debug, Clone)]
pub enum Entry {
    Short(u16),
    Text(&'static str),
}

/// The check sum of PNG chunks (ISO/IEC 15948 annex D).
pub fn png_check_sum(bytes: &[u8]) -> u32 {
    !bytes.iter().fold(u32::MAX, |sum, &b| {
        (0..8).fold(sum ^ u32::from(b), |s, _| {
            if s & 1 == 1 {
                s >> 1 ^ 0xEDB8_8320
            } else {
                s >> 1
            }
        })
    })
}
