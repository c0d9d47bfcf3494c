//! A scoop made of numbers, with something of everything in it.

use catchcup::doubt::Note;
use catchcup::ladder::{Placing, Rung, place, shelf::load_built_in};
use catchcup::measures::{AnimalMeasures, Flag, Sex, SexFrom, TurnedAway};
use catchcup::photo::CaptureInfo;
use catchcup::scene::{Chart, Cup, Ground, Quality, ScaleFrom, Scene, SceneColour};
use catchcup::scoop::check::{Answer, CheckMeasures, PhotoCheck, Reason};
use catchcup::scoop::{GradedAnimal, InCup, MinutesFrom, PhotoFacts, Scoop, mix};
use catchcup::units::{Measured, Reading};

use crate::ladder_animals::{animal, flagged, read};

/// A setting without faults.
pub fn scene() -> Scene {
    Scene {
        ground: Ground::White,
        cup: Some(Cup {
            centre: [400.0, 300.0],
            axes: [250.5, 249.25],
            angle_deg: 12.0,
        }),
        chart: Some(Chart {
            corners: [[1.0, 2.0], [30.0, 2.0], [30.0, 20.0], [1.0, 20.0]],
            pitch_px: 4.5,
            fit: None,
        }),
        colour: SceneColour::default(),
        px_per_mm: Some(Measured::new(8.333_33, 0.1)),
        scale_from: Some(ScaleFrom::Cup),
        searched: Vec::new(),
        searched_width: 0,
        searched_height: 0,
        searched_step: 1,
        glare_share: 0.01,
        sharpness: 0.9,
        clipped_share: 0.0,
        quality: Quality::default(),
        doubts: Vec::new(),
        withheld: Vec::new(),
    }
}

/// The verdict about a photo without faults.
pub fn good() -> PhotoCheck {
    PhotoCheck {
        answer: Answer::Good,
        reasons: Vec::new(),
        measures: CheckMeasures::default(),
    }
}

/// A scoop of these animals, placed on the red ladder.
pub fn scoop_of(animals: Vec<AnimalMeasures>) -> Scoop {
    let ladder = load_built_in("red").expect("built in").expect("it loads");
    let animals: Vec<GradedAnimal> = animals
        .into_iter()
        .map(|measures| {
            let placing = place(&ladder, &measures);
            let measures = if placing.is_off_type() {
                flagged(measures, Flag::OffType)
            } else {
                measures
            };
            GradedAnimal { measures, placing }
        })
        .collect();
    Scoop {
        photo: PhotoFacts {
            file: "tank_12.jpg".to_string(),
            sha256: "0123456789abcdef".repeat(4),
            width: 1600,
            height: 1200,
            profile: "sRGB".to_string(),
            capture: CaptureInfo {
                taken_at: Some("2026-01-01T08:30:39".to_string()),
                ..CaptureInfo::default()
            },
        },
        scene: scene(),
        ladder: Some(ladder),
        line_guessed: false,
        in_cup: InCup {
            seconds: Some(100),
            from: MinutesFrom::Given,
            doubt: None,
        },
        check: good(),
        mix: mix(animals.iter().map(|a| &a.placing)),
        animals,
        turned_away: vec![
            TurnedAway {
                bbox: [5, 6, 7, 8],
                reason: "snail",
            },
            TurnedAway {
                bbox: [15, 6, 7, 8],
                reason: "snail",
            },
        ],
        doubts: Vec::new(),
        withheld: Vec::new(),
    }
}

/// Ten animals: sure ones, undecided ones, an off-type, a juvenile, a cut one and one that can't be read.
pub fn full_scoop() -> Scoop {
    let mut saddled = animal(2, 0.90, 0.84);
    (saddled.sex, saddled.sex_from) = (Sex::Female, SexFrom::Saddle);
    let mut brown = animal(5, 0.4, 0.7);
    brown.brown_share = read(0.31, 0.04);
    let mut blind = animal(8, 0.9, 0.9);
    blind.opacity = Reading::Withheld("glare");
    let mut clear = animal(10, 0.03, 0.0);
    clear.opacity = Reading::Withheld("too_few_covered");
    clear.evenness = Reading::Withheld("too_few_covered");
    clear.colour = None;
    let mut scoop = scoop_of(vec![
        animal(1, 0.99, 0.93),
        flagged(saddled, Flag::Saddle),
        animal(3, 0.855, 0.9),
        animal(4, 0.6, 0.75),
        brown,
        flagged(animal(6, 0.5, 0.6), Flag::Juvenile),
        flagged(animal(7, 0.9, 0.9), Flag::Cut),
        blind,
        animal(9, 0.90, 0.75),
        clear,
    ]);
    scoop.doubts = vec![
        Note::new(
            "soft",
            "the photo is a little soft",
            "hold the phone still and tap on a shrimp",
        ),
        Note::new("cream", "the cup is cream, not white", "use a white cup"),
        Note::new("few", "few animals", "net more"),
    ];
    scoop.scene.doubts = scoop.doubts[..1].to_vec();
    scoop.check.answer = Answer::Usable;
    scoop.check.reasons = vec![Reason {
        answer: Answer::Usable,
        note: scoop.doubts[0].clone(),
        coverage_error: Some(0.06),
    }];
    scoop
}

/// A placing on a rung, or between two.
pub fn placed(rung: usize, between: Option<(usize, usize)>) -> Placing {
    let of = |index: usize| Rung::from_index(index).expect("a rung");
    Placing {
        rung: Some(of(rung)),
        off: None,
        between: between.map(|(low, high)| (of(low), of(high))),
        chances: None,
        next: None,
    }
}
