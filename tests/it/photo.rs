//! Photos made in memory: orientation, profiles, block means, capture data.

use catchcup::colour;
use catchcup::photo::{Orientation, Photo, Picture};
use image::ExtendedColorType;
use moxcms::ColorProfile;
use proptest::prelude::*;

use crate::support::picture::{Entry, Extras, exif, gradient, jpeg, noise, png};
use crate::support::table::{close, close3, read};

const ORIENTATION: u16 = 0x0112;

fn turned(value: u16) -> Extras {
    Extras {
        exif: Some(exif(&[(ORIENTATION, Entry::Short(value))])),
        icc: None,
    }
}

fn open(file: &[u8]) -> Photo {
    Photo::from_bytes("test", file).expect("a photo")
}

fn pixel(photo: &Photo, x: usize, y: usize) -> [f64; 3] {
    let spot = photo.crop(x, y, 1, 1);
    std::array::from_fn(|c| f64::from(spot.planes[c][0]))
}

/// CIPA DC-008 (Exif 2.32), tag 0x0112: where each of six stored cells stands in the upright picture.
#[test]
fn orientation_follows_the_standard() {
    const CELL: usize = 100;
    let cells: Vec<u8> = (0..2 * CELL)
        .flat_map(|y| (0..3 * CELL).map(move |x| (x / CELL + y / CELL * 3) as u8 * 40))
        .flat_map(|v| [v; 3])
        .collect();
    for row in read("h_exif_orientation").rows() {
        let photo = open(&png(
            3 * CELL,
            2 * CELL,
            &cells,
            &turned(row.number("value") as u16),
        ));
        let rows: Vec<&str> = row.text("display_pixels").split('/').collect();
        let size = format!("{}x{}", photo.width() / CELL, photo.height() / CELL);
        assert_eq!(size, row.text("display_WxH"));
        let small = photo.reduced(10);
        let shown = photo.rgb8_upright();
        for (v, line) in rows.iter().enumerate() {
            for (u, cell) in line.split(' ').enumerate() {
                let code = cell.parse::<u8>().expect("a cell") * 40;
                let expected = colour::srgb_decode(f64::from(code) / 255.0);
                let (x, y) = (u * CELL + 3, v * CELL + 90);
                close3(pixel(&photo, x, y), [expected; 3], 1.0e-6, "crop");
                let mean = small.planes[1][(y / 10) * small.width + x / 10];
                close(f64::from(mean), expected, 1.0e-5, "reduced");
                assert_eq!(shown.get_pixel(x as u32, y as u32).0, [code; 3]);
            }
        }
    }
}

/// Values that the standard does not know count as upright (house rule).
#[test]
fn unknown_orientation_is_upright() {
    for value in [0, 1, 9, 255] {
        assert_eq!(Orientation::from_exif(value), Orientation::default());
    }
}

fn with_profile(profile: &ColorProfile) -> Extras {
    Extras {
        exif: None,
        icc: Some(profile.encode().expect("a profile")),
    }
}

/// Display P3 to linear sRGB: recomputed table; tolerance for the 16 bits of colorants in a profile.
#[test]
fn display_p3_reds_are_not_clipped() {
    for row in read("a_displayp3_to_srgb").rows() {
        let rgb = row.three(["R", "G", "B"]).map(|v| v as u8);
        let photo = open(&png(
            200,
            200,
            &rgb.repeat(40_000),
            &with_profile(&ColorProfile::new_display_p3()),
        ));
        assert_eq!(photo.profile, "Display P3");
        let expected = row.three(["lin_r", "lin_g", "lin_b"]);
        close3(pixel(&photo, 7, 9), expected, 5.0e-4, "crop");
        let small = photo.reduced(7);
        close3(
            std::array::from_fn(|c| f64::from(small.planes[c][11])),
            expected,
            5.0e-4,
            "reduced",
        );
        let clipped = row
            .three(["clip8_r", "clip8_g", "clip8_b"])
            .map(|v| v as u8);
        let shown = photo.rgb8_upright().get_pixel(0, 0).0;
        assert!(
            shown.iter().zip(clipped).all(|(a, b)| a.abs_diff(b) <= 1),
            "{shown:?} {clipped:?}"
        );
    }
}

