//! The page of a proof as a PDF: the same words as the page, read back by a reader of other people's making (poppler); the
//! photo upright and as it is; the same bytes each time; and nobody changes it unseen.
//!
//! Where poppler is missing its tests say so and pass; with CATCHCUP_PDF=must they fail.

#[path = "../it/support/dice.rs"]
mod dice;
#[path = "../it/support/lot.rs"]
mod lot;
#[path = "../it/support/picture.rs"]
#[allow(dead_code)]
mod picture;

use std::collections::BTreeMap;
use std::path::PathBuf;
use std::process::Command;

use catchcup::photo::Photo;
use catchcup::proof::key::Signed;
use catchcup::proof::make::{Published, assemble};
use catchcup::proof::manifest::{MANIFEST, PAGE, PDF, PDF_SIGNATURE, SIGNATURE, Said};
use catchcup::proof::verify::{Files, Formats, Verdict, check};
use catchcup::report::proof::FORMATS;
use dice::{Dice, one_byte};
use image::ExtendedColorType;
use lot::{VERSION, asked, draft, key, published_bytes};
use picture::{Entry, Extras, exif, jpeg, png};

const RED: &str = "red-clear-to-solid_8-animals.jpg";

fn sample(name: &str) -> Vec<u8> {
    let folder = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("sample-images");
    std::fs::read(folder.join(name)).expect("a sample")
}

fn published(bytes: &[u8], line: &str) -> Published {
    published_bytes("photo", bytes, line)
}

/// A proof with its PDF, signed with the first key.
fn proof(photo: &Published, line: &str, lot: &str) -> Files {
    made(photo, line, lot, FORMATS).expect("it is assembled")
}

fn made(
    photo: &Published,
    line: &str,
    lot: &str,
    formats: Formats,
) -> Result<Files, catchcup::error::Error> {
    let mut draft = draft(photo, line, 1, lot);
    draft.with_pdf = true;
    draft.manifest.tank = Some("A1 & <b>".into());
    draft.manifest.weaknesses = vec![Said {
        code: "one_place".into(),
        message: "all animals were netted from one place of the tank, so that it can't be told whether they stand for the others".into(),
    }];
    assemble(draft, &key(1), formats)
}

/// The answer and the code of what was found.
fn answer(files: &Files, formats: Formats) -> (Verdict, Option<&'static str>) {
    let found = check(files, &[], &asked(1), VERSION, formats);
    (found.verdict, found.faults.first().map(|fault| fault.code))
}

/// What a tool of poppler writes for a PDF; `None`, with a word about it, where it is missing.
fn poppler(tool: &str, name: &str, pdf: &[u8], args: &[&str]) -> Option<Vec<u8>> {
    let path = PathBuf::from(env!("CARGO_TARGET_TMPDIR")).join(format!("{name}.pdf"));
    std::fs::write(&path, pdf).expect("room for a file");
    let mut words: Vec<&str> = args.to_vec();
    let shown = path.display().to_string();
    words.push(&shown);
    if tool == "pdftotext" {
        words.push("-");
    }
    match Command::new(tool).args(words).output() {
        Ok(output) => {
            let said = String::from_utf8_lossy(&output.stderr).into_owned();
            assert!(output.status.success() && said.is_empty(), "{tool}: {said}");
            Some(output.stdout)
        }
        Err(why) => {
            assert!(
                std::env::var_os("CATCHCUP_PDF").is_none(),
                "{tool} can't be run: {why}"
            );
            eprintln!("left out: {tool} is missing (poppler-utils)");
            None
        }
    }
}

/// Words that the page shows, those drawn over the photo too.
fn words_of_page(page: &str) -> BTreeMap<String, u32> {
    let body = page.split("<body>").nth(1).expect("a body");
    let mut text = String::new();
    let mut rest = body;
    while let Some((before, tag)) = rest.split_once('<') {
        text += before;
        let (tag, after) = tag.split_once('>').expect("a whole tag");
        if !tag.trim_start_matches('/').starts_with("code") {
            text.push(' ');
        }
        rest = after;
    }
    let plain = text
        .replace("&lt;", "<")
        .replace("&gt;", ">")
        .replace("&quot;", "\"")
        .replace("&#39;", "'")
        .replace("&amp;", "&");
    counted(&plain)
}

fn counted(text: &str) -> BTreeMap<String, u32> {
    let mut all = BTreeMap::new();
    for word in text.split_whitespace() {
        *all.entry(word.to_string()).or_default() += 1;
    }
    all
}

