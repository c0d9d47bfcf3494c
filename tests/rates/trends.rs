//! How often a tank that holds is called changing, and how soon one that fades is: thousands of seeded tanks of the kind that the
//! house nets, looked at again after every generation, all measures watched.

use std::collections::BTreeMap;

use catchcup::ladder::Rung;
use catchcup::scoop::kept::{KeptColour, Origin};
use catchcup::scoop::{ConditionKind, KeptAnimal, MinutesRule, PastScoop};
use catchcup::trends::Watched;
use catchcup::trends::scatter::HouseScatter;
use catchcup::trends::series::{Axis, Reading, series};
use catchcup::trends::verdict::{Judged, judge};
use catchcup::units::Measured;
use jiff::civil::date;
use rayon::prelude::*;

use crate::dice::Normal;

const RUNS: u64 = 5000;
const GENERATIONS: usize = 20;
const ANIMALS: u32 = 30;
const ANIMAL_SD: f64 = 0.12;
/// Coverage from which an animal stands on the sale rung in these tanks: half of them do.
const SALE: f64 = 0.7;

/// What a tank does: mean coverage by generation, scatter from scoop to scoop, first generation under another lamp with its shift.
struct Tank {
    mean: fn(usize) -> f64,
    scoop_sd: f64,
    lamp: Option<(usize, f64)>,
}

impl Tank {
    fn scoop(&self, generation: usize, dice: &mut Normal) -> PastScoop {
        let new_lamp = self.lamp.filter(|(from, _)| generation >= *from);
        let shift = new_lamp.map_or(0.0, |(_, shift)| shift) + self.scoop_sd * dice.next();
        let mean = (self.mean)(generation) + shift;
        let lamp = if new_lamp.is_some() { "new" } else { "old" };
        PastScoop {
            number: generation as i64 + 1,
            tank: "T".into(),
            line: Some("L".into()),
            generation: Some(generation as u32),
            at: date(2020, 1, 1).at(18, 0, 0, 0) + jiff::Span::new().days(100 * generation as i64),
            who: String::new(),
            kept_apart: false,
            second_of: None,
            conditions: [(ConditionKind::Lamp, lamp.to_string())].into(),
            origin: Origin::default(),
            remark: String::new(),
            animals: (1..=ANIMALS)
                .map(|no| animal(no, mean, shift, dice))
                .collect(),
        }
    }

    fn past(&self, seed: u64) -> Vec<PastScoop> {
        let mut dice = Normal(seed.wrapping_mul(0x2545_F491_4F6C_DD1D));
        (0..GENERATIONS).map(|g| self.scoop(g, &mut dice)).collect()
    }

    /// What the house knows of its scoops: coverage moves by the scoop's shift, the others with it as the lines below say.
    fn scatter(&self) -> HouseScatter {
        let s = self.scoop_sd;
        let sd = [
            (Watched::Coverage, s),
            (Watched::Opacity, 0.5 * s),
            (Watched::Hue, 20.0 * s),
            (Watched::Size, 0.0),
        ];
        // A shift of the mean moves the share above the middle by its height in the normal density.
        let share_sd = s / ANIMAL_SD / std::f64::consts::TAU.sqrt();
        HouseScatter {
            sd: BTreeMap::from(sd),
            icc: share_sd * share_sd / 0.25,
            icc_is_own: true,
        }
    }
}

/// An animal of a scoop that reads `shift` too high; one in two hundred is off-type whatever the line does.
fn animal(no: u32, mean: f64, shift: f64, dice: &mut Normal) -> KeptAnimal {
    let coverage = mean + ANIMAL_SD * dice.next();
    let read = |value: f64| Some(Measured::new(value, 0.03));
    let off_type = dice.uniform() < 0.005;
    let rung = if coverage >= SALE { 4 } else { 3 };
    KeptAnimal {
        coverage: read(coverage),
        opacity: read(0.6 + 0.5 * shift + 0.08 * dice.next()),
        length_mm: read(22.0 + 2.0 * dice.next()),
        colour: Some(KeptColour {
            lab: None,
            lab_abs: None,
            chroma: Some(50.0),
            hue_deg: Some((32.0 + 20.0 * shift + 4.0 * dice.next()).rem_euclid(360.0)),
        }),
        rung: Rung::from_index(rung).filter(|_| !off_type),
        off_ladder: off_type.then(|| "off_type".to_string()),
        ..KeptAnimal::blank(no)
    }
}

fn reading() -> Reading {
    Reading {
        axis: Axis::Generation,
        sale_rung: Rung::from_word("G4").expect("a rung"),
        minutes: MinutesRule::default(),
    }
}

/// Nearer than so many standard errors to a limit, the past is read again as it was then.
const NEAR: f64 = 0.7;

