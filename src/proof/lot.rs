//! The lot that a proof is about: what speaks against a statement from its photo, and the manifest to be signed.

use jiff::civil::DateTime;

use super::Manifest;
use super::key::PublicKey;
use super::make::{Published, said};
use super::manifest::Statement;
use super::weakness::{Limits, Weakness, of_day, weaknesses};
use crate::scoop::kept::Origin;
use crate::scoop::{Answer, PastScoop};

/// A lot that is shown.
#[derive(Debug, Clone, Copy)]
pub struct Lot<'a> {
    /// Its name.
    pub name: &'a str,
    /// Its tank.
    pub tank: Option<&'a str>,
    /// Who signs.
    pub who: &'a str,
    /// When.
    pub at: DateTime,
    /// The house's own repeatability in ten-thousandths, where it was measured.
    pub own_repeat_e4: Option<u32>,
}

/// What speaks against a statement from the photo itself; a whole lot needs no second place.
pub fn of_photo(published: &Published, lot: &Lot<'_>) -> Vec<Weakness> {
    let mut origin = Origin::of(&published.scoop, env!("CARGO_PKG_VERSION"));
    // The published photo no longer says what the camera did to it.
    let camera_said = published.camera_said.iter();
    origin
        .doubts
        .extend(camera_said.map(|d| d.code.to_string()));
    let alone = PastScoop {
        number: 1,
        tank: lot.tank.unwrap_or_default().to_string(),
        line: None,
        generation: None,
        at: lot.at,
        who: lot.who.to_string(),
        kept_apart: true,
        second_of: None,
        conditions: Default::default(),
        origin,
        remark: String::new(),
        animals: Vec::new(),
    };
    let limits = Limits::default();
    let mut weak = weaknesses(&[alone], lot.at, &limits);
    weak.retain(|w| w.code != "one_place");
    let taken_on = published
        .taken_on
        .as_deref()
        .and_then(|day| day.parse().ok());
    weak.extend(of_day(taken_on, lot.at.date(), &limits));
    if published.scoop.check.answer == Answer::ShootAgain {
        weak.push(Weakness::blocking(
            "shoot_again",
            "the photo should be taken again by the program's own check",
            "see catchcup grade for why",
        ));
    }
    weak
}

/// All that is signed of a lot; the files are listed when it is assembled.
pub fn manifest(
    published: &Published,
    lot: &Lot<'_>,
    statement: Option<Statement>,
    weak: &[Weakness],
    key: PublicKey,
) -> Manifest {
    let camera = published
        .camera_said
        .iter()
        .map(|n| (n.code, n.message.as_str()));
    Manifest {
        program: env!("CARGO_PKG_VERSION").into(),
        signed_on: lot.at.date(),
        key,
        lot: lot.name.to_string(),
        tank: lot.tank.map(str::to_string),
        taken_on: published.taken_on.clone(),
        original_sha256: published.original_sha256.clone(),
        card: published.card.clone(),
        graded: published.graded.clone(),
        statement,
        weaknesses: said(weak.iter().map(|w| (w.code, w.message.as_str()))),
        camera_said: said(camera),
        own_repeat_e4: lot.own_repeat_e4,
        files: Vec::new(),
    }
}
