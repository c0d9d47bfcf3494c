//! The coded bits of a sequential JPEG scan.
//!
//! # Source
//! [ITU-T81] annexes C and F.

/// Bits that the short table looks at; longer codes are rare.
const SHORT: u32 = 10;
/// Bits that the table of whole steps looks at.
const STEP_BITS: u32 = 11;
/// Advance of an end-of-block code: past the last coefficient by more than any run can be.
const END_OF_BLOCK: u32 = 128;

/// Where a bit stands: in the byte at `byte` of the coded data, behind its first `bit` bits.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Place {
    /// Index into the coded data, stuffed bytes counted.
    pub byte: usize,
    /// Bits of that byte that are used up, 0..=7.
    pub bit: u32,
}

/// Reads coded data; zeros behind their end.
#[derive(Debug, Clone, Copy)]
pub(super) struct Bits<'a> {
    data: &'a [u8],
    at: usize,
    word: u64,
    count: u32,
    /// Bits that were made up behind the end of the data.
    invented: u32,
}

impl<'a> Bits<'a> {
    /// A reader that begins at `place`.
    pub fn new(data: &'a [u8], place: Place) -> Self {
        let mut bits = Self {
            data,
            at: place.byte,
            word: 0,
            count: 0,
            invented: 0,
        };
        bits.refill();
        bits.drop(place.bit);
        bits
    }

    /// At least 32 bits are at hand afterwards.
    #[inline(always)]
    pub fn refill(&mut self) {
        if self.count >= 32 {
            return;
        }
        if let Some(next) = self.data.get(self.at..self.at + 8) {
            let next = u64::from_be_bytes([
                next[0], next[1], next[2], next[3], next[4], next[5], next[6], next[7],
            ]);
            // No byte is 0xFF when no byte of the complement is 0.
            let inverse = !next;
            if inverse.wrapping_sub(0x0101_0101_0101_0101) & !inverse & 0x8080_8080_8080_8080 == 0 {
                let bytes = (63 - self.count) / 8;
                // Only whole bytes are kept, so that the bits below `count` stay 0.
                self.word |= (next >> (64 - 8 * bytes)) << (64 - 8 * bytes - self.count);
                self.at += bytes as usize;
                self.count += 8 * bytes;
                return;
            }
        }
        // By value: a reader whose address is taken would live in memory, not in registers.
        *self = self.refilled_slowly();
    }

    #[cold]
    #[inline(never)]
    fn refilled_slowly(mut self) -> Self {
        while self.count <= 48 {
            let byte = match (self.data.get(self.at), self.data.get(self.at + 1)) {
                (Some(0xFF), Some(0)) => {
                    self.at += 2;
                    0xFF
                }
                (Some(0xFF), _) | (None, _) => {
                    self.invented += 8;
                    0
                }
                (Some(&byte), _) => {
                    self.at += 1;
                    byte
                }
            };
            self.word |= u64::from(byte) << (56 - self.count);
            self.count += 8;
        }
        self
    }

    /// The next `n` bits (0..=31) without taking them.
    #[inline(always)]
    fn peek(&self, n: u32) -> u32 {
        ((self.word >> 32) >> (32 - n)) as u32
    }

    #[inline(always)]
    fn drop(&mut self, n: u32) {
        self.word <<= n;
        self.count -= n;
    }

    #[inline(always)]
    fn take(&mut self, n: u32) -> u32 {
        let value = self.peek(n);
        self.drop(n);
        value
    }

    /// True when bits were used that the data do not hold.
    pub fn overrun(&self) -> bool {
        self.count < self.invented
    }

    /// Bits at hand that come from the data.
    fn real(&self) -> u32 {
        self.count.saturating_sub(self.invented)
    }

    /// Where the next bit stands.
    pub fn place(&self) -> Place {
        let real = self.real();
        let mut byte = self.at;
        for _ in 0..real.div_ceil(8) {
            // A zero behind 0xFF is stuffing and belongs to it.
            let stuffed = byte >= 2 && self.data[byte - 1] == 0 && self.data[byte - 2] == 0xFF;
            byte -= if stuffed { 2 } else { 1 };
        }
        Place {
            byte,
            bit: (8 - real % 8) % 8,
        }
    }
}

/// A table of codes.
#[derive(Debug, Clone)]
pub(super) struct Codes {
    /// By the next [`SHORT`] bits: length of the code and symbol; length 0 for longer codes.
    short: Box<[(u8, u8); 1 << SHORT]>,
    /// By the next [`STEP_BITS`] bits, where a code with its value lies whole within them.
    steps: Box<[Step; 1 << STEP_BITS]>,
    /// By length from 1: first code, number of codes, index of the first symbol.
    lengths: [(u32, u32, usize); 17],
    symbols: Vec<u8>,
}

