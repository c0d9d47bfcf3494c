//! Colour arithmetic against published values and an independent implementation.

use catchcup::colour::{self, CircularMean};
use palette::color_difference::Ciede2000;
use palette::white_point::D65;
use proptest::prelude::*;

use crate::support::table::{close, close3, read};

/// Sharma, Wu and Dalal 2005, Table 1; printed to four decimals.
#[test]
fn ciede2000_of_the_34_pairs() {
    let table = read("a_ciede2000_34pairs");
    assert_eq!(table.rows().count(), 34);
    for row in table.rows() {
        let (one, two) = (row.three(["L1", "a1", "b1"]), row.three(["L2", "a2", "b2"]));
        let (there, back) = (colour::ciede2000(one, two), colour::ciede2000(two, one));
        let what = format!("pair {}", row.text("pair"));
        close(there, row.number("dE00_published"), 5.0e-5, &what);
        close(there, row.number("dE00_recomputed"), 1.0e-9, &what);
        close(there, back, 1.0e-12, &what);
        assert_eq!(colour::ciede2000(one, one), 0.0);
    }
}

/// IEC 61966-2-1 transfer curve.
#[test]
fn srgb_curve_both_ways() {
    for row in read("a_srgb_transfer").rows() {
        close(
            colour::srgb_decode(row.number("encoded")),
            row.number("linear"),
            1.0e-11,
            row.text("code8"),
        );
    }
    for code in 0..=255u8 {
        let back = colour::srgb_encode(colour::srgb_decode(f64::from(code) / 255.0)) * 255.0;
        close(back, f64::from(code), 1.0e-9, "decode and encode");
    }
}

/// CIE 15 CIELAB under D65 and Ottosson's Oklab of the sRGB primaries, recomputed values.
#[test]
fn lab_and_oklab_of_the_primaries() {
    for row in read("a_srgb_primaries_lab_oklab").rows() {
        let name = row.text("name");
        let linear = row
            .three(["R", "G", "B"])
            .map(|v| colour::srgb_decode(v / 255.0));
        let lab = row.three(["L_D65", "a_D65", "b_D65"]);
        close3(
            colour::apply(&colour::SRGB_TO_XYZ, linear),
            row.three(["X", "Y", "Z"]),
            1.0e-9,
            name,
        );
        close3(colour::lab(linear), lab, 1.0e-6, name);
        close3(
            colour::linear_from_lab(colour::lab(linear)),
            linear,
            1.0e-12,
            name,
        );
        let fast = colour::lab_of_ratio_fast(linear.map(|v| v as f32)).map(f64::from);
        close3(fast, lab, 1.0e-3, name);
        close3(
            colour::oklab(linear),
            row.three(["ok_L", "ok_a", "ok_b"]),
            1.0e-7,
            name,
        );
    }
    assert_eq!(
        colour::lab([1.0; 3]).map(|v| (v * 1.0e9).round()),
        [1.0e11, 0.0, 0.0]
    );
}

/// Ottosson 2020: table of XYZ and Oklab pairs, printed to three decimals.
#[test]
fn oklab_of_the_published_pairs() {
    for row in read("a_oklab_published_pairs").rows() {
        let linear = colour::apply(&colour::XYZ_TO_SRGB, row.three(["X", "Y", "Z"]));
        close3(
            colour::oklab(linear),
            row.three(["L_pub", "a_pub", "b_pub"]),
            1.0e-3,
            row.text("L_pub"),
        );
    }
}

/// Matrices of IEC 61966-2-1, Display P3 and the Bradford adaptation between the whites named in the table.
#[test]
fn matrices() {
    let (d65, d50) = ([0.95047, 1.0, 1.08883], [0.96422, 1.0, 0.82521]);
    let (xy65, xy50) = (
        colour::xy_to_xyz([0.3127, 0.3290]),
        colour::xy_to_xyz([0.3457, 0.3585]),
    );
    let ours = [
        ("D65toD50_ASTMwhites", colour::bradford(d65, d50)),
        ("D50toD65_ASTMwhites", colour::bradford(d50, d65)),
        (
            "D65toD50_xy3127_3290_to_3457_3585",
            colour::bradford(xy65, xy50),
        ),
        ("D50toD65_xy", colour::bradford(xy50, xy65)),
        ("sRGB_to_XYZ_derived", colour::SRGB_TO_XYZ),
        ("XYZ_to_sRGB_derived", colour::XYZ_TO_SRGB),
        ("DisplayP3_to_XYZ_derived", colour::DISPLAY_P3_TO_XYZ),
        ("DisplayP3_to_sRGB_linear", colour::DISPLAY_P3_TO_SRGB),
    ];
    let table = read("a_matrices");
    for (name, matrix) in ours {
        let rows: Vec<_> = table.rows().filter(|r| r.text("matrix") == name).collect();
        assert_eq!(rows.len(), 3, "{name}");
        for row in rows {
            let at = row.number("row") as usize;
            close3(matrix[at], row.three(["c0", "c1", "c2"]), 1.0e-10, name);
        }
    }
}

