//! Is a proof what its seller signed, and do its numbers follow from its photo?

use std::collections::BTreeMap;

use sha2::{Digest, Sha256};

use super::folder::{
    MANIFEST, PAGE, PDF, PDF_SIGNATURE, RECORD, RULES, SIGNATURE, all_files, folder, known_files,
    only_its_files,
};
use super::key::{Handover, PublicKey, Signed, Why, hex};
use super::manifest::{HowGraded, Manifest};
use super::remarks::{measures_otherwise, other_page, pdf_not_rebuilt, within_rounding};
use super::state;
use crate::doubt::Note;
use crate::error::Error;
use crate::ladder::{self, Shelf};
use crate::measures::Sex;
use crate::photo::tag::lot_in;
use crate::scene::{ChartSet, ColourSpec, CupSpec};
use crate::scoop::{KeptAnimal, MinutesRule, Netted, Order, Scoop, grade_photo};

/// The files of a proof by name.
pub type Files = BTreeMap<String, Vec<u8>>;

/// How numbers are written: the formats lie below this module and are handed in.
#[derive(Clone, Copy)]
pub struct Formats {
    /// The record of a scoop.
    pub record: fn(&Scoop) -> String,
    /// The animals of a record.
    pub animals: fn(&str) -> Result<Vec<KeptAnimal>, Error>,
    /// The page of a proof.
    pub page: fn(&Manifest, &Files) -> Result<String, Error>,
    /// The same as a PDF; `None` where this program can't write one.
    pub pdf: Option<PdfFormat>,
}

/// Makes the PDF of a proof.
pub type PdfFormat = fn(&Manifest, &Files) -> Result<Vec<u8>, Error>;

impl std::fmt::Debug for Formats {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str("Formats")
    }
}

/// What a check found.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Verdict {
    /// Unchanged since it was signed with the key that was asked for; every number follows from the photo.
    Unchanged,
    /// Unchanged, but nobody said whose key it should be.
    UnknownKey,
    /// Signed with another key than the one asked for.
    OtherKey,
    /// Something was changed, or does not follow from the photo.
    Changed,
    /// Signed and unchanged, but this program measures otherwise than the one that wrote it: the version named must check it.
    OtherProgram,
}

/// A check's answer.
#[derive(Debug, Clone, PartialEq)]
pub struct Checked {
    /// The answer.
    pub verdict: Verdict,
    /// What was wrong; empty unless something was.
    pub faults: Vec<Note>,
    /// What is to be said beside the answer.
    pub remarks: Vec<Note>,
    /// The key that signed.
    pub key: Option<PublicKey>,
    /// What was signed, where it could be read.
    pub manifest: Option<Manifest>,
}

/// What the asker knows.
#[derive(Debug, Clone, Default)]
pub struct Asked {
    /// Fingerprint of the seller's key.
    pub fingerprint: Option<String>,
    /// A handover from that key to the next.
    pub handover: Option<Handover>,
    /// The photo as the camera made it: the seller alone has it.
    pub original: Option<Vec<u8>>,
}

/// The files of a proof, checked. What was found in the folder besides, links and the like, is told in `odd`.
pub fn check(
    files: &Files,
    odd: &[String],
    asked: &Asked,
    version: &str,
    formats: Formats,
) -> Checked {
    match checked(files, odd, asked, version, formats) {
        Ok(checked) => checked,
        Err(stop) => Checked {
            verdict: Verdict::Changed,
            faults: vec![stop.fault],
            remarks: Vec::new(),
            key: stop.key,
            manifest: stop.manifest.map(|m| *m),
        },
    }
}

/// The first fault ends a check: behind it nothing can be believed.
struct Stop {
    fault: Note,
    key: Option<PublicKey>,
    manifest: Option<Box<Manifest>>,
}

impl From<Note> for Stop {
    fn from(fault: Note) -> Self {
        Self {
            fault,
            key: None,
            manifest: None,
        }
    }
}

pub(super) fn fault(code: &'static str, message: impl Into<String>) -> Note {
    Note::new(
        code,
        message,
        "ask the seller for the whole folder again; if it stays so, do not rely on it",
    )
}

