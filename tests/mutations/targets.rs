//! What is fed with changed bytes, and what must hold of the answer.

use std::sync::OnceLock;

use catchcup::error::Error;
use catchcup::ladder::{Ladder, Rung, Shelf, load, place};
use catchcup::photo::{CaptureInfo, Limits, Photo, capture, tag};
use catchcup::report::wire::stored::stored_scoops;
use catchcup::report::{overlay_jpeg, record_json};
use catchcup::scene::CupSpec;
use catchcup::scoop::{MinutesRule, Netted, Order, grade_photo};

use super::draw::Draw;
use super::parts::Container;
use super::{bytes, entries, paint, parts, seeds, tokens};

/// Changes one seed: the draw, the seed, and all seeds of the target to splice from.
pub type Change = fn(&mut Draw, &[u8], &[Vec<u8>]) -> Vec<u8>;

/// One thing that reads bytes from outside.
pub struct Target {
    pub name: &'static str,
    /// Runs in a hundred thousand.
    pub share: usize,
    pub seeds: Vec<Vec<u8>>,
    /// A copy of the first with one change, with pieces of the others.
    pub change: Change,
    /// Reads the bytes and checks what must hold.
    pub run: fn(&[u8]) -> Outcome,
}

/// What came of a run.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Outcome {
    /// The bytes were read; the word says as what.
    Read(String),
    /// They were refused; the word says why.
    Refused(String),
}

/// All of them. Shares follow from what a run costs, so that none takes most of the time.
pub fn targets() -> Vec<Target> {
    let target = |name, share, seeds, change, run| Target {
        name,
        share,
        seeds,
        change,
        run,
    };
    vec![
        target("jpeg", 4_000, seeds::jpegs(), change_jpeg, |b| {
            small(b, usize::MAX)
        }),
        target("jpeg-half", 3_000, seeds::jpegs(), change_jpeg, |b| {
            small(b, 0)
        }),
        target("png", 7_000, seeds::pngs(), change_png, |b| {
            small(b, usize::MAX)
        }),
        target("webp", 6_000, seeds::webps(), change_webp, |b| {
            small(b, usize::MAX)
        }),
        target("tiff", 8_000, seeds::tiffs(), change_tiff, |b| {
            small(b, usize::MAX)
        }),
        target("heic", 3_000, seeds::heics(), change_heic, |b| {
            small(b, usize::MAX)
        }),
        target(
            "exif",
            44_000,
            seeds::captures(),
            change_capture,
            read_capture,
        ),
        target(
            "profile",
            6_000,
            seeds::profiles(),
            change_profile,
            read_profile,
        ),
        target("rules", 9_000, seeds::rules(), tokens::change, read_rules),
        target(
            "record",
            9_850,
            seeds::records(),
            tokens::change,
            read_record,
        ),
        target(
            "full-limits",
            100,
            all_photos(),
            change_any_photo,
            full_limits,
        ),
        target("tag", 49, vec![Vec::new()], paint::strokes, read_tag),
        target("whole", 1, vec![Vec::new()], paint::strokes, grade_whole),
    ]
}

fn all_photos() -> Vec<Vec<u8>> {
    [
        seeds::jpegs(),
        seeds::pngs(),
        seeds::webps(),
        seeds::tiffs(),
        seeds::heics(),
    ]
    .concat()
}

fn change_any_photo(draw: &mut Draw, file: &[u8], others: &[Vec<u8>]) -> Vec<u8> {
    match file {
        [0xFF, 0xD8, ..] => change_jpeg(draw, file, others),
        [0x89, ..] => change_png(draw, file, others),
        [b'R', ..] => change_webp(draw, file, others),
        [b'I' | b'M', ..] => change_tiff(draw, file, others),
        _ => change_heic(draw, file, others),
    }
}

fn change_jpeg(draw: &mut Draw, file: &[u8], others: &[Vec<u8>]) -> Vec<u8> {
    in_parts(draw, Container::Jpeg, file, others)
}

fn change_png(draw: &mut Draw, file: &[u8], others: &[Vec<u8>]) -> Vec<u8> {
    in_parts(draw, Container::Png, file, others)
}

fn change_webp(draw: &mut Draw, file: &[u8], others: &[Vec<u8>]) -> Vec<u8> {
    in_parts(draw, Container::Riff, file, others)
}

/// By parts most of the time, else as plain bytes.
fn in_parts(draw: &mut Draw, container: Container, file: &[u8], others: &[Vec<u8>]) -> Vec<u8> {
    if draw.once_in(5) {
        return as_bytes(draw, file, others);
    }
    parts::change(draw, container, file, others)
}