/// Words of the PDF without the foot of each sheet and the dots of lists, which the page has no letters for.
fn words_of_pdf(name: &str, pdf: &[u8], title: &str) -> Option<(BTreeMap<String, u32>, usize)> {
    let text = poppler("pdftotext", name, pdf, &["-raw", "-enc", "UTF-8"])?;
    let text = String::from_utf8(text).expect("text");
    let sheets: Vec<&str> = text.split('\u{c}').filter(|s| !s.is_empty()).collect();
    let mut all = String::new();
    for (at, sheet) in sheets.iter().enumerate() {
        let foot = format!("Page {} of {}", at + 1, sheets.len());
        let (before, behind) = sheet.rsplit_once(&foot).expect("a foot");
        assert_eq!(behind.trim(), "", "nothing behind the foot");
        let before = before.trim_end().strip_suffix(title);
        all += before.expect("the title in the foot");
        all.push('\n');
    }
    Some((counted(&all.replace('\u{2022}', " ")), sheets.len()))
}

#[test]
fn the_pdf_says_what_the_page_says_and_no_more() {
    for (name, line, lot) in [
        (RED, "red", "L7"),
        ("orange-beside-chart_6-animals.jpg", "orange", "L 8 & co"),
        ("clutter-only_none.jpg", "red", "L9"),
    ] {
        let files = proof(&published(&sample(name), line), line, lot);
        let page = String::from_utf8(files[PAGE].clone()).expect("text");
        let title = page
            .split("<h1>")
            .nth(1)
            .and_then(|t| t.split("</h1>").next());
        let title = title.expect("a title").replace("&amp;", "&");
        let Some((found, sheets)) = words_of_pdf(line, &files[PDF], &title) else {
            return;
        };
        let expected = words_of_page(&page);
        let missing: Vec<_> = expected
            .iter()
            .filter(|(w, n)| found.get(*w) != Some(n))
            .collect();
        let more: Vec<_> = found
            .iter()
            .filter(|(w, n)| expected.get(*w) != Some(n))
            .collect();
        assert!(
            missing.is_empty() && more.is_empty(),
            "{name}: on the page {missing:?}, in the PDF {more:?}"
        );
        assert!(expected.values().sum::<u32>() > 300, "{name}");
        assert!((2..=5).contains(&sheets), "{name}: {sheets} sheets");
    }
}

#[test]
fn it_is_the_same_each_time_and_holds_the_photo_as_it_is() {
    let photo = published(&sample(RED), "red");
    let files = proof(&photo, "red", "L7");
    let pdf = &files[PDF];
    assert_eq!(*pdf, proof(&photo, "red", "L7")[PDF]);
    let holds = |part: &[u8]| pdf.windows(part.len()).any(|w| w == part);
    assert!(holds(&photo.photo), "byte for byte");
    assert!(holds(b"/MediaBox [0 0 595.276 841.89]"), "A4");
    for absent in [&b"/CreationDate"[..], b"/ModDate", b"/ID", b"/Metadata"] {
        assert!(!holds(absent), "{}", String::from_utf8_lossy(absent));
    }
    assert_eq!(answer(&files, FORMATS), (Verdict::Unchanged, None));
}

#[test]
fn nobody_changes_it_unseen() {
    let photo = published(&sample(RED), "red");
    let files = proof(&photo, "red", "L7");
    let other = proof(&photo, "red", "L8");
    let without = Formats {
        pdf: None,
        ..FORMATS
    };
    let found = check(&files, &[], &asked(1), VERSION, without);
    assert_eq!(found.verdict, Verdict::Unchanged);
    assert_eq!(found.remarks[0].code, "pdf_not_rebuilt");
    let mut dice = Dice(20_260_510);
    for run in 0..2000 {
        let mut changed = files.clone();
        let name = [PDF, PDF_SIGNATURE][usize::from(run % 10 == 0)];
        let bytes = changed.get_mut(name).expect("it is there");
        one_byte(bytes, &mut dice);
        if changed == files {
            continue;
        }
        for formats in [FORMATS, without] {
            let (verdict, code) = answer(&changed, formats);
            assert_eq!(
                (verdict, code),
                (Verdict::Changed, Some("pdf_signature")),
                "run {run}"
            );
        }
    }
    // Half of the pair, and a pair of another lot.
    for name in [PDF, PDF_SIGNATURE] {
        let mut half = files.clone();
        half.remove(name);
        assert_eq!(answer(&half, without).1, Some("missing_file"));
        half.insert(name.into(), other[name].clone());
        assert_eq!(answer(&half, without).1, Some("pdf_signature"));
    }
    // A seller who signs a PDF that says something else.
    let mut lie = files.clone();
    for name in [PDF, PDF_SIGNATURE] {
        lie.insert(name.into(), other[name].clone());
    }
    assert_eq!(answer(&lie, FORMATS), (Verdict::Changed, Some("pdf")));
    // Signed by another key.
    let mut foreign = files.clone();
    let signed = Signed {
        key: key(2).public(),
        signature: key(2).sign(&files[PDF]),
    };
    foreign.insert(PDF_SIGNATURE.into(), signed.write().into_bytes());
    assert_eq!(answer(&foreign, without).1, Some("pdf_signature"));
    // A later version that would write it otherwise names the version that wrote it.
    let later = Formats {
        pdf: Some(|_, _| Ok(b"%PDF-1.7".to_vec())),
        ..FORMATS
    };
    let found = check(&files, &[], &asked(1), "10.0.0", later);
    assert_eq!(found.verdict, Verdict::OtherProgram);
    // Without a PDF the folder is as it always was.
    let mut plain = files.clone();
    plain.remove(PDF);
    plain.remove(PDF_SIGNATURE);
    assert_eq!(answer(&plain, FORMATS), (Verdict::Unchanged, None));
    assert!(plain.contains_key(MANIFEST) && plain.contains_key(SIGNATURE));
}