/// True where some view comes near its limit.
fn comes_near(found: &Judged) -> bool {
    let slopes = [&found.slope, &found.recent];
    let steep = |z: f64| z.abs() > found.limit - NEAR;
    slopes.into_iter().flatten().any(|s| steep(s.z()))
        || found.share.is_some_and(|s| steep(s.z))
        || found
            .strayed
            .is_some_and(|s| s.distance.abs() > (s.limit - NEAR) * s.sd)
}

/// True where the measure is called changing after some generation up to `until`; `falls` counts falls alone. After each generation
/// the past is read as the keeper's command does; to save time it is read once for all and again only where that comes near a limit.
fn alarms(
    past: &[PastScoop],
    measure: Watched,
    scatter: &HouseScatter,
    until: usize,
    falls: bool,
) -> bool {
    let reading = reading();
    let read = |scoops: &[PastScoop]| series(measure, scoops, &reading, scatter);
    let whole = read(&past[..until]);
    (4..=until).any(|k| {
        if !comes_near(&judge(&whole.up_to(k), 100.0, scatter.icc)) {
            return false;
        }
        let found = judge(&read(&past[..k]), 100.0, scatter.icc);
        found.verdict.change().is_some_and(|c| !falls || c < 0.0)
    })
}

fn share(hits: usize) -> f64 {
    hits as f64 / RUNS as f64
}

/// What 5000 runs may show where the true rate is `rate`: 99 % of a binomial count lies up to there.
fn allowance(rate: f64) -> f64 {
    2.326 * (rate * (1.0 - rate) / RUNS as f64).sqrt()
}

/// Share of runs with any alarm in any measure within twenty generations.
fn alarmed(tank: &Tank) -> f64 {
    let scatter = tank.scatter();
    let hits = (0..RUNS)
        .into_par_iter()
        .filter(|seed| {
            let past = tank.past(*seed);
            let alarm = |m: &Watched| alarms(&past, *m, &scatter, GENERATIONS, false);
            Watched::ALL.iter().any(alarm)
        })
        .count();
    share(hits)
}

/// Share of runs whose coverage was called falling after some generation up to `until`.
fn found(tank: &Tank, until: usize) -> f64 {
    let scatter = tank.scatter();
    let hits = (0..RUNS)
        .into_par_iter()
        .filter(|seed| {
            let past = tank.past(*seed);
            alarms(&past, Watched::Coverage, &scatter, until, true)
        })
        .count();
    share(hits)
}

const SCOOP_SDS: [f64; 3] = [0.0, 0.01, 0.02];

#[test]
#[ignore = "5000 runs for each case; release mode"]
fn a_tank_that_holds_is_seldom_called_changing() {
    for scoop_sd in SCOOP_SDS {
        let rate = alarmed(&Tank {
            mean: |_| SALE,
            scoop_sd,
            lamp: None,
        });
        println!("steady, scoop SD {scoop_sd}: {:.2} % alarmed", 100.0 * rate);
        assert!(rate <= 0.06 + allowance(0.06), "{scoop_sd}: {rate}");
    }
}

#[test]
#[ignore = "5000 runs for each case; release mode"]
fn a_change_of_lamp_is_no_fading() {
    for scoop_sd in SCOOP_SDS {
        let rate = alarmed(&Tank {
            mean: |_| SALE,
            scoop_sd,
            lamp: Some((10, -0.07)),
        });
        println!("lamp, scoop SD {scoop_sd}: {:.2} % alarmed", 100.0 * rate);
        assert!(rate <= 0.06 + allowance(0.06), "{scoop_sd}: {rate}");
    }
}

/// Five steady generations, then 0.02 less in each: caught within six.
#[test]
#[ignore = "5000 runs for each case; release mode"]
fn a_fading_tank_is_caught() {
    for (scoop_sd, least) in SCOOP_SDS.into_iter().zip([0.95, 0.90, 0.75]) {
        let tank = Tank {
            mean: |g| SALE - 0.02 * (g as f64 - 4.0).max(0.0),
            scoop_sd,
            lamp: None,
        };
        let rate = found(&tank, 11);
        println!("fall, scoop SD {scoop_sd}: {:.1} % caught", 100.0 * rate);
        assert!(rate >= least - allowance(least), "{scoop_sd}: {rate}");
    }
}

/// Ten steady generations, another lamp that reads 0.07 lower, and with it 0.02 less in each generation: found within ten.
#[test]
#[ignore = "5000 runs for each case; release mode"]
fn a_fall_after_a_change_of_lamp_is_found() {
    for scoop_sd in SCOOP_SDS {
        let tank = Tank {
            mean: |g| SALE - 0.02 * (g as f64 - 9.0).max(0.0),
            scoop_sd,
            lamp: Some((10, -0.07)),
        };
        let rate = found(&tank, GENERATIONS);
        println!(
            "fall after lamp, scoop SD {scoop_sd}: {:.1} % found",
            100.0 * rate
        );
        assert!(rate >= 0.85 - allowance(0.85), "{scoop_sd}: {rate}");
    }
}
