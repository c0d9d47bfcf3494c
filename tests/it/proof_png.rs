//! A PNG photo in a proof: published by an allow-list of chunks, measured the same, checked like a JPEG.

use std::collections::BTreeMap;

use catchcup::photo::Photo;
use catchcup::photo::strip;
use catchcup::proof::Manifest;
use catchcup::proof::manifest::{KIND, KIND_PNG, MANIFEST, PHOTO, PHOTO_PNG};
use catchcup::proof::verify::{Asked, Verdict, check};
use catchcup::report::proof::FORMATS;
use image::imageops::FilterType;

use crate::proof_tamper::{proof, published, verdict};
use crate::support::keeper::Keeper;
use crate::support::lot::{VERSION, asked, published_bytes};
use crate::support::picture::{Entry, Extras, exif, png, png_check_sum};
use crate::support::room::{err, out};
use crate::support::root;

const SAMPLE: &str = "red-clear-to-solid_8-animals.jpg";

/// Chunks that may stand in a published PNG: those that the published standard (W3C, Portable Network Graphics, third edition,
/// chapter 11) gives the picture or its colour space to, and the note of the orientation.
const ALLOWED: [&[u8; 4]; 12] = [
    b"IHDR", b"PLTE", b"IDAT", b"IEND", b"tRNS", b"sRGB", b"gAMA", b"cHRM", b"iCCP", b"cICP",
    b"sBIT", b"eXIf",
];

/// A sample at half its size as a PNG, upside down with a note that says so, and with all that a file may carry beside.
pub fn sample_png(name: &str) -> Vec<u8> {
    let bytes = std::fs::read(root().join("sample-images").join(name)).expect("a sample");
    let whole = image::load_from_memory(&bytes).expect("a picture");
    let half = whole.resize(whole.width() / 2, whole.height() / 2, FilterType::Triangle);
    let turned = half.rotate180().to_rgb8();
    let extras = Extras {
        exif: Some(exif(&[
            (0x010F, Entry::Text("Fenwick camera")),
            (0x0112, Entry::Short(3)),
            (0x0132, Entry::Text("2026:01:01 08:30:39")),
        ])),
        icc: None,
    };
    let plain = png(
        turned.width() as usize,
        turned.height() as usize,
        turned.as_raw(),
        &extras,
    );
    with_secrets(&plain)
}

/// The same file with texts, time, places, a preview and further chunks put in ahead of the picture, and a trailer.
fn with_secrets(plain: &[u8]) -> Vec<u8> {
    let mut file = plain[..8 + 25].to_vec();
    for (kind, content) in [
        (b"gAMA", &b"\0\0\xb1\x8f"[..]),
        (b"sRGB", b"\0"),
        (b"tEXt", b"Author\0Fenwick"),
        (
            b"iTXt",
            b"XML:com.adobe.xmp\0\0\0\0\0<x>GPS 2026 http://</x>",
        ),
        (b"zTXt", b"Raw profile type iptc\0\0Fenwick"),
        (b"tIME", b"\x07\xea\x01\x01\x08\x1e\x27"),
        (b"pHYs", b"\0\0\x0b\x13\0\0\x0b\x13\x01"),
        (b"caBX", b"Fenwick"),
        (b"prVt", b"http://Fenwick"),
    ] {
        file.extend(chunk(kind, content));
    }
    file.extend(&plain[8 + 25..]);
    file.extend(b"Fenwick GPS 2026 http://");
    file
}

fn chunk(kind: &[u8; 4], content: &[u8]) -> Vec<u8> {
    let named = [&kind[..], content].concat();
    let length = (content.len() as u32).to_be_bytes();
    [&length[..], &named, &png_check_sum(&named).to_be_bytes()].concat()
}

/// Kind and content of every chunk up to the end, check sums held against the tests' own.
fn chunks(file: &[u8]) -> Vec<([u8; 4], Vec<u8>)> {
    let mut all = Vec::new();
    let mut at = 8;
    while at < file.len() {
        let number =
            |at: usize| u32::from_be_bytes(file[at..at + 4].try_into().expect("four bytes"));
        let length = number(at) as usize;
        let named = &file[at + 4..at + 8 + length];
        assert_eq!(png_check_sum(named), number(at + 8 + length));
        all.push((named[..4].try_into().expect("four"), named[4..].to_vec()));
        at += 12 + length;
        if &named[..4] == b"IEND" {
            break;
        }
    }
    all
}

fn data(file: &[u8]) -> Vec<Vec<u8>> {
    let all = chunks(file).into_iter();
    all.filter(|(kind, _)| kind == b"IDAT")
        .map(|(_, content)| content)
        .collect()
}

#[test]
fn the_published_png_says_nothing_but_the_picture() {
    let original = sample_png(SAMPLE);
    let stripped = strip::published(&original).expect("it is stripped");
    let end = chunks(&stripped);
    for (kind, _) in &end {
        assert!(ALLOWED.contains(&kind), "{}", String::from_utf8_lossy(kind));
    }
    let length: usize = end.iter().map(|(_, content)| content.len() + 12).sum();
    assert_eq!(length + 8, stripped.len(), "nothing behind the end");
    assert_eq!(data(&stripped), data(&original), "the picture's bytes");
    let of = |kind: &[u8; 4]| end.iter().find(|(k, _)| k == kind).map(|(_, c)| c.clone());
    assert_eq!(of(b"sRGB").as_deref(), Some(&b"\0"[..]));
    assert_eq!(
        of(b"eXIf").as_deref(),
        Some(&b"MM\0\x2A\0\0\0\x08\0\x01\x01\x12\0\x03\0\0\0\x01\0\x03\0\0\0\0\0\0"[..]),
        "which way is up, and no more"
    );
    let text = String::from_utf8_lossy(&stripped);
    for word in ["Fenwick", "2026", "GPS", "http"] {
        assert!(String::from_utf8_lossy(&original).contains(word));
        assert!(!text.contains(word), "{word}");
    }
    let [before, after] =
        [&original, &stripped].map(|bytes| Photo::from_bytes("a.png", bytes).expect("a photo"));
    assert_eq!(after.capture, Default::default());
    assert_eq!(before.rgb8_upright(), after.rgb8_upright());
    assert_eq!(strip::published(&stripped).expect("its own work"), stripped);
}