#[test]
fn what_can_not_be_written_is_told() {
    let photo = published(&sample(RED), "red");
    let without = Formats {
        pdf: None,
        ..FORMATS
    };
    let code = |made: Result<Files, catchcup::error::Error>| made.expect_err("refused").code();
    assert_eq!(code(made(&photo, "red", "L7", without)), "no_pdf");
    let lot = "\u{8766}7";
    assert_eq!(code(made(&photo, "red", lot, FORMATS)), "pdf_letter");
}

/// The stored picture that a camera held in that way would write, so that the upright one is `upright`.
fn stored(upright: &image::RgbImage, orientation: u16) -> image::RgbImage {
    use image::imageops::{flip_horizontal, flip_vertical, rotate90, rotate180, rotate270};
    match orientation {
        2 => flip_horizontal(upright),
        3 => rotate180(upright),
        4 => flip_vertical(upright),
        5 => flip_horizontal(&rotate90(upright)),
        6 => rotate270(upright),
        7 => flip_vertical(&rotate90(upright)),
        8 => rotate90(upright),
        _ => upright.clone(),
    }
}

/// The first sheet as a picture, forty dots to the inch.
fn first_sheet(name: &str, pdf: &[u8]) -> Option<image::RgbImage> {
    let bytes = poppler(
        "pdftoppm",
        name,
        pdf,
        &["-r", "40", "-f", "1", "-l", "1", "-png"],
    )?;
    Some(
        image::load_from_memory(&bytes)
            .expect("a picture")
            .to_rgb8(),
    )
}

/// Mean difference of two sheets, levels.
fn apart(a: &image::RgbImage, b: &image::RgbImage) -> f64 {
    assert_eq!(a.dimensions(), b.dimensions());
    let sum: u64 = a
        .as_raw()
        .iter()
        .zip(b.as_raw())
        .map(|(a, b)| u64::from(a.abs_diff(*b)))
        .sum();
    sum as f64 / a.as_raw().len() as f64
}

/// However the camera was held, and whether the photo is a JPEG or a PNG, the sheet looks the same.
#[test]
fn the_photo_stands_upright() {
    let whole = Photo::from_bytes("a", sample(RED)).expect("a photo");
    let upright = whole.rgb8_upright();
    let (width, height) = (upright.width() / 2, upright.height() / 2);
    let upright = image::imageops::resize(
        &upright,
        width,
        height,
        image::imageops::FilterType::Triangle,
    );
    let pdf_of = |file: &[u8]| proof(&published(file, "red"), "red", "L7")[PDF].clone();
    let mut first = None;
    for orientation in 1..=8u16 {
        let picture = stored(&upright, orientation);
        let extras = Extras {
            exif: Some(exif(&[(0x0112, Entry::Short(orientation))])),
            icc: None,
        };
        let [w, h] = [picture.width(), picture.height()].map(|side| side as usize);
        let mut files = vec![jpeg(
            w,
            h,
            picture.as_raw(),
            ExtendedColorType::Rgb8,
            &extras,
        )];
        if orientation == 6 {
            files.push(png(w, h, picture.as_raw(), &extras));
        }
        for file in files {
            let Some(sheet) = first_sheet(&format!("way-{orientation}"), &pdf_of(&file)) else {
                return;
            };
            let first = first.get_or_insert_with(|| sheet.clone());
            // A shaded photo turned the wrong way round differs by far more: 20 levels and up.
            let apart = apart(first, &sheet);
            assert!(apart < 2.0, "orientation {orientation}: {apart}");
        }
    }
}