/// Adobe RGB (1998): gamma 563/256, green primary (0.21, 0.71); its red is brighter than sRGB's.
#[test]
fn adobe_rgb_is_read() {
    let profile = with_profile(&ColorProfile::new_adobe_rgb());
    let photo = open(&png(200, 200, &[200, 40, 40].repeat(40_000), &profile));
    assert_eq!(photo.profile, "Adobe RGB");
    let linear = [200.0, 40.0, 40.0].map(|v: f64| (v / 255.0).powf(563.0 / 256.0));
    let expected = colour::apply(&colour::ADOBE_RGB_TO_SRGB, linear);
    close3(pixel(&photo, 0, 0), expected, 1.0e-3, "Adobe RGB");
    assert!(expected[0] > 1.3 * colour::srgb_decode(200.0 / 255.0) * 0.9);
}

#[test]
fn srgb_profile_is_plain_srgb_and_broken_ones_raise_a_doubt() {
    let rgb = gradient(200, 200);
    let plain = open(&png(200, 200, &rgb, &Extras::default()));
    let tagged = open(&png(
        200,
        200,
        &rgb,
        &with_profile(&ColorProfile::new_srgb()),
    ));
    assert_eq!(
        (plain.profile.as_str(), tagged.profile.as_str()),
        ("sRGB", "sRGB")
    );
    assert_eq!(plain.reduced(3).planes, tagged.reduced(3).planes);
    assert!(plain.doubts.is_empty() && tagged.doubts.is_empty());
    let mut icc = ColorProfile::new_display_p3().encode().expect("a profile");
    icc.truncate(200);
    let broken = open(&png(
        200,
        200,
        &rgb,
        &Extras {
            exif: None,
            icc: Some(icc),
        },
    ));
    assert_eq!(broken.doubts[0].code, "profile_not_used");
    assert_eq!(broken.reduced(3).planes, plain.reduced(3).planes);
}

#[test]
fn capture_data_without_owner_and_serial_number() {
    let entries = [
        (0x010F, Entry::Text("Fenwick")),
        (0x0110, Entry::Text("Fenwick F1")),
        (ORIENTATION, Entry::Short(6)),
        (0x0132, Entry::Text("2026:01:02 03:04:05")),
        (0xA431, Entry::Text("SERIAL-0815")),
    ];
    let extras = Extras {
        exif: Some(exif(&entries)),
        icc: None,
    };
    let photo = open(&jpeg(
        320,
        240,
        &gradient(320, 240),
        ExtendedColorType::Rgb8,
        &extras,
    ));
    assert_eq!(photo.capture.camera.as_deref(), Some("Fenwick F1"));
    assert_eq!(
        photo.capture.taken_at.as_deref(),
        Some("2026-01-02T03:04:05")
    );
    assert_eq!((photo.width(), photo.height()), (240, 320));
    assert!(!format!("{:?}", photo.capture).contains("0815"));
}

#[test]
fn malformed_capture_data_do_not_fail_the_photo() {
    let whole = exif(&[
        (0x010F, Entry::Text("Fenwick")),
        (ORIENTATION, Entry::Short(3)),
    ]);
    for cut in 0..whole.len() {
        let extras = Extras {
            exif: Some(whole[..cut].to_vec()),
            icc: None,
        };
        let photo = open(&jpeg(
            200,
            200,
            &gradient(200, 200),
            ExtendedColorType::Rgb8,
            &extras,
        ));
        assert_eq!(photo.width(), 200);
    }
}

#[test]
fn folders_are_dropped_from_the_name() {
    let file = png(200, 200, &gradient(200, 200), &Extras::default());
    for name in ["a/b/scoop.png", "C:\\photos\\scoop.png", "scoop.png"] {
        assert_eq!(
            Photo::from_bytes(name, &file).expect("a photo").file,
            "scoop.png"
        );
    }
}

/// 16-bit PNG: the same light as its 8-bit copy within half a level.
#[test]
fn sixteen_bit_png_is_read() {
    let rgb = gradient(200, 210);
    let wide: Vec<u16> = rgb.iter().map(|&v| u16::from(v) * 257).collect();
    let picture =
        image::ImageBuffer::<image::Rgb<u16>, _>::from_raw(200, 210, wide).expect("a picture");
    let mut file = std::io::Cursor::new(Vec::new());
    picture
        .write_to(&mut file, image::ImageFormat::Png)
        .expect("a PNG file");
    let (deep, plain) = (
        open(file.get_ref()),
        open(&png(200, 210, &rgb, &Extras::default())),
    );
    assert_eq!(deep.rgb8_upright(), plain.rgb8_upright());
}