fn as_bytes(draw: &mut Draw, file: &[u8], others: &[Vec<u8>]) -> Vec<u8> {
    let mut file = file.to_vec();
    bytes::change(draw, &mut file, others);
    file
}

fn change_heic(draw: &mut Draw, file: &[u8], others: &[Vec<u8>]) -> Vec<u8> {
    match draw.below(4) {
        0 => as_bytes(draw, file, others),
        1 => parts::change(draw, Container::Boxes, file, others),
        _ => parts::change_inner_box(draw, file, others),
    }
}

fn change_tiff(draw: &mut Draw, file: &[u8], others: &[Vec<u8>]) -> Vec<u8> {
    let mut changed = file.to_vec();
    if draw.once_in(2) && entries::change_directory(draw, &mut changed) {
        return changed;
    }
    as_bytes(draw, file, others)
}

fn change_capture(draw: &mut Draw, block: &[u8], others: &[Vec<u8>]) -> Vec<u8> {
    change_tiff(draw, block, others)
}

fn change_profile(draw: &mut Draw, profile: &[u8], others: &[Vec<u8>]) -> Vec<u8> {
    let mut changed = profile.to_vec();
    if draw.once_in(2) && entries::change_profile(draw, &mut changed) {
        return changed;
    }
    as_bytes(draw, profile, others)
}

/// Most pixels of a picture in the targets with small limits.
const SMALL: usize = 1 << 14;

/// Reads a photo of at most [`SMALL`] pixels, which may be as small as it likes.
fn small(file: &[u8], half_above: usize) -> Outcome {
    let limits = Limits {
        most_pixels: SMALL,
        least_side: 1,
        half_above,
        ..Limits::default()
    };
    match Photo::from_bytes_within("a", file, &limits) {
        Ok(photo) => {
            assert!(photo.width() * photo.height() <= SMALL);
            look_at(&photo);
            Outcome::Read(format!("{} {}", photo.profile, photo.doubts.len()))
        }
        Err(error) => refused(&error),
    }
}

/// The limits that users get. Pictures are large at most in what they claim, and are looked at in coarse blocks only.
fn full_limits(file: &[u8]) -> Outcome {
    match Photo::from_bytes("a", file) {
        Ok(photo) => {
            photo.reduced(15);
            Outcome::Read(photo.profile.clone())
        }
        Err(error) => refused(&error),
    }
}

/// Asks a photo for everything that it gives.
fn look_at(photo: &Photo) {
    let (width, height) = (photo.width(), photo.height());
    let (light, clipped) = photo.reduced_with_clipped(2);
    let blocks = width.div_ceil(2) * height.div_ceil(2);
    assert_eq!((light.planes[0].len(), clipped.len()), (blocks, blocks));
    assert!(light.planes.iter().flatten().all(|l| l.is_finite()));
    assert!(
        photo
            .reduced(3)
            .planes
            .iter()
            .flatten()
            .all(|l| l.is_finite())
    );
    photo.crop(1, 1, width, 3);
    photo.weighted_finest(0..3, 1..height + 1, [0.2, 0.7, 0.1]);
    let shown = photo.rgb8_upright();
    assert_eq!(shown.dimensions(), (width as u32, height as u32));
    assert!(
        photo
            .jpeg_step
            .is_none_or(|step| step.is_finite() && step >= 0.0)
    );
    plain(&photo.profile);
    facts(&photo.capture);
    photo.doubts.iter().for_each(|doubt| plain(&doubt.message));
}

/// Text that is safe to show: on one line, without signs that steer a terminal.
fn plain(text: &str) {
    assert!(!text.chars().any(char::is_control), "{text:?}");
}

fn refused(error: &Error) -> Outcome {
    let message = error.to_string();
    plain(&message);
    assert!(!message.is_empty() && !error.hint().is_empty());
    Outcome::Refused(kind_of(&message))
}

/// A message without its numbers and quoted words.
fn kind_of(message: &str) -> String {
    let mut quoted = false;
    let kept = message.chars().filter(|c| {
        quoted ^= *c == '`' || *c == '"';
        !quoted && !c.is_ascii_digit()
    });
    kept.take(80).collect()
}

fn facts(capture: &CaptureInfo) {
    let numbers = [capture.exposure_s, capture.f_number];
    assert!(numbers.iter().flatten().all(|v| v.is_finite() && *v > 0.0));
    assert!(capture.iso != Some(0));
    capture
        .camera
        .iter()
        .chain(&capture.taken_at)
        .for_each(|text| plain(text));
    assert!(capture.taken_at.as_ref().is_none_or(|t| t.len() == 19));
}

