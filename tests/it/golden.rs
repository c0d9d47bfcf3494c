//! Overlays of two samples against stored small pictures.
//!
//! `CATCHCUP_REWRITE=1 cargo test golden` writes the stored pictures anew; look at them before you commit them.
//! A difference writes both pictures and a page that shows them side by side into `target/golden`.

use std::path::PathBuf;

use catchcup::report::overlay_jpeg;
use image::RgbImage;
use image::codecs::jpeg::JpegEncoder;
use image::imageops::{self, FilterType};

use crate::support::root;
use crate::support::truth::{graded, sample};

/// Width of the stored pictures: small enough for the repository, large enough to read the labels. The README shows one.
const WIDTH: u32 = 720;

/// Quality of the stored pictures.
const QUALITY: u8 = 82;

/// Side of the blocks that are compared, pixels: about the size of a label.
const BLOCK: u32 = 24;

/// Largest mean difference of a block, codes of 255. What is found is stored and read back before it is compared, so an
/// unchanged overlay differs by nothing; a label that moved or a rung that changed differs by 10 and more.
const TOLERANCE: f64 = 6.0;

#[test]
fn red_overlay() {
    check("red-clear-to-solid");
}

#[test]
fn blue_overlay() {
    check("blue-dark-and-light");
}

fn check(name: &str) {
    let overlay = overlay_jpeg(graded(&sample(name))).expect("an overlay");
    let small = small(&decode(&overlay));
    let stored_at = root().join("tests/data/golden").join(format!("{name}.jpg"));
    if std::env::var_os("CATCHCUP_REWRITE").is_some_and(|v| v == "1") {
        std::fs::create_dir_all(stored_at.parent().expect("a folder")).expect("a folder");
        std::fs::write(&stored_at, encode(&small)).expect("a stored picture");
    }
    let stored =
        std::fs::read(&stored_at).unwrap_or_else(|e| panic!("{}: {e}", stored_at.display()));
    let worst = difference(&decode(&stored), &decode(&encode(&small)));
    println!("{name}: worst block differs by {worst:.2}");
    if worst > TOLERANCE {
        let page = write_page(name, &stored, &encode(&small));
        panic!(
            "the overlay of {name} differs by {worst:.1} in its worst block, {TOLERANCE} at most; see {}",
            page.display()
        );
    }
}

fn small(picture: &RgbImage) -> RgbImage {
    let height = picture.height() * WIDTH / picture.width();
    imageops::resize(picture, WIDTH, height, FilterType::Triangle)
}

fn decode(file: &[u8]) -> RgbImage {
    image::load_from_memory(file).expect("a picture").to_rgb8()
}

fn encode(picture: &RgbImage) -> Vec<u8> {
    let mut file = Vec::new();
    JpegEncoder::new_with_quality(&mut file, QUALITY)
        .encode_image(picture)
        .expect("a picture");
    file
}

/// Mean absolute difference of the block where it is largest; infinite where the sizes differ.
fn difference(a: &RgbImage, b: &RgbImage) -> f64 {
    if a.dimensions() != b.dimensions() {
        return f64::INFINITY;
    }
    let (columns, rows) = (a.width().div_ceil(BLOCK), a.height().div_ceil(BLOCK));
    let blocks = (0..columns * rows).map(|i| (i % columns * BLOCK, i / columns * BLOCK));
    blocks
        .map(|at| block_difference(a, b, at))
        .fold(0.0, f64::max)
}

fn block_difference(a: &RgbImage, b: &RgbImage, (left, top): (u32, u32)) -> f64 {
    let (mut sum, mut count) = (0.0, 0.0);
    for y in top..(top + BLOCK).min(a.height()) {
        for x in left..(left + BLOCK).min(a.width()) {
            let (p, q) = (a.get_pixel(x, y).0, b.get_pixel(x, y).0);
            sum += (0..3).map(|i| f64::from(p[i].abs_diff(q[i]))).sum::<f64>();
            count += 3.0;
        }
    }
    sum / count
}

/// Writes both pictures and a page with them; the page's path.
fn write_page(name: &str, stored: &[u8], found: &[u8]) -> PathBuf {
    let folder = root().join("target/golden");
    std::fs::create_dir_all(&folder).expect("a folder for the page");
    let put = |ending: &str, bytes: &[u8]| {
        let path = folder.join(format!("{name}{ending}"));
        std::fs::write(&path, bytes).expect("a file beside the page");
        path
    };
    put("-stored.jpg", stored);
    put("-found.jpg", found);
    let page = format!(
        "<!doctype html><title>{name}</title><h1>{name}</h1>\n\
         <p>Stored, then found. If the new one is right: CATCHCUP_REWRITE=1 cargo test golden</p>\n\
         <img src=\"{name}-stored.jpg\"> <img src=\"{name}-found.jpg\">\n"
    );
    put(".html", page.as_bytes())
}

/// The comparison sees a single label that is gone, and is not troubled by storing as JPEG.
#[test]
fn the_comparison_sees_a_missing_label() {
    let mut changed = RgbImage::from_pixel(WIDTH, 300, image::Rgb([200, 198, 190]));
    let plain = changed.clone();
    assert!(difference(&plain, &decode(&encode(&plain))) < 1.0);
    for x in 100..112 {
        for y in 50..56 {
            changed.put_pixel(x, y, image::Rgb([0, 78, 152]));
        }
    }
    assert!(difference(&plain, &changed) > TOLERANCE);
    assert_eq!(
        difference(&plain, &small(&RgbImage::new(10, 10))),
        f64::INFINITY
    );
}
