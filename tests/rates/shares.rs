//! How often the ranges of a tank's shares hold: of each rung, and of the share at or above the sale rung where scoops differ.

use catchcup::ladder::Rung;
use catchcup::scoop::kept::Origin;
use catchcup::scoop::{KeptAnimal, PastScoop};
use catchcup::trends::whole_tank::whole_tank;
use jiff::civil::date;
use rayon::prelude::*;

use crate::dice::Normal;

const RUNS: u64 = 5000;
/// Shares of G0 to G5 in the tank.
const TANK: [f64; 6] = [0.03, 0.07, 0.2, 0.3, 0.3, 0.1];

fn scoop(number: i64, rungs: impl Iterator<Item = usize>) -> PastScoop {
    let animal = |(no, rung): (usize, usize)| KeptAnimal {
        rung: Rung::from_index(rung),
        ..KeptAnimal::blank(no as u32 + 1)
    };
    PastScoop {
        number,
        tank: "T".into(),
        line: None,
        generation: None,
        at: date(2024, 1, 1).at(18, 0, 0, 0),
        who: String::new(),
        kept_apart: false,
        second_of: None,
        conditions: Default::default(),
        origin: Origin::default(),
        remark: String::new(),
        animals: rungs.enumerate().map(animal).collect(),
    }
}

/// A rung drawn by its share.
fn drawn(shares: &[f64; 6], dice: &mut Normal) -> usize {
    let mut left = dice.uniform();
    for (rung, share) in shares.iter().enumerate() {
        left -= share;
        if left < 0.0 {
            return rung;
        }
    }
    5
}

fn share(hits: usize) -> f64 {
    hits as f64 / RUNS as f64
}

/// 99 % of 5000 runs with a true rate of 95 % lie above this.
fn least() -> f64 {
    0.95 - 2.326 * (0.95 * 0.05 / RUNS as f64).sqrt()
}

#[test]
#[ignore = "5000 runs; release mode"]
fn the_range_of_each_rung_holds() {
    for (scoops, size) in [(1, 8), (1, 20), (3, 15)] {
        let held: Vec<[bool; 6]> = (0..RUNS)
            .into_par_iter()
            .map(|seed| {
                let mut dice = Normal(seed.wrapping_mul(0x2545_F491_4F6C_DD1D));
                let past: Vec<PastScoop> = (0..scoops)
                    .map(|no| {
                        let rungs: Vec<usize> =
                            (0..size).map(|_| drawn(&TANK, &mut dice)).collect();
                        scoop(no, rungs.into_iter())
                    })
                    .collect();
                let all: Vec<&PastScoop> = past.iter().collect();
                let found = whole_tank(&all, 0.0, None).expect("animals");
                let mut held = [false; 6];
                for r in &found.rungs {
                    let truth = TANK[r.rung.index()];
                    held[r.rung.index()] = r.on_range.low <= truth && truth <= r.on_range.high;
                }
                held
            })
            .collect();
        for rung in 0..6 {
            let found = share(held.iter().filter(|h| h[rung]).count());
            println!("{scoops} scoops of {size}, G{rung}: {:.1} %", 100.0 * found);
            assert!(found >= least(), "{scoops} of {size}, G{rung}: {found}");
        }
    }
}

/// Scoops differ: each has a share of its own, beta distributed about 0.7 with a correlation of 0.05 within scoops, made by an urn
/// to which a ball like the one drawn is added.
#[test]
#[ignore = "5000 runs; release mode"]
fn ranges_hold_where_scoops_differ() {
    let (mean, icc) = (0.7, 0.05);
    let added = icc / (1.0 - icc);
    for (scoops, size) in [(1, 20), (4, 12), (6, 12)] {
        let hits = (0..RUNS)
            .into_par_iter()
            .filter(|seed| {
                let mut dice = Normal(seed.wrapping_mul(0x9E6C_63D0_876A_3F6B));
                let mut draw = |no: i64| {
                    let (mut up, mut rungs) = (0.0, Vec::new());
                    for drawn in 0..size {
                        let chance = (mean + up * added) / (1.0 + f64::from(drawn) * added);
                        let above = dice.uniform() < chance;
                        up += f64::from(u8::from(above));
                        rungs.push(if above { 4 } else { 3 });
                    }
                    scoop(no, rungs.into_iter())
                };
                let past: Vec<PastScoop> = (0..scoops).map(&mut draw).collect();
                let all: Vec<&PastScoop> = past.iter().collect();
                let found = whole_tank(&all, icc, None).expect("animals");
                let sale = found
                    .rungs
                    .iter()
                    .find(|r| r.rung.index() == 4)
                    .expect("G4");
                sale.above.range.low <= mean && mean <= sale.above.range.high
            })
            .count();
        println!(
            "{scoops} scoops of {size} that differ: {:.1} % hold",
            100.0 * share(hits)
        );
        assert!(
            share(hits) >= least(),
            "{scoops} of {size}: {}",
            share(hits)
        );
    }
}
