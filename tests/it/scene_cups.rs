//! Cups painted here with a known floor: the scene must find it, whatever its form, light and tint.

use catchcup::photo::LinearImage;
use catchcup::scene::{CupSpec, Ground, Scene, read_scene_from};

/// Full-size pixels to a pixel of the painted picture.
const STEP: usize = 2;

/// A painted cup: floor, wall, waterline, rim, table; all lengths in painted pixels.
#[derive(Clone, Copy)]
struct Painted {
    centre: [f32; 2],
    half: [f32; 2],
    turn_deg: f32,
    /// 2 = ellipse, larger = rounded rectangle.
    bend: f32,
    floor: [f32; 3],
    table: [f32; 3],
    shadow: bool,
    animals: bool,
    /// A window mirrored in the water.
    window: bool,
}

const ROUND: Painted = Painted {
    centre: [310.0, 235.0],
    half: [170.0, 170.0],
    turn_deg: 0.0,
    bend: 2.0,
    floor: [0.62, 0.62, 0.61],
    table: [0.16, 0.10, 0.05],
    shadow: false,
    animals: true,
    window: false,
};

/// How far a point lies outside the outline with these half-axes, 1 on it.
fn reach(p: &Painted, x: f32, y: f32, half: [f32; 2]) -> f32 {
    let (s, c) = p.turn_deg.to_radians().sin_cos();
    let (dx, dy) = (x - p.centre[0], y - p.centre[1]);
    let (u, v) = (
        ((dx * c + dy * s) / half[0]).abs(),
        ((dy * c - dx * s) / half[1]).abs(),
    );
    (u.powf(p.bend) + v.powf(p.bend)).powf(1.0 / p.bend)
}

/// By how much both half-axes of the floor must grow to pass through a point (walls keep the same width all around).
fn beyond(p: &Painted, x: f32, y: f32) -> f32 {
    let least = p.half[0].min(p.half[1]);
    let (mut lo, mut hi) = (-0.95 * least, 800.0);
    for _ in 0..15 {
        let t = 0.5 * (lo + hi);
        if reach(p, x, y, [p.half[0] + t, p.half[1] + t]) > 1.0 {
            lo = t
        } else {
            hi = t
        }
    }
    0.5 * (lo + hi)
}

/// Paints one pixel: distance from the floor's outline decides what is seen.
fn light_at(p: &Painted, x: f32, y: f32) -> [f32; 3] {
    let (dx, dy) = (x - p.centre[0], y - p.centre[1]);
    let size = (p.half[0] * p.half[1]).sqrt();
    let out = beyond(p, x, y);
    // The floor meets the wall over four pixels; the wall reflects seven hundredths less.
    let wall = (0.5 + out / 4.0).clamp(0.0, 1.0);
    let mut k = 1.0 - 0.07 * wall;
    k *= if (out - 0.11 * size).abs() < 0.8 {
        0.8
    } else {
        1.0
    };
    k *= if out > 0.24 * size { 1.18 } else { 1.0 };
    if out > 0.31 * size {
        return p.table;
    }
    if p.animals && out < 0.0 {
        for (ax, ay) in [(-0.6f32, 0.1f32), (0.2, -0.5), (0.3, 0.6), (0.75, 0.0)] {
            let (ex, ey) = ((dx / size - ax) / 0.17, (dy / size - ay) / 0.05);
            if ex * ex + ey * ey < 1.0 {
                return [0.35, 0.07, 0.06];
            }
        }
    }
    if p.shadow && dx * 0.8 + dy * 0.6 > 0.35 * size {
        k *= 0.62;
    }
    // A veil of the same light over all that lies under it.
    let veil = if p.window && under_window(dx / size, dy / size) {
        0.12
    } else {
        0.0
    };
    p.floor.map(|v| v * k + veil)
}

/// The window: a tenth of the floor's area (0.46 by 0.70 of a circle of radius 1).
fn under_window(x: f32, y: f32) -> bool {
    (-0.46..0.0).contains(&x) && (-0.05..0.65).contains(&y)
}

