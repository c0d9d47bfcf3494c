//! A photo as it may stand inside another file: a JPEG as it is, anything else as its pixels.

use super::capture;
use super::decode;
use super::orientation::Orientation;
use super::{Photo, profile::ToLinear};
use crate::error::Error;

/// A photo to be put into another file.
#[derive(Debug, Clone)]
pub struct Embedded {
    /// Width and height as stored.
    pub size: (usize, usize),
    /// Which way is up.
    pub orientation: Orientation,
    /// The picture.
    pub picture: Picture,
}

/// The picture of a photo.
#[derive(Debug, Clone)]
pub enum Picture {
    /// The JPEG file itself, with its colour profile where it has one that is used.
    Jpeg {
        /// The file.
        bytes: Vec<u8>,
        /// The profile.
        icc: Option<Vec<u8>>,
    },
    /// Encoded sRGB, three bytes a pixel, upright.
    Rgb(Vec<u8>),
}

/// The photo in `bytes`.
///
/// # Errors
/// Where it can't be read.
pub fn embedded(bytes: &[u8]) -> Result<Embedded, Error> {
    if bytes.starts_with(&[0xFF, 0xD8]) {
        let header = decode::jpeg_header(bytes)?;
        let (_, orientation) = capture::read(header.exif.as_deref());
        let is_used = ToLinear::from_icc(header.icc.as_deref()).doubt.is_none();
        return Ok(Embedded {
            size: header.size,
            orientation,
            picture: Picture::Jpeg {
                bytes: bytes.to_vec(),
                icc: header.icc.filter(|_| is_used),
            },
        });
    }
    let photo = Photo::from_bytes("photo", bytes)?;
    Ok(Embedded {
        size: (photo.width(), photo.height()),
        orientation: Orientation::default(),
        picture: Picture::Rgb(photo.rgb8_upright().into_raw()),
    })
}