/// What a code with its value says of the other coefficients of a block.
#[derive(Debug, Clone, Copy, Default)]
struct Step {
    /// Bits of both; 0 = not known from these bits.
    bits: u8,
    /// How many coefficients on.
    advance: u8,
    /// The coefficient there.
    value: i16,
}

impl Codes {
    /// From the counts by length and the symbols; `None` where they do not add up.
    pub fn new(counts: &[u8; 16], symbols: &[u8]) -> Option<Self> {
        let mut codes = Self {
            short: Box::new([(0, 0); 1 << SHORT]),
            steps: Box::new([Step::default(); 1 << STEP_BITS]),
            lengths: [(0, 0, 0); 17],
            symbols: symbols.to_vec(),
        };
        let (mut code, mut index) = (0u32, 0usize);
        for length in 1..=16u32 {
            let count = u32::from(counts[length as usize - 1]);
            codes.lengths[length as usize] = (code, count, index);
            if code + count > 1 << length || index + count as usize > symbols.len() {
                return None;
            }
            for i in 0..count {
                codes.enter(code + i, length, symbols[index + i as usize]);
            }
            index += count as usize;
            code = (code + count) << 1;
        }
        for pattern in 0..1 << STEP_BITS {
            codes.steps[pattern as usize] = codes.step_in(pattern).unwrap_or_default();
        }
        Some(codes)
    }

    /// Entry of the table of steps.
    fn step_in(&self, pattern: u32) -> Option<Step> {
        let (length, symbol) = self.short[(pattern >> (STEP_BITS - SHORT)) as usize];
        let (length, size) = (u32::from(length), u32::from(symbol & 15));
        let advance = advance(symbol)?;
        let left = STEP_BITS.checked_sub(length + size)?;
        let value = (pattern >> left) & ((1 << size) - 1);
        (length > 0).then(|| Step {
            bits: (length + size) as u8,
            advance: advance as u8,
            value: difference(value, size) as i16,
        })
    }

    fn enter(&mut self, code: u32, length: u32, symbol: u8) {
        if length > SHORT {
            return;
        }
        let from = (code << (SHORT - length)) as usize;
        let to = from + (1 << (SHORT - length));
        self.short[from..to].fill((length as u8, symbol));
    }

    /// Length and symbol of the next code; `None` when there is no such code.
    #[inline(always)]
    fn next(&self, bits: &Bits<'_>) -> Option<(u32, u8)> {
        let (length, symbol) = self.short[bits.peek(SHORT) as usize];
        if length > 0 {
            return Some((u32::from(length), symbol));
        }
        (SHORT + 1..=16).find_map(|length| {
            let (first, count, index) = self.lengths[length as usize];
            let offset = bits.peek(length).checked_sub(first)?;
            (offset < count).then(|| (length, self.symbols[index + offset as usize]))
        })
    }
}

/// How many coefficients an AC symbol moves on; `None` for symbols that sequential scans do not have.
fn advance(symbol: u8) -> Option<u32> {
    match (symbol >> 4, symbol & 15) {
        (0, 0) => Some(END_OF_BLOCK),
        (15, 0) => Some(16),
        (_, 0) => None,
        (run, 1..=10) => Some(u32::from(run) + 1),
        _ => None,
    }
}

/// The difference that `size` value bits stand for.
#[inline(always)]
fn difference(value: u32, size: u32) -> i32 {
    if size > 0 && value < 1 << (size - 1) {
        value as i32 - (1 << size) + 1
    } else {
        value as i32
    }
}

/// Reads the difference of a block's first coefficient.
#[inline(always)]
pub(super) fn read_dc(bits: &mut Bits<'_>, codes: &Codes) -> Option<i32> {
    bits.refill();
    let (length, size) = codes.next(bits)?;
    if size > 11 {
        return None;
    }
    bits.drop(length);
    let value = bits.take(u32::from(size));
    Some(difference(value, u32::from(size)))
}

/// Reads the other coefficients of a block and gives each with its place in the zigzag order to `set`, zeros left out
/// or not; `None` when they are not coded as they should be.
#[inline(always)]
pub(super) fn read_ac(
    bits: &mut Bits<'_>,
    codes: &Codes,
    mut set: impl FnMut(usize, i32),
) -> Option<()> {
    let mut at = 0;
    while at < 63 {
        bits.refill();
        let step = codes.steps[bits.peek(STEP_BITS) as usize];
        let (on, value) = if step.bits > 0 {
            bits.drop(u32::from(step.bits));
            (u32::from(step.advance), i32::from(step.value))
        } else {
            let (length, symbol) = codes.next(bits)?;
            let size = u32::from(symbol & 15);
            let on = advance(symbol)?;
            bits.drop(length);
            (on, difference(bits.take(size), size))
        };
        at += on;
        if at > 63 {
            return (at >= END_OF_BLOCK).then_some(());
        }
        set(at as usize, value);
    }
    Some(())
}
