//! Bytes of a photo file to upright linear light, capture data and digest.

pub mod capture;
mod capture_size;
mod containers;
pub mod decode;
#[cfg(feature = "pdf")]
pub mod embed;
mod half;
#[cfg(feature = "heic")]
mod heic;
mod jpeg_bits;
mod jpeg_half;
mod jpeg_layout;
mod jpeg_parts;
mod jpeg_transform;
mod limits;
pub mod linear;
pub mod orientation;
pub mod picture;
mod profile;
mod quantiser;
mod reduce;
pub mod strip;
mod strip_png;
pub mod tag;

pub use capture::{CaptureInfo, Processing};
pub use limits::Limits;
pub use linear::LinearImage;
pub use orientation::Orientation;
pub use picture::Picture;

use std::borrow::Cow;
use std::ops::Range;
use std::sync::{Arc, OnceLock};

use sha2::{Digest, Sha256};

use crate::colour;
use crate::doubt::Note;
use crate::error::Error;
use decode::Pixels;
use profile::ToLinear;
use reduce::Stored;

/// A photo: what is known of it, and its pixels, which are asked for upright and in linear light.
#[derive(Debug)]
pub struct Photo {
    /// File name without folders.
    pub file: String,
    /// SHA-256 of the file's bytes, 64 lower-case hexadecimal digits.
    pub sha256: String,
    /// `sRGB`, `Display P3`, `Adobe RGB` or the profile's own description.
    pub profile: String,
    /// What the camera noted.
    pub capture: CaptureInfo,
    /// Doubts about the file itself (its colour profile, transparency).
    pub doubts: Vec<Note>,
    /// Mean step of a JPEG's luminance quantiser over its lowest frequencies; cameras write 1 to 8.
    pub jpeg_step: Option<f64>,
    /// The file, kept where only the half-size picture was decoded.
    source: Vec<u8>,
    /// Red, green, blue bytes at full size as stored, of large JPEGs when they are first asked for.
    full: OnceLock<Arc<Vec<u8>>>,
    /// The same of large photos at half size.
    half: Option<Arc<Vec<u8>>>,
    size: (usize, usize),
    orientation: Orientation,
    to_linear: ToLinear,
}

