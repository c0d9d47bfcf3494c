//! Damaged, lying and foreign files: an error with a cure, no panic, no wait.

use std::time::{Duration, Instant};

use catchcup::photo::{Limits, Photo};
use image::{DynamicImage, ExtendedColorType, ImageFormat, RgbImage};

use crate::support::picture::{Extras, gradient, jpeg, noise, png, png_check_sum};
use crate::support::room::{Room, err};

/// Far above what any of these files should take, far below what a decoded bomb would.
const QUICK: Duration = Duration::from_secs(5);

/// The code of the error for `file`, which must come quickly and with text for people.
#[track_caller]
fn code(file: &[u8]) -> &'static str {
    let start = Instant::now();
    let error = Photo::from_bytes("folder/bad.jpg", file).expect_err("an error");
    assert!(start.elapsed() < QUICK, "took {:?}", start.elapsed());
    assert!(!error.to_string().is_empty() && !error.hint().is_empty());
    assert!(
        !error.to_string().contains("folder"),
        "no folders in messages"
    );
    error.code()
}

fn good_jpeg() -> Vec<u8> {
    jpeg(
        640,
        480,
        &gradient(640, 480),
        ExtendedColorType::Rgb8,
        &Extras::default(),
    )
}

#[test]
fn cut_off_files_are_errors() {
    let rgb = noise(300, 240, 3);
    let files = [
        jpeg(300, 240, &rgb, ExtendedColorType::Rgb8, &Extras::default()),
        good_jpeg(),
        png(300, 240, &rgb, &Extras::default()),
    ];
    for file in files {
        for share in [0.999, 0.99, 0.9, 0.5, 0.1, 0.01] {
            let cut = (file.len() as f64 * share) as usize;
            // The marker for the end (two bytes of JPEG) may be missing without loss; more may not.
            if file.len() - cut > 16 {
                assert_eq!(
                    code(&file[..cut]),
                    "photo_damaged",
                    "{share} of {} bytes",
                    file.len()
                );
            }
        }
        for cut in 4..64 {
            code(&file[..cut]);
        }
    }
}

/// A cut-off file that someone gave an end marker again looks whole; it must not come back filled up with grey.
#[test]
fn cut_off_files_with_an_end_marker_are_errors() {
    let file = jpeg(
        400,
        400,
        &noise(400, 400, 9),
        ExtendedColorType::Rgb8,
        &Extras::default(),
    );
    for cut in (file.len() / 3..file.len() - 64).step_by(file.len() / 40) {
        let mut mended = file[..cut].to_vec();
        mended.extend([0xFF, 0xD9]);
        assert_eq!(code(&mended), "photo_damaged", "{cut} of {}", file.len());
    }
}

/// Previews and other things behind the end of the picture are none of its business.
#[test]
fn what_follows_the_picture_is_left_alone() {
    let file = good_jpeg();
    let plain = Photo::from_bytes("x", &file).expect("a photo");
    for tail in [good_jpeg(), vec![0; 5000], b"made with care".to_vec()] {
        let longer = Photo::from_bytes("x", [file.clone(), tail].concat()).expect("a photo");
        assert_eq!(longer.rgb8_upright(), plain.rgb8_upright());
    }
}

#[test]
fn flipped_bytes_never_panic() {
    for file in [
        good_jpeg(),
        png(300, 240, &noise(300, 240, 5), &Extras::default()),
    ] {
        let whole = Photo::from_bytes("x", &file).expect("a photo");
        for at in (0..file.len()).step_by(file.len() / 400 + 1) {
            let mut bad = file.clone();
            bad[at] ^= 0xFF;
            let start = Instant::now();
            if let Ok(photo) = Photo::from_bytes("x", &bad) {
                assert_ne!(photo.sha256, whole.sha256);
                photo.reduced(3);
            }
            assert!(start.elapsed() < QUICK);
        }
    }
}

/// Where the size stands in the frame header of a JPEG: height, then width.
fn frame_size_at(jpeg: &[u8]) -> usize {
    jpeg.windows(2)
        .position(|w| w[0] == 0xFF && (w[1] == 0xC0 || w[1] == 0xC2))
        .expect("a frame header")
        + 5
}

fn with_size(mut jpeg: Vec<u8>, width: u16, height: u16) -> Vec<u8> {
    let at = frame_size_at(&jpeg);
    jpeg[at..at + 2].copy_from_slice(&height.to_be_bytes());
    jpeg[at + 2..at + 4].copy_from_slice(&width.to_be_bytes());
    jpeg
}