/// Block means from the definition, in f64, upright pixel by upright pixel.
fn plain_means(photo: &Photo, step: usize) -> Vec<[f64; 3]> {
    let shown = photo.rgb8_upright();
    let (width, height) = (photo.width(), photo.height());
    let mut means = Vec::new();
    for by in 0..height.div_ceil(step) {
        for bx in 0..width.div_ceil(step) {
            let (mut sum, mut n) = ([0.0; 3], 0.0);
            for y in by * step..((by + 1) * step).min(height) {
                for x in bx * step..((bx + 1) * step).min(width) {
                    let byte = shown.get_pixel(x as u32, y as u32).0;
                    (0..3).for_each(|c| sum[c] += colour::srgb_decode(f64::from(byte[c]) / 255.0));
                    n += 1.0;
                }
            }
            means.push(sum.map(|s| s / n));
        }
    }
    means
}

/// Largest difference allowed between a block's mean and the definition, in linear light (0..=1).
const MEAN_TOLERANCE: f64 = 2.0e-3;

proptest! {
    #![proptest_config(ProptestConfig::with_cases(40))]

    #[test]
    fn reduced_is_the_mean_of_linear_light(
        width in 200usize..232, height in 200usize..232, step in 1usize..16, value in 0u16..10, seed in 1u32..1000,
    ) {
        let photo = open(&png(width, height, &noise(width, height, seed), &turned(value)));
        let (small, clipped) = photo.reduced_with_clipped(step);
        let expected = plain_means(&photo, step);
        prop_assert_eq!((small.width, small.height), (photo.width().div_ceil(step), photo.height().div_ceil(step)));
        prop_assert_eq!(small.planes[0].len(), expected.len());
        let mut bias = 0.0;
        for (i, mean) in expected.iter().enumerate() {
            for (c, mean) in mean.iter().enumerate() {
                let off = f64::from(small.planes[c][i]) - mean;
                bias += off / (3 * expected.len()) as f64;
                prop_assert!(off.abs() < MEAN_TOLERANCE, "{i} {c} {off}");
            }
        }
        prop_assert!(bias.abs() < 5.0e-4, "bias {}", bias);
        prop_assert_eq!(clipped, plain_clipped(&photo, step));
    }

    #[test]
    fn stored_pixels_are_each_used_once(width in 1usize..9, height in 1usize..9, value in 0u32..10) {
        let orientation = Orientation::from_exif(value);
        let size = orientation.upright_size(width, height);
        let mut seen = vec![0; width * height];
        for v in 0..size.1 {
            for u in 0..size.0 {
                let (x, y) = orientation.stored_of(u, v, size);
                seen[y * width + x] += 1;
            }
        }
        prop_assert!(seen.iter().all(|&n| n == 1));
    }
}

fn plain_clipped(photo: &Photo, step: usize) -> Vec<u8> {
    let shown = photo.rgb8_upright();
    let across = photo.width().div_ceil(step);
    let mut counts = vec![([0u32; 3], 0u32); across * photo.height().div_ceil(step)];
    for (x, y, byte) in shown.enumerate_pixels() {
        let block = &mut counts[y as usize / step * across + x as usize / step];
        (0..3).for_each(|c| block.0[c] += u32::from(byte.0[c] == 255));
        block.1 += 1;
    }
    counts
        .iter()
        .map(|(full, n)| (full.iter().max().expect("three") * 255).div_ceil(*n) as u8)
        .collect()
}

/// Flat areas are exact: whatever a block's sum is made of, a plain colour keeps its light.
#[test]
fn flat_areas_have_no_bias() {
    for code in 0..=255u8 {
        let photo = open(&png(
            200,
            200,
            &[code; 3].repeat(40_000),
            &Extras::default(),
        ));
        let expected = colour::srgb_decode(f64::from(code) / 255.0);
        for step in [1, 3, 6] {
            close(
                f64::from(photo.reduced(step).planes[2][40]),
                expected,
                1.0e-5,
                &format!("code {code} step {step}"),
            );
        }
    }
}

/// Same bytes for any number of threads.
#[test]
fn threads_do_not_change_the_result() {
    let file = png(333, 251, &noise(333, 251, 7), &turned(6));
    let run = |threads: usize| {
        on_threads(threads, || {
            let photo = open(&file);
            (
                photo.reduced(3).planes,
                photo.clipped(4),
                photo.crop(5, 6, 70, 80).planes,
                photo.sha256,
            )
        })
    };
    assert!(run(1) == run(2) && run(1) == run(5));
}

fn on_threads<T: Send>(threads: usize, work: impl FnOnce() -> T + Send) -> T {
    let pool = rayon::ThreadPoolBuilder::new()
        .num_threads(threads)
        .build()
        .expect("threads");
    pool.install(work)
}

