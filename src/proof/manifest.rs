//! What is signed: the lot, the files with their digests, how the photo was graded, and the statement.

use jiff::civil::Date;

use super::canonical::{Canon, Members, read_canonical};
use super::folder::KINDS;
use super::key::PublicKey;
use crate::ladder::Rung;

pub use super::folder::{
    FILES, KIND, KIND_PNG, MANIFEST, PAGE, PDF, PDF_SIGNATURE, PHOTO, PHOTO_PNG, RECORD, RULES,
    SIGNATURE, listed, photo_name,
};

/// A signed file.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Listed {
    /// Its name, one of [`listed`].
    pub name: String,
    /// SHA-256, lower-case hexadecimal.
    pub sha256: String,
    /// Bytes.
    pub bytes: u32,
}

/// How the photo was graded; what the grading needs besides photo and rules.
#[derive(Debug, Clone, PartialEq)]
pub struct HowGraded {
    /// Inner diameter of the cup's floor, millimetres.
    pub cup_mm: Option<f64>,
    /// Pixels to the millimetre, where given.
    pub px_per_mm: Option<f64>,
    /// Distance of a chart's patches, millimetres.
    pub chart_pitch_mm: Option<f64>,
    /// Published values of the chart, by their word.
    pub chart_values: Option<String>,
    /// `white` or `dark`.
    pub ground: String,
    /// `female` or `male` where all are.
    pub sex: Option<String>,
    /// Juvenile length, millimetres.
    pub juvenile_mm: f64,
    /// Seconds between netting and photo.
    pub netted_seconds: Option<u32>,
}

/// What a statement is made from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Basis {
    /// The lot, photographed whole.
    Whole,
    /// Scoops of a tank, by a plan declared beforehand.
    Scoops,
}

/// One scoop of the statement.
#[derive(Debug, Clone, PartialEq)]
pub struct StatedScoop {
    /// Its day.
    pub on: Date,
    /// SHA-256 of its photo.
    pub photo_sha256: Option<String>,
    /// Judged animals.
    pub judged: u32,
    /// Number that counts, misgrading allowed for, in thousandths.
    pub by_chance_milli: u32,
    /// Plain count, the undecided ones at their lower rung.
    pub plain: u32,
    /// Those too close to call.
    pub undecided: u32,
}

/// "At least so much of the lot stands at this rung or better."
#[derive(Debug, Clone, PartialEq)]
pub struct Statement {
    /// What it is made from.
    pub basis: Basis,
    /// The rung.
    pub rung: Rung,
    /// The share, thousandths.
    pub permille: u32,
    /// One-sided confidence, thousandths.
    pub confidence_permille: u32,
    /// True where it is supported; a lot of which nothing can be claimed can still be shown.
    pub supported: bool,
    /// Animals it is made from: of the lot, or judged in all scoops.
    pub animals: u32,
    /// Number that counts, misgrading allowed for, thousandths.
    pub by_chance_milli: u32,
    /// Plain count.
    pub plain: u32,
    /// The number, or for scoops the share in ten-thousandths, that holds with the confidence: the lower limit.
    pub lower: u32,
    /// Upper limit of the share in ten-thousandths; `None` for a whole lot.
    pub upper: Option<u32>,
    /// Correlation within scoops, ten-thousandths; 0 for a whole lot.
    pub icc_e4: u32,
    /// Declared looks and animals at each; none for a whole lot.
    pub plan: Option<[u32; 2]>,
    /// Animals in a tank that was counted.
    pub lot: Option<u32>,
    /// Judged animals by sex: female, male, unsure.
    pub sexes: [u32; 3],
    /// Shortest and longest judged animal in tenths of a millimetre.
    pub lengths: Option<[u32; 2]>,
    /// Its scoops; none for a whole lot.
    pub scoops: Vec<StatedScoop>,
}

/// Something said beside the numbers.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Said {
    /// Code.
    pub code: String,
    /// Sentence.
    pub message: String,
}