/// Display P3 to sRGB without clipping, recomputed values.
#[test]
fn display_p3_is_not_clipped() {
    for row in read("a_displayp3_to_srgb").rows() {
        let linear = row
            .three(["R", "G", "B"])
            .map(|v| colour::srgb_decode(v / 255.0));
        let srgb = colour::apply(&colour::DISPLAY_P3_TO_SRGB, linear);
        close3(
            srgb,
            row.three(["lin_r", "lin_g", "lin_b"]),
            1.0e-8,
            "linear",
        );
        close3(
            srgb.map(colour::srgb_encode),
            row.three(["enc_r", "enc_g", "enc_b"]),
            1.0e-7,
            "encoded",
        );
    }
}

fn mean_of(angles: &[f64]) -> CircularMean {
    colour::circular_mean(angles.iter().map(|&a| (a, 1.0)))
}

/// Zar, Biostatistical Analysis, chapter 26; Mardia and Jupp 2000, example 1.1.
#[test]
fn circular_means() {
    for row in read("b_circular").rows() {
        let angles: Vec<f64> = row
            .text("angles_deg")
            .split(' ')
            .map(|a| a.parse().expect("an angle"))
            .collect();
        let found = mean_of(&angles);
        // The angles of one set were given in radians and are printed here with six digits only.
        let digits = if row.text("set").contains("_rad_") {
            1.0e3
        } else {
            1.0
        };
        close(
            found.mean_deg.expect("a direction"),
            row.number("mean_deg"),
            1.0e-6 * digits,
            row.text("set"),
        );
        close(
            found.r,
            row.number("Rbar"),
            1.0e-9 * digits,
            row.text("set"),
        );
    }
    let table = read("b_circular_grouped");
    let bins: Vec<_> = table
        .rows()
        .map(|r| (r.number("bin_centre_deg"), r.number("freq")))
        .collect();
    let grouped = colour::circular_mean(bins);
    close(
        grouped.mean_deg.expect("a direction"),
        161.565051,
        1.0e-6,
        "grouped",
    );
    close(grouped.r, 0.550635, 1.0e-6, "grouped R");
    let weighted = colour::circular_mean([(10.0, 1.0), (20.0, 2.0), (350.0, 1.0)]);
    close(
        weighted.mean_deg.expect("a direction"),
        10.077329,
        1.0e-6,
        "weighted",
    );
    for nowhere in [
        mean_of(&[0.0, 180.0]),
        mean_of(&[]),
        mean_of(&[0.0, 120.0, 240.0]),
    ] {
        assert_eq!(nowhere.mean_deg, None);
        close(nowhere.r, 0.0, 1.0e-9, "R without direction");
    }
}

#[test]
fn hue_differences_take_the_short_way() {
    assert_eq!(colour::hue_difference(350.0, 10.0), 20.0);
    assert_eq!(colour::hue_difference(10.0, 350.0), -20.0);
    assert_eq!(colour::hue_difference(0.0, 180.0), 180.0);
    assert_eq!(colour::hue_difference(180.0, 0.0), 180.0);
    assert_eq!(colour::wrap_deg(-1.0e-20), 0.0);
}

fn any_lab() -> impl Strategy<Value = [f64; 3]> {
    (0.0..100.0, -120.0..120.0, -120.0..120.0).prop_map(|(l, a, b)| [l, a, b])
}

proptest! {
    /// The palette crate is the independent implementation. Where the mean hue is taken round 0 it always adds 360
    /// degrees (the published equation 14 may subtract them), which the last term feels by less than the tolerance.
    #[test]
    fn ciede2000_agrees_with_palette(one in any_lab(), two in any_lab()) {
        let theirs = |c: [f64; 3]| palette::Lab::<D65, f64>::new(c[0], c[1], c[2]);
        let expected = theirs(one).difference(theirs(two));
        prop_assert!((colour::ciede2000(one, two) - expected).abs() < 2.0e-4);
    }

    #[test]
    fn fast_lab_keeps_to_the_exact_one(rgb in [-0.2f32..4.0, -0.2f32..4.0, -0.2f32..4.0]) {
        let exact = colour::lab(rgb.map(f64::from));
        let fast = colour::lab_of_ratio_fast(rgb);
        for i in 0..3 {
            prop_assert!((f64::from(fast[i]) - exact[i]).abs() < 2.0e-3, "{rgb:?} {fast:?} {exact:?}");
        }
    }

    #[test]
    fn fast_cube_root(x in 1.0e-6f32..100.0) {
        let relative = f64::from(colour::cbrt_fast(x)) / f64::from(x).cbrt() - 1.0;
        prop_assert!(relative.abs() < 3.0e-7, "{x} {relative}");
    }

    #[test]
    fn lab_and_back(rgb in [-0.2f64..4.0, -0.2f64..4.0, -0.2f64..4.0]) {
        let back = colour::linear_from_lab(colour::lab(rgb));
        for i in 0..3 {
            prop_assert!((back[i] - rgb[i]).abs() < 1.0e-9);
        }
    }
}
