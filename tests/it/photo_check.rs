//! The photo's verdict: from measures, and on a sample made worse.

use catchcup::doubt::Note;
use catchcup::scoop::check::{Answer, CheckMeasures, PhotoCheck, verdict};
use catchcup::scoop::{Graded, grade_photo};
use image::RgbImage;

use crate::support::truth::samples;

/// Measures of a good photo.
fn good() -> CheckMeasures {
    CheckMeasures {
        blur: Some(0.10),
        shake: Some(1.2),
        soft: Some(0.22),
        soft_shake: Some(1.3),
        body_px: Some(280.0),
        noise: 0.01,
        grain: Some(0.01),
        ground_light: Some(0.5),
        neutrality: Some(0.8),
        unevenness: 1.4,
        glare_on: Some(0.0),
        touching: Some(0.1),
        crowding: Some(0.1),
        filled: Some(0.07),
        slant: Some(0.98),
        jpeg_step: Some(2.2),
        ..CheckMeasures::default()
    }
}

fn judged(change: impl Fn(&mut CheckMeasures)) -> PhotoCheck {
    let mut measures = good();
    change(&mut measures);
    verdict(measures, &[], &[])
}

#[test]
fn three_answers_for_every_cause() {
    assert_eq!(judged(|_| ()).answer, Answer::Good);
    type Change = fn(&mut CheckMeasures);
    let cases: [(&str, Change, Option<Change>); 12] = [
        (
            "out_of_focus",
            |m| m.blur = Some(0.22),
            Some(|m| m.blur = Some(0.4)),
        ),
        (
            "out_of_focus",
            |m| m.soft = Some(0.36),
            Some(|m| (m.blur, m.shake, m.soft) = (None, None, Some(0.6))),
        ),
        (
            "shaken",
            |m| (m.blur, m.shake) = (Some(0.15), Some(2.0)),
            Some(|m| (m.blur, m.shake) = (Some(0.2), Some(3.5))),
        ),
        (
            "grainy",
            |m| m.grain = Some(0.02),
            Some(|m| m.grain = Some(0.05)),
        ),
        (
            "too_dark",
            |m| m.ground_light = Some(0.12),
            Some(|m| m.ground_light = Some(0.05)),
        ),
        (
            "too_bright",
            |m| m.ground_light = Some(0.94),
            Some(|m| m.ground_light = Some(0.99)),
        ),
        ("clipped", |m| m.clipped = 0.2, Some(|m| m.clipped = 0.8)),
        (
            "recompressed",
            |m| m.jpeg_step = Some(20.0),
            Some(|m| m.jpeg_step = Some(50.0)),
        ),
        (
            "too_far",
            |m| m.body_px = Some(70.0),
            Some(|m| m.body_px = Some(40.0)),
        ),
        (
            "glare_on_animals",
            |m| m.glare_on = Some(0.2),
            Some(|m| m.glare_on = Some(0.6)),
        ),
        (
            "in_the_way",
            |m| m.obstacle = 0.05,
            Some(|m| m.obstacle = 0.2),
        ),
        ("slanted", |m| m.slant = Some(0.8), None),
    ];
    for (code, usable, again) in cases {
        let answer = judged(usable);
        assert_eq!(
            (answer.answer, answer.reasons[0].note.code),
            (Answer::Usable, code)
        );
        if let Some(again) = again {
            let answer = judged(again);
            assert_eq!(
                (answer.answer, answer.reasons[0].note.code),
                (Answer::ShootAgain, code)
            );
        }
    }
}

#[test]
fn it_says_what_gets_worse_and_by_how_much() {
    let check = judged(|m| m.grain = Some(0.045));
    let note = &check.reasons[0].note;
    assert!(
        note.message.contains("coverage is off by about"),
        "{}",
        note.message
    );
    assert!(check.reasons[0].coverage_error.is_some_and(|e| e > 0.1));
    let glare = judged(|m| m.glare_on = Some(0.66));
    assert!(
        glare.reasons[0]
            .note
            .message
            .contains("of 100 animals are missed"),
        "{}",
        glare.reasons[0].note.message
    );
}

#[test]
fn a_withheld_photo_is_to_be_taken_again_and_a_cast_makes_it_usable() {
    let note = |code| Note::new(code, "found", "cure");
    assert_eq!(
        verdict(good(), &[note("no_white_ground")], &[]).answer,
        Answer::ShootAgain
    );
    assert_eq!(
        verdict(good(), &[], &[note("colour_cast")]).answer,
        Answer::Usable
    );
    assert_eq!(
        verdict(good(), &[], &[note("scale_unknown")]).answer,
        Answer::Good
    );
    // A floor that is burnt out itself has no glare beside its animals.
    let bright = judged(|m| (m.clipped, m.glare_on) = (0.3, Some(0.9)));
    assert_eq!((bright.answer, bright.reasons.len()), (Answer::Usable, 1));
}

/// The red sample, changed and graded.
fn sample(change: impl Fn(&RgbImage) -> RgbImage) -> Graded {
    let sample = samples()
        .into_iter()
        .find(|s| s.file.starts_with("red-clear"))
        .expect("the red sample");
    let picture = image::load_from_memory(&sample.bytes())
        .expect("a JPEG")
        .to_rgb8();
    let mut png = std::io::Cursor::new(Vec::new());
    change(&picture)
        .write_to(&mut png, image::ImageFormat::Png)
        .expect("a PNG");
    grade_photo(
        "changed.png",
        png.get_ref(),
        &sample.order(),
        &Default::default(),
    )
    .expect("a photo")
}

fn codes(graded: &Graded) -> (Answer, Vec<&'static str>) {
    let check = &graded.scoop.check;
    (
        check.answer,
        check.reasons.iter().map(|r| r.note.code).collect(),
    )
}

#[test]
fn a_sample_made_worse_is_told_from_the_sample() {
    assert_eq!(codes(&sample(Clone::clone)).0, Answer::Good);
    let (answer, why) = codes(&sample(|p| image::imageops::blur(p, 14.0)));
    assert_eq!((answer, why[0]), (Answer::ShootAgain, "out_of_focus"));
    let (answer, why) = codes(&sample(|p| {
        image::imageops::resize(
            p,
            p.width() / 6,
            p.height() / 6,
            image::imageops::FilterType::Triangle,
        )
    }));
    assert!(
        answer == Answer::ShootAgain && why.contains(&"too_far"),
        "{answer:?} {why:?}"
    );
    let (answer, why) = codes(&sample(|p| {
        let mut dark = p.clone();
        dark.pixels_mut()
            .for_each(|q| q.0 = q.0.map(|v| (f32::from(v) * 0.33) as u8));
        dark
    }));
    assert!(
        answer == Answer::ShootAgain && !why.is_empty(),
        "{answer:?} {why:?}"
    );
    // Grain in which the animals drown is told even where none is found.
    let (answer, why) = codes(&sample(|p| {
        let mut grainy = p.clone();
        let mut state = 7u32;
        for value in grainy.pixels_mut().flat_map(|q| q.0.iter_mut()) {
            state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            *value = (i32::from(*value) + (state >> 24) as i32 - 128).clamp(0, 255) as u8;
        }
        grainy
    }));
    assert!(
        answer == Answer::ShootAgain && why.contains(&"grainy"),
        "{answer:?} {why:?}"
    );
}
