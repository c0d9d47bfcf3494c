//! How long a plan takes: 1,000 replicates of 10 generations of 300 animals, which a keeper waits for.
//!
//! `cargo bench --bench plan`

use std::time::Instant;

use catchcup::selection::plan::{Policy, Runs, Stock, plan};

fn main() {
    let stock = Stock {
        animals: 300,
        heritability: 0.3,
        reading_error: 0.1,
        rungs: [0.05, 0.15, 0.2, 0.3, 0.2, 0.1],
        inbreeding: 0.0,
    };
    let policy = Policy {
        keep: [15, 10],
        measured: 1.0,
    };
    let runs = Runs {
        replicates: 1000,
        generations: 10,
        seed: 1,
    };
    for round in 1..=3 {
        let begun = Instant::now();
        let coming = plan(&stock, &policy, &runs);
        println!(
            "round {round}: {:.2} s; after 10 generations {:+.2} standard deviations, inbreeding {:.1} %",
            begun.elapsed().as_secs_f64(),
            coming[10].worth.mean,
            100.0 * coming[10].inbreeding.mean
        );
    }
}
