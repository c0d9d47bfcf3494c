//! Breeder selection on animals made by hand: worth, ranking, first pass, finding again, wells, plan.

use catchcup::ladder::{Measure, Wish, load};
use catchcup::measures::Sex;
use catchcup::scoop::KeptAnimal;
use catchcup::scoop::kept::Place;
use catchcup::selection::plan::{Policy, Runs, Stock, plan};
use catchcup::selection::ranking::{Entrant, FirstPass, first_pass, rank};
use catchcup::selection::sorting::find::{Mark, Third, finds};
use catchcup::selection::sorting::wells::{Tray, shared, wells};
use catchcup::selection::sorting::{Cup, CupAnimal, Setup, Sorting, TankNumber, Verdict};
use catchcup::selection::worth::{SetAside, WeightsFrom, Yardstick};
use catchcup::units::Measured;

fn animal(no: u32, sex: Sex, coverage: f64, length: f64) -> KeptAnimal {
    KeptAnimal {
        sex,
        coverage: Some(Measured::new(coverage, 0.02)),
        opacity: Some(Measured::new(0.7 + 0.1 * coverage, 0.02)),
        length_mm: Some(Measured::new(length, 0.5)),
        wrong_hue_share: Some(Measured::new(0.0, 0.01)),
        brown_share: Some(Measured::new(0.0, 0.01)),
        ..KeptAnimal::blank(no)
    }
}

fn by_coverage() -> Wish {
    Wish {
        weights: vec![(Measure::Coverage, 1.0)],
        is_said: true,
        ..Wish::default()
    }
}

/// Females 0.50 to 0.69, males 0.20 to 0.39, so that by coverage alone every female would stand before every male.
fn tank() -> Vec<KeptAnimal> {
    let female = (0..20).map(|i| animal(i + 1, Sex::Female, 0.50 + 0.01 * f64::from(i), 24.0));
    let male = (0..20).map(|i| animal(i + 21, Sex::Male, 0.20 + 0.01 * f64::from(i), 19.0));
    female.chain(male).collect()
}

fn entrants(animals: &[KeptAnimal]) -> Vec<Entrant<'_>> {
    animals
        .iter()
        .map(|animal| Entrant { scoop: 7, animal })
        .collect()
}

#[test]
fn sexes_are_ranked_apart_and_males_are_kept() {
    let mut animals = tank();
    animals.truncate(25);
    animals.push(animal(40, Sex::Unsure, 0.9, 20.0));
    let all: Vec<&KeptAnimal> = animals.iter().collect();
    let found = rank(
        &entrants(&animals),
        &Yardstick::new(&by_coverage(), &all),
        [5, 10],
    );
    let kept = |sex: usize| {
        found.sexes[sex]
            .iter()
            .filter(|one| one.keep)
            .map(|one| one.no)
            .collect::<Vec<_>>()
    };
    assert_eq!(kept(0), [20, 19, 18, 17, 16]);
    assert_eq!(kept(1).len(), 5, "fewer males than wanted: all are kept");
    assert_eq!(found.unsexed, [(7, 40)], "held back, not moved out");
}

/// Readings 0.02 apart by chance can't tell animals 0.01 apart: one group; a clear step makes two.
#[test]
fn ties_are_groups() {
    let mut animals: Vec<KeptAnimal> = (0..4)
        .map(|i| animal(i + 1, Sex::Female, 0.90 + 0.01 * f64::from(i), 24.0))
        .collect();
    animals.extend((4..8).map(|i| animal(i + 1, Sex::Female, 0.40 + 0.01 * f64::from(i), 24.0)));
    let all: Vec<&KeptAnimal> = animals.iter().collect();
    let found = rank(
        &entrants(&animals),
        &Yardstick::new(&by_coverage(), &all),
        [2, 0],
    );
    let groups: Vec<usize> = found.sexes[0].iter().map(|one| one.group).collect();
    assert_eq!(groups, [1, 1, 1, 1, 2, 2, 2, 2]);
}