/// All that is signed.
#[derive(Debug, Clone, PartialEq)]
pub struct Manifest {
    /// Version of the program.
    pub program: String,
    /// Day of the signature, by the seller's clock.
    pub signed_on: Date,
    /// Who signs.
    pub key: PublicKey,
    /// Code of the lot.
    pub lot: String,
    /// Tank, where it is said.
    pub tank: Option<String>,
    /// The photo's day by the camera's clock, where it noted one.
    pub taken_on: Option<String>,
    /// SHA-256 of the photo as the camera made it, which only the seller has.
    pub original_sha256: String,
    /// The card read in the photo: lot and day.
    pub card: Option<[String; 2]>,
    /// How the photo was graded.
    pub graded: HowGraded,
    /// The statement, where one is asked for.
    pub statement: Option<Statement>,
    /// What weakens it.
    pub weaknesses: Vec<Said>,
    /// What the camera said of its own processing, which the published photo no longer says.
    pub camera_said: Vec<Said>,
    /// Smallest change of an animal's coverage worth believing by the house's own repeats, ten-thousandths.
    pub own_repeat_e4: Option<u32>,
    /// The files.
    pub files: Vec<Listed>,
}

impl Manifest {
    /// Name of the published photo.
    pub fn photo(&self) -> &'static str {
        let is_png = self.files.iter().any(|file| file.name == PHOTO_PNG);
        if is_png { PHOTO_PNG } else { PHOTO }
    }

    /// Names of the files that its folder must hold.
    pub fn folder(&self) -> [&'static str; 6] {
        [PAGE, MANIFEST, SIGNATURE, self.photo(), RECORD, RULES]
    }

    fn kind(&self) -> &'static str {
        let kind = KINDS.iter().find(|(_, photo)| *photo == self.photo());
        kind.map_or(KIND, |(kind, _)| kind)
    }

    /// The bytes that are signed.
    pub fn write(&self) -> String {
        Canon::object([
            ("schema", Canon::text(self.kind())),
            ("program", Canon::text(&self.program)),
            ("signed_on", Canon::text(self.signed_on.to_string())),
            ("key", Canon::text(self.key.hex())),
            ("lot", Canon::text(&self.lot)),
            ("tank", Canon::maybe(self.tank.as_ref())),
            ("taken_on", Canon::maybe(self.taken_on.as_ref())),
            ("original_sha256", Canon::text(&self.original_sha256)),
            ("card", self.card.as_ref().map_or(Canon::Null, card)),
            ("graded", graded(&self.graded)),
            (
                "statement",
                self.statement.as_ref().map_or(Canon::Null, statement),
            ),
            ("weaknesses", said(&self.weaknesses)),
            ("camera_said", said(&self.camera_said)),
            ("own_repeat_e4", whole(self.own_repeat_e4)),
            ("files", Canon::List(self.files.iter().map(file).collect())),
        ])
        .write()
    }

    /// The manifest in `bytes`, which must be in canonical form and hold what is known, no more and no less.
    ///
    /// # Errors
    /// What is wrong with it, for people.
    pub fn read(bytes: &[u8]) -> Result<Self, String> {
        let mut m = Members::of("the manifest", read_canonical(bytes)?)?;
        let kind = m.text("schema")?;
        let Some((_, photo)) = KINDS.iter().find(|(known, _)| *known == kind) else {
            return Err(format!(
                "the manifest is of kind {kind}, expected {KIND} or {KIND_PNG}: a later version of catchcup may read it"
            ));
        };
        let key = m.text("key")?;
        let found = Self {
            program: m.text("program")?,
            signed_on: day(&mut m, "signed_on")?,
            key: PublicKey::from_hex(&key).ok_or("key of the manifest is no key")?,
            lot: m.text("lot")?,
            tank: m.maybe_text("tank")?,
            taken_on: m.maybe_text("taken_on")?,
            original_sha256: digest(&mut m, "original_sha256")?,
            card: read_card(m.take("card")?)?,
            graded: read_graded(m.take("graded")?)?,
            statement: match m.take("statement")? {
                Canon::Null => None,
                value => Some(read_statement(value)?),
            },
            weaknesses: read_said(m.list("weaknesses")?)?,
            camera_said: read_said(m.list("camera_said")?)?,
            own_repeat_e4: m.maybe_whole("own_repeat_e4")?,
            files: m
                .list("files")?
                .into_iter()
                .map(read_file)
                .collect::<Result<_, _>>()?,
        };
        m.done()?;
        let names: Vec<&str> = found.files.iter().map(|f| f.name.as_str()).collect();
        let expected = listed(photo);
        if names == expected {
            Ok(found)
        } else {
            Err(format!(
                "the manifest lists {}, expected {}",
                names.join(", "),
                expected.join(", ")
            ))
        }
    }
}

