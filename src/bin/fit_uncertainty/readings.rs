//! Readings of animals in photos with truth: error and parts of the uncertainty.

use catchcup::animals::models::Models;
use catchcup::ladder::Shelf;
use catchcup::measures::analyse::analyse_with;
use catchcup::measures::{AnimalMeasures, AnimalPicture, LineColour, MeasureRequest};
use catchcup::photo::Photo;
use catchcup::scene::read::{CupSpec, read_scene_from};
use serde_json::Value;
use std::path::{Path, PathBuf};

/// An animal with less true coverage shows too little colour for an opacity.
const COLOUR_ENOUGH: f64 = 0.1;
/// Found and true area differ by less than this factor where one is the other.
const AREA_FACTOR: f64 = 1.8;

/// The lines for all photos of the folders whose stem is wanted.
pub fn readings(dirs: &[String], wanted: &dyn Fn(&str) -> bool, models: &Models) -> String {
    let mut photos: Vec<PathBuf> = dirs
        .iter()
        .flat_map(|d| std::fs::read_dir(d).expect("the folder can be read"))
        .map(|e| e.expect("the folder can be read").path())
        .filter(|p| p.extension().is_some_and(|e| e == "jpg") && p.with_extension("json").exists())
        .collect();
    photos.sort();
    let lines = photos
        .iter()
        .filter(|p| wanted(&stem(p)))
        .map(|p| of_photo(p, models));
    lines.collect()
}

fn stem(path: &Path) -> String {
    path.file_stem()
        .unwrap_or_default()
        .to_string_lossy()
        .to_string()
}

fn of_photo(path: &Path, models: &Models) -> String {
    let truth: Value =
        serde_json::from_slice(&std::fs::read(path.with_extension("json")).expect("truth"))
            .expect("truth");
    let photo =
        Photo::from_bytes(&stem(path), std::fs::read(path).expect("a photo")).expect("a photo");
    let step = photo.width().max(photo.height()).div_ceil(700);
    let cup = CupSpec {
        floor_mm: truth["cup"]["inner_floor_diameter_mm"].as_f64(),
        dark: truth["ground"] == "dark",
        ..CupSpec::default()
    };
    let scene = read_scene_from(&photo.reduced(step), step, &cup);
    let colours = colours(&truth);
    let request = MeasureRequest {
        line: Some(&colours[0]),
        candidates: &colours[1..],
        given_sex: None,
    };
    let analysis = analyse_with(&photo, &scene, &request, models);
    let mask = image::open(path.with_extension("mask.png"))
        .expect("a mask")
        .to_luma8();
    let id_at = |p: [f32; 2]| {
        let (x, y) = (p[0].max(0.0) as u32, p[1].max(0.0) as u32);
        if x < mask.width() && y < mask.height() {
            mask.get_pixel(x, y)[0]
        } else {
            0
        }
    };
    let mut out = String::new();
    for ((m, picture), parts) in analysis
        .animals
        .iter()
        .zip(&analysis.pictures)
        .zip(&analysis.parts)
    {
        let Some(animal) = true_one(m, picture, &id_at, &truth) else {
            continue;
        };
        out += &lines(&stem(path), m, parts, animal);
    }
    out
}

/// The line of the photo and, for a mixed one, the colours to choose from.
fn colours(truth: &Value) -> Vec<LineColour> {
    let shelf = Shelf::default();
    let animals = truth["animals"].as_array().expect("animals");
    let id = line_of(animals.iter().filter_map(|a| a["line"].as_str()));
    let colour = |id: &str| shelf.ladder(id).expect("a built-in line").colour;
    let mut out = vec![colour(&id)];
    if id == "mixed" {
        out.extend(
            shelf
                .lines()
                .iter()
                .filter(|l| *l != "mixed")
                .map(|l| colour(l)),
        );
    }
    out
}

/// The line to grade a photo with: that of all its animals, wild ones among others being off-types; else mixed.
fn line_of<'a>(animals: impl Iterator<Item = &'a str>) -> String {
    let mut lines: Vec<String> = animals
        .map(|line| match line.split_once('_') {
            Some(("rili", colour)) => format!("rili-{colour}"),
            Some(("red", "tissue")) => "red-tissue".to_string(),
            Some((colour, _)) => colour.to_string(),
            None => line.to_string(),
        })
        .collect();
    lines.sort();
    lines.dedup();
    if lines.len() > 1 {
        lines.retain(|l| l != "wild");
    }
    match lines.as_slice() {
        [one] if one != "green" => one.clone(),
        _ => "mixed".to_string(),
    }
}

/// The true animal that most of the axis lies on, when it is about as large and lies whole in the photo.
fn true_one<'a>(
    m: &AnimalMeasures,
    picture: &AnimalPicture,
    id_at: &dyn Fn([f32; 2]) -> u8,
    truth: &'a Value,
) -> Option<&'a Value> {
    let mut counts = [0usize; 256];
    for p in &picture.axis {
        counts[id_at(*p) as usize] += 1;
    }
    let best = (1..150).max_by_key(|&k| counts[k])?;
    let animal = truth["animals"]
        .as_array()?
        .iter()
        .find(|a| a["id"].as_u64() == Some(best as u64))?;
    let ratio = m.area_px / animal["area_px"].as_f64()?;
    let same =
        counts[best] * 2 > picture.axis.len() && (1.0 / AREA_FACTOR..AREA_FACTOR).contains(&ratio);
    (same && animal["cut"] != true).then_some(animal)
}

fn lines(
    stem: &str,
    m: &AnimalMeasures,
    parts: &catchcup::measures::uncertain::Parts,
    animal: &Value,
) -> String {
    let truth = |key: &str| animal[key].as_f64();
    let coverage = truth("coverage").unwrap_or(0.0);
    let mut out = String::new();
    let mut line = |measure: &str, error: Option<f64>, parts: &[f64]| {
        if let Some(error) = error {
            let parts: Vec<String> = parts.iter().map(|p| format!("{p:.5}")).collect();
            out += &format!(
                "{stem},{measure},{coverage:.3},{error:.5},{}\n",
                parts.join(",")
            );
        }
    };
    let error = |found: Option<f64>, key: &str| Some(found? - truth(key)?);
    line(
        "coverage",
        error(m.coverage.value(), "coverage"),
        &parts.coverage,
    );
    let opacity =
        error(m.opacity.value(), "mean_opacity_covered").filter(|_| coverage > COLOUR_ENOUGH);
    line("opacity", opacity, &parts.opacity);
    let length = truth("body_length_px").map(|l| m.length_px.value / l - 1.0);
    line("length", length, &parts.length);
    out
}
