//! The square code of a page.

use qrcode::{Color, EcLevel, QrCode};

use crate::error::Error;

/// A QR code with its quiet zone of four modules [ISO18004].
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Square {
    /// Modules along a side, the quiet zone included.
    pub side: usize,
    /// Column and row of each dark module.
    pub dark: Vec<[usize; 2]>,
}

impl Square {
    /// The code that says `text`.
    ///
    /// # Errors
    /// Where it is too long, which points to a fault of the program.
    pub(super) fn new(text: &str) -> Result<Self, Error> {
        let qr = QrCode::with_error_correction_level(text, EcLevel::M)
            .map_err(|e| Error::bug(format!("no QR code for the page: {e}")))?;
        let width = qr.width();
        let modules = qr.to_colors().into_iter().enumerate();
        let dark = modules.filter(|(_, colour)| *colour == Color::Dark);
        Ok(Self {
            side: width + 8,
            dark: dark
                .map(|(at, _)| [at % width + 4, at / width + 4])
                .collect(),
        })
    }
}
