//! A pale stripe along the back.
//!
//! Unverified on photographs: eight animals of one rendered scene are all the truth there is. Five were read, four of them within
//! 0.1 and one 0.26 too high; a stripe broken more than `LEAST_SEEN` allows is withheld, since shade on plain backs looks like one.

use super::View;
use crate::animals::body::Body;
use crate::animals::field::Field;
use crate::units::{Measured, Reading};

/// Places across the body, as shares of half its width: the back, and the flanks beside it.
const BACK: [f32; 5] = [-0.2, -0.1, 0.0, 0.1, 0.2];
const FLANK: [f32; 4] = [0.35, 0.45, 0.55, 0.65];
/// The stripe is looked for between these shares of the length: rostrum and tail fan carry none.
const ALONG: (f64, f64) = (0.15, 0.85);
/// A back lighter than its flanks by this L* along the middle of the body is a stripe (animals without: 3 at the most in 97 of 100).
const STRIPE: f64 = 4.0;
/// Where it is lighter by less than this the stripe is broken.
const BROKEN: f64 = 2.0;
/// A back lighter over less of its length than this may as well be one in the light (plain animals: 0.55 to 0.79).
const LEAST_SEEN: f64 = 0.8;
/// Standard uncertainty of the unbroken share.
const UNCERTAINTY: f64 = 0.15;

/// Share of the stripe's length that is unbroken, 0..=1; withheld where no stripe shows or the back is not seen.
pub fn stripe(body: &Body, field: &Field, view: View) -> Reading {
    if view == View::Side {
        return Reading::Withheld("back_not_seen");
    }
    let n = body.left.len();
    let (from, to) = ((ALONG.0 * n as f64) as usize, (ALONG.1 * n as f64) as usize);
    let contrasts: Vec<f64> = (from..to).map(|k| contrast(body, field, k)).collect();
    let smooth: Vec<f64> = contrasts
        .windows(5)
        .map(|w| w.iter().sum::<f64>() / 5.0)
        .collect();
    let middle = crate::stats::quantile(&smooth, 0.5).unwrap_or(0.0);
    let unbroken =
        smooth.iter().filter(|c| **c >= BROKEN).count() as f64 / smooth.len().max(1) as f64;
    if middle < STRIPE || unbroken < LEAST_SEEN {
        return Reading::Withheld("no_stripe_seen");
    }
    Reading::Value(Measured::new(unbroken, UNCERTAINTY))
}

/// How much lighter the back is than the lighter flank at one station, L*.
fn contrast(body: &Body, field: &Field, k: usize) -> f64 {
    let [a, b] = body.edges(k);
    let light = |share: f32| {
        let t = 0.5 * (1.0 + share);
        let (x, y) = (a[0] + t * (b[0] - a[0]), a[1] + t * (b[1] - a[1]));
        f64::from(field.fine.lightness.sample(x, y))
    };
    let mean = |side: f32| FLANK.iter().map(|f| light(side * f)).sum::<f64>() / FLANK.len() as f64;
    let back = BACK
        .iter()
        .map(|f| light(*f))
        .fold(f64::NEG_INFINITY, f64::max);
    back - mean(-1.0).max(mean(1.0))
}
