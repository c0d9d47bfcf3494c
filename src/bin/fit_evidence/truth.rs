//! Rendered scenes with their truth.

use catchcup::photo::Photo;
use catchcup::scene::Scene;
use catchcup::scene::read::{CupSpec, read_scene_from};
use std::path::{Path, PathBuf};

/// A photo with the truth of every body in it.
pub struct Truth {
    /// File stem.
    pub stem: String,
    /// The decoded photo.
    pub photo: Photo,
    /// The setting as the program reads it.
    pub scene: Scene,
    /// Body number a full-size pixel, 0 = none, legs and eggs not counted.
    pub mask: Vec<u8>,
    /// 255 x opacity of the pigment a full-size pixel.
    pub opacity: Vec<u8>,
    /// Inner floor diameter of the cup in mm and whether it is dark, as the program is told.
    cup: CupSpec,
    /// Head and tail position of body number k at `k - 1`.
    pub ends: Vec<[[f32; 2]; 2]>,
    /// Median body length in full-size pixels, or `None` without animals.
    pub length: Option<f32>,
}

/// Photos with truth in the folders, in name order, those of `leave_out` left out.
pub fn load(dirs: &[String], leave_out: &[String]) -> Vec<Truth> {
    let mut paths: Vec<PathBuf> = dirs
        .iter()
        .flat_map(|d| std::fs::read_dir(d).expect("the folder can be read"))
        .map(|e| e.expect("the folder can be read").path())
        .filter(|p| p.extension().is_some_and(|e| e == "jpg") && p.with_extension("json").exists())
        .collect();
    paths.sort();
    paths
        .iter()
        .filter_map(|p| read(p))
        .filter(|t| !leave_out.iter().any(|s| t.stem.starts_with(s.as_str())))
        .collect()
}

fn read(path: &Path) -> Option<Truth> {
    let stem = path.file_stem()?.to_string_lossy().to_string();
    let truth: serde_json::Value =
        serde_json::from_slice(&std::fs::read(path.with_extension("json")).ok()?).ok()?;
    let photo = Photo::from_bytes(&stem, &std::fs::read(path).ok()?).ok()?;
    let cup = CupSpec {
        floor_mm: truth["cup"]["inner_floor_diameter_mm"].as_f64(),
        dark: truth["ground"] == "dark",
        ..CupSpec::default()
    };
    let scene = setting(&photo, &cup);
    let plane = |kind: &str| {
        let file = path.with_file_name(format!("{stem}.{kind}.png"));
        Some(image::open(file).ok()?.to_luma8())
    };
    let mask = plane("mask")?;
    let opacity = plane("alpha").map_or_else(|| vec![0; mask.as_raw().len()], |p| p.into_raw());
    let mask = mask
        .pixels()
        .map(|p| if p[0] < 150 { p[0] } else { 0 })
        .collect();
    let animals = truth["animals"].as_array()?;
    let point = |v: &serde_json::Value| {
        [
            v[0].as_f64().unwrap_or(0.0) as f32,
            v[1].as_f64().unwrap_or(0.0) as f32,
        ]
    };
    let ends = animals
        .iter()
        .map(|a| [point(&a["head_xy"]), point(&a["tail_xy"])])
        .collect();
    let mut lengths: Vec<f32> = animals
        .iter()
        .filter_map(|a| a["body_length_px"].as_f64())
        .map(|v| v as f32)
        .collect();
    lengths.sort_by(f32::total_cmp);
    let length = lengths.get(lengths.len() / 2).copied();
    Some(Truth {
        stem,
        photo,
        scene,
        mask,
        opacity,
        cup,
        ends,
        length,
    })
}

fn setting(photo: &Photo, cup: &CupSpec) -> Scene {
    let step = photo.width().max(photo.height()).div_ceil(640);
    read_scene_from(&photo.reduced(step), step, cup)
}

impl Truth {
    /// The same scene as another photo of the same size shows it; none where its setting can't be read.
    pub fn in_other_light(&self, photo: Photo) -> Option<Self> {
        let scene = setting(&photo, &self.cup);
        scene.withheld.is_empty().then(|| Self {
            stem: self.stem.clone(),
            photo,
            scene,
            mask: self.mask.clone(),
            opacity: self.opacity.clone(),
            cup: self.cup,
            ends: self.ends.clone(),
            length: self.length,
        })
    }

    /// Body number at a full-size position, 0 outside.
    pub fn id_at(&self, p: [f32; 2]) -> u8 {
        let (w, h) = (self.photo.width() as i32, self.photo.height() as i32);
        let (x, y) = (p[0].round() as i32, p[1].round() as i32);
        if x < 0 || y < 0 || x >= w || y >= h {
            0
        } else {
            self.mask[(y * w + x) as usize]
        }
    }

    /// Body pixels by body number on every `step`-th pixel of every `step`-th row.
    pub fn areas(&self, step: usize) -> Vec<usize> {
        let mut out = vec![0; 256];
        for y in (step / 2..self.photo.height()).step_by(step) {
            for x in (step / 2..self.photo.width()).step_by(step) {
                out[self.mask[y * self.photo.width() + x] as usize] += 1;
            }
        }
        out
    }
}
