//! Colour charts painted here with known corners and colours: found, read or refused; what the correction leaves.

use catchcup::colour::{ciede2000, lab};
use catchcup::photo::LinearImage;
use catchcup::scene::{
    ChartSet, ColourFrom, ColourSpec, CupSpec, PATCH_NAMES, ScaleFrom, Scene, read_scene_from,
};

use crate::support::chart::{Ground, PaintedChart, Patches, Random};
use crate::support::table::{close, close3, read};

/// Published linear colours of the later set, from the table (not from the program).
fn published() -> Patches {
    let table = read("a_chart24_after_nov2014");
    let rows: Vec<[f64; 3]> = table
        .rows()
        .map(|row| {
            row.three(["sR", "sG", "sB"])
                .map(catchcup::colour::srgb_decode)
        })
        .collect();
    rows.try_into().expect("24 patches")
}

fn scene(picture: &LinearImage) -> Scene {
    read_scene_from(picture, 1, &CupSpec::default())
}

/// Farthest corner from its true place, pixels.
fn corner_error(scene: &Scene, chart: &PaintedChart) -> f64 {
    let found = scene.chart.as_ref().expect("a chart").corners;
    let off =
        |(f, t): (&[f32; 2], &[f64; 2])| (f64::from(f[0]) - t[0]).hypot(f64::from(f[1]) - t[1]);
    found
        .iter()
        .zip(&chart.corners())
        .map(off)
        .fold(0.0, f64::max)
}

/// Mean CIEDE2000 of the true patch colours through the camera and the correction read.
fn true_error(scene: &Scene, chart: &PaintedChart, patches: &Patches) -> f64 {
    let fit = scene
        .chart
        .as_ref()
        .and_then(|c| c.fit.as_ref())
        .expect("a chart that was read");
    let one = |patch: &[f64; 3]| {
        let seen = chart
            .camera
            .map(|row| (0..3).map(|k| row[k] * patch[k]).sum::<f64>().max(0.0));
        ciede2000(lab(fit.correction.apply(seen)), lab(*patch))
    };
    patches.iter().map(one).sum::<f64>() / 24.0
}

fn is_read(scene: &Scene) -> bool {
    scene.chart.as_ref().is_some_and(|c| c.fit.is_some())
}

/// Both published sets: Lab and sRGB as in the tables (colour-science 0.4.7), order and names of the patches.
#[test]
fn published_values() {
    for (set, name) in [
        (ChartSet::Average2005, "a_chart24_average2005"),
        (ChartSet::Since2014, "a_chart24_after_nov2014"),
    ] {
        let (linear, table) = (set.linear(), read(name));
        assert_eq!(table.rows().count(), 24);
        for (k, row) in table.rows().enumerate() {
            let patch = row.text("patch");
            assert!(
                patch.starts_with(PATCH_NAMES[k].trim_end_matches(" 9.5")),
                "{patch}"
            );
            close3(
                set.lab_d50()[k],
                row.three(["L_D50", "a_D50", "b_D50"]),
                1.0e-3,
                patch,
            );
            let encoded = linear[k].map(catchcup::colour::srgb_encode);
            close3(encoded, row.three(["sR", "sG", "sB"]), 2.0e-5, patch);
        }
        assert_eq!(ChartSet::from_word(set.word()), Some(set));
    }
    // The two sets differ by 0.809 on average, 1.512 at most (light skin): recomputed with the tables.
    let [old, new] = ChartSet::ALL.map(ChartSet::lab_d50);
    let apart: Vec<f64> = old
        .iter()
        .zip(new)
        .map(|(a, b)| ciede2000(*a, *b))
        .collect();
    close(
        apart.iter().sum::<f64>() / 24.0,
        0.809,
        1.0e-3,
        "mean difference of the sets",
    );
    close(apart[1], 1.512, 1.0e-3, "light skin");
}

/// 120 charts anywhere, at any turn, tilted to 15 degrees, under lights and cameras of their own: all found and read.
#[test]
fn charts_anywhere_are_found_and_read() {
    let patches = published();
    let mut corners = Vec::new();
    for seed in 0..120 {
        let chart = PaintedChart::any(seed * 11 + 5);
        let scene = scene(&chart.paint(&patches));
        assert!(is_read(&scene), "{chart:?} {:?}", scene.doubts);
        corners.push(corner_error(&scene, &chart));
        let error = true_error(&scene, &chart, &patches);
        assert!(error < 1.0, "{error:.2} {chart:?}");
        let fit = scene
            .chart
            .as_ref()
            .and_then(|c| c.fit.as_ref())
            .expect("it was read");
        assert!(
            fit.de00_after < 1.5 && fit.de00_after < fit.de00_before,
            "{chart:?}"
        );
    }
    corners.sort_by(f64::total_cmp);
    assert!(
        corners[60] < 0.4 && corners[119] < 2.5,
        "{:?}",
        &corners[100..]
    );
}