/// The picture, 640 by 480, with a little fixed noise.
fn paint(p: &Painted) -> LinearImage {
    let mut out = LinearImage::new(640, 480);
    let mut seed = 12345u32;
    for y in 0..480 {
        for x in 0..640 {
            let light = light_at(p, x as f32, y as f32);
            for (c, light) in light.into_iter().enumerate() {
                seed = seed.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
                let noise = (seed >> 8) as f32 / 16_777_216.0 - 0.5;
                out.planes[c][y * 640 + x] = light * (1.0 + 0.03 * noise);
            }
        }
    }
    out
}

fn read(p: &Painted, dark: bool) -> Scene {
    read_scene_from(
        &paint(p),
        STEP,
        &CupSpec {
            floor_mm: Some(80.0),
            dark,
            ..CupSpec::default()
        },
    )
}

/// The floor's centre within `centre` shares of its size, its axes within `axes`.
fn check(p: &Painted, centre: f32, axes: f32) {
    let scene = read(p, false);
    let cup = scene
        .cup
        .unwrap_or_else(|| panic!("no cup; withheld {:?}", scene.withheld));
    let full = |v: f32| (v + 0.5) * STEP as f32 - 0.5;
    let size = STEP as f32 * (p.half[0] * p.half[1]).sqrt();
    let off = (cup.centre[0] - full(p.centre[0])).hypot(cup.centre[1] - full(p.centre[1])) / size;
    assert!(off < centre, "centre off by {off}: {cup:?}");
    let mut half = p.half.map(|v| v * STEP as f32);
    half.sort_by(|a, b| b.total_cmp(a));
    for (found, painted) in cup.axes.iter().zip(half) {
        assert!(
            (found / painted - 1.0).abs() < axes,
            "axes {:?}, painted {half:?}",
            cup.axes
        );
    }
    floor_is_searched(p, &scene);
    assert!(scene.withheld.is_empty() && scene.ground == Ground::White);
}

/// Every pixel of the floor is searched, and none of the table.
fn floor_is_searched(p: &Painted, scene: &Scene) {
    let size = (p.half[0] * p.half[1]).sqrt();
    let (mut floor, mut found, mut table) = (0, 0, 0);
    for y in 0..480 {
        for x in 0..640 {
            let on = scene.searched[y * scene.searched_width + x];
            let out = beyond(p, x as f32, y as f32);
            floor += usize::from(out < -1.0);
            found += usize::from(out < -1.0 && on > 0);
            table += usize::from(out > 0.33 * size && on > 0);
        }
    }
    assert!(
        found as f64 >= 0.995 * floor as f64,
        "{found} of {floor} floor pixels are searched"
    );
    assert_eq!(table, 0, "table is searched");
}

#[test]
fn round_cup() {
    check(&ROUND, 0.02, 0.03);
}

#[test]
fn round_cup_partly_out_of_frame() {
    check(
        &Painted {
            centre: [330.0, 225.0],
            half: [255.0, 255.0],
            ..ROUND
        },
        0.03,
        0.03,
    );
}

#[test]
fn tilted_cup_is_an_ellipse() {
    // Cosine of 15 degrees: the most tilt that is asked for.
    check(
        &Painted {
            half: [175.0, 169.0],
            turn_deg: 30.0,
            ..ROUND
        },
        0.02,
        0.03,
    );
}

#[test]
fn tinted_light() {
    check(
        &Painted {
            floor: [0.62, 0.50, 0.30],
            ..ROUND
        },
        0.02,
        0.03,
    );
    check(
        &Painted {
            floor: [0.40, 0.48, 0.60],
            ..ROUND
        },
        0.02,
        0.03,
    );
}

#[test]
fn hard_shadow_across_the_cup() {
    check(
        &Painted {
            shadow: true,
            ..ROUND
        },
        0.03,
        0.03,
    );
}

#[test]
fn table_as_light_as_the_cup() {
    check(
        &Painted {
            table: [0.5, 0.5, 0.5],
            ..ROUND
        },
        0.02,
        0.03,
    );
}

#[test]
fn oval_cup() {
    check(
        &Painted {
            half: [205.0, 150.0],
            turn_deg: 20.0,
            ..ROUND
        },
        0.03,
        0.05,
    );
}

