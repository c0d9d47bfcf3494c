//! Money to the last coin: whole numbers of the smallest unit, never a fraction of one by accident.

use std::fmt;
use std::iter::Sum;
use std::ops::{Add, Neg, Sub};

/// Most digits behind the point that an amount may have; currencies have none to four.
const MOST_DIGITS: u8 = 4;

/// An amount in its smallest unit, and how many digits of it stand behind the point.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Money {
    units: i128,
    digits: u8,
}

impl Money {
    /// Nothing.
    pub const ZERO: Money = Money {
        units: 0,
        digits: 0,
    };

    /// So many smallest units with `digits` behind the point.
    pub fn of_units(units: i128, digits: u8) -> Self {
        Self { units, digits }
    }

    /// An amount as written: `3`, `3.50`, `0.05`; up to twelve digits before and four behind the point; `None` for
    /// anything else.
    pub fn read(text: &str) -> Option<Self> {
        let (whole, part) = text.split_once('.').unwrap_or((text, ""));
        let digits = |s: &str| s.bytes().all(|b| b.is_ascii_digit());
        let fits = (1..=12).contains(&whole.len()) && part.len() <= usize::from(MOST_DIGITS);
        let dangling = text.ends_with('.');
        if !fits || !digits(whole) || !digits(part) || dangling {
            return None;
        }
        Some(Self {
            units: format!("{whole}{part}").parse().ok()?,
            digits: part.len() as u8,
        })
    }

    /// The smallest units at `digits` behind the point, which must not be fewer than it has.
    fn at(self, digits: u8) -> i128 {
        self.units * 10i128.pow(u32::from(digits.saturating_sub(self.digits)))
    }

    /// The amount with at least `digits` digits behind the point.
    pub fn with_digits(self, digits: u8) -> Self {
        let digits = digits.max(self.digits);
        Self {
            units: self.at(digits),
            digits,
        }
    }

    /// Whole smallest units.
    pub fn units(self) -> i128 {
        self.units
    }

    /// Digits behind the point.
    pub fn digits(self) -> u8 {
        self.digits
    }

    /// So many times the amount.
    pub fn times(self, n: u32) -> Self {
        Self {
            units: self.units * i128::from(n),
            ..self
        }
    }

    /// The amount times `of` over `whole`, rounded to its own digits, halves to the even unit; `whole` is not 0.
    pub fn part(self, of: u64, whole: u64) -> Self {
        let whole = i128::from(whole.max(1));
        let product = self.units * i128::from(of);
        let (quotient, rest) = (product.div_euclid(whole), product.rem_euclid(whole));
        let up = match (2 * rest).cmp(&whole) {
            std::cmp::Ordering::Less => false,
            std::cmp::Ordering::Greater => true,
            std::cmp::Ordering::Equal => quotient.rem_euclid(2) == 1,
        };
        Self {
            units: quotient + i128::from(up),
            ..self
        }
    }

    /// True below nothing.
    pub fn is_negative(self) -> bool {
        self.units < 0
    }
}

impl PartialOrd for Money {
    fn partial_cmp(&self, other: &Self) -> Option<std::cmp::Ordering> {
        let digits = self.digits.max(other.digits);
        Some(self.at(digits).cmp(&other.at(digits)))
    }
}

impl Add for Money {
    type Output = Money;

    fn add(self, other: Money) -> Money {
        let digits = self.digits.max(other.digits);
        Money {
            units: self.at(digits) + other.at(digits),
            digits,
        }
    }
}

impl Neg for Money {
    type Output = Money;

    fn neg(self) -> Money {
        Money {
            units: -self.units,
            ..self
        }
    }
}

impl Sub for Money {
    type Output = Money;

    fn sub(self, other: Money) -> Money {
        self + -other
    }
}

impl Sum for Money {
    fn sum<I: Iterator<Item = Money>>(all: I) -> Money {
        all.fold(Money::ZERO, Add::add)
    }
}

impl fmt::Display for Money {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let one = 10i128.pow(u32::from(self.digits));
        let sign = if self.units < 0 { "-" } else { "" };
        let (whole, part) = (self.units.abs() / one, self.units.abs() % one);
        if self.digits == 0 {
            write!(f, "{sign}{whole}")
        } else {
            write!(
                f,
                "{sign}{whole}.{part:0width$}",
                width = usize::from(self.digits)
            )
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn m(text: &str) -> Money {
        Money::read(text).expect("an amount")
    }

    #[test]
    fn sums_are_exact() {
        let tenth: Money = std::iter::repeat_n(m("0.10"), 3).sum();
        assert_eq!(tenth.to_string(), "0.30");
        assert_eq!((m("3") + m("0.05")).to_string(), "3.05");
        assert_eq!((m("1.00") - m("2.5")).to_string(), "-1.50");
        assert_eq!(m("2.50").times(17).to_string(), "42.50");
        assert!(m("2.5") < m("2.51") && m("2.50") >= m("2.5"));
    }

    /// Halves go to the even unit.
    #[test]
    fn parts_are_rounded_once() {
        assert_eq!(m("0.05").part(1, 2).to_string(), "0.02");
        assert_eq!(m("0.15").part(1, 2).to_string(), "0.08");
        assert_eq!((-m("0.05")).part(1, 2).to_string(), "-0.02");
        assert_eq!(m("10.00").part(1, 3).to_string(), "3.33");
        assert_eq!(m("10.00").part(2, 3).to_string(), "6.67");
    }

    #[test]
    fn amounts_are_read_or_refused() {
        for text in [
            "",
            ".5",
            "5.",
            "-1",
            "1,50",
            "1.23456",
            "1e3",
            " 1",
            "1234567890123",
        ] {
            assert_eq!(Money::read(text), None, "{text}");
        }
        assert_eq!(m("007.50").to_string(), "7.50");
    }
}
