//! Small files to start from, most of them made here.

use std::io::Cursor;

use image::codecs::jpeg::JpegEncoder;
use image::{DynamicImage, ExtendedColorType, ImageEncoder, ImageFormat, RgbImage, RgbaImage};
use moxcms::ColorProfile;

use crate::picture::{Entry, Extras, exif, gradient, jpeg, noise, png};
use crate::record_scoop::full_scoop;

fn stored(name: &str) -> Vec<u8> {
    let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/data/formats");
    std::fs::read(format!("{folder}/{name}")).expect(name)
}

fn written(picture: impl Into<DynamicImage>, format: ImageFormat) -> Vec<u8> {
    let mut bytes = Cursor::new(Vec::new());
    let picture: DynamicImage = picture.into();
    picture
        .write_to(&mut bytes, format)
        .expect("an encoder of the image crate");
    bytes.into_inner()
}

fn rgb(width: u32, height: u32) -> RgbImage {
    RgbImage::from_raw(width, height, gradient(width as usize, height as usize)).expect("pixels")
}

fn rgba(side: u32) -> RgbaImage {
    RgbaImage::from_fn(side, side, |x, y| {
        image::Rgba([x as u8 * 9, y as u8 * 9, 77, (x * y) as u8])
    })
}

fn deep(side: u32) -> DynamicImage {
    DynamicImage::ImageRgb8(rgb(side, side)).into_rgb16().into()
}

/// Capture data with the entries that the program reads.
fn capture() -> Vec<u8> {
    exif(&[
        (0x010F, Entry::Text("Acme")),
        (0x0110, Entry::Text("Acme One")),
        (0x0112, Entry::Short(6)),
        (0x0132, Entry::Text("2026:01:01 08:30:39")),
        (0x8827, Entry::Short(100)),
        (0xA401, Entry::Short(2)),
        (0xA406, Entry::Short(3)),
    ])
}

/// Capture data with a second directory, a rational number, and bytes the other way round.
fn capture_nested() -> Vec<u8> {
    let mut block = b"MM\0\x2a\0\0\0\x08\0\x02".to_vec();
    let entry = |tag: u16, kind: u16, count: u32, value: u32| {
        let wide = [tag.to_be_bytes(), kind.to_be_bytes()].concat();
        [
            wide,
            count.to_be_bytes().to_vec(),
            value.to_be_bytes().to_vec(),
        ]
        .concat()
    };
    block.extend(entry(0x0112, 3, 1, 8 << 16));
    block.extend(entry(0x8769, 4, 1, 38));
    block.extend([0; 4]);
    block.extend([0, 4]);
    block.extend(entry(0x829A, 5, 1, 92));
    block.extend(entry(0x829D, 5, 1, 100));
    block.extend(entry(0x9003, 2, 20, 108));
    block.extend(entry(0x9209, 3, 1, 1 << 16));
    block.extend([0; 4]);
    block.extend([0, 0, 0, 1, 0, 0, 0, 60, 0, 0, 0, 18, 0, 0, 0, 10]);
    block.extend(b"2026:01:01 08:30:39\0");
    block
}

fn extras() -> Extras {
    Extras {
        exif: Some(capture()),
        icc: None,
    }
}

fn baseline(side: usize, quality: u8) -> Vec<u8> {
    let mut file = Vec::new();
    JpegEncoder::new_with_quality(&mut file, quality)
        .write_image(
            &noise(side, side, 5),
            side as u32,
            side as u32,
            ExtendedColorType::Rgb8,
        )
        .expect("a JPEG file");
    file
}

pub fn jpegs() -> Vec<Vec<u8>> {
    vec![
        baseline(8, 60),
        baseline(16, 30),
        jpeg(
            24,
            16,
            &gradient(24, 16),
            ExtendedColorType::Rgb8,
            &extras(),
        ),
        jpeg(
            16,
            16,
            &noise(16, 16, 1)[..256],
            ExtendedColorType::L8,
            &Extras::default(),
        ),
        stored("small.progressive.jpg"),
        stored("small.restart.jpg"),
    ]
}

pub fn pngs() -> Vec<Vec<u8>> {
    vec![
        png(8, 8, &gradient(8, 8), &Extras::default()),
        png(16, 9, &noise(16, 9, 2), &extras()),
        written(rgba(12), ImageFormat::Png),
        written(deep(8), ImageFormat::Png),
        written(
            DynamicImage::ImageRgb8(rgb(8, 8)).into_luma8(),
            ImageFormat::Png,
        ),
        painted_by_palette(),
    ]
}

