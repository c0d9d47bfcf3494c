//! Random numbers: the same for the same seed, on every machine.

/// A stream of numbers.
#[derive(Debug, Clone)]
pub struct Draw(u64);

impl Draw {
    /// The stream of a seed; neighbouring seeds give unrelated streams.
    pub fn new(seed: u64) -> Self {
        let mut draw = Self(seed);
        draw.next();
        draw
    }

    /// The next 64 bits: a counter, mixed (the mixing is Stafford's variant 13, constants from memory).
    pub fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        z ^ (z >> 31)
    }

    /// A number below `end`; 0 where `end` is 0.
    pub fn below(&mut self, end: usize) -> usize {
        (self.next() % end.max(1) as u64) as usize
    }

    /// True once in `n` times.
    pub fn once_in(&mut self, n: usize) -> bool {
        self.below(n) == 0
    }

    /// One of `of`, which is not empty.
    pub fn pick<'a, T>(&mut self, of: &'a [T]) -> &'a T {
        &of[self.below(of.len())]
    }

    /// A length from 1 on, short ones more often than long ones.
    pub fn length(&mut self, most: usize) -> usize {
        let bits = self.below(10) + 1;
        (self.below(1 << bits) + 1).min(most.max(1))
    }
}
