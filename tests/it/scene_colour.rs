//! Coloured light on painted grounds, whites in view of dark cups, remembered lights and cups of known colour.

use catchcup::photo::LinearImage;
use catchcup::scene::{
    ColourFrom, ColourSpec, Correction, CupSpec, RememberedLight, Scene, WhiteFrom, read_scene_from,
};

use crate::support::table::close3;

/// A picture of 640 by 480.
fn painted(light: impl Fn(f32, f32) -> [f32; 3]) -> LinearImage {
    let mut out = LinearImage::new(640, 480);
    for y in 0..480 {
        for x in 0..640 {
            let rgb = light(x as f32, y as f32);
            (0..3).for_each(|c| out.planes[c][y * 640 + x] = rgb[c]);
        }
    }
    out
}

fn has(scene: &Scene, code: &str) -> bool {
    scene.doubts.iter().any(|d| d.code == code)
}

/// A warm lamp on the left and a cold window on the right; one light that only fades; one light with a cast.
#[test]
fn two_lights_are_told_from_one() {
    let two = painted(|x, _| [0.6 - 0.1 * x / 640.0, 0.55, 0.45 + 0.12 * x / 640.0]);
    let fading = painted(|x, _| [0.6, 0.58, 0.5].map(|v| v * (1.0 - 0.5 * x / 640.0)));
    let scene = |p| read_scene_from(p, 2, &CupSpec::default());
    assert!(has(&scene(&two), "two_lights"));
    assert!(!has(&scene(&fading), "two_lights"));
}

/// A red sleeve mirrored in a corner adds red light; a red animal takes light away.
#[test]
fn coloured_reflections_add_light() {
    let spot = |x: f32, y: f32| (x - 450.0).hypot(y - 300.0) < 70.0;
    let mirrored = painted(|x, y| {
        if spot(x, y) {
            [0.75, 0.56, 0.56]
        } else {
            [0.55; 3]
        }
    });
    let animal = painted(|x, y| {
        if spot(x, y) {
            [0.4, 0.06, 0.06]
        } else {
            [0.55; 3]
        }
    });
    let scene = |p| read_scene_from(p, 2, &CupSpec::default());
    assert!(has(&scene(&mirrored), "coloured_reflection"));
    assert!(!has(&scene(&animal), "coloured_reflection"));
}

/// On dark ground a white card is a white; a white table that runs out of the picture may be anything.
#[test]
fn a_white_card_beside_a_dark_cup() {
    let cup = |x: f32, y: f32| (x - 260.0).hypot(y - 240.0) < 200.0;
    let card = painted(|x, y| {
        let on_card = (500.0..600.0).contains(&x) && (100.0..240.0).contains(&y);
        match (on_card, cup(x, y)) {
            (true, _) => [0.62, 0.6, 0.55],
            (_, true) => [0.03; 3],
            _ => [0.09, 0.07, 0.05],
        }
    });
    let dark = CupSpec {
        dark: true,
        ..CupSpec::default()
    };
    let scene = read_scene_from(&card, 2, &dark);
    let (rgb, from) = scene.colour.white.expect("the card is white");
    assert_eq!(from, WhiteFrom::Card);
    close3(rgb, [0.62, 0.6, 0.55], 0.01, "the card's light");
    let table = painted(|x, y| {
        if cup(x, y) {
            [0.03; 3]
        } else {
            [0.6, 0.6, 0.58]
        }
    });
    assert_eq!(read_scene_from(&table, 2, &dark).colour.white, None);
}

/// A white rim about a dark floor on a dark table is a white.
#[test]
fn a_white_rim_about_a_dark_floor() {
    let picture = painted(|x, y| match (x - 320.0).hypot(y - 240.0) {
        d if d < 160.0 => [0.03; 3],
        d if d < 196.0 => [0.5, 0.5, 0.48],
        _ => [0.08, 0.06, 0.04],
    });
    let dark = CupSpec {
        dark: true,
        ..CupSpec::default()
    };
    let scene = read_scene_from(&picture, 2, &dark);
    assert!(scene.withheld.is_empty(), "{:?}", scene.withheld);
    let (rgb, from) = scene.colour.white.expect("the rim is white");
    assert_eq!(from, WhiteFrom::Rim);
    close3(rgb, [0.5, 0.5, 0.48], 0.02, "the rim's light");
}

/// A cream cup of known colour under any light gets its own colour back; a remembered light carries over to a photo of
/// half the exposure and another white balance.
#[test]
fn known_cups_and_lights() {
    let cream = [0.8, 0.74, 0.6];
    let ground = painted(|_, _| [0.5, 0.45, 0.3]);
    let known = |colour| CupSpec {
        colour,
        ..CupSpec::default()
    };
    let by_cup = read_scene_from(
        &ground,
        2,
        &known(ColourSpec {
            cup_floor: Some(cream),
            ..ColourSpec::default()
        }),
    );
    let (correction, from) = by_cup.colour.correction.expect("the cup is known");
    assert_eq!(from, ColourFrom::CupRecord);
    close3(
        correction.apply(by_cup.colour.floor),
        cream,
        1e-9,
        "the cup's floor",
    );
    let light = RememberedLight {
        correction: Correction::Linear([[1.5, 0.1, 0.0], [0.0, 1.6, 0.0], [0.1, 0.0, 1.9]]),
        floor: [0.6, 0.5, 0.4],
        day: None,
    };
    let by_light = read_scene_from(
        &ground,
        2,
        &known(ColourSpec {
            light: Some(light),
            cup_floor: Some(cream),
            ..ColourSpec::default()
        }),
    );
    let (correction, from) = by_light.colour.correction.expect("the light is known");
    assert_eq!(from, ColourFrom::RememberedLight);
    let then = light.correction.apply(light.floor);
    close3(
        correction.apply(by_light.colour.floor),
        then,
        1e-9,
        "the same floor",
    );
}
