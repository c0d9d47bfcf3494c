//! PNG, WebP and TIFF files to stored pixels.

use std::io::Cursor;

use image::codecs::{png::PngDecoder, tiff::TiffDecoder, webp::WebPDecoder};
use image::{DynamicImage, ExtendedColorType, ImageDecoder};

use super::capture_size;
use super::decode::{Decoded, Pixels, damaged, not_colour};
use super::limits::Limits;
use crate::error::Error;

/// The best ratio that the packing of PNG can reach [RFC1951]: 258 bytes for two bits, rounded up.
const MAX_DEFLATE_RATIO: usize = 1032;
/// Most bytes that a decoder may take beside the picture's own: profile, texts, a strip (house rule: several times the
/// largest profile that is read). A packed profile of a megabyte can unfold to a thousand.
const MOST_BESIDE: u64 = 32 << 20;

/// The bound on a decoder whose picture takes `bytes`.
fn room_for(bytes: u64) -> image::Limits {
    let mut limits = image::Limits::no_limits();
    limits.max_alloc = Some(bytes.saturating_add(MOST_BESIDE));
    limits
}

/// A PNG file; 16 bits a channel are rounded to 8, as a JPEG would have them.
pub(super) fn png(bytes: &[u8], limits: &Limits) -> Result<Decoded, Error> {
    if !palettes_are_whole(bytes) {
        return Err(damaged("its palette has no whole colours"));
    }
    let mut decoder = PngDecoder::with_limits(Cursor::new(bytes), room_for(0)).map_err(damaged)?;
    let bits = usize::from(decoder.original_color_type().bits_per_pixel()).max(1);
    let most = bytes.len().saturating_mul(MAX_DEFLATE_RATIO * 8) / bits;
    let exif = decoder.exif_metadata().ok().flatten();
    stored(decoder, limits, most, exif)
}

/// True where each palette ahead of the picture holds whole colours, one at least (ISO/IEC 15948, 11.2.3). The decoder takes
/// that for granted and would panic.
fn palettes_are_whole(file: &[u8]) -> bool {
    let mut rest = file.get(8..).unwrap_or_default();
    while let Some(([a, b, c, d, name @ ..], behind)) = rest.split_first_chunk::<8>() {
        let length = u32::from_be_bytes([*a, *b, *c, *d]) as usize;
        match name {
            b"PLTE" if length == 0 || !length.is_multiple_of(3) => return false,
            b"IDAT" => return true,
            _ => {}
        }
        // Behind the content stands its check sum.
        rest = behind.get(length.saturating_add(4)..).unwrap_or_default();
    }
    true
}

/// A WebP file with one picture.
pub(super) fn webp(bytes: &[u8], limits: &Limits) -> Result<Decoded, Error> {
    let mut decoder = WebPDecoder::new(Cursor::new(bytes)).map_err(damaged)?;
    if decoder.has_animation() {
        return Err(Error::photo(
            "photo_moves",
            "the file holds a moving picture, expected one photo",
            "take a still photo of the scoop",
        ));
    }
    let exif = decoder.exif_metadata().ok().flatten();
    // One colour for a whole picture packs into a few bytes, so that the file's length bounds nothing.
    stored(decoder, limits, usize::MAX, exif)
}

/// A TIFF file, its first picture. Camera raw files are TIFF files too, but hold only a small preview ready to be seen.
pub(super) fn tiff(bytes: &[u8], limits: &Limits) -> Result<Decoded, Error> {
    if !capture_size::is_small(bytes) {
        return Err(damaged("an entry is longer than any camera writes"));
    }
    if !capture_size::texts_are_short(bytes) {
        return Err(damaged("a text stands where a number is expected"));
    }
    if is_raw(bytes) {
        return Err(Error::photo(
            "photo_format_not_read",
            "the file looks like a raw camera file, which is not read",
            "export the photo as JPEG, or set the phone to take JPEG",
        ));
    }
    let decoder = TiffDecoder::new(Cursor::new(bytes)).map_err(damaged)?;
    stored(decoder, limits, usize::MAX, Some(bytes.to_vec()))
}

/// True for a TIFF file with the tag DNGVersion, or whose first picture is a preview of a raw one (SubIFDs) [TIFFEP].
fn is_raw(bytes: &[u8]) -> bool {
    use exif::{Context, In, Reader, Tag};
    let mut reader = Reader::new();
    reader.continue_on_error(true);
    let exif = match reader.read_raw(bytes.to_vec()) {
        Ok(exif) => exif,
        Err(exif::Error::PartialResult(partial)) => partial.into_inner().0,
        Err(_) => return false,
    };
    let has = |number| {
        exif.get_field(Tag(Context::Tiff, number), In::PRIMARY)
            .is_some()
    };
    has(DNG_VERSION) || has(SUB_IFDS)
}

/// Tag numbers of DNG and TIFF/EP.
const DNG_VERSION: u16 = 50706;
const SUB_IFDS: u16 = 330;

/// The pixels of `decoder`'s picture, all limits checked on its header first.
fn stored<D: ImageDecoder>(
    mut decoder: D,
    limits: &Limits,
    most_pixels: usize,
    exif: Option<Vec<u8>>,
) -> Result<Decoded, Error> {
    let (width, height) = decoder.dimensions();
    let size = (width as usize, height as usize);
    limits.check_size(size.0, size.1, most_pixels)?;
    match decoder.original_color_type() {
        ExtendedColorType::Cmyk8 | ExtendedColorType::Cmyk16 => {
            return Err(not_colour("CMYK (for printing)"));
        }
        _ if !decoder.color_type().has_color() => return Err(not_colour("greyscale")),
        _ => {}
    }
    limits.check_decoded_bytes(decoder.total_bytes())?;
    let room = room_for(decoder.total_bytes());
    decoder.set_limits(room).map_err(damaged)?;
    let icc = decoder.icc_profile().ok().flatten();
    let picture = DynamicImage::from_decoder(decoder).map_err(damaged)?;
    let transparent = has_transparency(&picture);
    Ok(Decoded {
        size,
        pixels: Pixels::Full(picture.into_rgb8().into_raw()),
        icc,
        exif,
        transparent,
        upright: false,
    })
}

fn has_transparency(picture: &DynamicImage) -> bool {
    match picture {
        DynamicImage::ImageRgba8(p) => p.as_raw().iter().skip(3).step_by(4).any(|&a| a != u8::MAX),
        DynamicImage::ImageRgba16(p) => {
            p.as_raw().iter().skip(3).step_by(4).any(|&a| a != u16::MAX)
        }
        _ => false,
    }
}
