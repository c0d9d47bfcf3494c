//! Plain quantities shared by every layer.
//!
//! Fractions are 0..=1 inside the library (per cent only in `report`); hue is in degrees [0, 360);
//! lightness L* is 0..=100; points are (x, y) with the origin at the top left of the upright photo.

/// A value with its standard uncertainty, both in the unit named where the value stands.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Measured {
    /// Best estimate.
    pub value: f64,
    /// Standard uncertainty (one standard deviation), never negative.
    pub uncertainty: f64,
}

impl Measured {
    /// A value with its standard uncertainty (its absolute value is kept).
    pub fn new(value: f64, uncertainty: f64) -> Self {
        Self {
            value,
            uncertainty: uncertainty.abs(),
        }
    }
}

/// A measure of one animal: a number, or the reason why there is none.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Reading {
    /// A number with its standard uncertainty.
    Value(Measured),
    /// No number; the code says why (see [`crate::doubt`] for the wording of each code).
    Withheld(&'static str),
}

impl Reading {
    /// The best estimate, or `None` when withheld.
    pub fn value(&self) -> Option<f64> {
        match self {
            Reading::Value(m) => Some(m.value),
            Reading::Withheld(_) => None,
        }
    }

    /// Value and standard uncertainty, or `None` when withheld.
    pub fn measured(&self) -> Option<Measured> {
        match self {
            Reading::Value(m) => Some(*m),
            Reading::Withheld(_) => None,
        }
    }

    /// The code of the reason when withheld.
    pub fn withheld(&self) -> Option<&'static str> {
        match self {
            Reading::Value(_) => None,
            Reading::Withheld(code) => Some(code),
        }
    }
}

/// A point (x, y) in pixels of the upright full-size photo.
pub type Point = [f32; 2];

/// A border pixel (x, y) of the upright full-size photo.
pub type Pixel = [i32; 2];