fn whole(number: Option<u32>) -> Canon {
    number.map_or(Canon::Null, |n| Canon::Whole(i64::from(n)))
}

fn number(number: u32) -> Canon {
    Canon::Whole(i64::from(number))
}

fn decimal(number: Option<f64>) -> Canon {
    Canon::maybe(number.map(|n| n.to_string()))
}

fn numbers<const N: usize>(all: [u32; N]) -> Canon {
    Canon::List(all.into_iter().map(number).collect())
}

fn card([lot, on]: &[String; 2]) -> Canon {
    Canon::object([("lot", Canon::text(lot)), ("on", Canon::text(on))])
}

fn said(all: &[Said]) -> Canon {
    let one = |s: &Said| {
        Canon::object([
            ("code", Canon::text(&s.code)),
            ("message", Canon::text(&s.message)),
        ])
    };
    Canon::List(all.iter().map(one).collect())
}

fn file(file: &Listed) -> Canon {
    Canon::object([
        ("name", Canon::text(&file.name)),
        ("sha256", Canon::text(&file.sha256)),
        ("bytes", number(file.bytes)),
    ])
}

fn graded(how: &HowGraded) -> Canon {
    Canon::object([
        ("cup_mm", decimal(how.cup_mm)),
        ("px_per_mm", decimal(how.px_per_mm)),
        ("chart_pitch_mm", decimal(how.chart_pitch_mm)),
        ("chart_values", Canon::maybe(how.chart_values.as_ref())),
        ("ground", Canon::text(&how.ground)),
        ("sex", Canon::maybe(how.sex.as_ref())),
        ("juvenile_mm", decimal(Some(how.juvenile_mm))),
        ("netted_seconds", whole(how.netted_seconds)),
    ])
}

fn statement(s: &Statement) -> Canon {
    let basis = match s.basis {
        Basis::Whole => "whole_lot",
        Basis::Scoops => "scoops",
    };
    Canon::object([
        ("basis", Canon::text(basis)),
        ("rung", Canon::text(s.rung.to_string())),
        ("permille", number(s.permille)),
        ("confidence_permille", number(s.confidence_permille)),
        ("supported", Canon::Flag(s.supported)),
        ("animals", number(s.animals)),
        ("by_chance_milli", number(s.by_chance_milli)),
        ("plain", number(s.plain)),
        ("lower", number(s.lower)),
        ("upper", whole(s.upper)),
        ("icc_e4", number(s.icc_e4)),
        ("plan", s.plan.map_or(Canon::Null, numbers)),
        ("lot", whole(s.lot)),
        ("sexes", numbers(s.sexes)),
        ("lengths", s.lengths.map_or(Canon::Null, numbers)),
        ("scoops", Canon::List(s.scoops.iter().map(scoop).collect())),
    ])
}

fn scoop(s: &StatedScoop) -> Canon {
    Canon::object([
        ("on", Canon::text(s.on.to_string())),
        ("photo_sha256", Canon::maybe(s.photo_sha256.as_ref())),
        ("judged", number(s.judged)),
        ("by_chance_milli", number(s.by_chance_milli)),
        ("plain", number(s.plain)),
        ("undecided", number(s.undecided)),
    ])
}

fn day(m: &mut Members, name: &str) -> Result<Date, String> {
    m.text(name)?
        .parse()
        .map_err(|_| format!("{name} is no day"))
}

fn digest(m: &mut Members, name: &str) -> Result<String, String> {
    let text = m.text(name)?;
    super::key::bytes_of::<32>(&text)
        .map(|_| text)
        .ok_or_else(|| format!("{name} is no SHA-256"))
}

fn read_card(value: Canon) -> Result<Option<[String; 2]>, String> {
    if value == Canon::Null {
        return Ok(None);
    }
    let mut m = Members::of("the card", value)?;
    let card = [m.text("lot")?, m.text("on")?];
    m.done()?;
    Ok(Some(card))
}

