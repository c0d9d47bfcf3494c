//! A scoop as it is kept for later: plain numbers, no picture, no outline.

use std::collections::BTreeMap;

use super::{GradedAnimal, Scoop};
use crate::ladder::{Measure, Rung};
use crate::measures::{AnimalMeasures, BodyColour, Flag, Sex, SexFrom, View};
use crate::units::{Measured, Reading};

/// One animal as it is kept.
#[derive(Debug, Clone, PartialEq)]
pub struct KeptAnimal {
    /// Its number in the photo.
    pub no: u32,
    /// Sex.
    pub sex: Sex,
    /// What the sex was read from.
    pub sex_from: SexFrom,
    /// From which side it was seen.
    pub view: View,
    /// Where it lies in the photo; `None` for records that came without a photo.
    pub place: Option<Place>,
    /// Length in millimetres.
    pub length_mm: Option<Measured>,
    /// Coverage, 0..=1.
    pub coverage: Option<Measured>,
    /// Coverage by thirds of the body, head first.
    pub coverage_thirds: [Option<f64>; 3],
    /// Opacity, 0..=1.
    pub opacity: Option<Measured>,
    /// Evenness, 0..=1.
    pub evenness: Option<Measured>,
    /// Largest clear window, share of the body.
    pub clear_window: Option<Measured>,
    /// Islands of colour.
    pub islands: Option<Measured>,
    /// Colour of the covered pixels.
    pub colour: Option<KeptColour>,
    /// CIEDE2000 to the line's colours.
    pub line_de00: Option<Measured>,
    /// Share of the body of a wrong hue.
    pub wrong_hue_share: Option<Measured>,
    /// Share of the body that is wild-type brown.
    pub brown_share: Option<Measured>,
    /// Coloured share of the legs.
    pub legs: Option<Measured>,
    /// Unbroken share of a back stripe.
    pub stripe: Option<Measured>,
    /// Clear share of the middle third.
    pub clear_middle: Option<Measured>,
    /// Reason codes of what could not be read, by the record's word of the measure.
    pub withheld: BTreeMap<String, String>,
    /// Words of its flags, as in the record.
    pub flags: Vec<String>,
    /// The rung it stood on then.
    pub rung: Option<Rung>,
    /// The two likely rungs where it was too close to call, lower first.
    pub between: Option<(Rung, Rung)>,
    /// Chances of G0 to G5.
    pub chances: Option<[f64; 6]>,
    /// Why it had no rung: `cut`, `juvenile`, `milky`, `off_type` or `withheld`.
    pub off_ladder: Option<String>,
}

/// Where an animal lies in its photo, in pixels of the upright full-size photo.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Place {
    /// x, y, width, height of the body.
    pub bbox: [i32; 4],
    /// Rostrum tip.
    pub head: [f32; 2],
    /// End of the tail fan.
    pub tail: [f32; 2],
}

/// Colour of the covered pixels relative to the floor, CIELAB (D65); absolute only where a chart was read.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct KeptColour {
    /// Lightness, a*, b*; `None` in imported rows that have hue and chroma alone.
    pub lab: Option<[f64; 3]>,
    /// The same absolute, only where a chart was read.
    pub lab_abs: Option<[f64; 3]>,
    /// Chroma.
    pub chroma: Option<f64>,
    /// Hue in degrees [0, 360).
    pub hue_deg: Option<f64>,
}

impl KeptAnimal {
    /// An animal of which nothing is known but its number.
    pub fn blank(no: u32) -> Self {
        Self {
            no,
            sex: Sex::Unsure,
            sex_from: SexFrom::None,
            view: View::Unsure,
            place: None,
            length_mm: None,
            coverage: None,
            coverage_thirds: [None; 3],
            opacity: None,
            evenness: None,
            clear_window: None,
            islands: None,
            colour: None,
            line_de00: None,
            wrong_hue_share: None,
            brown_share: None,
            legs: None,
            stripe: None,
            clear_middle: None,
            withheld: BTreeMap::new(),
            flags: Vec::new(),
            rung: None,
            between: None,
            chances: None,
            off_ladder: None,
        }
    }

    /// What is kept of an animal just graded.
    pub fn of(animal: &GradedAnimal) -> Self {
        let placing = &animal.placing;
        Self {
            rung: placing.rung,
            between: placing.between,
            chances: placing.chances,
            off_ladder: placing.off.as_ref().map(|off| off.word().to_string()),
            ..Self::measured(&animal.measures)
        }
    }

    /// The measures of an animal, without a place on a ladder.
    pub fn measured(m: &AnimalMeasures) -> Self {
        let mut kept = Self {
            sex: m.sex,
            sex_from: m.sex_from,
            view: m.view,
            place: Some(Place {
                bbox: m.bbox,
                head: m.head,
                tail: m.tail,
            }),
            length_mm: m.length_mm,
            coverage_thirds: m.coverage_thirds,
            colour: m.colour.as_ref().map(KeptColour::of),
            flags: m.flags.iter().map(|f| flag_word(*f).to_string()).collect(),
            ..Self::blank(m.no)
        };
        for (measure, reading) in readings(m) {
            if let Some(code) = reading.withheld() {
                kept.withheld.insert(measure.word().into(), code.into());
            }
            if let Some(slot) = kept.slot(measure) {
                *slot = reading.measured();
            }
        }
        kept
    }

    /// Value and uncertainty of a measure that has an uncertainty; `None` where it is withheld or of another kind.
    pub fn reading(&self, measure: Measure) -> Option<Measured> {
        self.clone_slot(measure)
    }