/// A picture, grainy down to row `busy`, above the size from which JPEG files are decoded at half size.
fn large_jpeg(width: usize, height: usize, busy: usize, extras: &Extras) -> Vec<u8> {
    let mut rgb = gradient(width, height);
    let grain = noise(width, busy, 5);
    // Far from black and white: clipped values are not those that the file holds.
    rgb.iter_mut().for_each(|v| *v = 60 + *v / 2);
    rgb.iter_mut().zip(grain).for_each(|(v, n)| *v += n / 16);
    jpeg(width, height, &rgb, ExtendedColorType::Rgb8, extras)
}

/// Large JPEG files are read from the start and from the middle at once: the picture must be that of one piece.
#[test]
fn decoding_in_parts_gives_the_same_picture() {
    for (width, height, busy) in [(2000, 1700, 900), (2206, 1550, 0), (1802, 1800, 1800)] {
        let file = large_jpeg(width, height, busy, &Extras::default());
        let run = |threads: usize, file: &[u8]| {
            on_threads(threads, || {
                Photo::from_bytes("x", file).map(|p| (p.finest_step(), p.reduced(2).planes))
            })
        };
        let whole = run(1, &file).expect("a photo");
        assert_eq!(whole.0, 2);
        assert!(whole == run(2, &file).expect("a photo"));
        for share in [0.3, 0.7, 0.95] {
            let cut = (file.len() as f64 * share) as usize;
            assert_eq!(
                run(2, &file[..cut]).expect_err("an error").code(),
                "photo_damaged",
                "cut at {share}"
            );
        }
    }
}

/// Blocks of two by two of a large JPEG are the means of its coded values, whichever way up it is.
#[test]
fn large_photos_are_means_of_two_by_two() {
    for value in 1..=8 {
        let file = large_jpeg(2010, 1606, 700, &turned(value));
        let photo = open(&file);
        let (small, shown) = (photo.reduced(2), photo.rgb8_upright());
        assert_eq!(
            (small.width * 2, small.height * 2),
            (photo.width(), photo.height())
        );
        for i in (0..small.width * small.height).step_by(997) {
            let (x, y) = (2 * (i % small.width) as u32, 2 * (i / small.width) as u32);
            for c in 0..3 {
                let code = |dx, dy| f64::from(shown.get_pixel(x + dx, y + dy).0[c]);
                let mean = (code(0, 0) + code(1, 0) + code(0, 1) + code(1, 1)) / 4.0;
                let seen = 255.0 * colour::srgb_encode(f64::from(small.planes[c][i]));
                // Rounding of the four values, and values clipped one by one.
                assert!(
                    (seen - mean).abs() < 3.0,
                    "{value} {x} {y} {c}: {seen} {mean}"
                );
            }
        }
        let (means, coarse) = (
            Picture::from(small).reduced(3).planes.concat(),
            photo.reduced(6).planes.concat(),
        );
        assert_eq!(means.len(), coarse.len());
        assert!(
            means
                .iter()
                .zip(&coarse)
                .all(|(p, q)| (p - q).abs() < 1.0e-4)
        );
    }
}

#[test]
fn weighted_light_is_the_weighted_sum_of_the_channels_whichever_way_is_up() {
    let weights = [0.25, 0.5, 0.125];
    for code in 1..=8 {
        let photo = open(&png(210, 205, &noise(210, 205, 3), &turned(code)));
        let crop = photo.crop(150, 3, 90, 70);
        let (light, width) = photo.weighted_finest(150..240, 3..73, weights);
        assert_eq!(width, crop.width);
        let [r, g, b] = &crop.planes;
        let sums = r
            .iter()
            .zip(g)
            .zip(b)
            .map(|((r, g), b)| 0.25 * r + 0.5 * g + 0.125 * b);
        assert_eq!(light, sums.collect::<Vec<f32>>(), "code {code}");
    }
    let photo = open(&png(210, 205, &gradient(210, 205), &Extras::default()));
    assert_eq!(
        photo.weighted_finest(900..950, 0..9, weights),
        (Vec::new(), 0)
    );
}

#[test]
fn crops_end_at_the_border() {
    let photo = open(&png(210, 205, &gradient(210, 205), &Extras::default()));
    let edge = photo.crop(200, 200, 50, 50);
    assert_eq!((edge.width, edge.height), (10, 5));
    let outside = photo.crop(900, 900, 50, 50);
    assert_eq!((outside.width, outside.height), (0, 0));
    assert!(outside.planes.iter().all(Vec::is_empty));
}
