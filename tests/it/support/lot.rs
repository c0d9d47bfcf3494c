//! Photos published for a proof, and the proof of a lot made of them.

use catchcup::ladder::{Rung, Shelf, shelf};
use catchcup::proof::Manifest;
use catchcup::proof::key::HouseKey;
use catchcup::proof::make::{Draft, Published, publish};
use catchcup::proof::state::of_whole;
use catchcup::proof::verify::Asked;
use catchcup::report::proof::FORMATS;
use catchcup::scene::CupSpec;
use catchcup::scoop::{MinutesRule, Netted, Order};

pub const VERSION: &str = "9.9.9";

pub fn key(secret: u8) -> HouseKey {
    HouseKey::from_secret(&[secret; 32])
}

/// A photo of a cup of the samples' size, netted a hundred seconds before.
pub fn published_bytes(name: &str, bytes: &[u8], line: &str) -> Published {
    let ladder = Shelf::default().ladder(line).expect("a ladder");
    let order = Order {
        ladder: Some(ladder),
        cup: CupSpec {
            floor_mm: Some(97.0),
            ..CupSpec::default()
        },
        sex: None,
        juvenile_mm: 15.0,
        netted: Netted::Ago(100),
        minutes: MinutesRule::default(),
    };
    publish(name, bytes, &order, FORMATS).expect("it is published")
}

/// What a proof of that photo is assembled from, without a PDF, to be signed with the key of that secret.
pub fn draft(photo: &Published, line: &str, secret: u8, lot: &str) -> Draft {
    let rung = Rung::from_word("G1").expect("a rung");
    let manifest = Manifest {
        program: VERSION.into(),
        signed_on: jiff::civil::date(2026, 5, 8),
        key: key(secret).public(),
        lot: lot.into(),
        tank: Some("A1".into()),
        taken_on: photo.taken_on.clone(),
        original_sha256: photo.original_sha256.clone(),
        card: photo.card.clone(),
        graded: photo.graded.clone(),
        statement: Some(of_whole(&photo.animals, rung, 300, 950, &[])),
        weaknesses: Vec::new(),
        camera_said: Vec::new(),
        own_repeat_e4: Some(210),
        files: Vec::new(),
    };
    Draft {
        manifest,
        photo: photo.photo.clone(),
        record: photo.record.clone(),
        rules: shelf::built_in_text(line).expect("rules").into(),
        with_pdf: false,
    }
}

/// Asks whether it was signed with the key of that secret.
pub fn asked(secret: u8) -> Asked {
    Asked {
        fingerprint: Some(key(secret).public().fingerprint()),
        ..Asked::default()
    }
}