fn checked(
    files: &Files,
    odd: &[String],
    asked: &Asked,
    version: &str,
    formats: Formats,
) -> Result<Checked, Stop> {
    only_its_files(files, odd)?;
    let signed = signature(files)?;
    let manifest = Manifest::read(&files[MANIFEST]).map_err(|e| fault("manifest", e))?;
    let stop = |fault| Stop {
        fault,
        key: Some(signed.key),
        manifest: Some(Box::new(manifest.clone())),
    };
    if manifest.key != signed.key {
        return Err(stop(fault(
            "manifest_key",
            "the manifest names another key than the one that signed it",
        )));
    }
    let names = folder(files, &manifest);
    known_files(files, &names).map_err(stop)?;
    all_files(files, &names).map_err(stop)?;
    let mut remarks = Vec::new();
    // What another key signed may be flawless; it is not the house's.
    if whose(asked, &manifest, false, &mut remarks) == Verdict::OtherKey {
        return Ok(Checked {
            verdict: Verdict::OtherKey,
            faults: Vec::new(),
            remarks,
            key: Some(signed.key),
            manifest: Some(manifest.clone()),
        });
    }
    remarks.clear();
    digests(files, &manifest).map_err(stop)?;
    let same_program = manifest.program == version;
    let mut other = false;
    let page = (formats.page)(&manifest, files).map_err(|e| stop(e.note().clone()))?;
    if page.as_bytes() != files[PAGE] {
        if same_program {
            return Err(stop(fault(
                "page",
                "the page is not the one that follows from what was signed",
            )));
        }
        other = true;
        remarks.push(other_page(PAGE, &manifest));
    }
    other |= pdf(files, &manifest, same_program, formats, &mut remarks).map_err(stop)?;
    statement(files, &manifest, formats).map_err(stop)?;
    match measured(files, &manifest, formats).map_err(stop)? {
        Agreement::Same => {}
        Agreement::Rounding => remarks.push(within_rounding(&manifest, version)),
        Agreement::Apart(_) if !same_program => {
            other = true;
            remarks.push(measures_otherwise(&manifest, version));
        }
        Agreement::Apart(what) => {
            let message =
                format!("measuring the photo again gives another {what} than the record states");
            return Err(stop(fault("numbers", message)));
        }
    }
    original(asked, &manifest, &mut remarks).map_err(stop)?;
    let verdict = whose(asked, &manifest, other, &mut remarks);
    Ok(Checked {
        verdict,
        faults: Vec::new(),
        remarks,
        key: Some(signed.key),
        manifest: Some(manifest),
    })
}

/// Whether the PDF, where there is one, was signed with the manifest's key, and follows from what was signed; true where
/// another version wrote it and this one would write it otherwise.
fn pdf(
    files: &Files,
    manifest: &Manifest,
    same_program: bool,
    formats: Formats,
    remarks: &mut Vec<Note>,
) -> Result<bool, Note> {
    let (Some(pdf), Some(signed)) = (files.get(PDF), files.get(PDF_SIGNATURE)) else {
        return Ok(false);
    };
    let signed = Signed::read(signed).map_err(|e| fault("pdf_signature", e))?;
    if signed.key != manifest.key || !signed.key.signed(pdf, &signed.signature) {
        return Err(fault(
            "pdf_signature",
            format!("{PDF_SIGNATURE} does not hold for {PDF} and the key of the manifest"),
        ));
    }
    let Some(make) = formats.pdf else {
        remarks.push(pdf_not_rebuilt());
        return Ok(false);
    };
    if make(manifest, files).is_ok_and(|again| again == *pdf) {
        return Ok(false);
    }
    if same_program {
        let why = format!("{PDF} is not the one that follows from what was signed");
        return Err(fault("pdf", why));
    }
    remarks.push(other_page(PDF, manifest));
    Ok(true)
}

fn signature(files: &Files) -> Result<Signed, Note> {
    let signed = Signed::read(&files[SIGNATURE]).map_err(|e| fault("signature", e))?;
    if signed.key.signed(&files[MANIFEST], &signed.signature) {
        Ok(signed)
    } else {
        Err(fault(
            "signature",
            "the signature does not hold for the manifest",
        ))
    }
}

fn digests(files: &Files, manifest: &Manifest) -> Result<(), Note> {
    for listed in &manifest.files {
        let bytes = &files[&listed.name];
        let same = u32::try_from(bytes.len()) == Ok(listed.bytes)
            && hex(&Sha256::digest(bytes)) == listed.sha256;
        if !same {
            return Err(fault(
                "digest",
                format!("{} is not the file that was signed", listed.name),
            ));
        }
    }
    Ok(())
}

fn statement(files: &Files, manifest: &Manifest, formats: Formats) -> Result<(), Note> {
    let Some(stated) = &manifest.statement else {
        return Ok(());
    };
    let animals = (formats.animals)(&text(files, RECORD)?).map_err(|e| e.note().clone())?;
    match state::faults(stated, &animals) {
        Some(what) => Err(fault("statement", what)),
        None => Ok(()),
    }
}

fn text(files: &Files, name: &str) -> Result<String, Note> {
    String::from_utf8(files[name].clone())
        .map_err(|_| fault("no_text", format!("{name} is no text")))
}

/// How far a record made again agrees.
enum Agreement {
    /// To the last digit.
    Same,
    /// Within the rounding of the record.
    Rounding,
    /// Not: the first number or word that differs.
    Apart(String),
}