/// A lamp mirrored in a part of the chart, or a hard shadow over up to a third of it: read all the same, nearly as well.
#[test]
fn glare_and_shadow_are_weighted_out() {
    let patches = published();
    let (mut read, mut all) = (0, 0);
    for seed in 0..60 {
        let mut chart = PaintedChart::any(seed * 7 + 3);
        let mut r = Random(seed + 99);
        if seed % 2 == 0 {
            let place = [r.between(0.0, 5.0), r.between(0.0, 3.0)];
            chart.glare = Some((place, r.between(0.8, 1.4), r.between(0.15, 0.8)));
        } else {
            chart.shadow = Some((r.between(0.3, 1.6), r.between(0.35, 0.7)));
        }
        let scene = scene(&chart.paint(&patches));
        all += 1;
        if is_read(&scene) {
            read += 1;
            let error = true_error(&scene, &chart, &patches);
            assert!(error < 1.8, "{error:.2} {chart:?}");
            let fit = scene
                .chart
                .as_ref()
                .and_then(|c| c.fit.as_ref())
                .expect("it was read");
            assert!(fit.patches.iter().any(|p| p.weight < 0.3), "{chart:?}");
        }
    }
    assert!(read * 100 >= 93 * all, "{read} of {all}");
}

/// Half a chart is no chart: never read, and where it is seen the reason is told.
#[test]
fn half_covered_charts_are_refused_with_a_reason() {
    let patches = published();
    let mut told = 0;
    for seed in 0..60 {
        let mut chart = PaintedChart::any(seed * 13 + 1);
        chart.ground = Ground::White;
        chart.covered_from = Some(3.0);
        let scene = scene(&chart.paint(&patches));
        assert!(!is_read(&scene), "{chart:?}");
        assert!(scene.colour.correction.is_none());
        told += usize::from(scene.doubts.iter().any(|d| d.code == "chart_hidden"));
    }
    assert!(told >= 48, "told {told} of 60");
}

/// A chart that runs out of the picture is refused.
#[test]
fn a_chart_out_of_frame_is_refused() {
    let mut chart = PaintedChart::plain();
    chart.centre = [60.0, 240.0];
    let scene = scene(&chart.paint(&published()));
    assert!(!is_read(&scene));
    assert!(
        scene.doubts.iter().any(|d| d.code == "chart_cut"),
        "{:?}",
        scene.doubts
    );
}

/// Squares in the chart's order but of other colours, grey squares and a mirrored chart are no chart.
#[test]
fn other_grids_of_squares_are_no_chart() {
    let patches = published();
    let mut mirrored = patches;
    (0..24).for_each(|k| mirrored[k] = patches[k / 6 * 6 + 5 - k % 6]);
    let mut shuffled = patches;
    (0..24).for_each(|k| shuffled[k] = patches[(k * 7 + 5) % 24]);
    let grey: Patches = std::array::from_fn(|k| [0.1 + 0.03 * k as f64; 3]);
    let checks: Patches = std::array::from_fn(|k| {
        if (k + k / 6) % 2 == 0 {
            [0.8; 3]
        } else {
            [0.3, 0.1, 0.1]
        }
    });
    for (name, wrong) in [
        ("mirrored", mirrored),
        ("shuffled", shuffled),
        ("grey", grey),
        ("checks", checks),
    ] {
        for seed in 0..5 {
            let picture = PaintedChart::any(seed + 40).paint(&wrong);
            assert!(scene(&picture).chart.is_none(), "{name} {seed}");
        }
    }
}

/// A camera that mixes colours is corrected better on patches left out by the form with more terms only where it must be:
/// for a linear camera both are near zero.
#[test]
fn a_clean_linear_camera_leaves_nothing() {
    let mut chart = PaintedChart::plain();
    chart.noise = 0.0005;
    chart.gradient = [0.05, -0.04];
    let scene = scene(&chart.paint(&published()));
    let fit = scene
        .chart
        .as_ref()
        .and_then(|c| c.fit.as_ref())
        .expect("it was read");
    assert!(fit.de00_after < 0.4 && fit.de00_left_out < 0.6, "{fit:?}");
    assert_eq!(fit.set, ChartSet::Since2014);
    assert_eq!(
        scene.colour.correction.map(|c| c.1),
        Some(ColourFrom::Chart)
    );
}

/// Patches 12 mm apart are the scale where nothing else is; a given scale goes before.
#[test]
fn the_pitch_is_a_scale() {
    let mut chart = PaintedChart::plain();
    chart.turn_deg = 33.0;
    let picture = chart.paint(&published());
    let with = |px_per_mm| CupSpec {
        px_per_mm,
        colour: ColourSpec {
            chart_pitch_mm: Some(12.0),
            ..ColourSpec::default()
        },
        ..CupSpec::default()
    };
    let found = read_scene_from(&picture, 2, &with(None));
    assert_eq!(found.scale_from, Some(ScaleFrom::Chart));
    close(
        found.px_per_mm.expect("a scale").value,
        2.0 * 30.0 / 12.0,
        0.03,
        "pixels to the millimetre",
    );
    let given = read_scene_from(&picture, 2, &with(Some(4.0)));
    assert_eq!(given.scale_from, Some(ScaleFrom::Given));
}
