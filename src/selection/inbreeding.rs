//! What keeping few breeders costs: effective size, and how fast inbreeding rises.

/// Effective size of a generation from `males` and `females`; 0 where one sex is missing.
///
/// # Source
/// Ne = 4 Nm Nf / (Nm + Nf), [Wright1931].
pub fn effective_size(males: f64, females: f64) -> f64 {
    if males <= 0.0 || females <= 0.0 {
        return 0.0;
    }
    4.0 * males * females / (males + females)
}

/// Rise of inbreeding in one generation as a share of what is still missing to full inbreeding, 0..=1; 1 where no
/// generation can follow.
///
/// # Source
/// 1 / (2 Ne) [Wright1931]; it supposes that all who are kept breed alike. Where a few have most of the young, the true
/// rise is faster.
pub fn rate(effective_size: f64) -> f64 {
    if effective_size <= 0.5 {
        return 1.0;
    }
    1.0 / (2.0 * effective_size)
}

/// Inbreeding after generations of these effective sizes, 0..=1, from none at the start.
///
/// # Source
/// F = 1 - product of (1 - 1 / (2 Ne)), [FalconerMackay1996] equation 3.12.
pub fn accumulated(effective_sizes: &[f64]) -> f64 {
    1.0 - effective_sizes
        .iter()
        .map(|ne| 1.0 - rate(*ne))
        .product::<f64>()
}

/// The one effective size that would have cost as much as these generations: their harmonic mean; `None` without any, or
/// where one of them is 0.
///
/// # Source
/// [Wright1938].
pub fn harmonic_mean(sizes: &[f64]) -> Option<f64> {
    let all_there = !sizes.is_empty() && sizes.iter().all(|size| *size > 0.0);
    all_there.then(|| sizes.len() as f64 / sizes.iter().map(|size| 1.0 / size).sum::<f64>())
}

/// Generations until inbreeding goes from `now` to `limit` at that effective size; 0 where it is reached, `None` where it
/// never is.
pub fn generations_until(limit: f64, now: f64, effective_size: f64) -> Option<f64> {
    if now >= limit {
        return Some(0.0);
    }
    let step = rate(effective_size);
    if step <= 0.0 || limit >= 1.0 {
        return None;
    }
    if step >= 1.0 {
        return Some(1.0);
    }
    Some(((1.0 - limit) / (1.0 - now)).ln() / (1.0 - step).ln())
}