#[test]
fn lies_about_the_size_are_caught_on_the_header() {
    assert_eq!(
        code(&with_size(good_jpeg(), 16_000, 16_000)),
        "photo_too_large"
    );
    assert_eq!(
        code(&with_size(good_jpeg(), 65_535, 65_535)),
        "photo_too_large"
    );
    assert_eq!(code(&with_size(good_jpeg(), 9_900, 9_900)), "photo_damaged");
    assert_eq!(code(&with_size(good_jpeg(), 0, 480)), "photo_damaged");
    assert_eq!(code(&with_size(good_jpeg(), 100, 100)), "photo_too_small");
}

/// A PNG header with a true check sum, then as few data as one likes.
fn png_header(width: u32, height: u32) -> Vec<u8> {
    let mut file = png(200, 200, &[0; 120_000], &Extras::default());
    file[16..20].copy_from_slice(&width.to_be_bytes());
    file[20..24].copy_from_slice(&height.to_be_bytes());
    let sum = png_check_sum(&file[12..29]);
    file[29..33].copy_from_slice(&sum.to_be_bytes());
    file
}

#[test]
fn png_bombs_are_caught_on_the_header() {
    assert_eq!(code(&png_header(30_000, 30_000)), "photo_too_large");
    assert_eq!(code(&png_header(60_000, 60_000)), "photo_too_large");
    assert_eq!(code(&png_header(9_000, 9_000)), "photo_damaged");
    assert_eq!(code(&png_header(0, 9_000)), "photo_damaged");
    assert_eq!(code(&png_header(201, 200)), "photo_damaged");
}

/// A chunk of a PNG file.
fn chunk(name: &[u8; 4], content: &[u8]) -> Vec<u8> {
    let named = [name.as_slice(), content].concat();
    let length = (content.len() as u32).to_be_bytes();
    [
        length.to_vec(),
        named.clone(),
        png_check_sum(&named).to_be_bytes().to_vec(),
    ]
    .concat()
}

/// Found by changed bytes: the decoder looks at the first whole colour of a palette, even where there is none.
#[test]
fn png_palettes_without_a_whole_colour_are_damage() {
    let grey = image::GrayImage::new(300, 300);
    let mut file = std::io::Cursor::new(Vec::new());
    grey.write_to(&mut file, image::ImageFormat::Png)
        .expect("a PNG file");
    let mut file = file.into_inner();
    file[25] = 3;
    let sum = png_check_sum(&file[12..29]);
    file[29..33].copy_from_slice(&sum.to_be_bytes());
    for palette in [&[][..], &[1], &[1, 2], &[1, 2, 3, 4]] {
        let mut bad = file.clone();
        bad.splice(33..33, chunk(b"PLTE", palette));
        assert_eq!(code(&bad), "photo_damaged", "{palette:?}");
    }
    file.splice(33..33, chunk(b"PLTE", &[200, 100, 50]));
    assert!(Photo::from_bytes("x", &file).is_ok());
}

#[test]
fn pictures_that_take_too_much_memory_are_refused() {
    let limits = Limits {
        most_decoded_bytes: 200 * 200 * 3 - 1,
        ..Limits::default()
    };
    let file = png(200, 200, &[9; 120_000], &Extras::default());
    let error = Photo::from_bytes_within("x", &file, &limits).expect_err("too large");
    assert_eq!(error.code(), "photo_too_large");
    assert!(Photo::from_bytes("x", &file).is_ok());
}

#[test]
fn pictures_without_three_colours_get_a_clear_answer() {
    let grey = vec![99; 300 * 300];
    assert_eq!(
        code(&jpeg(
            300,
            300,
            &grey,
            ExtendedColorType::L8,
            &Extras::default()
        )),
        "photo_not_colour"
    );
    let mut file = std::io::Cursor::new(Vec::new());
    let picture = image::GrayImage::from_raw(300, 300, grey).expect("a picture");
    picture
        .write_to(&mut file, image::ImageFormat::Png)
        .expect("a PNG file");
    assert_eq!(code(file.get_ref()), "photo_not_colour");
    assert_eq!(code(&four_channels()), "photo_not_colour");
}

/// A JPEG header with four components as used for printing (ITU-T T.81 annex B), and bytes in place of data.
fn four_channels() -> Vec<u8> {
    let mut file = good_jpeg();
    let at = frame_size_at(&file);
    let scan = file
        .windows(2)
        .position(|w| w == [0xFF, 0xDA])
        .expect("a scan header");
    let mut four = file[..at - 5].to_vec();
    four.extend([0xFF, 0xC0, 0, 20, 8, 1, 44, 1, 44, 4]);
    (1..=4).for_each(|id| four.extend([id, 0x11, 0]));
    let frame_end = at - 3 + usize::from(file[at - 2]);
    four.extend(file.drain(frame_end..scan).collect::<Vec<_>>());
    four.extend([0xFF, 0xDA, 0, 14, 4, 1, 0, 2, 0, 3, 0, 4, 0, 0, 63, 0]);
    four.extend([0x55; 4000]);
    four
}

