//! Bytes of a file to stored pixels, with every limit checked on the header before a pixel is allocated.

use zune_core::bytestream::ZCursor;
use zune_core::colorspace::ColorSpace;
use zune_core::options::DecoderOptions;
use zune_jpeg::JpegDecoder;

use super::containers;
#[cfg(feature = "heic")]
use super::heic;
use super::jpeg_half::HalfPicture;
use super::jpeg_parts;
use super::limits::Limits;
use crate::error::Error;

/// Most scans of a progressive JPEG (common cameras write about ten; a hundred only waste time).
const MAX_SCANS: usize = 64;
/// Pixels times scans of a JPEG, at most: bounds the time as each scan goes over the whole picture
/// (100 megapixels in 12 scans, or 12 megapixels in 64).
const MAX_SCANNED_PIXELS: usize = 1_200_000_000;
/// What a file holds: pixels as stored, with profile and capture data still raw.
#[derive(Debug)]
pub(super) struct Decoded {
    /// Stored width and height.
    pub size: (usize, usize),
    /// What was decoded.
    pub pixels: Pixels,
    /// Embedded colour profile.
    pub icc: Option<Vec<u8>>,
    /// TIFF block of the EXIF data.
    pub exif: Option<Vec<u8>>,
    /// True when a transparent pixel was found.
    pub transparent: bool,
    /// True when the pixels are upright already, whatever the EXIF data say.
    pub upright: bool,
}

/// The pixels of a file.
#[derive(Debug)]
pub(super) enum Pixels {
    /// Red, green, blue bytes as stored.
    Full(Vec<u8>),
    /// A large JPEG at half size.
    Half(HalfPicture),
}

/// Decodes JPEG, PNG, WebP, TIFF or HEIC, told apart by content.
pub(super) fn decode(bytes: &[u8], limits: &Limits) -> Result<Decoded, Error> {
    if bytes.len() > limits.most_bytes {
        return Err(Error::photo(
            "photo_file_too_large",
            format!(
                "the file has {} MB, at most {} MB are read",
                bytes.len() >> 20,
                limits.most_bytes >> 20
            ),
            "export the photo as a JPEG at normal quality",
        ));
    }
    match bytes {
        [0xFF, 0xD8, ..] => decode_jpeg(bytes, limits),
        [0x89, b'P', b'N', b'G', ..] => containers::png(bytes, limits),
        [b'I', b'I', 42, 0, ..] | [b'M', b'M', 0, 42, ..] => containers::tiff(bytes, limits),
        _ => match other_format(bytes) {
            Some(Other::WebP) => containers::webp(bytes, limits),
            #[cfg(feature = "heic")]
            Some(Other::Heic) => heic::heic(bytes, limits),
            other => Err(not_read(bytes, other)),
        },
    }
}

/// A format told by its first bytes that is neither JPEG, PNG nor TIFF.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Other {
    WebP,
    Heic,
    /// Not read.
    Named(&'static str),
}

/// The error for bytes of a format that is not read, or of none.
fn not_read(bytes: &[u8], other: Option<Other>) -> Error {
    if bytes.is_empty() {
        return Error::photo(
            "photo_empty",
            "the file is empty",
            "copy the photo from the camera again",
        );
    }
    let name = match other {
        Some(Other::Named(name)) => Some(name),
        Some(Other::Heic) => Some("HEIC"),
        Some(Other::WebP) => Some("WebP"),
        None => None,
    };
    match name {
        Some(name) => Error::photo(
            "photo_format_not_read",
            format!("the file looks like {name}, which is not read"),
            "export or share the photo as JPEG; phones can be set to take JPEG",
        ),
        None => Error::photo(
            "photo_not_a_picture",
            "the file does not begin like a picture",
            "give the photo file itself: JPEG, PNG, HEIC, WebP or TIFF",
        ),
    }
}

fn other_format(bytes: &[u8]) -> Option<Other> {
    match bytes.get(4..12).unwrap_or_default() {
        b"ftypheic" | b"ftypheix" | b"ftyphevc" | b"ftypmif1" | b"ftypmsf1" | b"ftypheim" => {
            return Some(Other::Heic);
        }
        b"ftypavif" | b"ftypavis" => return Some(Other::Named("AVIF")),
        b"ftypcrx " => return Some(Other::Named("a raw camera file")),
        [b'f', b't', b'y', b'p', ..] => return Some(Other::Named("a video")),
        _ => {}
    }
    if bytes.starts_with(b"RIFF") && bytes.get(8..12) == Some(b"WEBP") {
        return Some(Other::WebP);
    }
    let name = match bytes {
        [b'G', b'I', b'F', b'8', ..] => "GIF",
        [b'B', b'M', ..] => "BMP",
        [b'%', b'P', b'D', b'F', ..] => "PDF",
        [0xFF, 0x0A, ..] | [0, 0, 0, 12, b'J', b'X', b'L', ..] => "JPEG XL",
        [0, 0, 0, 12, b'j', b'P', ..] => "JPEG 2000",
        _ => return None,
    };
    Some(Other::Named(name))
}