impl Photo {
    /// The photo in `bytes`, a JPEG, PNG, HEIC, WebP or TIFF file named `name` (folders in it are dropped). Bytes that are
    /// only lent are copied where they must be kept.
    ///
    /// # Errors
    /// [`Error::Photo`]: not a picture that is read, damaged or cut off, too large or too small, not in colour.
    pub fn from_bytes<'a>(name: &str, bytes: impl Into<Cow<'a, [u8]>>) -> Result<Self, Error> {
        Self::from_bytes_within(name, bytes, &Limits::default())
    }

    /// [`Photo::from_bytes`] with bounds of one's own.
    ///
    /// # Errors
    /// The same.
    pub fn from_bytes_within<'a>(
        name: &str,
        bytes: impl Into<Cow<'a, [u8]>>,
        limits: &Limits,
    ) -> Result<Self, Error> {
        let bytes = bytes.into();
        let decoded = decode::decode(&bytes, limits)?;
        let to_linear = ToLinear::from_icc(decoded.icc.as_deref());
        let (capture, orientation) = capture::read(decoded.exif.as_deref());
        let orientation = if decoded.upright {
            Orientation::default()
        } else {
            orientation
        };
        let mut doubts: Vec<Note> = to_linear.doubt.clone().into_iter().collect();
        if decoded.transparent {
            doubts.push(transparent());
        }
        doubts.extend(capture.processing.map(processed));
        let (full, half) = match decoded.pixels {
            Pixels::Full(bytes) => (OnceLock::from(Arc::new(bytes)), None),
            Pixels::Half(picture) => (OnceLock::new(), Some(picture)),
        };
        let half_bytes = || half.map(|half| Arc::new(half.into_bytes()));
        let (half, sha256) = rayon::join(half_bytes, || hex_digest(&bytes));
        Ok(Self {
            file: name.rsplit(['/', '\\']).next().unwrap_or(name).to_string(),
            sha256,
            profile: to_linear.name.clone(),
            capture,
            doubts,
            jpeg_step: quantiser::luminance_step(&bytes),
            source: half.as_ref().map_or(Vec::new(), |_| bytes.into_owned()),
            full,
            half,
            size: decoded.size,
            orientation,
            to_linear,
        })
    }

    /// Width of the upright photo in pixels.
    pub fn width(&self) -> usize {
        self.orientation.upright_size(self.size.0, self.size.1).0
    }

    /// Height of the upright photo in pixels.
    pub fn height(&self) -> usize {
        self.orientation.upright_size(self.size.0, self.size.1).1
    }

    /// Full-size pixels, along either side, to one pixel of the finest picture that is at hand without decoding anew:
    /// 2 for large JPEGs, else 1. Multiples of it are the steps to ask [`Photo::reduced`] for.
    pub fn finest_step(&self) -> usize {
        if self.half.is_some() { 2 } else { 1 }
    }

    /// The upright photo with each `step` x `step` block (1..=15, brought into that range) as its mean in linear light.
    ///
    /// Blocks start at the top left; those cut by the right or lower edge are means over the pixels that are there.
    /// The result is `width().div_ceil(step)` by `height().div_ceil(step)`.
    /// Within each block of [`Photo::finest_step`] the mean is taken before the light is made linear.
    pub fn reduced(&self, step: usize) -> LinearImage {
        match &self.half {
            Some(half) if step > 0 && step.is_multiple_of(2) => {
                let size = (self.size.0 / 2, self.size.1 / 2);
                reduce::reduce(self.stored(half, size), step / 2).0
            }
            _ => self.reduced_with_clipped(step).0,
        }
    }

    /// [`Photo::reduced`] as a picture that is read row by row; at [`Photo::finest_step`] it takes no memory of its own.
    pub fn picture(&self, step: usize) -> Picture {
        if step != self.finest_step() {
            return self.reduced(step).into();
        }
        let (bytes, size) = self.finest();
        Picture::of_bytes(Arc::clone(bytes), self.stored(bytes, size))
    }

    /// By block of [`Photo::reduced`] the share of pixels at 255 in the channel that has most of them:
    /// 0 = none, 255 = all.
    pub fn clipped(&self, step: usize) -> Vec<u8> {
        self.reduced_with_clipped(step).1
    }

    /// [`Photo::reduced`] and [`Photo::clipped`] in one pass.
    pub fn reduced_with_clipped(&self, step: usize) -> (LinearImage, Vec<u8>) {
        reduce::reduce(self.full(), step)
    }

    /// The upright rectangle from (`x`, `y`) at full size; what lies outside the photo is cut away.
    pub fn crop(&self, x: usize, y: usize, width: usize, height: usize) -> LinearImage {
        reduce::crop(self.full(), x, y, width, height)
    }

    /// The weighted sum of the channels' linear light in columns `across` and rows `down` of the upright picture with
    /// [`Photo::finest_step`] pixels to one, row by row, and its width; what lies outside the photo is cut away.
    pub fn weighted_finest(
        &self,
        across: Range<usize>,
        down: Range<usize>,
        weights: [f32; 3],
    ) -> (Vec<f32>, usize) {
        let (bytes, size) = self.finest();
        reduce::weighted(self.stored(bytes, size), across, down, weights)
    }

    /// The upright photo as encoded sRGB bytes for showing; colours outside sRGB are clipped here, and only here.
    pub fn rgb8_upright(&self) -> image::RgbImage {
        let stored = self.full();
        let size = (self.width(), self.height());
        let plain = self.to_linear.matrix.is_none();
        image::RgbImage::from_fn(size.0 as u32, size.1 as u32, |u, v| {
            let byte = reduce::byte_at(stored, u as usize, v as usize, size);
            if plain {
                return image::Rgb(byte);
            }
            let encode = |l: f32| {
                (colour::srgb_encode(f64::from(l)) * 255.0)
                    .round()
                    .clamp(0.0, 255.0) as u8
            };
            image::Rgb(reduce::linear(stored, byte).map(encode))
        })
    }

    /// Bytes and stored size of the picture with [`Photo::finest_step`] pixels to one.
    fn finest(&self) -> (&Arc<Vec<u8>>, (usize, usize)) {
        match &self.half {
            Some(half) => (half, (self.size.0 / 2, self.size.1 / 2)),
            None => (self.full_bytes(), self.size),
        }
    }

    fn full(&self) -> Stored<'_> {
        self.stored(self.full_bytes(), self.size)
    }

    fn full_bytes(&self) -> &Arc<Vec<u8>> {
        self.full.get_or_init(|| {
            let half = self.half.as_deref().map_or(&[][..], Vec::as_slice);
            let whole = decode::full_size(&self.source);
            Arc::new(whole.unwrap_or_else(|| half::doubled(half, self.size)))
        })
    }

    fn stored<'a>(&'a self, bytes: &'a [u8], size: (usize, usize)) -> Stored<'a> {
        Stored {
            bytes,
            size,
            orientation: self.orientation,
            to_linear: &self.to_linear,
        }
    }
}

fn processed(processing: Processing) -> Note {
    let (what, cure) = match processing {
        Processing::Hdr => (
            "merged several exposures (HDR)",
            "switch HDR off, or tap on the cup and hold the exposure",
        ),
        Processing::Blurred => (
            "blurred the background (portrait mode)",
            "use the plain photo mode",
        ),
        Processing::Panorama => (
            "stitched it from several (panorama)",
            "use the plain photo mode",
        ),
        Processing::Night => (
            "used its night scene mode",
            "give more light and use the plain photo mode",
        ),
        Processing::Custom => (
            "processed it in a way of its own",
            "use the plain photo mode",
        ),
    };
    Note::new(
        "photo_processed",
        format!("the camera says that it {what}; colours may be painted"),
        cure,
    )
}

fn transparent() -> Note {
    Note::new(
        "photo_transparent",
        "parts of the picture are transparent; they were taken as if they were not",
        "use the photo as the camera took it, not a cut-out",
    )
}

fn hex_digest(bytes: &[u8]) -> String {
    Sha256::digest(bytes)
        .iter()
        .map(|b| format!("{b:02x}"))
        .collect()
}