fn read_capture(block: &[u8]) -> Outcome {
    let (capture, orientation) = capture::read(Some(block));
    facts(&capture);
    assert!([(3, 2), (2, 3)].contains(&orientation.upright_size(3, 2)));
    if capture == CaptureInfo::default() {
        return Outcome::Refused(format!("{orientation:?}"));
    }
    let set = format!("{capture:?}").matches("None").count();
    Outcome::Read(format!("{set} {:?} {orientation:?}", capture.processing))
}

fn read_profile(icc: &[u8]) -> Outcome {
    let outcome = small(&seeds::with_profile(icc), usize::MAX);
    match outcome {
        Outcome::Read(kind) if kind.ends_with('0') => Outcome::Read(kind),
        Outcome::Read(kind) | Outcome::Refused(kind) => Outcome::Refused(kind),
    }
}

fn read_rules(text: &[u8]) -> Outcome {
    let text = String::from_utf8_lossy(text);
    match load("red.toml", &text) {
        Ok(ladder) => {
            check_ladder(&ladder);
            let asked: usize = ladder.conditions.iter().map(Vec::len).sum();
            Outcome::Read(format!("{asked} {:?}", ladder.colour.model))
        }
        Err(error) => {
            plain(&error.message);
            plain(&error.hint);
            assert!(error.line >= 1 && error.column >= 1 && !error.hint.is_empty());
            assert!(error.line <= text.matches('\n').count() + 1);
            Outcome::Refused(kind_of(&error.message))
        }
    }
}

/// A ladder that was accepted places animals, and more pigment never lowers the rung by coverage alone.
fn check_ladder(ladder: &Ladder) {
    plain(&ladder.title);
    ladder.labels.iter().for_each(|label| plain(label));
    let animal = crate::ladder_animals::animal(1, 0.7, 0.6);
    check_placing(&place(ladder, &animal));
}

fn check_placing(placing: &catchcup::ladder::Placing) {
    if let Some(chances) = placing.chances {
        let sum: f64 = chances.iter().sum();
        assert!((sum - 1.0).abs() < 1e-6, "{chances:?}");
        assert!(
            chances.iter().all(|c| (0.0..=1.0 + 1e-9).contains(c)),
            "{chances:?}"
        );
    }
    if let Some((low, high)) = placing.between {
        assert!(low < high);
    }
}

fn read_record(text: &[u8]) -> Outcome {
    let text = String::from_utf8_lossy(text);
    match stored_scoops("records.jsonl", &text) {
        Ok(scoops) => {
            static LADDER: OnceLock<Ladder> = OnceLock::new();
            let ladder = LADDER.get_or_init(|| shelf("red"));
            let animals = scoops.iter().flat_map(|scoop| &scoop.animals);
            let rungs: Vec<Option<Rung>> = animals
                .map(|animal| {
                    let placing = place(ladder, &animal.measures);
                    check_placing(&placing);
                    placing.rung
                })
                .collect();
            scoops.iter().for_each(|scoop| drop(scoop.kept_animals()));
            Outcome::Read(format!("{rungs:?}"))
        }
        Err(error) => refused(&error),
    }
}

fn shelf(line: &str) -> Ladder {
    Shelf::default().ladder(line).expect("a built-in ladder")
}

fn read_tag(strokes: &[u8]) -> Outcome {
    let photo = Photo::from_bytes_within("a", paint::tag_photo(strokes), &any_size());
    let tanks = tag::tanks_in(&photo.expect("a whole file"));
    if tanks.is_empty() {
        Outcome::Refused("no tag".into())
    } else {
        Outcome::Read(format!("{tanks:?}"))
    }
}

fn any_size() -> Limits {
    Limits {
        least_side: 1,
        ..Limits::default()
    }
}

/// A whole photo from its pixels to the record and the overlay.
fn grade_whole(strokes: &[u8]) -> Outcome {
    let order = Order {
        ladder: None,
        cup: CupSpec::default(),
        sex: None,
        juvenile_mm: 15.0,
        netted: Netted::Unknown,
        minutes: MinutesRule::default(),
    };
    let graded = grade_photo("a", paint::cup_photo(strokes), &order, &Shelf::default());
    let graded = graded.expect("a whole file");
    let record = record_json(&graded.scoop);
    stored_scoops("a", &record).expect("a record that can be read again");
    overlay_jpeg(&graded).expect("a picture");
    Outcome::Read(format!("{}", graded.scoop.animals.len()))
}
