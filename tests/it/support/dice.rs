//! Chance for tests: the same numbers for the same seed.

/// Numbers from a seeded generator (splitmix64).
pub struct Dice(pub u64);

impl Dice {
    /// From 0 up to, not including, `n`.
    pub fn below(&mut self, n: usize) -> usize {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        ((z ^ (z >> 31)) % n as u64) as usize
    }
}

/// A byte at a random place changed, put in or taken out.
pub fn one_byte(bytes: &mut Vec<u8>, dice: &mut Dice) {
    let at = dice.below(bytes.len());
    match dice.below(3) {
        0 => bytes[at] ^= 1 << dice.below(8),
        1 => bytes.insert(at, dice.below(256) as u8),
        _ => {
            bytes.remove(at);
        }
    }
}
