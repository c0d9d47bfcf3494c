//! The interval of the loss in the cup against simulated scoops.

use catchcup::trends::fading::{Course, fading};

use crate::dice::Normal;

/// What a scoop does: true mean loss by minutes, its spread between animals (a share of it), scatter of single readings, and
/// of whole photos.
struct Nature {
    loss: fn(f64) -> f64,
    animals: usize,
    differ: f64,
    single: f64,
    photo: f64,
}

const RUNS: u64 = 5000;

/// Share of runs whose interval at the last photo holds the true mean loss, and share of runs that saw a curve.
fn held(nature: &Nature, minutes: &[f64]) -> (f64, f64) {
    let (mut inside, mut curves) = (0, 0);
    for seed in 0..RUNS {
        let mut normal = Normal(seed.wrapping_mul(0x2545_F491_4F6C_DD1D));
        let shifts: Vec<f64> = minutes
            .iter()
            .map(|_| nature.photo * normal.next())
            .collect();
        let table: Vec<Vec<f64>> = (0..nature.animals)
            .map(|_| {
                let (start, own) = (
                    0.6 + 0.2 * normal.next(),
                    1.0 + nature.differ * normal.next(),
                );
                let read = |(t, shift): (&f64, &f64)| {
                    start - own * (nature.loss)(*t) + shift + nature.single * normal.next()
                };
                minutes.iter().zip(&shifts).map(read).collect()
            })
            .collect();
        let found = fading(minutes, &table).expect("enough of both");
        let last = found.until();
        let (loss, half) = found.loss(last);
        inside += usize::from((loss.value - (nature.loss)(last)).abs() <= half);
        curves += usize::from(matches!(found.course, Course::Levelling(_)));
    }
    (inside as f64 / RUNS as f64, curves as f64 / RUNS as f64)
}

/// The promise is 95 %. Binomial error of 5000 runs is 0.3 points; the bounds leave room for what the variance by photos
/// costs (it is estimated from few of them, and never taken below zero).
#[test]
#[ignore = "5000 runs for each case; release mode"]
fn intervals_hold_what_they_promise() {
    let straight: fn(f64) -> f64 = |t| 0.006 * t;
    let curved: fn(f64) -> f64 = |t| 0.08 * (1.0 - (-0.35 * t).exp());
    let cases = [
        (
            "line, animals differ",
            Nature {
                loss: straight,
                animals: 8,
                differ: 0.5,
                single: 0.03,
                photo: 0.0,
            },
        ),
        (
            "line, photos stray",
            Nature {
                loss: straight,
                animals: 8,
                differ: 0.3,
                single: 0.03,
                photo: 0.015,
            },
        ),
        (
            "line, few animals",
            Nature {
                loss: straight,
                animals: 4,
                differ: 0.5,
                single: 0.03,
                photo: 0.01,
            },
        ),
        (
            "curve, quiet",
            Nature {
                loss: curved,
                animals: 10,
                differ: 0.3,
                single: 0.01,
                photo: 0.002,
            },
        ),
    ];
    let minutes = [0.5, 1.5, 3.0, 5.0, 7.0, 10.0];
    let mut faults = Vec::new();
    for (name, nature) in &cases {
        let (inside, curves) = held(nature, &minutes);
        println!(
            "{name}: {:.1} % held, {:.0} % curves",
            100.0 * inside,
            100.0 * curves
        );
        if !(0.93..=0.985).contains(&inside) {
            faults.push(format!("{name}: {inside}"));
        }
    }
    assert!(faults.is_empty(), "{faults:?}");
}
