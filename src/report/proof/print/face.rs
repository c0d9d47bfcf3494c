//! A font: widths of its letters, and the letters that were used, which alone go into the file.

use std::collections::BTreeMap;

use ab_glyph::{Font, FontRef};
use subsetter::GlyphRemapper;

use crate::error::Error;

/// Units to an em in which a PDF states widths [PDF17] 9.2.4.
pub(super) const EM: f32 = 1000.0;

/// A font with what was used of it.
pub(super) struct Face {
    /// Its name in the file.
    pub name: &'static str,
    /// The whole font.
    pub data: &'static [u8],
    font: FontRef<'static>,
    /// Old numbers of glyphs to new ones, in the order in which they were used.
    pub used: GlyphRemapper,
    /// The letter of each new glyph.
    pub letters: BTreeMap<u16, char>,
}

impl Face {
    /// The font in `data`.
    ///
    /// # Errors
    /// Where it is none, which points to a fault of the program.
    pub(super) fn new(name: &'static str, data: &'static [u8]) -> Result<Self, Error> {
        let font = FontRef::try_from_slice(data)
            .map_err(|e| Error::bug(format!("the font {name} can't be read: {e}")))?;
        Ok(Self {
            name,
            data,
            font,
            used: GlyphRemapper::new(),
            letters: BTreeMap::new(),
        })
    }

    fn units(&self) -> f32 {
        self.font.units_per_em().unwrap_or(EM)
    }

    /// Width of a text of that size, in its unit.
    pub(super) fn width(&self, text: &str, size: f32) -> f32 {
        let advance = |c| self.font.h_advance_unscaled(self.font.glyph_id(c));
        text.chars().map(advance).sum::<f32>() * size / self.units()
    }

    /// The text as numbers of glyphs of the cut-down font, two bytes each.
    ///
    /// # Errors
    /// Where the font lacks a letter.
    pub(super) fn encoded(&mut self, text: &str) -> Result<Vec<u8>, Error> {
        let mut out = Vec::with_capacity(2 * text.len());
        for letter in text.chars() {
            let glyph = self.font.glyph_id(letter).0;
            if glyph == 0 {
                return Err(no_letter(letter));
            }
            let new = self.used.remap(glyph);
            self.letters.entry(new).or_insert(letter);
            out.extend(new.to_be_bytes());
        }
        Ok(out)
    }

    /// Widths of the used glyphs by their new numbers, in thousandths of an em.
    pub(super) fn widths(&self) -> Vec<f32> {
        let width = |old| self.font.h_advance_unscaled(ab_glyph::GlyphId(old)) * EM / self.units();
        self.used.remapped_gids().map(width).collect()
    }

    /// Height above and depth below the base line, thousandths of an em, the depth below 0.
    pub(super) fn reach(&self) -> [f32; 2] {
        let all = [self.font.ascent_unscaled(), self.font.descent_unscaled()];
        all.map(|v| v * EM / self.units())
    }
}

fn no_letter(letter: char) -> Error {
    Error::rules(
        "pdf_letter",
        format!(
            "the page holds the sign U+{:04X}, which the font of the PDF lacks",
            u32::from(letter)
        ),
        "leave --pdf out and print the page from a browser, or write the lot and the tank in Latin, Greek or Cyrillic letters",
    )
}
