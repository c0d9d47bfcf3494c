//! What the page of a proof says. It follows from what was signed and from nothing else, so it can be made again and compared.

use sha2::{Digest, Sha256};

use super::blocks::{Block, Column, Content, Run};
use super::figure::{CutOut, Whole};
use super::record::{self, Shown};
use super::sentences;
use crate::error::Error;
use crate::ladder::{self, Ladder};
use crate::measures::Sex;
use crate::proof::key::hex;
use crate::proof::manifest::{Listed, Manifest, RECORD, RULES, StatedScoop, Statement};
use crate::proof::verify::Files;
use crate::report::card::ladder_card;
use crate::report::wire::stored::StoredAnimal;
use crate::report::words;
use crate::units::{Measured, Reading};

/// What the page says that follows from the manifest and its files.
///
/// # Errors
/// Where record or rules can't be read.
pub(super) fn content(manifest: &Manifest, files: &Files) -> Result<Content, Error> {
    let text =
        |name: &str| Ok::<_, Error>(String::from_utf8_lossy(file(files, name)?).into_owned());
    let shown = record::read(&text(RECORD)?)?;
    let ladder = ladder::load(RULES, &text(RULES)?)
        .map_err(|e| Error::rules("rules", e.to_string(), e.hint))?;
    let mut blocks = vec![statement(manifest)];
    pictures(&shown, &mut blocks);
    table(&shown, &mut blocks);
    taking(manifest, &shown, &mut blocks);
    the_ladder(&ladder, &mut blocks);
    making(manifest, &mut blocks);
    limits(manifest, &mut blocks);
    seal(manifest, &mut blocks);
    Ok(Content {
        title: format!("Lot {}, {}", manifest.lot, ladder.title),
        facts: facts(manifest),
        blocks,
    })
}

/// A file of the proof.
///
/// # Errors
/// Where it is missing.
pub(super) fn file<'a>(files: &'a Files, name: &str) -> Result<&'a [u8], Error> {
    let missing = || {
        Error::photo(
            "missing_file",
            format!("{name} is missing"),
            "give the whole folder",
        )
    };
    files.get(name).map(Vec::as_slice).ok_or_else(missing)
}

fn own(text: &'static str) -> Vec<Run> {
    vec![Run::Own(text)]
}

fn heading(text: &str) -> Block {
    Block::Heading(text.to_string())
}

fn facts(m: &Manifest) -> String {
    let mut parts = Vec::new();
    parts.extend(m.tank.as_ref().map(|tank| format!("tank {tank}")));
    parts.extend(
        m.taken_on
            .as_ref()
            .map(|day| format!("photo of {day} by the camera's clock")),
    );
    parts.push(format!(
        "page signed on {} by the seller's clock",
        m.signed_on
    ));
    parts.join(", ")
}

fn statement(m: &Manifest) -> Block {
    let Some(s) = &m.statement else {
        return Block::Statement(vec![
            Run::Own("No share is claimed."),
            Run::Own("The page shows the animals and their measures."),
        ]);
    };
    let mut said = vec![
        Run::Text(sentences::headline(s)),
        Run::Text(sentences::ground(s)),
        Run::Text(format!("Counted: {}.", sentences::counted(s))),
    ];
    if m.weaknesses.iter().any(|w| w.code == "one_place") {
        said.push(Run::Own("This speaks for the netted animals only: they were not netted from two places of the tank."));
    }
    Block::Statement(said)
}

fn pictures(shown: &Shown, out: &mut Vec<Block>) {
    let size = ["/photo/width", "/photo/height"].map(|p| shown.number(p).unwrap_or(1.0).max(1.0));
    let animals = &shown.scoop.animals;
    let scale = shown.number("/scene/px_per_mm");
    out.push(heading("The whole scoop"));
    out.push(Block::Whole(
        Whole::new(size, animals, scale),
        format!(
            "All {} animals that were found, none left out. A dashed outline means too close to call between two rungs.",
            animals.len()
        ),
    ));
    let mut order: Vec<&StoredAnimal> = animals
        .iter()
        .filter(|a| a.rung.is_some() || a.off_ladder.as_deref() == Some("off_type"))
        .collect();
    order.sort_by(|a, b| {
        height(a)
            .total_cmp(&height(b))
            .then(a.measures.no.cmp(&b.measures.no))
    });
    if let (Some(worst), Some(best)) = (order.first(), order.last()) {
        out.push(heading("Typical, best and worst animal"));
        let three = [
            ("Typical", order[(order.len() - 1) / 2]),
            ("Best", best),
            ("Worst", worst),
        ]
        .map(|(what, animal)| {
            let said = format!("{what}: animal {}, {}", animal.measures.no, stands(animal));
            (CutOut::new(size, animal, what), said)
        });
        out.push(Block::CutOuts(three.to_vec()));
        out.push(Block::Note(Run::Own("Typical is the middle animal by rung, then by coverage. All three are cut from the photo above, at their own scales.")));
    }
}

