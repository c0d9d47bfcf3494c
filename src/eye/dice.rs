//! Seeded numbers: the same seed gives the same draw everywhere and for ever.

/// A small generator of evenly spread numbers.
///
/// # Source
/// [Steele2014] (splitmix64; constants from memory).
#[derive(Debug, Clone)]
pub struct Dice(u64);

impl Dice {
    /// Begins at `seed`.
    pub fn new(seed: u64) -> Self {
        Self(seed)
    }

    /// The next 64 bits.
    pub fn bits(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        z ^ (z >> 31)
    }

    /// A whole number below `n`, 0 where `n` is 0.
    pub fn below(&mut self, n: usize) -> usize {
        // The bias of the remainder is below n / 2^64.
        if n == 0 {
            0
        } else {
            (self.bits() % n as u64) as usize
        }
    }

    /// Puts `items` into a drawn order.
    pub fn shuffle<T>(&mut self, items: &mut [T]) {
        for last in (1..items.len()).rev() {
            let other = self.below(last + 1);
            items.swap(last, other);
        }
    }
}

/// A seed made from words, so that a draw belongs to its month and line.
pub fn seed_of(words: &[&str]) -> u64 {
    // Fowler, Noll and Vo's hash of 64 bits, variant 1a; offset and prime from memory.
    words
        .iter()
        .flat_map(|word| word.bytes().chain([0]))
        .fold(0xcbf2_9ce4_8422_2325, |hash, byte| {
            (hash ^ u64::from(byte)).wrapping_mul(0x0000_0100_0000_01b3)
        })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_draw_is_a_permutation_and_repeats() {
        let drawn = |seed| {
            let mut items: Vec<usize> = (0..50).collect();
            Dice::new(seed).shuffle(&mut items);
            items
        };
        let mut sorted = drawn(7);
        assert_eq!(drawn(7), drawn(7));
        assert_ne!(drawn(7), drawn(8));
        sorted.sort_unstable();
        assert_eq!(sorted, (0..50).collect::<Vec<_>>());
        assert_ne!(seed_of(&["a", "b"]), seed_of(&["ab", ""]));
    }
}