/// Worth that only follows length is taken out; the animal better than its length comes first.
#[test]
fn size_is_corrected_where_it_shows() {
    let mut animals: Vec<KeptAnimal> = (0..30u32)
        .map(|i| {
            let wobble = 0.01 * f64::from(i % 3) - 0.01;
            animal(
                i + 1,
                Sex::Female,
                0.30 + 0.02 * f64::from(i) + wobble,
                18.0 + 0.3 * f64::from(i),
            )
        })
        .collect();
    animals[3].coverage = Some(Measured::new(0.60, 0.02));
    let all: Vec<&KeptAnimal> = animals.iter().collect();
    let found = rank(
        &entrants(&animals),
        &Yardstick::new(&by_coverage(), &all),
        [1, 0],
    );
    assert!(
        found.by_length[0].is_some_and(|slope| slope > 0.0),
        "{:?}",
        found.by_length
    );
    assert_eq!(found.sexes[0][0].no, 4);
}

#[test]
fn each_further_male_is_priced() {
    let animals = tank();
    let all: Vec<&KeptAnimal> = animals.iter().collect();
    let found = rank(
        &entrants(&animals),
        &Yardstick::new(&by_coverage(), &all),
        [10, 5],
    );
    let first = found.further_males[0];
    // 4 * 6 * 10 / 16 = 15; 1 / 30.
    assert_eq!((first.males, first.effective_size), (6, 15.0));
    assert!((first.rate - 1.0 / 30.0).abs() < 1e-12 && first.worth_lost > 0.0);
}

#[test]
fn those_that_can_t_be_judged_are_set_aside_with_the_reason() {
    let mut animals = tank();
    animals[0].flags = vec!["cut".into()];
    animals[1].flags = vec!["juvenile".into()];
    animals[2].off_ladder = Some("off_type".into());
    animals[3].coverage = None;
    animals[4].flags = vec!["milky".into()];
    let all: Vec<&KeptAnimal> = animals.iter().collect();
    let found = rank(
        &entrants(&animals),
        &Yardstick::new(&by_coverage(), &all),
        [5, 5],
    );
    let reasons: Vec<SetAside> = found.aside.iter().map(|aside| aside.2).collect();
    let expected = [
        SetAside::Cut,
        SetAside::Juvenile,
        SetAside::OffType,
        SetAside::Unread(Measure::Coverage),
        SetAside::Milky,
    ];
    assert_eq!(reasons, expected);
}

/// With heritabilities the weights follow P b = G a: of two measures that count alike, the more heritable one leads.
#[test]
fn heritabilities_make_an_index() {
    let mut animals = tank();
    for (i, animal) in animals.iter_mut().enumerate() {
        animal.opacity = Some(Measured::new(0.5 + 0.01 * ((7 * i) % 20) as f64, 0.02));
    }
    let all: Vec<&KeptAnimal> = animals.iter().collect();
    let wish = Wish {
        weights: vec![(Measure::Coverage, 1.0), (Measure::Opacity, 1.0)],
        is_said: true,
        heritability: vec![(Measure::Coverage, 0.5), (Measure::Opacity, 0.1)],
        genetic_correlations: vec![(Measure::Opacity, Measure::Coverage, 0.0)],
    };
    let stick = Yardstick::new(&wish, &all);
    assert_eq!(stick.from, WeightsFrom::SmithHazel);
    assert!(
        stick.weights[0].1 > 2.0 * stick.weights[1].1,
        "{:?}",
        stick.weights
    );
}

#[test]
fn the_rules_say_what_counts() {
    let text = catchcup::ladder::shelf::built_in_text("red").expect("it is built in");
    let plain = load("red.toml", text).expect("it is right").wish;
    assert!(!plain.is_said);
    let measures: Vec<Measure> = plain.weights.iter().map(|w| w.0).collect();
    assert_eq!(measures, [Measure::Coverage, Measure::Opacity]);
    let part = "\n[selection]\nweights = { coverage = 2, line_de00 = -1 }\nheritability = { coverage = 0.3 }\n\
                [[selection.genetic_correlation]]\nof = \"coverage\"\nwith = \"line_de00\"\nvalue = -0.4\n";
    let said = load("red.toml", &format!("{text}{part}"))
        .expect("it is right")
        .wish;
    assert_eq!(
        said.weights,
        [(Measure::Coverage, 2.0), (Measure::LineDe00, -1.0)]
    );
    assert_eq!(said.heritability_of(Measure::Coverage), Some(0.3));
    assert_eq!(
        said.genetic_correlation(Measure::LineDe00, Measure::Coverage),
        Some(-0.4)
    );
    for (wrong, word) in [
        ("[selection]\nweights = { shine = 1 }", "shine"),
        ("[selection]\nweights = { hue = 1 }", "circle"),
        ("[selection]\nweights = { coverage = 0 }", "weight"),
        ("[selection]\nheritability = { coverage = 0.3 }", "weights"),
    ] {
        let error = load("red.toml", &format!("{text}\n{wrong}\n")).expect_err(wrong);
        assert!(
            error.to_string().contains(word) || error.hint.contains(word),
            "{error}"
        );
    }
}

