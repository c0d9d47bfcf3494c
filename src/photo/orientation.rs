//! The eight ways a camera may be held, as an index mapping: no picture is ever turned in memory.

/// How stored pixels map to the upright picture: swap of axes first, then mirroring of the upright axes.
///
/// # Source
/// [CIPA-DC008] tag 0x0112.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Orientation {
    /// Stored rows become upright columns.
    pub swap: bool,
    /// The upright x axis runs against the stored one.
    pub mirror_x: bool,
    /// The upright y axis runs against the stored one.
    pub mirror_y: bool,
}

impl Orientation {
    /// The mapping for the value of the EXIF tag; 0 and values outside 1..=8 count as 1 (as stored).
    pub fn from_exif(value: u32) -> Self {
        let (swap, mirror_x, mirror_y) = match value {
            2 => (false, true, false),
            3 => (false, true, true),
            4 => (false, false, true),
            5 => (true, false, false),
            6 => (true, true, false),
            7 => (true, true, true),
            8 => (true, false, true),
            _ => (false, false, false),
        };
        Self {
            swap,
            mirror_x,
            mirror_y,
        }
    }

    /// Upright (width, height) of a picture stored as `width` by `height`.
    pub fn upright_size(self, width: usize, height: usize) -> (usize, usize) {
        if self.swap {
            (height, width)
        } else {
            (width, height)
        }
    }

    /// True when the stored x axis runs against its upright axis.
    pub fn stored_x_mirrored(self) -> bool {
        if self.swap {
            self.mirror_y
        } else {
            self.mirror_x
        }
    }

    /// True when the stored y axis runs against its upright axis.
    pub fn stored_y_mirrored(self) -> bool {
        if self.swap {
            self.mirror_x
        } else {
            self.mirror_y
        }
    }

    /// Stored (x, y) of the upright pixel (`u`, `v`), both inside the upright size given.
    pub fn stored_of(self, u: usize, v: usize, upright_size: (usize, usize)) -> (usize, usize) {
        let a = if self.mirror_x {
            upright_size.0 - 1 - u
        } else {
            u
        };
        let b = if self.mirror_y {
            upright_size.1 - 1 - v
        } else {
            v
        };
        if self.swap { (b, a) } else { (a, b) }
    }
}
