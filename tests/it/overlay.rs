//! The overlay: what is marked shows, what is not marked stays.

use catchcup::ladder::place;
use catchcup::measures::AnimalPicture;
use catchcup::photo::Photo;
use catchcup::report::overlay_jpeg;
use catchcup::scoop::{Graded, Scoop};
use image::RgbImage;

use crate::ladder_animals::{animal, read};
use crate::record_scoop::{full_scoop, scoop_of};
use crate::support::picture::{Extras, png};

const SIZE: (usize, usize) = (1500, 500);

/// The scoop on an evenly grey photo.
fn graded(scoop: Scoop, pictures: Vec<AnimalPicture>) -> Graded {
    let bytes = png(
        SIZE.0,
        SIZE.1,
        &vec![200; SIZE.0 * SIZE.1 * 3],
        &Extras::default(),
    );
    let photo = Photo::from_bytes("grey.png", &bytes).expect("a photo");
    Graded {
        scoop,
        photo,
        pictures,
    }
}

fn picture(graded: &Graded) -> RgbImage {
    image::load_from_memory(&overlay_jpeg(graded).expect("an overlay"))
        .expect("a JPEG")
        .to_rgb8()
}

/// Mean absolute difference from the grey ground in a rectangle.
fn change(picture: &RgbImage, [x, y, w, h]: [u32; 4]) -> f64 {
    let pixels = (y..y + h).flat_map(|v| (x..x + w).map(move |u| (u, v)));
    let sum: f64 = pixels
        .map(|(u, v)| {
            picture
                .get_pixel(u, v)
                .0
                .iter()
                .map(|c| f64::from(c.abs_diff(200)))
                .sum::<f64>()
        })
        .sum();
    sum / f64::from(3 * w * h)
}

/// Animal `no` as a tall body at x = 300 no, 100 wide and 200 high.
fn tall(no: u32) -> catchcup::measures::AnimalMeasures {
    let mut tall = animal(no, 0.99, 0.95);
    let x = 300 * no as i32;
    tall.outline = (0..100)
        .map(|i| [x + i, 150])
        .chain((0..200).map(|i| [x + 100, 150 + i]))
        .collect();
    tall.outline.extend(
        (0..100)
            .map(|i| [x + 100 - i, 350])
            .chain((0..200).map(|i| [x, 350 - i])),
    );
    tall.bbox = [x, 150, 101, 201];
    tall
}

#[test]
fn outlines_and_covered_areas_show_and_the_rest_stays() {
    let mut scoop = scoop_of(vec![tall(1), tall(3)]);
    scoop.turned_away.clear();
    let covered = (200..300).map(|y| (y, 920, 980)).collect();
    let picture = picture(&graded(
        scoop,
        vec![AnimalPicture {
            no: 3,
            covered,
            axis: Vec::new(),
        }],
    ));
    assert!(picture.height() > SIZE.1 as u32, "the legend stands below");
    assert!(
        change(&picture, [400 - 4, 200, 8, 100]) > 40.0,
        "right side of animal 1"
    );
    assert!(
        change(&picture, [320, 200, 60, 100]) < 3.0,
        "inside of animal 1 is not covered"
    );
    assert!(
        change(&picture, [925, 210, 50, 80]) > 8.0,
        "covered part of animal 3 is hatched"
    );
    assert!(
        change(&picture, [600, 20, 200, 400]) < 3.0,
        "nothing between the two"
    );
}

/// Share of pixels along the left side of animal 1 that are darker than the ground.
fn inked(scoop: Scoop) -> f64 {
    let picture = picture(&graded(scoop, Vec::new()));
    let rows = 160..340u32;
    let dark = rows
        .clone()
        .filter(|y| (297..=303).any(|x| picture.get_pixel(x, *y).0[0] < 120))
        .count();
    dark as f64 / rows.len() as f64
}

#[test]
fn too_close_to_call_is_dashed_and_off_types_look_different() {
    let whole = scoop_of(vec![tall(1)]);
    let mut edge = tall(1);
    edge.coverage = read(0.95, 0.02);
    let between = scoop_of(vec![edge]);
    assert!(between.animals[0].placing.between.is_some());
    let (whole, between) = (inked(whole), inked(between));
    assert!(whole > 0.95, "{whole}");
    assert!((0.35..0.85).contains(&between), "{between}");

    let mut brown = tall(1);
    brown.brown_share = read(0.4, 0.02);
    let off = scoop_of(vec![brown]);
    assert!(place(off.ladder.as_ref().expect("red"), &off.animals[0].measures).is_off_type());
    let picture = picture(&graded(off, Vec::new()));
    let reddish = picture
        .pixels()
        .filter(|p| p.0[0] > 150 && p.0[1] < 70)
        .count();
    assert!(reddish > 2000, "{reddish}");
}

#[test]
fn the_same_scoop_gives_the_same_bytes() {
    let bytes = || overlay_jpeg(&graded(full_scoop(), Vec::new())).expect("an overlay");
    assert_eq!(bytes(), bytes());
}

#[test]
fn odd_animals_are_no_trouble() {
    let mut none = animal(1, 0.5, 0.9);
    none.outline.clear();
    let mut outside = animal(2, 0.5, 0.9);
    outside.outline = vec![[-500, -500], [9000, -500], [9000, 9000], [-500, 9000]];
    let mut point = animal(3, 0.5, 0.9);
    point.outline = vec![[5, 5]];
    let covered = vec![(-5, -10, 20), (499, 1490, 5000), (3, 9, 2)];
    let graded = graded(
        scoop_of(vec![none, outside, point]),
        vec![AnimalPicture {
            no: 2,
            covered,
            axis: Vec::new(),
        }],
    );
    assert!(overlay_jpeg(&graded).is_ok());
    let tiny = png(20, 16, &[200; 20 * 16 * 3], &Extras::default());
    if let Ok(photo) = Photo::from_bytes("tiny.png", &tiny) {
        assert!(overlay_jpeg(&Graded { photo, ..graded }).is_ok());
    }
}
