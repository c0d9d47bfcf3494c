//! Tank tags: printed, found again in photos, an evening's folder filed by them.

use std::collections::BTreeSet;

use catchcup::photo::{Photo, tag};
use image::{Rgb, RgbImage};
use qrcode::{Color, EcLevel, QrCode};

use crate::support::keeper::Keeper;
use crate::support::picture::{Extras, png};
use crate::support::room::out;
use crate::support::truth::sample;

/// A tag as it lies on a table: a QR code of `side` pixels with its quiet zone.
fn tag_picture(text: &str, side: u32) -> RgbImage {
    let code = QrCode::with_error_correction_level(text, EcLevel::Q).expect("a code");
    let (modules, quiet) = (code.width() as u32, 4);
    let colours = code.to_colors();
    RgbImage::from_fn(side, side, |x, y| {
        let at = |v: u32| {
            (v * (modules + 2 * quiet) / side)
                .checked_sub(quiet)
                .filter(|m| *m < modules)
        };
        match (at(x), at(y)) {
            (Some(x), Some(y)) if colours[(y * modules + x) as usize] == Color::Dark => {
                Rgb([35, 35, 38])
            }
            _ => Rgb([225, 225, 222]),
        }
    })
}

/// The picture turned about its middle, around it a grey table; soft edges as a camera gives them.
fn turned(picture: &RgbImage, degrees: f32, size: (u32, u32), scale: f32) -> RgbImage {
    let (sin, cos) = degrees.to_radians().sin_cos();
    let (w, h) = (picture.width() as f32, picture.height() as f32);
    RgbImage::from_fn(size.0, size.1, |x, y| {
        let mut sum = [0.0f32; 3];
        for (i, j) in [(0.25, 0.25), (0.75, 0.25), (0.25, 0.75), (0.75, 0.75)] {
            let (u, v) = (
                x as f32 + i - size.0 as f32 / 2.0,
                y as f32 + j - size.1 as f32 / 2.0,
            );
            let (u, v) = (
                (u * cos + v * sin) / scale + w / 2.0,
                (v * cos - u * sin) / scale + h / 2.0,
            );
            let inside = u >= 0.0 && v >= 0.0 && u < w && v < h;
            let pixel = if inside {
                *picture.get_pixel(u as u32, v as u32)
            } else {
                Rgb([120, 118, 110])
            };
            (0..3).for_each(|c| sum[c] += f32::from(pixel.0[c]) / 4.0);
        }
        Rgb(sum.map(|v| v.round() as u8))
    })
}

fn read(picture: &RgbImage) -> Vec<String> {
    let file = png(
        picture.width() as usize,
        picture.height() as usize,
        picture.as_raw(),
        &Extras::default(),
    );
    tag::tanks_in(&Photo::from_bytes("tag.png", &file).expect("a photo"))
}

#[test]
fn tags_are_read_however_they_lie() {
    let plain = tag_picture(&tag::text_of("R-12"), 300);
    for degrees in [0.0, 17.0, 45.0, 90.0, 133.0, 180.0, 301.0] {
        for scale in [0.5, 1.0] {
            let photo = turned(&plain, degrees, (900, 700), scale);
            assert_eq!(read(&photo), ["R-12"], "turned {degrees}, scale {scale}");
        }
    }
    assert_eq!(
        read(&tag_picture("some other text", 300)),
        Vec::<String>::new()
    );
    assert_eq!(
        read(&RgbImage::from_pixel(400, 300, Rgb([200, 200, 200]))),
        Vec::<String>::new()
    );
}

/// The card of a lot is read with its day, and is no tank's tag.
#[test]
fn cards_of_lots_are_read() {
    let card = turned(
        &tag_picture(&tag::text_of_lot("l7:b", "2026-05-08"), 300),
        33.0,
        (900, 700),
        1.0,
    );
    let file = png(900, 700, card.as_raw(), &Extras::default());
    let photo = Photo::from_bytes("card.png", &file).expect("a photo");
    assert_eq!(
        tag::lot_in(&photo),
        Some(["L7:B".into(), "2026-05-08".into()])
    );
    assert_eq!(read(&card), Vec::<String>::new());
    let tank = tag_picture(&tag::text_of("R-12"), 300);
    let file = png(300, 300, tank.as_raw(), &Extras::default());
    let photo = Photo::from_bytes("tag.png", &file).expect("a photo");
    assert_eq!(tag::lot_in(&photo), None);
}

/// A sample photo with a strip of table below it on which tags lie.
fn photo_with(sample_name: &str, tags: &[&str]) -> Vec<u8> {
    let scoop = image::load_from_memory(&sample(sample_name).bytes())
        .expect("a photo")
        .to_rgb8();
    let side = scoop.width() / 7;
    let mut whole =
        RgbImage::from_pixel(scoop.width(), scoop.height() + side + 40, Rgb([90, 86, 80]));
    image::imageops::replace(&mut whole, &scoop, 0, 0);
    for (index, code) in tags.iter().enumerate() {
        let picture = tag_picture(&tag::text_of(code), side);
        let x = 40 + index as i64 * (i64::from(side) + 40);
        image::imageops::replace(&mut whole, &picture, x, i64::from(scoop.height()) + 20);
    }
    png(
        whole.width() as usize,
        whole.height() as usize,
        whole.as_raw(),
        &Extras::default(),
    )
}

