//! Seeded random numbers, the same on every machine and in every version: a plan told twice must be the same plan.

/// A stream of random numbers.
///
/// # Source
/// splitmix64 [SteeleLeaFlood2014]; bell-shaped numbers by the polar method [Marsaglia1964].
#[derive(Debug, Clone)]
pub struct Draws {
    state: u64,
    spare: Option<f64>,
}

impl Draws {
    /// The stream of `seed`; streams of neighbouring seeds have nothing in common.
    pub fn new(seed: u64) -> Self {
        let mut draws = Self {
            state: seed.wrapping_mul(0xD134_2543_DE82_EF95),
            spare: None,
        };
        draws.state = draws.bits();
        draws
    }

    /// 64 random bits.
    pub fn bits(&mut self) -> u64 {
        self.state = self.state.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.state;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        z ^ (z >> 31)
    }

    /// Even from 0 to 1, 1 left out.
    pub fn even(&mut self) -> f64 {
        (self.bits() >> 11) as f64 / (1u64 << 53) as f64
    }

    /// A whole number below `count`, which must be above 0.
    pub fn below(&mut self, count: usize) -> usize {
        // The high half of a product: even to one part in 2^64 / count.
        ((u128::from(self.bits()) * count as u128) >> 64) as usize
    }

    /// Bell-shaped about 0 with standard deviation 1.
    pub fn bell(&mut self) -> f64 {
        if let Some(spare) = self.spare.take() {
            return spare;
        }
        loop {
            let (u, v) = (2.0 * self.even() - 1.0, 2.0 * self.even() - 1.0);
            let square = u * u + v * v;
            if square > 0.0 && square < 1.0 {
                let stretch = (-2.0 * square.ln() / square).sqrt();
                self.spare = Some(v * stretch);
                return u * stretch;
            }
        }
    }

    /// Puts `items` in a random order.
    pub fn shuffle<T>(&mut self, items: &mut [T]) {
        for last in (1..items.len()).rev() {
            let other = self.below(last + 1);
            items.swap(last, other);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_are_bell_shaped_and_even() {
        let mut draws = Draws::new(7);
        let n = 200_000;
        let (mut sum, mut squares, mut tail, mut low) = (0.0, 0.0, 0, 0);
        for _ in 0..n {
            let x = draws.bell();
            sum += x;
            squares += x * x;
            tail += usize::from(x > 1.959_964);
            low += usize::from(draws.below(10) == 3);
        }
        let n = f64::from(n);
        // Within 4 standard errors of what the distributions say.
        assert!((sum / n).abs() < 4.0 / n.sqrt(), "{sum}");
        assert!(
            (squares / n - 1.0).abs() < 4.0 * (2.0 / n).sqrt(),
            "{squares}"
        );
        assert!((tail as f64 / n - 0.025).abs() < 4.0 * (0.025 * 0.975 / n).sqrt());
        assert!((low as f64 / n - 0.1).abs() < 4.0 * (0.1 * 0.9 / n).sqrt());
        assert_eq!(Draws::new(1).even(), Draws::new(1).even());
    }
}
