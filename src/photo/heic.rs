//! HEIC and HEIF files to stored pixels.

use heic_decoder::{ChromaUpsampling, ColorInfo, RgbOptions};

use super::decode::{Decoded, Pixels, damaged, not_colour};
use super::limits::Limits;
use crate::error::Error;

/// Matrix code "unspecified" of ISO/IEC 23091-2; other readers take it as BT.601, and so do the phones that write it.
const UNSPECIFIED: u16 = 2;
/// Matrix code of BT.601.
const BT_601: u16 = 6;
/// Chroma format of greyscale pictures.
const MONOCHROME: u32 = 0;

/// The main picture, turned upright as the file says; more than 8 bits a channel are rounded to 8.
pub(super) fn heic(bytes: &[u8], limits: &Limits) -> Result<Decoded, Error> {
    let info = heic_decoder::probe(bytes).map_err(damaged)?;
    limits.check_size(info.width, info.height, usize::MAX)?;
    limits.check_size(info.coded_width, info.coded_height, usize::MAX)?;
    if info.chroma_format_idc == MONOCHROME {
        return Err(not_colour("greyscale"));
    }
    let image = heic_decoder::decode(bytes).map_err(damaged)?;
    let options = RgbOptions {
        color: image.color_info.map(with_matrix),
        upsampling: ChromaUpsampling::Bilinear,
    };
    let rgb = image.to_rgb8_with_options(&options).map_err(damaged)?;
    let transparent = image.alpha.as_ref().is_some_and(|alpha| {
        let opaque = (1 << alpha.bit_depth) - 1;
        alpha.samples.iter().any(|a| *a != opaque)
    });
    Ok(Decoded {
        size: (rgb.width, rgb.height),
        pixels: Pixels::Full(rgb.data),
        icc: image.metadata.icc_profile,
        exif: image.metadata.exif,
        transparent,
        // The file's own turning is done; the orientation in its EXIF data says the same again.
        upright: true,
    })
}

fn with_matrix(mut colour: ColorInfo) -> ColorInfo {
    if colour.matrix_coefficients == UNSPECIFIED {
        colour.matrix_coefficients = BT_601;
    }
    colour
}