/// Rung first, coverage within it; off-type below all.
fn height(animal: &StoredAnimal) -> f64 {
    let rung = animal.rung.map_or(-1.0, |rung| rung.index() as f64);
    let coverage = animal.measures.coverage.measured().map_or(0.0, |c| c.value);
    rung * 2.0 + coverage
}

fn stands(animal: &StoredAnimal) -> String {
    match (animal.rung, animal.between, animal.off_ladder.as_deref()) {
        (Some(_), Some((low, high)), _) => format!("{low} or {high}, too close to call"),
        (Some(rung), None, _) => rung.to_string(),
        (None, _, Some("off_type")) => "off-type".into(),
        (None, _, why) => format!("not graded: {}", words::reason(why.unwrap_or("withheld"))),
    }
}

/// A column of the table of animals: its head, whether it holds numbers, what stands in it; `None` where it is not known.
type Known = (&'static str, bool, fn(&StoredAnimal) -> Option<String>);

const COLUMNS: [Known; 5] = [
    ("Rung", false, |a| Some(stands(a))),
    ("Coverage, %", true, |a| Some(share(&a.measures.coverage))),
    ("Opacity, %", true, |a| Some(share(&a.measures.opacity))),
    ("Length, mm", true, |a| {
        a.measures.length_mm.map(|l| with_doubt(l, 1.0, 1))
    }),
    ("Sex", false, |a| match a.measures.sex {
        Sex::Female => Some("female".into()),
        Sex::Male => Some("male".into()),
        Sex::Unsure => None,
    }),
];

/// Every animal, columns of which nothing is known left out: on a phone each costs room.
fn table(shown: &Shown, out: &mut Vec<Block>) {
    let animals = &shown.scoop.animals;
    let known: Vec<&Known> = COLUMNS
        .iter()
        .filter(|(_, _, cell)| animals.iter().any(|a| cell(a).is_some()))
        .collect();
    let mut columns = vec![Column {
        head: "No.",
        is_number: true,
    }];
    columns.extend(known.iter().map(|(head, is_number, _)| Column {
        head,
        is_number: *is_number,
    }));
    let row = |a: &StoredAnimal| {
        let mut cells = vec![a.measures.no.to_string()];
        cells.extend(
            known
                .iter()
                .map(|(_, _, cell)| cell(a).unwrap_or_else(|| "-".into())),
        );
        cells
    };
    out.push(heading("Every animal"));
    out.push(Block::Table {
        label: "Table of every animal",
        columns,
        rows: animals.iter().map(row).collect(),
    });
    out.push(Block::Note(Run::Own("Behind \u{b1} stands the standard uncertainty of the single reading. Coverage is the share of the body, clear parts included, that carries the line's colour; opacity is how far the colour hides what lies under it.")));
}

fn share(reading: &Reading) -> String {
    match reading {
        Reading::Value(measured) => with_doubt(*measured, 100.0, 0),
        Reading::Withheld(_) => "not read".into(),
    }
}

fn with_doubt(m: Measured, factor: f64, digits: usize) -> String {
    format!(
        "{:.digits$} \u{b1} {:.digits$}",
        m.value * factor,
        m.uncertainty * factor
    )
}

fn taking(m: &Manifest, shown: &Shown, out: &mut Vec<Block>) {
    let mut rows: Vec<(&'static str, String)> = Vec::new();
    rows.push(("Ground", format!("{} cup", m.graded.ground)));
    let chart = shown.number("/scene/chart/de00_after");
    rows.push((
        "Colour chart",
        chart.map_or("none in the photo: colours are told relative to the cup's floor".into(), |d| {
            format!("in the photo; after correction its patches differ by {d:.1} from their published values (mean CIEDE2000)")
        }),
    ));
    rows.push((
        "Minutes in the cup",
        m.graded
            .netted_seconds
            .map_or("not said: animals pale in a white cup".into(), |s| {
                format!(
                    "{}:{:02} from netting to photo, as the seller says",
                    s / 60,
                    s % 60
                )
            }),
    ));
    let from = match shown.text("/scene/scale_from") {
        Some("cup") => "from the cup's floor",
        Some("chart") => "from the colour chart",
        Some("given") => "as the seller says",
        _ => "",
    };
    rows.push((
        "Scale",
        shown.number("/scene/px_per_mm").map_or("unknown, so juveniles were not told from adults".into(), |s| {
            format!("{s:.1} pixels to the millimetre, {from}; the bar in the photo is 10 mm at the cup's floor")
        }),
    ));
    rows.push((
        "Card in the photo",
        match &m.card {
            Some([lot, on]) => format!("a card with lot {lot} and the day {on} was read in it"),
            None => "no card with lot and day was read in it: nothing in the picture ties it to this lot or day".into(),
        },
    ));
    let verdict = match shown.text("/photo/check/answer") {
        Some("good") => "good",
        Some("usable") => "usable",
        Some(_) => "should be taken again",
        None => "not judged",
    };
    rows.push(("Photo", format!("{verdict} by the program's own check")));
    out.push(heading("How the photo was taken"));
    let term = |(name, text)| (Run::Own(name), vec![Run::Text(text)]);
    out.push(Block::Terms(rows.into_iter().map(term).collect()));
    let doubts: Vec<String> = shown
        .doubts()
        .into_iter()
        .chain(m.camera_said.iter().map(|s| s.message.clone()))
        .collect();
    list("Doubts about the photo:", doubts, out);
}

/// Points with what leads to them; nothing where there are none.
fn list(intro: &'static str, items: Vec<String>, out: &mut Vec<Block>) {
    if !items.is_empty() {
        out.push(Block::List(Some(intro), items));
    }
}

fn the_ladder(ladder: &Ladder, out: &mut Vec<Block>) {
    out.push(heading("The house's ladder"));
    out.push(Block::Paragraph(own(
        "There is no agreed ladder in the trade; this is the seller's own.",
    )));
    let lines = ladder_card(ladder).into_iter().map(|line| line.text);
    out.push(Block::Lines(lines.collect()));
}

fn making(m: &Manifest, out: &mut Vec<Block>) {
    if let Some(s) = m.statement.as_ref().filter(|s| !s.scoops.is_empty()) {
        scoops(s, out);
    }
    let against = m.weaknesses.iter().map(|w| w.message.clone());
    list("What speaks against the statement:", against.collect(), out);
}

fn scoops(s: &Statement, out: &mut Vec<Block>) {
    out.push(heading("Scoops behind the statement"));
    let columns = [
        ("Day", false),
        ("Judged", true),
        ("Plainly at the rung", true),
        ("Misgrading allowed for", true),
    ];
    let row = |scoop: &StatedScoop| {
        vec![
            scoop.on.to_string(),
            scoop.judged.to_string(),
            scoop.plain.to_string(),
            format!("{:.1}", f64::from(scoop.by_chance_milli) / 1000.0),
        ]
    };
    out.push(Block::Table {
        label: "Table of scoops",
        columns: columns
            .map(|(head, is_number)| Column { head, is_number })
            .to_vec(),
        rows: s.scoops.iter().map(row).collect(),
    });
    if let Some([looks, each]) = s.plan {
        out.push(Block::Note(Run::Text(format!(
            "Declared beforehand: {looks} looks, about {each} animals each. Animals of one scoop are taken to be alike by an intraclass correlation of {:.2}.",
            f64::from(s.icc_e4) / 10_000.0
        ))));
    }
}

fn limits(m: &Manifest, out: &mut Vec<Block>) {
    let repeat = match m.own_repeat_e4 {
        Some(e4) => format!(
            "How far a single reading errs on animals like these is known from the seller's own repeats: coverage moves by up to {:.1} points from photo to photo.",
            f64::from(e4) / 100.0
        ),
        None => "How far the method errs on this house's animals: the seller has no repeated photos of them yet, the uncertainties come from rendered scenes.".into(),
    };
    let items = [
        "Which animals were sent: a buyer gets animals, not this photo.".to_string(),
        "When the photo was taken: days here are by the seller's clock and card.".into(),
        "Health: a colour grade is no health certificate.".into(),
        "What the animals look like in another tank: floor, feed, light and the journey move colour for days to weeks.".into(),
        repeat,
    ];
    out.push(heading("What this page does not prove"));
    out.push(Block::List(None, items.to_vec()));
}

fn seal(m: &Manifest, out: &mut Vec<Block>) {
    let digest = hex(&Sha256::digest(m.write()));
    let print = m.key.fingerprint();
    let code = format!(
        "CATCHCUP:PROOF:{}:{}",
        digest.to_uppercase(),
        print.replace('-', "").to_uppercase()
    );
    out.push(Block::Heading(format!(
        "Unchanged since signed on {}",
        m.signed_on
    )));
    out.push(Block::Seal {
        code,
        words: vec![
            vec![
                Run::Own("To check: get the whole folder from the seller, and the fingerprint of the seller's key by another way than this page. Then: "),
                Run::Code("catchcup proof check FOLDER --key FINGERPRINT".into()),
                Run::Own(". It measures the photo again and compares every number."),
            ],
            own("A signature says that nothing was changed since, and by whose key. It does not say that what was signed is true."),
        ],
    });
    let mut terms = vec![
        (Run::Own("Fingerprint of the key"), vec![Run::Code(print)]),
        (Run::Own("SHA-256 of the manifest"), vec![Run::Code(digest)]),
    ];
    let file = |f: &Listed| (Run::Text(f.name.clone()), vec![Run::Code(f.sha256.clone())]);
    terms.extend(m.files.iter().map(file));
    terms.push((
        Run::Own("The camera's own file"),
        vec![
            Run::Code(m.original_sha256.clone()),
            Run::Own(" (the seller alone has it)"),
        ],
    ));
    terms.push((
        Run::Own("Program"),
        vec![Run::Text(format!("catchcup {}", m.program))],
    ));
    out.push(Block::Terms(terms));
}