/// A palette with transparency, written by hand with stored blocks, so that no encoder's habits are relied on.
#[test]
fn palette_and_transparency_go_along() {
    let (width, height) = (320usize, 240usize);
    let mut rows = Vec::new();
    for y in 0..height {
        rows.push(0);
        rows.extend((0..width).map(|x| ((x / 40 + y / 40) % 3) as u8));
    }
    let mut packed = vec![0x78, 0x01];
    let blocks: Vec<&[u8]> = rows.chunks(60_000).collect();
    for (at, block) in blocks.iter().enumerate() {
        let length = block.len() as u16;
        packed.push(u8::from(at + 1 == blocks.len()));
        packed.extend(length.to_le_bytes());
        packed.extend((!length).to_le_bytes());
        packed.extend(*block);
    }
    let (a, b) = rows.iter().fold((1u32, 0u32), |(a, b), byte| {
        let a = (a + u32::from(*byte)) % 65_521;
        (a, (b + a) % 65_521)
    });
    packed.extend((b << 16 | a).to_be_bytes());
    let mut header = Vec::new();
    header.extend((width as u32).to_be_bytes());
    header.extend((height as u32).to_be_bytes());
    header.extend([8, 3, 0, 0, 0]);
    let mut file = b"\x89PNG\r\n\x1a\n".to_vec();
    for (kind, content) in [
        (b"IHDR", &header[..]),
        (b"PLTE", b"\xff\xff\xff\xc0\x20\x10\x30\x40\x50"),
        (b"tRNS", b"\xff\x80"),
        (b"tEXt", b"Comment\0Fenwick"),
        (b"IDAT", &packed[..1000]),
        (b"IDAT", &packed[1000..]),
        (b"IEND", b""),
    ] {
        file.extend(chunk(kind, content));
    }
    let stripped = strip::published(&file).expect("it is stripped");
    let mut expected = chunks(&file);
    expected.retain(|(kind, _)| kind != b"tEXt");
    assert_eq!(chunks(&stripped), expected);
    let [before, after] =
        [&file, &stripped].map(|bytes| Photo::from_bytes("a.png", bytes).expect("a photo"));
    assert_eq!(before.rgb8_upright(), after.rgb8_upright());
    assert_eq!(before.doubts, after.doubts);
    assert_eq!(before.doubts.len(), 1, "transparent: {:?}", before.doubts);
}

#[test]
fn a_png_is_proved_like_a_jpeg() {
    let png = published_bytes("lot.png", &sample_png(SAMPLE), "red");
    let files = proof(&png, "red", 1);
    assert!(files.contains_key(PHOTO_PNG) && !files.contains_key(PHOTO));
    assert!(png.animals.len() >= 8, "{}", png.animals.len());
    assert_eq!(verdict(&files, &asked(1)), Verdict::Unchanged);
    let page = String::from_utf8(files["page.html"].clone()).expect("text");
    assert!(page.contains("url(data:image/png;base64,iVBORw0KGgo"));
    let original = Asked {
        original: Some(sample_png(SAMPLE)),
        ..asked(1)
    };
    let found = check(&files, &[], &original, VERSION, FORMATS);
    assert_eq!(found.verdict, Verdict::Unchanged, "{:?}", found.faults);

    // Versions: what a JPEG's proof says is as it was; a PNG's is of a later kind and lists its own photo alone.
    let jpeg = proof(&published(SAMPLE, "red"), "red", 1);
    let kind = |files: &BTreeMap<String, Vec<u8>>| {
        let text = String::from_utf8(files[MANIFEST].clone()).expect("text");
        let value: serde_json::Value = serde_json::from_str(&text).expect("JSON");
        (value["schema"].as_str().expect("a kind").to_string(), text)
    };
    assert_eq!(kind(&jpeg).0, KIND);
    let (name, text) = kind(&files);
    assert_eq!(name, KIND_PNG);
    for other in [
        text.replace(KIND_PNG, KIND),
        text.replace(PHOTO_PNG, PHOTO),
        text.replace(KIND_PNG, "catchcup.proof/3"),
    ] {
        assert!(Manifest::read(other.as_bytes()).is_err(), "{other}");
    }
    // One photo, not two.
    let mut two = files.clone();
    two.insert(PHOTO.into(), jpeg[PHOTO].clone());
    let found = check(&two, &[], &asked(1), VERSION, FORMATS);
    assert_eq!(found.faults[0].code, "odd_file");
}

#[test]
fn the_command_makes_and_checks_it() {
    let keeper = Keeper::new("proof-png");
    keeper.0.file("lot.png", sample_png(SAMPLE));
    let make = "proof make lot.png --line red --lot L7 --into p --keys keys";
    let made = keeper.run(make);
    assert_eq!(made.status.code(), Some(0), "{}", err(&made));
    let checked = keeper.0.run(&["proof", "check", "p"]);
    assert_eq!(checked.status.code(), Some(3), "{}", out(&checked));
    let other = "GIF89a".to_string() + &"x".repeat(100);
    keeper.0.file("lot.gif", other);
    assert_eq!(
        keeper
            .run("proof make lot.gif --line red --lot L7 --into q --keys keys")
            .status
            .code(),
        Some(2)
    );
}
