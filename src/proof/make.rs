//! A proof made: photo published, measured, stated, signed.

use sha2::{Digest, Sha256};

use super::key::{HouseKey, Signed, hex};
use super::manifest::{
    Listed, MANIFEST, Manifest, PAGE, PDF, PDF_SIGNATURE, RECORD, RULES, SIGNATURE, Said, listed,
    photo_name,
};
use super::verify::{Files, Formats, order};
use crate::doubt::Note;
use crate::error::Error;
use crate::ladder::Shelf;
use crate::photo::strip;
use crate::photo::tag::lot_in;
use crate::proof::manifest::HowGraded;
use crate::scoop::{Graded, KeptAnimal, Order, Scoop, grade_photo};

/// A photo ready to be published, with what was measured on it.
#[derive(Debug)]
pub struct Published {
    /// The photo without what the camera noted.
    pub photo: Vec<u8>,
    /// Its record, one line.
    pub record: String,
    /// The same as values.
    pub scoop: Scoop,
    /// Its animals as the record states them, rounded: a statement must follow from what others can read.
    pub animals: Vec<KeptAnimal>,
    /// Doubts that only the camera's own notes gave.
    pub camera_said: Vec<Note>,
    /// SHA-256 of the photo as the camera made it.
    pub original_sha256: String,
    /// Its day by the camera's clock.
    pub taken_on: Option<String>,
    /// Lot and day of the card in it.
    pub card: Option<[String; 2]>,
    /// How it was graded.
    pub graded: HowGraded,
}

/// The photo in `original`, stripped and measured. It is measured twice, as the camera made it and as it is published, and
/// both must give the same record.
///
/// # Errors
/// Where the photo can't be read, published or graded.
pub fn publish(
    name: &str,
    original: &[u8],
    how: &Order,
    formats: Formats,
) -> Result<Published, Error> {
    let shelf = Shelf::default();
    let before = grade_photo(name, original, how, &shelf)?;
    let ladder = before.scoop.ladder.clone().ok_or_else(no_line)?;
    if let Some(why) = before.scoop.withheld.first() {
        return Err(Error::Photo(why.clone()));
    }
    let graded = how_graded(how, &before.scoop);
    let photo = strip::published(original)?;
    let again = order(&graded, ladder).map_err(Error::Photo)?;
    let after = grade_photo(photo_name(&photo), &photo, &again, &shelf)?;
    same(&before, &after, formats)?;
    let known: Vec<&str> = after.scoop.doubts.iter().map(|d| d.code).collect();
    let camera_said = before
        .scoop
        .doubts
        .iter()
        .filter(|d| !known.contains(&d.code));
    let taken_on = before
        .scoop
        .photo
        .capture
        .taken_at
        .as_deref()
        .and_then(|at| at.get(..10));
    let record = (formats.record)(&after.scoop) + "\n";
    Ok(Published {
        animals: (formats.animals)(&record)?,
        record,
        camera_said: camera_said.cloned().collect(),
        original_sha256: before.scoop.photo.sha256.clone(),
        taken_on: taken_on.map(str::to_string),
        card: lot_in(&after.photo),
        scoop: after.scoop,
        photo,
        graded,
    })
}

fn no_line() -> Error {
    Error::photo(
        "no_line",
        "no line was given and none could be guessed",
        "say it: --line red",
    )
}

fn how_graded(how: &Order, scoop: &Scoop) -> HowGraded {
    use crate::measures::Sex;
    HowGraded {
        cup_mm: how.cup.floor_mm,
        px_per_mm: how.cup.px_per_mm,
        chart_pitch_mm: how.cup.colour.chart_pitch_mm,
        chart_values: how.cup.colour.chart_set.map(|set| set.word().to_string()),
        ground: if how.cup.dark { "dark" } else { "white" }.into(),
        sex: how.sex.and_then(|sex| match sex {
            Sex::Female => Some("female".to_string()),
            Sex::Male => Some("male".to_string()),
            Sex::Unsure => None,
        }),
        juvenile_mm: how.juvenile_mm,
        netted_seconds: scoop.in_cup.seconds,
    }
}

/// The published photo must give the same numbers as the original; only what the camera noted may be missing.
fn same(before: &Graded, after: &Graded, formats: Formats) -> Result<(), Error> {
    let mut original = before.scoop.clone();
    original.photo = after.scoop.photo.clone();
    original.in_cup = after.scoop.in_cup.clone();
    original.doubts = after.scoop.doubts.clone();
    original.line_guessed = after.scoop.line_guessed;
    if (formats.record)(&original) == (formats.record)(&after.scoop) {
        Ok(())
    } else {
        Err(Error::bug(
            "the photo measures otherwise without the camera's notes",
        ))
    }
}

/// What the seller adds to a published photo.
#[derive(Debug)]
pub struct Draft {
    /// All that is signed; the files are listed when it is assembled.
    pub manifest: Manifest,
    /// The published photo.
    pub photo: Vec<u8>,
    /// Its record.
    pub record: String,
    /// Text of the rules.
    pub rules: String,
    /// True where the page is wanted as a PDF too.
    pub with_pdf: bool,
}

/// The files of the proof, signed.
///
/// # Errors
/// Where the page can't be made, or a PDF is wanted of a program that can't write one.
pub fn assemble(draft: Draft, key: &HouseKey, formats: Formats) -> Result<Files, Error> {
    let mut files = Files::new();
    let photo = photo_name(&draft.photo);
    files.insert(photo.into(), draft.photo);
    files.insert(RECORD.into(), draft.record.into_bytes());
    files.insert(RULES.into(), draft.rules.into_bytes());
    let listed = listed(photo).map(|name| Listed {
        name: name.into(),
        sha256: hex(&Sha256::digest(&files[name])),
        bytes: u32::try_from(files[name].len()).unwrap_or(u32::MAX),
    });
    let manifest = Manifest {
        key: key.public(),
        files: listed.to_vec(),
        ..draft.manifest
    };
    let signed = manifest.write().into_bytes();
    let signature = Signed {
        key: key.public(),
        signature: key.sign(&signed),
    };
    files.insert(PAGE.into(), (formats.page)(&manifest, &files)?.into_bytes());
    if draft.with_pdf {
        let pdf = formats.pdf.ok_or_else(no_pdf)?(&manifest, &files)?;
        let signed = Signed {
            key: key.public(),
            signature: key.sign(&pdf),
        };
        files.insert(PDF_SIGNATURE.into(), signed.write().into_bytes());
        files.insert(PDF.into(), pdf);
    }
    files.insert(MANIFEST.into(), signed);
    files.insert(SIGNATURE.into(), signature.write().into_bytes());
    Ok(files)
}

fn no_pdf() -> Error {
    Error::rules(
        "no_pdf",
        "this program was built without PDF",
        "leave --pdf out and print page.html from a browser, or build catchcup with --features pdf",
    )
}

/// Notes as they are signed.
pub fn said<'a>(notes: impl IntoIterator<Item = (&'a str, &'a str)>) -> Vec<Said> {
    let one = |(code, message): (&str, &str)| Said {
        code: code.into(),
        message: message.into(),
    };
    notes.into_iter().map(one).collect()
}