fn read_said(all: Vec<Canon>) -> Result<Vec<Said>, String> {
    let one = |value| {
        let mut m = Members::of("a remark", value)?;
        let said = Said {
            code: m.text("code")?,
            message: m.text("message")?,
        };
        m.done()?;
        Ok(said)
    };
    all.into_iter().map(one).collect()
}

/// A plain name: no folder, no way up, none but the known ones.
fn read_file(value: Canon) -> Result<Listed, String> {
    let mut m = Members::of("a file", value)?;
    let file = Listed {
        name: m.text("name")?,
        sha256: digest(&mut m, "sha256")?,
        bytes: m.whole("bytes")?,
    };
    m.done()?;
    let name = file.name.as_str();
    if KINDS.iter().any(|(_, photo)| listed(photo).contains(&name)) {
        Ok(file)
    } else {
        Err(format!(
            "the manifest lists a file {}, which is none of a proof",
            file.name
        ))
    }
}

fn read_graded(value: Canon) -> Result<HowGraded, String> {
    let mut m = Members::of("graded", value)?;
    let how = HowGraded {
        cup_mm: m.maybe_decimal("cup_mm")?,
        px_per_mm: m.maybe_decimal("px_per_mm")?,
        chart_pitch_mm: m.maybe_decimal("chart_pitch_mm")?,
        chart_values: m.maybe_text("chart_values")?,
        ground: m.text("ground")?,
        sex: m.maybe_text("sex")?,
        juvenile_mm: m.decimal("juvenile_mm")?,
        netted_seconds: m.maybe_whole("netted_seconds")?,
    };
    m.done()?;
    Ok(how)
}

fn read_statement(value: Canon) -> Result<Statement, String> {
    let mut m = Members::of("the statement", value)?;
    let rung = m.text("rung")?;
    let found = Statement {
        basis: match m.text("basis")?.as_str() {
            "whole_lot" => Basis::Whole,
            "scoops" => Basis::Scoops,
            other => return Err(format!("basis is {other}")),
        },
        rung: Rung::from_word(&rung).ok_or_else(|| format!("{rung} is no rung"))?,
        permille: m.whole("permille")?,
        confidence_permille: m.whole("confidence_permille")?,
        supported: match m.take("supported")? {
            Canon::Flag(flag) => flag,
            _ => return Err("supported is neither true nor false".into()),
        },
        animals: m.whole("animals")?,
        by_chance_milli: m.whole("by_chance_milli")?,
        plain: m.whole("plain")?,
        lower: m.whole("lower")?,
        upper: m.maybe_whole("upper")?,
        icc_e4: m.whole("icc_e4")?,
        plan: read_numbers(m.take("plan")?)?,
        lot: m.maybe_whole("lot")?,
        sexes: read_numbers(m.take("sexes")?)?.ok_or("sexes are missing")?,
        lengths: read_numbers(m.take("lengths")?)?,
        scoops: m
            .list("scoops")?
            .into_iter()
            .map(read_scoop)
            .collect::<Result<_, _>>()?,
    };
    m.done()?;
    Ok(found)
}

fn read_scoop(value: Canon) -> Result<StatedScoop, String> {
    let mut m = Members::of("a scoop", value)?;
    let found = StatedScoop {
        on: day(&mut m, "on")?,
        photo_sha256: m.maybe_text("photo_sha256")?,
        judged: m.whole("judged")?,
        by_chance_milli: m.whole("by_chance_milli")?,
        plain: m.whole("plain")?,
        undecided: m.whole("undecided")?,
    };
    m.done()?;
    Ok(found)
}

fn read_numbers<const N: usize>(value: Canon) -> Result<Option<[u32; N]>, String> {
    let items = match value {
        Canon::Null => return Ok(None),
        Canon::List(items) => items,
        _ => return Err("a list of integers was expected".into()),
    };
    let numbers: Option<Vec<u32>> = items
        .into_iter()
        .map(|item| match item {
            Canon::Whole(number) => u32::try_from(number).ok(),
            _ => None,
        })
        .collect();
    numbers
        .and_then(|all| all.try_into().ok())
        .map(Some)
        .ok_or_else(|| format!("{N} integers from 0 on were expected"))
}