#[test]
fn other_files_are_named() {
    assert_eq!(code(b""), "photo_empty");
    assert_eq!(
        code(b"Dear Sir or Madam, here are my shrimp"),
        "photo_not_a_picture"
    );
    assert_eq!(
        code(b"\0\0\0\x18ftypavif\0\0\0\0mif1miaf"),
        "photo_format_not_read"
    );
    assert_eq!(code(b"GIF89a\x01\0\x01\0"), "photo_format_not_read");
    let heic = code(b"\0\0\0\x18ftypheic\0\0\0\0mif1heic");
    assert_eq!(
        heic,
        if cfg!(feature = "heic") {
            "photo_damaged"
        } else {
            "photo_format_not_read"
        }
    );
    assert_eq!(code(b"RIFF\x10\0\0\0WEBPVP8 "), "photo_damaged");
    assert_eq!(code(b"II\x2a\0\x08\0\0\0"), "photo_damaged");
    assert_eq!(code(b"\xFF\xD8"), "photo_damaged");
    assert_eq!(code(b"\x89PNG\r\n\x1a\n"), "photo_damaged");
    assert_eq!(code(&vec![b' '; 65 << 20]), "photo_file_too_large");
}

/// Collected odd files that are not part of the repository: each is read or gives an error, none panics or stalls.
#[test]
fn collected_odd_files() {
    let folder = std::env::var_os("CATCHCUP_ODD_PHOTOS").map_or_else(
        || crate::support::root().join("../shared/photos/odd"),
        std::path::PathBuf::from,
    );
    if !folder.is_dir() {
        println!(
            "SKIPPED: no folder of odd photos at {} (set CATCHCUP_ODD_PHOTOS)",
            folder.display()
        );
        return;
    }
    let (mut read, mut refused) = (0, 0);
    for kind in std::fs::read_dir(&folder)
        .expect("a folder")
        .flatten()
        .filter(|e| e.path().is_dir())
    {
        for entry in std::fs::read_dir(kind.path())
            .expect("a folder")
            .flatten()
            .filter(|e| e.path().is_file())
        {
            let bytes = std::fs::read(entry.path()).expect("a file");
            let start = Instant::now();
            match Photo::from_bytes(&entry.file_name().to_string_lossy(), &bytes) {
                Ok(photo) => {
                    photo.reduced(3);
                    read += 1;
                }
                Err(error) => {
                    assert!(!error.hint().is_empty());
                    refused += 1;
                }
            }
            assert!(
                start.elapsed() < QUICK,
                "{:?} took {:?}",
                entry.file_name(),
                start.elapsed()
            );
        }
    }
    println!("odd photos: {read} read, {refused} refused with a message");
    assert!(read > 0 && refused > 0);
}

/// A TIFF file in whose entry for `tag` a text of `count` letters stands instead of numbers.
fn with_text(plain: &[u8], tag: u16, count: u32) -> Vec<u8> {
    let mut file = plain.to_vec();
    let first = u32::from_le_bytes(file[4..8].try_into().expect("four bytes")) as usize;
    let entries = usize::from(u16::from_le_bytes([file[first], file[first + 1]]));
    let at = (0..entries)
        .map(|i| first + 2 + 12 * i)
        .find(|&at| file[at..at + 2] == tag.to_le_bytes())
        .expect("the entry");
    file[at + 2..at + 4].copy_from_slice(&2_u16.to_le_bytes());
    file[at + 4..at + 8].copy_from_slice(&count.to_le_bytes());
    file
}

/// The decoder (tiff 0.11) prints a line about itself to the terminal where a text is longer than its bound of 256 MiB, later
/// of the picture's own bytes.
#[test]
fn long_texts_in_a_tiff_are_kept_from_its_decoder() {
    let room = Room::new("long-texts");
    let picture = RgbImage::from_raw(300, 300, noise(300, 300, 5)).expect("a picture");
    let mut plain = std::io::Cursor::new(Vec::new());
    DynamicImage::ImageRgb8(picture)
        .write_to(&mut plain, ImageFormat::Tiff)
        .expect("an encoder of the image crate");
    let plain = plain.into_inner();
    for tag in [256, 258, 262, 273, 279] {
        for count in [70_000, 280_000, 300_000_000] {
            room.file("text.tif", with_text(&plain, tag, count));
            let run = room.run(&["grade", "text.tif", "--line", "red"]);
            let told = err(&run);
            assert_eq!(run.status.code(), Some(1), "{tag} {count}");
            assert!(!told.contains("src/"), "{tag} {count}: {told}");
            let file = with_text(&plain, tag, count);
            assert_eq!(code(&file), "photo_damaged", "{tag} {count}");
        }
    }
}
