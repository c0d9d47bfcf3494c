//! What a file may ask for: checked on its header, before anything of its size is allocated.

use super::decode::damaged;
use crate::error::Error;

/// Bounds on a photo's file and on the picture in it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Limits {
    /// Largest file in bytes.
    pub most_bytes: usize,
    /// Most pixels.
    pub most_pixels: usize,
    /// Most bytes of the picture as its file has it, before it is brought to 8 bits a channel without transparency.
    pub most_decoded_bytes: usize,
    /// Shortest side in pixels.
    pub least_side: usize,
    /// JPEGs of more pixels than this are decoded at half size: animals are looked for and measured no finer (see the
    /// steps of the field), and decoding is most of the work on a large photo.
    pub half_above: usize,
}

impl Default for Limits {
    /// House rules: a file of several times the largest phone JPEG; pixels above the usual phone sensor (300 MB as bytes);
    /// 16 bits a channel for up to two thirds of them; below the shortest side no animal has enough pixels to be measured.
    fn default() -> Self {
        Self {
            most_bytes: 64 << 20,
            most_pixels: 100_000_000,
            most_decoded_bytes: 400_000_000,
            least_side: 200,
            half_above: 3_200_000,
        }
    }
}

impl Limits {
    /// Checks the size that a header claims, and that a file of which `most_pixels_in_file` is the very most can hold it.
    pub(super) fn check_size(
        &self,
        width: usize,
        height: usize,
        most_pixels_in_file: usize,
    ) -> Result<(), Error> {
        let pixels = width.saturating_mul(height);
        if pixels > self.most_pixels {
            return Err(Error::photo(
                "photo_too_large",
                format!(
                    "the photo says it has {width} x {height} pixels, at most {} megapixels are read",
                    self.most_pixels / 1_000_000
                ),
                "export the photo smaller; 12 megapixels are plenty",
            ));
        }
        if width.min(height) < self.least_side {
            return Err(Error::photo(
                "photo_too_small",
                format!(
                    "the photo has {width} x {height} pixels, at least {} on the shorter side are needed",
                    self.least_side
                ),
                "use the photo as the camera took it, not a preview",
            ));
        }
        if pixels > most_pixels_in_file {
            return Err(damaged("the file is far too short for the size it claims"));
        }
        Ok(())
    }

    /// Checks the bytes that a picture will take as its file has it.
    pub(super) fn check_decoded_bytes(&self, bytes: u64) -> Result<(), Error> {
        if bytes <= self.most_decoded_bytes as u64 {
            return Ok(());
        }
        Err(Error::photo(
            "photo_too_large",
            format!(
                "the photo would take {} MB of memory, at most {} are used",
                bytes / 1_000_000,
                self.most_decoded_bytes / 1_000_000
            ),
            "export the photo smaller or with 8 bits a channel; 12 megapixels are plenty",
        ))
    }
}