    /// True for an animal that stood off-type.
    pub fn is_off_type(&self) -> bool {
        self.off_ladder.as_deref() == Some("off_type")
    }

    /// True for an animal that counts in the shares: on a rung, or off-type.
    pub fn is_judged(&self) -> bool {
        self.rung.is_some() || self.is_off_type()
    }

    /// The place of a measure that has an uncertainty.
    pub fn slot(&mut self, measure: Measure) -> Option<&mut Option<Measured>> {
        Some(match measure {
            Measure::Coverage => &mut self.coverage,
            Measure::Opacity => &mut self.opacity,
            Measure::Evenness => &mut self.evenness,
            Measure::ClearWindow => &mut self.clear_window,
            Measure::Islands => &mut self.islands,
            Measure::Legs => &mut self.legs,
            Measure::Stripe => &mut self.stripe,
            Measure::ClearMiddle => &mut self.clear_middle,
            Measure::LineDe00 => &mut self.line_de00,
            Measure::LengthMm => &mut self.length_mm,
            Measure::WrongHueShare => &mut self.wrong_hue_share,
            Measure::BrownShare => &mut self.brown_share,
            _ => return None,
        })
    }

    fn clone_slot(&self, measure: Measure) -> Option<Measured> {
        match measure {
            Measure::Coverage => self.coverage,
            Measure::Opacity => self.opacity,
            Measure::Evenness => self.evenness,
            Measure::ClearWindow => self.clear_window,
            Measure::Islands => self.islands,
            Measure::Legs => self.legs,
            Measure::Stripe => self.stripe,
            Measure::ClearMiddle => self.clear_middle,
            Measure::LineDe00 => self.line_de00,
            Measure::LengthMm => self.length_mm,
            Measure::WrongHueShare => self.wrong_hue_share,
            Measure::BrownShare => self.brown_share,
            _ => None,
        }
    }
}

impl KeptColour {
    /// What is kept of a colour just measured.
    pub fn of(colour: &BodyColour) -> Self {
        Self {
            lab: Some(colour.lab),
            lab_abs: colour.lab_abs,
            chroma: Some(colour.chroma),
            hue_deg: Some(colour.hue_deg),
        }
    }
}

/// The measures that have an uncertainty or a reason, the length apart.
fn readings(m: &AnimalMeasures) -> [(Measure, Reading); 11] {
    [
        (Measure::Coverage, m.coverage),
        (Measure::Opacity, m.opacity),
        (Measure::Evenness, m.evenness),
        (Measure::ClearWindow, m.clear_window),
        (Measure::Islands, m.islands),
        (Measure::LineDe00, m.line_de00),
        (Measure::WrongHueShare, m.wrong_hue_share),
        (Measure::BrownShare, m.brown_share),
        (Measure::Legs, m.legs),
        (Measure::Stripe, m.stripe),
        (Measure::ClearMiddle, m.clear_middle),
    ]
}

/// The word of a flag in the record.
fn flag_word(flag: Flag) -> &'static str {
    match flag {
        Flag::Cut => "cut",
        Flag::Touching => "touching",
        Flag::Juvenile => "juvenile",
        Flag::Saddle => "saddle",
        Flag::Berried => "berried",
        Flag::Glare => "glare",
        Flag::Milky => "milky",
        Flag::OffType => "off_type",
    }
}

/// How a scoop was photographed and graded, as far as it is known.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Origin {
    /// SHA-256 of the photo, lower-case hexadecimal; `None` for rows that came without a photo.
    pub photo_sha256: Option<String>,
    /// Name of the photo file, without folders.
    pub photo_file: Option<String>,
    /// True where the photo itself was kept.
    pub photo_kept: bool,
    /// Time of the shot by the camera's clock, ISO 8601 without zone.
    pub taken_at: Option<String>,
    /// Camera.
    pub camera: Option<String>,
    /// Id of the ladder (red, blue, ...).
    pub ladder: Option<String>,
    /// SHA-256 of the ladder's rules.
    pub ladder_sha256: Option<String>,
    /// `white` or `dark`.
    pub ground: Option<String>,
    /// Pixels to the millimetre.
    pub px_per_mm: Option<f64>,
    /// Seconds between netting and photo.
    pub netted_seconds: Option<u32>,
    /// Codes of the doubts of the whole photo.
    pub doubts: Vec<String>,
    /// Version of the program that graded it.
    pub program: Option<String>,
}

impl Origin {
    /// Where a scoop just graded by `program` comes from.
    pub fn of(scoop: &Scoop, program: &str) -> Self {
        use crate::scene::Ground;
        let ground = match scoop.scene.ground {
            Ground::White => "white",
            Ground::Dark => "dark",
        };
        Self {
            photo_sha256: Some(scoop.photo.sha256.clone()),
            photo_file: Some(scoop.photo.file.clone()),
            photo_kept: false,
            taken_at: scoop.photo.capture.taken_at.clone(),
            camera: scoop.photo.capture.camera.clone(),
            ladder: scoop.ladder.as_ref().map(|l| l.line.clone()),
            ladder_sha256: scoop.ladder.as_ref().map(|l| l.sha256.clone()),
            ground: Some(ground.into()),
            px_per_mm: scoop.scene.px_per_mm.map(|m| m.value),
            netted_seconds: scoop.in_cup.seconds,
            doubts: scoop.doubts.iter().map(|d| d.code.to_string()).collect(),
            program: Some(program.into()),
        }
    }
}
