//! Made-up animals, placed on the real ladders.

use catchcup::ladder::{Ladder, place};
use catchcup::measures::{AnimalMeasures, BodyColour, Flag, Sex, SexFrom, View};
use catchcup::scoop::{GradedAnimal, KeptAnimal};
use catchcup::units::{Measured, Reading};

/// Made-up numbers, the same every time: a linear congruential generator with the constants of [Knuth1997] 3.3.4, its high
/// bits used.
pub struct Dice(u64);

impl Dice {
    /// Begins at `seed`.
    pub fn new(seed: u64) -> Self {
        let mut dice = Self(seed.wrapping_mul(0x9E37_79B9_7F4A_7C15));
        dice.even();
        dice
    }

    /// From 0 to 1, even.
    pub fn even(&mut self) -> f64 {
        self.0 = self
            .0
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 40) as f64 / (1u64 << 24) as f64
    }

    /// Bell-shaped about 0 with standard deviation 1: twelve even ones added.
    pub fn bell(&mut self) -> f64 {
        (0..12).map(|_| self.even()).sum::<f64>() - 6.0
    }
}

/// What is made up about a scoop.
#[derive(Debug, Clone, Copy)]
pub struct Look {
    /// Mean coverage of the females, 0..=1.
    pub coverage: f64,
    /// CIELAB of a well covered animal relative to the floor.
    pub lab: [f64; 3],
    /// Animals that are wild-type brown.
    pub brown: u32,
    /// Colours that the animals have in turn, in place of `lab`; none for a line of one colour.
    pub others: &'static [[f64; 3]],
}

impl Look {
    fn lab_of(&self, no: u32) -> [f64; 3] {
        let turn = no as usize % self.others.len().max(1);
        self.others.get(turn).copied().unwrap_or(self.lab)
    }
}

/// `count` animals of that look on `ladder`.
pub fn animals(look: &Look, ladder: &Ladder, count: u32, dice: &mut Dice) -> Vec<KeptAnimal> {
    (1..=count)
        .map(|no| {
            let measures = measures(no, look, no <= look.brown, dice);
            let placing = place(ladder, &measures);
            let mut animal = GradedAnimal { measures, placing };
            if animal.placing.is_off_type() {
                animal.measures.flags.push(Flag::OffType);
            }
            KeptAnimal::of(&animal)
        })
        .collect()
}

fn measures(no: u32, look: &Look, brown: bool, dice: &mut Dice) -> AnimalMeasures {
    let male = dice.even() < 0.35;
    let sex = match dice.even() {
        even if even < 0.25 => Sex::Unsure,
        _ if male => Sex::Male,
        _ => Sex::Female,
    };
    // Males are smaller and paler (common practice, no source).
    let paler = if male { 0.12 } else { 0.0 };
    let coverage = (look.coverage - paler + 0.07 * dice.bell()).clamp(0.03, 0.995);
    let opacity = (0.55 + 0.4 * coverage + 0.04 * dice.bell()).clamp(0.2, 0.98);
    let length = if male { 19.0 } else { 23.0 } + 1.5 * dice.bell();
    let at = [60 * no as i32, 40 * (no as i32 % 5) + 50];
    let share = |value: f64, uncertainty| Reading::Value(Measured::new(value, uncertainty));
    AnimalMeasures {
        no,
        outline: Vec::new(),
        holes: Vec::new(),
        bbox: [at[0], at[1], 200, 50],
        head: [at[0] as f32, at[1] as f32 + 25.0],
        tail: [at[0] as f32 + 200.0, at[1] as f32 + 25.0],
        head_sure: 0.95,
        sex,
        sex_from: if sex == Sex::Female {
            SexFrom::Saddle
        } else {
            SexFrom::None
        },
        view: View::Side,
        area_px: 7000.0,
        length_px: Measured::new(9.0 * length, 4.0),
        length_mm: Some(Measured::new(length, 0.6)),
        coverage: share(coverage, 0.05),
        coverage_thirds: [0.04, 0.0, -0.05].map(|more| Some((coverage + more).clamp(0.0, 1.0))),
        opacity: share(opacity, 0.05),
        evenness: share((0.5 + 0.4 * coverage).min(0.97), 0.05),
        clear_window: share((1.0 - coverage) * 0.6, 0.04),
        islands: share(1.0, 1.0),
        colour: Some(colour(look.lab_of(no), brown, dice)),
        line_de00: share(4.0 + dice.bell().abs(), 1.5),
        wrong_hue_share: share(0.01, 0.02),
        brown_share: share(if brown { 0.5 } else { 0.01 }, 0.03),
        legs: Reading::Withheld("legs_not_seen"),
        stripe: Reading::Withheld("back_not_seen"),
        clear_middle: share((1.0 - coverage).max(0.0), 0.05),
        flags: Vec::new(),
        doubts: Vec::new(),
    }
}

fn colour(lab: [f64; 3], brown: bool, dice: &mut Dice) -> BodyColour {
    let middle = if brown { [48.0, 8.0, 18.0] } else { lab };
    let lab = middle.map(|v| v + 1.5 * dice.bell());
    BodyColour {
        lab,
        lab_abs: None,
        chroma: lab[1].hypot(lab[2]),
        hue_deg: lab[2].atan2(lab[1]).to_degrees().rem_euclid(360.0),
    }
}