pub(super) fn damaged(why: impl std::fmt::Display) -> Error {
    // The decoders' own words come with quotes, line ends and a mark of the mode.
    let plain = why
        .to_string()
        .replace(['"', '[', ']'], "")
        .replace("strict-mode: ", "");
    let one_line = plain.split_whitespace().collect::<Vec<_>>().join(" ");
    Error::photo(
        "photo_damaged",
        format!("the photo is damaged or cut off ({one_line})"),
        "copy the photo from the camera again, or take another",
    )
}

pub(super) fn not_colour(what: &str) -> Error {
    Error::photo(
        "photo_not_colour",
        format!(
            "the photo is stored as {what}; colour can only be graded from red, green and blue"
        ),
        "take the photo in the camera's normal colour mode and save it as an RGB JPEG",
    )
}

fn jpeg_decoder(bytes: &[u8]) -> JpegDecoder<ZCursor<&[u8]>> {
    // Without the strict mode a cut-off file comes back with grey filling instead of an error.
    let options = DecoderOptions::default()
        .set_strict_mode(true)
        .set_use_unsafe(!crate::lanes::is_plain())
        .set_max_width(usize::from(u16::MAX))
        .set_max_height(usize::from(u16::MAX))
        .jpeg_set_max_scans(MAX_SCANS)
        .jpeg_set_out_colorspace(ColorSpace::RGB);
    JpegDecoder::new_with_options(ZCursor::new(bytes), options)
}

fn decode_jpeg(bytes: &[u8], limits: &Limits) -> Result<Decoded, Error> {
    let first = jpeg_parts::first_picture(bytes).map_err(damaged)?;
    let (bytes, scans) = (first.bytes, first.scans);
    let mut decoder = jpeg_decoder(bytes);
    decoder.decode_headers().map_err(damaged)?;
    let info = decoder.info().ok_or_else(|| damaged("it has no header"))?;
    let size = (usize::from(info.width), usize::from(info.height));
    // Each block of 8 x 8 pixels takes at least one bit.
    limits.check_size(size.0, size.1, bytes.len().saturating_mul(8 * 64))?;
    if scans.saturating_mul(size.0 * size.1) > MAX_SCANNED_PIXELS {
        return Err(Error::photo(
            "photo_too_slow",
            format!("the photo is stored in {scans} passes, which would take too long to read"),
            "export the photo as a plain JPEG",
        ));
    }
    match decoder.input_colorspace() {
        Some(ColorSpace::YCbCr | ColorSpace::RGB) => {}
        Some(ColorSpace::Luma) => return Err(not_colour("greyscale")),
        Some(ColorSpace::CMYK | ColorSpace::YCCK) => return Err(not_colour("CMYK (for printing)")),
        _ => return Err(not_colour("an unusual set of channels")),
    }
    let (icc, exif) = (decoder.icc_profile(), decoder.exif().cloned());
    let is_large = size.0 * size.1 > limits.half_above;
    let is_luminance = decoder.input_colorspace() == Some(ColorSpace::YCbCr);
    let half = (is_large && is_luminance).then(|| HalfPicture::read(bytes));
    let pixels = match half.flatten() {
        Some(half) => Pixels::Half(half),
        None => {
            let mut pixels = vec![0; size.0 * size.1 * 3];
            decoder.decode_into(&mut pixels).map_err(damaged)?;
            Pixels::Full(pixels)
        }
    };
    Ok(Decoded {
        size,
        pixels,
        icc,
        exif,
        transparent: false,
        upright: false,
    })
}

/// What a JPEG says ahead of its picture.
#[cfg(feature = "pdf")]
#[derive(Debug)]
pub(super) struct JpegHeader {
    /// Stored width and height.
    pub size: (usize, usize),
    /// Embedded colour profile.
    pub icc: Option<Vec<u8>>,
    /// TIFF block of the EXIF data.
    pub exif: Option<Vec<u8>>,
}

/// The header of a JPEG.
#[cfg(feature = "pdf")]
pub(super) fn jpeg_header(bytes: &[u8]) -> Result<JpegHeader, Error> {
    let first = jpeg_parts::first_picture(bytes).map_err(damaged)?;
    let mut decoder = jpeg_decoder(first.bytes);
    decoder.decode_headers().map_err(damaged)?;
    let info = decoder.info().ok_or_else(|| damaged("it has no header"))?;
    Ok(JpegHeader {
        size: (usize::from(info.width), usize::from(info.height)),
        icc: decoder.icc_profile(),
        exif: decoder.exif().cloned(),
    })
}

/// The stored bytes of a JPEG at full size; `None` where the strict decoder finds it damaged.
pub(super) fn full_size(bytes: &[u8]) -> Option<Vec<u8>> {
    let mut decoder = jpeg_decoder(jpeg_parts::first_picture(bytes).ok()?.bytes);
    decoder.decode().ok()
}
