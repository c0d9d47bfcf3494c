//! Predicted against simulated response, and the interval of realised heritability.

use catchcup::selection::draws::Draws;
use catchcup::selection::forecast::{SexPlan, differential, response};
use catchcup::selection::inbreeding::effective_size;
use catchcup::selection::plan::{Policy, Runs, Stock, plan};
use catchcup::selection::realised::{Step, realised};
use rayon::prelude::*;

/// The first generation's mean within a tenth of h2 times the differential, over heritabilities and proportions.
#[test]
#[ignore = "thousands of runs; release mode"]
fn first_response_as_predicted() {
    for h2 in [0.15, 0.3, 0.5, 0.7] {
        for keep in [15, 30, 60, 90] {
            let stock = Stock {
                animals: 300,
                heritability: h2,
                reading_error: 0.1,
                rungs: [1.0 / 6.0; 6],
                inbreeding: 0.0,
            };
            let policy = Policy {
                keep: [keep; 2],
                measured: 1.0,
            };
            let runs = Runs {
                replicates: 5000,
                generations: 1,
                seed: 11,
            };
            let coming = plan(&stock, &policy, &runs);
            let tank = SexPlan {
                there: 150,
                keep,
                sd: 1.0,
            };
            let s = differential(&tank).expect("a plan");
            let expected = response(h2, s, s);
            let found = coming[1].worth.mean - coming[0].worth.mean;
            println!("h2 {h2}, {keep} of 150: predicted {expected:.3}, simulated {found:.3}");
            assert!(
                (found - expected).abs() <= 0.1 * expected,
                "{h2} {keep}: {found} {expected}"
            );
        }
    }
}

const RUNS: u64 = 5000;

/// A tank selected by its own worth for some generations; true heritability `h2`.
fn generations(
    h2: f64,
    count: usize,
    animals: usize,
    keep: [usize; 2],
    draws: &mut Draws,
) -> Vec<Step> {
    let mut inherited: Vec<f64> = (0..animals).map(|_| h2.sqrt() * draws.bell()).collect();
    let mut steps = Vec::new();
    for _ in 0..=count {
        let seen: Vec<f64> = inherited
            .iter()
            .map(|a| a + (1.0 - h2).sqrt() * draws.bell())
            .collect();
        let mean = seen.iter().sum::<f64>() / animals as f64;
        let mut parents: [Vec<usize>; 2] = Default::default();
        for (sex, parents) in parents.iter_mut().enumerate() {
            let mut own: Vec<usize> = (0..animals).filter(|i| i % 2 == sex).collect();
            own.sort_by(|a, b| seen[*b].total_cmp(&seen[*a]));
            own.truncate(keep[sex]);
            *parents = own;
        }
        let half =
            |sex: usize| parents[sex].iter().map(|i| seen[*i]).sum::<f64>() / keep[sex] as f64;
        steps.push(Step {
            mean,
            measured: animals,
            differential: (half(0) + half(1)) / 2.0 - mean,
            effective_size: effective_size(keep[1] as f64, keep[0] as f64),
        });
        inherited = (0..animals)
            .map(|_| {
                let [m, f] = [0, 1].map(|sex| inherited[parents[sex][draws.below(keep[sex])]]);
                (m + f) / 2.0 + (h2 / 2.0).sqrt() * draws.bell()
            })
            .collect();
    }
    steps
}

/// The value realised in a line so large that nothing is left to chance, with the same share kept. It lies below the
/// heritability at the start, since selection uses up differences between animals.
fn realised_in_a_large_line(h2: f64, count: usize) -> f64 {
    let steps = generations(h2, count, 60_000, [7_500, 5_000], &mut Draws::new(77));
    let of = |step: &[Step]| {
        step[..count]
            .iter()
            .map(|s| s.differential)
            .collect::<Vec<f64>>()
    };
    let mut selected = vec![0.0];
    for differential in of(&steps) {
        selected.push(selected[selected.len() - 1] + differential);
    }
    let means: Vec<f64> = steps.iter().map(|s| s.mean).collect();
    let n = means.len() as f64;
    let (mx, my) = (
        selected.iter().sum::<f64>() / n,
        means.iter().sum::<f64>() / n,
    );
    let both = selected.iter().zip(&means);
    let up: f64 = both.map(|(x, y)| (x - mx) * (y - my)).sum();
    up / selected.iter().map(|x| (x - mx).powi(2)).sum::<f64>()
}

/// What 95 % intervals hold at three, five and eight generations: 92 to 98 %.
#[test]
#[ignore = "5000 runs for each case; release mode"]
fn intervals_of_realised_heritability() {
    for h2 in [0.1, 0.3, 0.5] {
        for count in [3, 5, 8] {
            let truth = realised_in_a_large_line(h2, count);
            let held: Vec<(bool, f64)> = (0..RUNS)
                .into_par_iter()
                .map(|seed| {
                    let mut draws = Draws::new(seed);
                    let steps = generations(h2, count, 120, [15, 10], &mut draws);
                    let found = realised(&steps, 1.0, 0.0).expect("enough generations");
                    let inside = found.interval.low <= truth && truth <= found.interval.high;
                    (inside, found.value)
                })
                .collect();
            let inside = held.iter().filter(|h| h.0).count() as f64 / RUNS as f64;
            let mean = held.iter().map(|h| h.1).sum::<f64>() / RUNS as f64;
            println!(
                "h2 {h2} at the start, {count} generations: realised {truth:.3}, estimated {mean:.3} on average, {:.1} % held",
                100.0 * inside
            );
            assert!((0.92..=0.98).contains(&inside), "{h2} {count}: {inside}");
            assert!((mean - truth).abs() < 0.015, "{h2} {count}: {mean} {truth}");
        }
    }
}