#[test]
fn an_evening_is_filed_by_its_tags() {
    let keeper = Keeper::new("evening");
    keeper.ok("tank add B2 --line blue");
    keeper
        .0
        .file("evening/1.png", photo_with("red-clear", &["A1"]));
    keeper.0.file("evening/2.png", photo_with("blue", &["B2"]));
    keeper.0.file("evening/3.jpg", sample("red-mostly").bytes());
    keeper
        .0
        .file("evening/4.png", photo_with("red-mostly", &["A1", "B2"]));
    keeper
        .0
        .file("evening/5.png", photo_with("red-mostly", &["C7"]));
    let output = keeper.run("scoop add evening --cup-mm 90");
    assert_eq!(output.status.code(), Some(1), "some could not be filed");
    let said = out(&output)
        .split_whitespace()
        .collect::<Vec<_>>()
        .join(" ");
    for part in [
        "1.png: filed as scoop 1 of tank A1",
        "2.png: filed as scoop 2 of tank B2",
        "4.png: not filed: tags of several tanks lie in the photo: A1, B2",
        "5.png: not filed: the tag says tank C7, which is not in the book",
        "1 photo without a tank's tag: 3.jpg",
    ] {
        assert!(said.contains(part), "{part} in\n{said}");
    }
    // The tag beside the cup is no animal.
    let height = i64::from(
        image::load_from_memory(&sample("red-clear").bytes())
            .expect("a photo")
            .height(),
    );
    let scoop = &keeper.json("scoop show 1")[0];
    let animals = scoop["animals"].as_array().expect("animals");
    assert!(animals.len() >= 7, "{}", animals.len());
    for animal in animals {
        let bottom = animal["bbox"][1]
            .as_i64()
            .zip(animal["bbox"][3].as_i64())
            .map(|(y, h)| y + h);
        assert!(
            bottom.is_some_and(|bottom| bottom <= height),
            "{}",
            animal["bbox"]
        );
    }
}

#[test]
fn a_sheet_holds_a_readable_tag_for_every_tank() {
    let keeper = Keeper::new("sheet");
    for index in 0..13 {
        keeper.ok(&format!("tank add T{index}"));
    }
    keeper.ok("tank tags tags.svg");
    let pages: Vec<String> = ["tags.svg", "tags-2.svg"]
        .iter()
        .map(|name| std::fs::read_to_string(keeper.0.0.join(name)).expect("a page"))
        .collect();
    assert!(!keeper.0.0.join("tags-3.svg").exists());
    let mut seen = BTreeSet::new();
    for page in &pages {
        seen.extend(
            page.split("font-weight=\"bold\"")
                .skip(1)
                .filter_map(|part| Some(part.split_once('>')?.1.split_once('<')?.0.to_string())),
        );
        // Every path of squares is drawn and read by the reader of photos.
        for (path, size) in page.split("<path ").skip(1).map(|part| (part, 240u32)) {
            let squares = path
                .split_once("d=\"")
                .and_then(|(_, d)| d.split_once('"'))
                .expect("squares")
                .0;
            let places: Vec<(u32, u32)> = squares
                .split('M')
                .skip(1)
                .map(|square| {
                    let (x, y) = square
                        .split_once('h')
                        .expect("a square")
                        .0
                        .split_once(' ')
                        .expect("two numbers");
                    (x.parse().expect("x"), y.parse().expect("y"))
                })
                .collect();
            let modules = places.iter().map(|(x, _)| x + 1).max().expect("squares");
            let step = size / (modules + 8);
            let drawn = RgbImage::from_fn(size, size, |x, y| {
                let at = ((x / step).wrapping_sub(4), (y / step).wrapping_sub(4));
                if places.contains(&at) {
                    Rgb([0, 0, 0])
                } else {
                    Rgb([255, 255, 255])
                }
            });
            let found = read(&drawn);
            assert_eq!(found.len(), 1);
            assert!(seen.contains(&found[0]), "{found:?}");
        }
    }
    let expected: BTreeSet<String> = (0..13)
        .map(|i| format!("T{i}"))
        .chain(["A1".to_string()])
        .collect();
    assert_eq!(seen, expected);
}

/// The square says a line's colour at a glance: a mixed line has none, and must not pass for a black one.
#[test]
fn a_mixed_line_has_no_square_of_a_colour() {
    let keeper = Keeper::empty("tags-mixed");
    for (tank, line) in [("B1", "black"), ("M1", "mixed")] {
        keeper.ok(&format!("tank add {tank} --line {line}"));
    }
    let squares = |tank: &str| {
        keeper.ok(&format!("tank tags {tank}.svg {tank}"));
        let svg = std::fs::read_to_string(keeper.0.0.join(format!("{tank}.svg"))).expect("the tag");
        svg.matches("width=\"7\" height=\"7\"").count()
    };
    assert_eq!((squares("B1"), squares("M1")), (1, 0));
}