/// Paleness alone is never off; a wrong colour is, also on a juvenile.
#[test]
fn the_first_pass_does_not_blame_paleness() {
    let young = |coverage: f64, brown: f64| KeptAnimal {
        brown_share: Some(Measured::new(brown, 0.03)),
        flags: vec!["juvenile".into()],
        ..animal(1, Sex::Unsure, coverage, 9.0)
    };
    assert_eq!(first_pass(&young(0.02, 0.0)), FirstPass::TooYoungToSay);
    assert_eq!(first_pass(&young(0.6, 0.0)), FirstPass::Keep);
    assert_eq!(first_pass(&young(0.6, 0.5)), FirstPass::Off);
    assert_eq!(
        first_pass(&young(0.6, 0.22)),
        FirstPass::Keep,
        "too close to the limit to say so"
    );
    assert_eq!(first_pass(&KeptAnimal::blank(1)), FirstPass::TooYoungToSay);
}

fn placed(no: u32, x: i32, y: i32, length: f64) -> KeptAnimal {
    KeptAnimal {
        place: Some(Place {
            bbox: [x - 10, y - 4, 20, 8],
            head: [x as f32 - 10.0, y as f32],
            tail: [x as f32 + 10.0, y as f32],
        }),
        ..animal(no, Sex::Female, 0.7, length)
    }
}

#[test]
fn animals_are_told_by_what_can_be_seen() {
    let mut animals = vec![
        placed(1, 20, 20, 22.0),
        placed(2, 280, 20, 26.0),
        placed(3, 150, 290, 18.0),
    ];
    animals[1].coverage_thirds = [Some(0.9), Some(0.8), Some(0.2)];
    animals[2].coverage = Some(Measured::new(0.3, 0.02));
    let found = finds(&animals);
    let sizes: Vec<usize> = found.iter().map(|find| find.size.0).collect();
    assert_eq!(sizes, [2, 1, 3]);
    let marks: Vec<Option<Mark>> = found.iter().map(|find| find.mark).collect();
    assert_eq!(
        marks,
        [None, Some(Mark::Clear(Third::Tail)), Some(Mark::Palest)]
    );
    let places: Vec<(i8, i8)> = found
        .iter()
        .filter_map(|find| Some((find.place?.down, find.place?.right)))
        .collect();
    assert_eq!(places, [(-1, -1), (-1, 1), (1, 0)]);
}

#[test]
fn wells_are_read_from_the_top_left() {
    let animals = [
        placed(1, 50, 50, 20.0),
        placed(2, 250, 50, 20.0),
        placed(3, 150, 150, 20.0),
        placed(4, 160, 160, 20.0),
    ];
    let found = wells(
        &animals,
        Tray {
            rows: 2,
            columns: 3,
        },
        [0.0, 0.0, 300.0, 200.0],
    );
    let words: Vec<&str> = found
        .iter()
        .map(|well| well.as_deref().unwrap_or("-"))
        .collect();
    assert_eq!(words, ["A1", "A3", "B2", "B2"]);
    assert_eq!(shared(&found), ["B2"]);
}

pub fn cup(worths: &[(Sex, f64)]) -> Cup {
    let one = |(i, (sex, worth)): (usize, &(Sex, f64))| CupAnimal {
        no: i as u32 + 1,
        sex: *sex,
        worth: Ok(Measured::new(*worth, 0.1)),
        before: None,
    };
    Cup {
        animals: worths.iter().enumerate().map(one).collect(),
        ..Cup::default()
    }
}

pub fn setup(places: usize) -> Setup {
    // Normal quantiles at (i - 0.5) / 40.
    let earlier: Vec<f64> = (1..=40)
        .map(|i| normal_quantile((f64::from(i) - 0.5) / 40.0))
        .collect();
    Setup {
        wanted: [3, 2],
        places,
        number: TankNumber::Counted(40),
        earlier: [earlier.clone(), earlier],
        earlier_others: 0,
    }
}