fn measured(files: &Files, manifest: &Manifest, formats: Formats) -> Result<Agreement, Note> {
    let stated = text(files, RECORD)?;
    let rules = text(files, RULES)?;
    let ladder = ladder::load(RULES, &rules).map_err(|e| fault("rules", e.to_string()))?;
    let order = order(&manifest.graded, ladder)?;
    let photo = manifest.photo();
    let graded = grade_photo(photo, &files[photo], &order, &Shelf::default());
    let graded = graded.map_err(|e| fault("photo", e.to_string()))?;
    if lot_in(&graded.photo) != manifest.card {
        return Err(fault(
            "card",
            "the card in the photo says another lot or day than the manifest",
        ));
    }
    let again = (formats.record)(&graded.scoop) + "\n";
    if again == stated {
        return Ok(Agreement::Same);
    }
    let read = |text: &str| {
        serde_json::from_str::<serde_json::Value>(text).map_err(|e| fault("record", e.to_string()))
    };
    Ok(
        match super::compare::apart(&read(&stated)?, &read(&again)?) {
            None => Agreement::Rounding,
            Some(what) => Agreement::Apart(what),
        },
    )
}

/// What the photo was graded with.
///
/// # Errors
/// Where a word is not known.
pub fn order(how: &HowGraded, ladder: crate::ladder::Ladder) -> Result<Order, Note> {
    let unknown = |what: &str| fault("manifest", format!("{what} is not known to this program"));
    let chart_set = match how.chart_values.as_deref() {
        None => None,
        Some(word) => Some(ChartSet::from_word(word).ok_or_else(|| unknown(word))?),
    };
    Ok(Order {
        ladder: Some(ladder),
        cup: CupSpec {
            floor_mm: how.cup_mm,
            px_per_mm: how.px_per_mm,
            dark: match how.ground.as_str() {
                "white" => false,
                "dark" => true,
                other => return Err(unknown(other)),
            },
            colour: ColourSpec {
                chart_pitch_mm: how.chart_pitch_mm,
                chart_set,
                ..ColourSpec::default()
            },
        },
        sex: match how.sex.as_deref() {
            None => None,
            Some("female") => Some(Sex::Female),
            Some("male") => Some(Sex::Male),
            Some(other) => return Err(unknown(other)),
        },
        juvenile_mm: how.juvenile_mm,
        netted: how.netted_seconds.map_or(Netted::Unknown, Netted::Ago),
        minutes: MinutesRule::default(),
    })
}

fn original(asked: &Asked, manifest: &Manifest, remarks: &mut Vec<Note>) -> Result<(), Note> {
    let Some(bytes) = &asked.original else {
        return Ok(());
    };
    if hex(&Sha256::digest(bytes)) != manifest.original_sha256 {
        return Err(fault(
            "original",
            "the photo given as the original is not the one that was signed",
        ));
    }
    let published = crate::photo::strip::published(bytes).map_err(|e| e.note().clone())?;
    let listed = manifest.files.iter().find(|f| f.name == manifest.photo());
    if listed.is_none_or(|f| f.sha256 != hex(&Sha256::digest(&published))) {
        return Err(fault(
            "original",
            "the published photo does not follow from the original",
        ));
    }
    remarks.push(Note::new(
        "original",
        "the original photo is the one that was signed, and the published photo follows from it",
        "",
    ));
    Ok(())
}

fn whose(asked: &Asked, manifest: &Manifest, other: bool, remarks: &mut Vec<Note>) -> Verdict {
    let fine = if other {
        Verdict::OtherProgram
    } else {
        Verdict::Unchanged
    };
    let Some(wanted) = &asked.fingerprint else {
        return if other {
            Verdict::OtherProgram
        } else {
            Verdict::UnknownKey
        };
    };
    let key = manifest.key;
    let handover = asked.handover.as_ref();
    if key.fingerprint() == *wanted {
        let leaked = handover.filter(|h| h.old == key && h.why == Why::Leaked);
        return match leaked {
            Some(h) if manifest.signed_on >= h.on => {
                remarks.push(Note::new(
                    "key_leaked",
                    format!(
                        "the house gave this key up on {} because others may have it",
                        h.on
                    ),
                    "ask the seller for a page signed with the new key",
                ));
                Verdict::OtherKey
            }
            Some(h) => {
                remarks.push(Note::new(
                    "key_leaked",
                    format!(
                        "the house gave this key up on {}; who has it can write any earlier date",
                        h.on
                    ),
                    "rely on it only if you had the page before that day",
                ));
                fine
            }
            None => fine,
        };
    }
    match handover.filter(|h| h.old.fingerprint() == *wanted && h.new == key) {
        Some(h) => {
            remarks.push(Note::new(
                "handed_over",
                format!(
                    "signed with the key that the one you named handed over to on {}",
                    h.on
                ),
                "keep the new fingerprint",
            ));
            fine
        }
        None => Verdict::OtherKey,
    }
}