#[test]
fn square_cup() {
    check(
        &Painted {
            half: [150.0, 150.0],
            turn_deg: 10.0,
            bend: 8.0,
            ..ROUND
        },
        0.03,
        0.05,
    );
}

#[test]
fn oblong_cup() {
    check(
        &Painted {
            half: [200.0, 140.0],
            turn_deg: 5.0,
            bend: 8.0,
            ..ROUND
        },
        0.03,
        0.05,
    );
}

#[test]
fn scale_is_from_the_cup_unless_given() {
    let scene = read(&ROUND, false);
    let scale = scene.px_per_mm.expect("a scale");
    // 340 painted pixels of 2 full-size pixels for 80 mm.
    assert!((scale.value / 8.5 - 1.0).abs() < 0.03, "{scale:?}");
    assert!(scale.uncertainty > 0.005 * scale.value && scale.uncertainty < 0.05 * scale.value);
    let given = CupSpec {
        floor_mm: Some(80.0),
        px_per_mm: Some(11.0),
        ..CupSpec::default()
    };
    let scene = read_scene_from(&paint(&ROUND), STEP, &given);
    assert_eq!(scene.px_per_mm.expect("a scale").value, 11.0);
}

#[test]
fn dark_cup_must_be_said() {
    let dark = Painted {
        floor: [0.03, 0.03, 0.03],
        table: [0.5, 0.5, 0.5],
        animals: false,
        ..ROUND
    };
    assert_eq!(read(&dark, false).withheld[0].code, "ground_dark");
    let said = read(&dark, true);
    assert_eq!((said.ground, said.withheld.len()), (Ground::Dark, 0));
    assert_eq!(read(&ROUND, true).withheld[0].code, "ground_not_dark");
}

#[test]
fn a_mirrored_window_is_glare() {
    let plain = read(&ROUND, false);
    assert!(plain.glare_share < 0.02, "{}", plain.glare_share);
    assert!(plain.doubts.is_empty(), "{:?}", plain.doubts);
    let scene = read(
        &Painted {
            window: true,
            ..ROUND
        },
        false,
    );
    assert!(
        (0.07..0.13).contains(&scene.glare_share),
        "{}",
        scene.glare_share
    );
    assert!(scene.doubts.iter().any(|d| d.code == "glare"));
}

#[test]
fn gradients_of_light_are_no_doubt_and_a_shadow_is_no_glare() {
    let scene = read(
        &Painted {
            shadow: true,
            ..ROUND
        },
        false,
    );
    assert!(scene.doubts.is_empty(), "{:?}", scene.doubts);
}

#[test]
fn wood_is_no_ground() {
    let mut wood = LinearImage::new(640, 480);
    for (c, v) in [0.18f32, 0.12, 0.06].into_iter().enumerate() {
        for (i, p) in wood.planes[c].iter_mut().enumerate() {
            *p = v * (1.0 + 0.1 * ((i / 640) as f32 / 9.0).sin());
        }
    }
    let scene = read_scene_from(&wood, STEP, &CupSpec::default());
    assert_eq!(scene.withheld[0].code, "no_white_ground");
    assert!(scene.searched.iter().all(|v| *v == 0));
}

#[test]
fn bare_white_is_searched_whole() {
    let white = Painted {
        half: [3000.0, 3000.0],
        ..ROUND
    };
    let scene = read(&white, false);
    assert!(scene.cup.is_none() && scene.px_per_mm.is_none());
    assert!(scene.searched.iter().all(|v| *v == 1));
}

#[test]
fn same_picture_same_scene() {
    let (a, b) = (read(&ROUND, false), read(&ROUND, false));
    assert_eq!((a.cup, a.searched), (b.cup, b.searched));
}

#[test]
fn tiny_and_flat_pictures_do_not_fail() {
    for (w, h) in [(0, 0), (1, 1), (3, 700), (40, 30), (64, 64)] {
        let scene = read_scene_from(&LinearImage::new(w, h), 1, &CupSpec::default());
        assert_eq!(scene.searched.len(), w * h);
        assert!(!scene.withheld.is_empty());
    }
}