/// A PNG file whose pixels are numbers of a palette, interlaced by a flag that the writer did not mean.
fn painted_by_palette() -> Vec<u8> {
    let mut file = written(
        DynamicImage::ImageRgb8(rgb(8, 8)).into_luma8(),
        ImageFormat::Png,
    );
    file[25] = 3;
    let palette = [b"\0\0\0\x0CPLTE".as_slice(), &[200; 12], &[0; 4]].concat();
    file.splice(33..33, palette);
    file
}

pub fn webps() -> Vec<Vec<u8>> {
    vec![
        written(rgb(8, 8), ImageFormat::WebP),
        written(rgba(9), ImageFormat::WebP),
        stored("small.webp"),
        with_profile(&ColorProfile::new_srgb().encode().expect("a profile")),
    ]
}

pub fn tiffs() -> Vec<Vec<u8>> {
    vec![
        written(rgb(8, 8), ImageFormat::Tiff),
        written(deep(8), ImageFormat::Tiff),
        written(rgba(6), ImageFormat::Tiff),
        written(
            DynamicImage::ImageRgb8(rgb(8, 8)).into_rgb32f(),
            ImageFormat::Tiff,
        ),
    ]
}

pub fn heics() -> Vec<Vec<u8>> {
    vec![stored("small.heic")]
}

pub fn captures() -> Vec<Vec<u8>> {
    vec![capture(), capture_nested()]
}

pub fn profiles() -> Vec<Vec<u8>> {
    let profiles = [
        ColorProfile::new_srgb(),
        ColorProfile::new_display_p3(),
        ColorProfile::new_adobe_rgb(),
        ColorProfile::new_gray_with_gamma(2.2),
    ];
    profiles.map(|p| p.encode().expect("a profile")).to_vec()
}

/// A WebP file of one pixel with a colour profile: the cheapest picture around one.
pub fn with_profile(icc: &[u8]) -> Vec<u8> {
    let plain = written(RgbImage::new(1, 1), ImageFormat::WebP);
    let chunk = |name: &[u8], content: &[u8]| {
        let mut chunk = [name, &(content.len() as u32).to_le_bytes(), content].concat();
        chunk.resize(chunk.len() + content.len() % 2, 0);
        chunk
    };
    let picture = &plain[12..];
    let body = [
        b"WEBP".to_vec(),
        chunk(b"VP8X", &[0x20, 0, 0, 0, 0, 0, 0, 0, 0, 0]),
        chunk(b"ICCP", icc),
        picture.to_vec(),
    ]
    .concat();
    chunk(b"RIFF", &body)
}

pub fn rules() -> Vec<Vec<u8>> {
    let short = "schema = \"catchcup.ladder/1\"\nline = \"red\"\ntitle = \"red\"\n[colour]\ncarried_in = \"shell\"\n\
        hue = { from_deg = 350, to_deg = 50 }\nfull = [[0.5, 0.1, 0.1]]\nclear = [0.7, 0.7, 0.7]\n";
    let rung = |n: usize, limit: f64| {
        format!("[[rung]]\nrung = \"G{n}\"\nlabel = \"l\"\ncoverage = {{ at_least = {limit} }}\n")
    };
    let rungs: String = (1..=5).rev().map(|n| rung(n, n as f64 / 6.0)).collect();
    let built_in = include_str!("../../grading-rules/rili-red.toml");
    let plain: Vec<&str> = built_in.lines().filter(|l| !l.starts_with('#')).collect();
    vec![
        format!("{short}{rungs}[[rung]]\nrung = \"G0\"\n").into_bytes(),
        plain.join("\n").into_bytes(),
    ]
}

pub fn records() -> Vec<Vec<u8>> {
    let record = catchcup::report::record_json(&full_scoop());
    let error = r#"{"schema":"catchcup.error/1","photo":{"file":"a.jpg"},"error":{"code":"io","message":"m","hint":"h"}}"#;
    vec![
        record.clone().into_bytes(),
        format!("{error}\n{record}\n").into_bytes(),
    ]
}

/// A tag of a tank, three pixels to a module.
pub fn tag() -> (usize, Vec<u8>) {
    let code = qrcode::QrCode::new(catchcup::photo::tag::text_of("a3")).expect("a code");
    let (modules, quiet) = (code.width(), 4);
    let side = (modules + 2 * quiet) * 3;
    let colours = code.to_colors();
    let dark = |i: usize| {
        let (x, y) = (
            (i % side / 3).wrapping_sub(quiet),
            (i / side / 3).wrapping_sub(quiet),
        );
        x < modules && y < modules && colours[y * modules + x] == qrcode::Color::Dark
    };
    (
        side,
        (0..side * side)
            .map(|i| if dark(i) { 0 } else { 255 })
            .collect(),
    )
}
