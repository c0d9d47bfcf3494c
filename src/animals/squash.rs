//! Signs compressed, so that small contrasts count and large ones don't drown them.

/// Sign of `v` times the natural logarithm of 1 plus `v` in multiples of `scale`, to within 1e-6; `scale` is above 0.
#[inline(always)]
pub fn squash(v: f32, scale: f32) -> f32 {
    ln(1.0 + v.abs() / scale).copysign(v)
}

/// Natural logarithm of a positive normal number to within 3e-7 plus rounding, without a branch or a call, so that loops
/// become vector code: the number is 2^k m with m in 2/3..4/3, and ln m = 2 artanh((m - 1) / (m + 1)).
#[inline(always)]
pub fn ln(x: f32) -> f32 {
    const TWO_THIRDS: u32 = 0x3F2A_AAAB;
    let exponent = (x.to_bits().wrapping_sub(TWO_THIRDS) as i32) >> 23;
    let m = f32::from_bits(x.to_bits().wrapping_sub((exponent as u32) << 23));
    let s = (m - 1.0) / (m + 1.0);
    let q = s * s;
    let series = s * (2.0 + q * (2.0 / 3.0 + q * (2.0 / 5.0 + q * (2.0 / 7.0 + q * (2.0 / 9.0)))));
    exponent as f32 * std::f32::consts::LN_2 + series
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_logarithm_is_that_of_the_standard_library() {
        for i in 0..40_000 {
            let x = (i as f32 / 1000.0 - 20.0).exp();
            let exact = f64::from(x).ln();
            let error = (f64::from(ln(x)) - exact).abs();
            assert!(error < 3e-7 + 1.2e-7 * exact.abs(), "{x}: {error}");
        }
        assert_eq!(ln(1.0), 0.0);
    }

    #[test]
    fn squashing_keeps_sign_and_nothing() {
        assert_eq!(squash(0.0, 2.0), 0.0);
        assert!((squash(-6.0, 2.0) + 4.0f32.ln()).abs() < 1e-6);
    }
}