/// The value below which that share of a standard normal distribution lies.
fn normal_quantile(share: f64) -> f64 {
    use statrs::distribution::{ContinuousCDF, Normal};
    Normal::standard().inverse_cdf(share)
}

#[test]
fn a_sorting_resumes_where_it_stood() {
    let cups = [
        cup(&[
            (Sex::Female, 2.5),
            (Sex::Female, -1.0),
            (Sex::Male, 0.9),
            (Sex::Male, -2.0),
            (Sex::Unsure, 3.0),
        ]),
        cup(&[
            (Sex::Female, 1.2),
            (Sex::Female, 0.1),
            (Sex::Male, 1.9),
            (Sex::Male, 0.0),
        ]),
    ];
    let mut sorting = Sorting::new(setup(3));
    let mut decided = Vec::new();
    for cup in &cups {
        let decision = sorting.decide(cup);
        sorting.enter(cup, &decision);
        decided.push(catchcup::selection::sorting::Decided {
            cup: cup.clone(),
            decision,
        });
    }
    assert_eq!(Sorting::resumed(setup(3), &decided), sorting);
    assert_eq!(
        decided[0].decision.animals[4].verdict,
        Verdict::Back,
        "unsexed: held back"
    );
    assert_eq!(decided[0].decision.animals[3].verdict, Verdict::MoveOut);
    let end = sorting.finish();
    sorting.enter(
        &Cup {
            last: true,
            ..Cup::default()
        },
        &end,
    );
    assert!(sorting.is_over() && sorting.tub.iter().all(Vec::is_empty));
    assert!(
        sorting.counts[0].kept >= 2 && sorting.counts[1].kept == 2,
        "{:?}",
        sorting.counts
    );
}

/// The last cup of a counted tank fills what is wanted from the best of it.
#[test]
fn the_last_cup_fills_the_numbers() {
    let sorting = Sorting::new(Setup {
        number: TankNumber::Counted(6),
        ..setup(0)
    });
    let only = cup(&[
        (Sex::Female, -1.0),
        (Sex::Female, 0.0),
        (Sex::Female, -2.0),
        (Sex::Female, -0.5),
        (Sex::Male, -1.0),
        (Sex::Male, -3.0),
    ]);
    let kept: Vec<u32> = sorting
        .decide(&only)
        .animals
        .iter()
        .filter(|judged| judged.verdict == Verdict::Keep)
        .map(|judged| judged.no)
        .collect();
    assert_eq!(
        kept,
        [1, 2, 4, 5, 6],
        "males are never moved out below the wanted number"
    );
}

/// Nobody is selected: worth stays, inbreeding rises by 1 / (2 Ne) a generation within what 400 runs leave to chance.
#[test]
fn a_plan_without_selection_drifts_as_wright_says() {
    let stock = Stock {
        animals: 60,
        heritability: 0.3,
        reading_error: 0.1,
        rungs: [0.1, 0.1, 0.2, 0.2, 0.2, 0.2],
        inbreeding: 0.0,
    };
    // All are kept: 30 of each sex on average, so that Ne is near 60.
    let policy = Policy {
        keep: [1000, 1000],
        measured: 1.0,
    };
    let runs = Runs {
        replicates: 400,
        generations: 6,
        seed: 3,
    };
    let coming = plan(&stock, &policy, &runs);
    assert!(coming[6].worth.mean.abs() < 0.05, "{:?}", coming[6].worth);
    let expected = 1.0 - (1.0 - 1.0 / 120.0f64).powi(5);
    // Young are inbred from the second generation on, as no animal mates with itself.
    assert!(
        (coming[6].inbreeding.mean - expected).abs() < 0.012,
        "{:?} {expected}",
        coming[6].inbreeding
    );
    let lost = 1.0 - (1.0 - 1.0 / 120.0f64).powi(6);
    assert!(
        (1.0 - coming[6].diversity.mean - lost).abs() < 0.012,
        "{:?} {lost}",
        coming[6].diversity
    );
    assert_eq!(
        plan(&stock, &policy, &runs),
        coming,
        "the same seed, the same plan"
    );
    let today: f64 = coming[0].rungs.iter().map(|rung| rung.mean).sum();
    assert!((today - 1.0).abs() < 1e-9 && (coming[0].at_or_above[4].mean - 0.4).abs() < 0.02);
}
