//! Plain loops with the widest vector instructions that the machine has.

use std::sync::atomic::{AtomicBool, Ordering};

use pulp::Arch;
pub use pulp::{NullaryFnOnce as Work, Scalar, Simd, WithSimd};

/// True while no wide instructions are to be used.
static PLAIN: AtomicBool = AtomicBool::new(false);

/// From now on the whole program works without wide instructions, to try that they change nothing, or with them again.
pub fn set_plain(plain: bool) {
    PLAIN.store(plain, Ordering::Relaxed);
}

/// True while no wide instructions are to be used.
pub fn is_plain() -> bool {
    PLAIN.load(Ordering::Relaxed)
}

/// Does `work` compiled for the widest vectors at hand: for work too long to be inlined unless its `call` is marked
/// `#[inline(always)]`. For the rest see [`widest`].
#[inline]
pub fn widest_of<W: Work>(work: W) -> W::Output {
    if is_plain() {
        return work.call();
    }
    Arch::new().dispatch(work)
}

/// Does `work` written in vectors, with the widest at hand.
#[inline]
pub fn widest_simd<W: WithSimd>(work: W) -> W::Output {
    if is_plain() {
        return work.with_simd(Scalar::new());
    }
    Arch::new().dispatch(work)
}

/// A row of numbers, each given by its place. As a plain loop: the calls within the standard library's own way are not always
/// inlined, and stay narrow then.
#[inline(always)]
pub fn each<const L: usize>(f: impl Fn(usize) -> f32) -> [f32; L] {
    let mut out = [0.0; L];
    for (i, o) in out.iter_mut().enumerate() {
        *o = f(i);
    }
    out
}

/// Calls `work` with `input`, compiled for the widest vectors at hand.
///
/// `work` is a short function marked `#[inline(always)]`, and so is what it calls; what is not inlined stays as it is. The numbers
/// are the same on every machine: loops are only cut into wider pieces, sums keep their order, nothing is fused.
#[inline]
pub fn widest<I, R>(input: I, work: impl FnOnce(I) -> R) -> R {
    widest_of(Job { input, work })
}

/// A function and what it is called with: unlike a closure's, its call can be told to be inlined.
struct Job<I, W> {
    input: I,
    work: W,
}

impl<I, R, W: FnOnce(I) -> R> Work for Job<I, W> {
    type Output = R;

    #[inline(always)]
    fn call(self) -> R {
        (self.work)(self.input)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[inline(always)]
    fn sum(values: &mut [f32]) -> f32 {
        values
            .iter_mut()
            .for_each(|v| *v = (*v * 1.7 + 0.3).sqrt() / (*v + 2.0));
        values.iter().sum()
    }

    #[test]
    fn wide_loops_give_the_same_bits() {
        let mut plain: Vec<f32> = (0..1000).map(|i| i as f32 * 0.37).collect();
        let mut wide = plain.clone();
        let plain_sum = sum(&mut plain);
        assert_eq!(widest(&mut wide[..], sum).to_bits(), plain_sum.to_bits());
        assert_eq!(plain, wide);
    }
}
