//! What a photo costs, stage by stage and whole: `cargo bench --bench grade`.
//!
//! The sample is a photo of 1.9 megapixels with eight animals; a photo of its own is named by the variable `CATCHCUP_PHOTO`.
//! Wall times, so they mean something on a quiet machine only; `benches/stages.sh` counts instructions instead.

use catchcup::animals::find::{Found, find};
use catchcup::animals::models::Models;
use catchcup::ladder::Shelf;
use catchcup::measures::{MeasureRequest, analyse};
use catchcup::photo::Photo;
use catchcup::scene::{CupSpec, Scene, read_scene};
use catchcup::scoop::{MinutesRule, Netted, Order, grade_photo};
use divan::{Bencher, black_box};

const SAMPLE: &str = concat!(
    env!("CARGO_MANIFEST_DIR"),
    "/sample-images/red-clear-to-solid_8-animals.jpg"
);

fn main() {
    divan::main();
}

fn bytes() -> Vec<u8> {
    let path = std::env::var("CATCHCUP_PHOTO").unwrap_or_else(|_| SAMPLE.into());
    std::fs::read(&path).unwrap_or_else(|e| panic!("{path}: {e}"))
}

fn photo() -> Photo {
    Photo::from_bytes("photo.jpg", bytes()).expect("a photo")
}

fn cup() -> CupSpec {
    CupSpec::default()
}

fn setting(photo: &Photo) -> Scene {
    read_scene(photo, &cup())
}

#[divan::bench]
fn a_decoding(bencher: Bencher<'_, '_>) {
    let bytes = bytes();
    bencher.bench(|| Photo::from_bytes("photo.jpg", black_box(&bytes)));
}

#[divan::bench]
fn b_setting(bencher: Bencher<'_, '_>) {
    let photo = photo();
    bencher.bench(|| setting(black_box(&photo)));
}

#[divan::bench]
fn c_finding(bencher: Bencher<'_, '_>) {
    let photo = photo();
    let scene = setting(&photo);
    let models = Models::built_in();
    bencher.bench(|| -> Found { find(black_box(&photo), &scene, &models) });
}

#[divan::bench]
fn d_finding_and_measuring(bencher: Bencher<'_, '_>) {
    let photo = photo();
    let scene = setting(&photo);
    let ladder = Shelf::with_own(Vec::new())
        .ladder("red")
        .expect("a built-in ladder");
    let request = MeasureRequest {
        line: Some(&ladder.colour),
        candidates: &[],
        given_sex: None,
    };
    bencher.bench(|| analyse(black_box(&photo), &scene, &request));
}

#[divan::bench]
fn e_whole(bencher: Bencher<'_, '_>) {
    let bytes = bytes();
    let shelf = Shelf::with_own(Vec::new());
    let order = Order {
        ladder: shelf.ladder("red"),
        cup: cup(),
        sex: None,
        juvenile_mm: 15.0,
        netted: Netted::default(),
        minutes: MinutesRule::default(),
    };
    bencher.bench(|| grade_photo("photo.jpg", black_box(&bytes), &order, &shelf));
}
