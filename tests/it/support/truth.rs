//! The sample images with their truth, graded once, and how far the answers are from the truth.
//!
//! Truth of `NAME.jpg`: `NAME.json` (animals), `NAME.mask.png` (k = body of animal k; legs and eggs have values from 150
//! on) and `NAME.alpha.png` (255 times the pigment's opacity). All in the upright frame.

use std::collections::BTreeMap;
use std::sync::{Mutex, OnceLock};

use catchcup::ladder::Shelf;
use catchcup::measures::AnimalMeasures;
use catchcup::scene::CupSpec;
use catchcup::scoop::{Graded, MinutesRule, Netted, Order, grade_photo};
use serde_json::Value;

use super::root;

/// Mask values from here on are eggs, legs and antennae.
const FIRST_NO_BODY: u8 = 150;

/// Opacity from which a pixel counts as covered, as in the alpha picture.
const COVERED: f64 = 0.5;

/// One line of the manifest.
#[derive(Debug, Clone)]
pub struct Sample {
    pub file: String,
    pub line: String,
    pub cup_mm: Option<f64>,
    pub animals: usize,
}

impl Sample {
    pub fn bytes(&self) -> Vec<u8> {
        let path = root().join("sample-images").join(&self.file);
        std::fs::read(&path).unwrap_or_else(|e| panic!("{}: {e}", path.display()))
    }

    pub fn order(&self) -> Order {
        Order {
            ladder: Shelf::default().ladder(&self.line),
            cup: CupSpec {
                floor_mm: self.cup_mm,
                ..CupSpec::default()
            },
            sex: None,
            juvenile_mm: 15.0,
            netted: Netted::Unknown,
            minutes: MinutesRule::default(),
        }
    }

    fn beside(&self, ending: &str) -> std::path::PathBuf {
        let stem = self.file.strip_suffix(".jpg").expect("a .jpg file");
        root()
            .join("sample-images/truth")
            .join(format!("{stem}.{ending}"))
    }
}

/// All samples, in the manifest's order.
pub fn samples() -> Vec<Sample> {
    let text = std::fs::read_to_string(root().join("sample-images/MANIFEST.csv"))
        .expect("the manifest of the sample images");
    let mut lines = text.lines();
    assert_eq!(lines.next(), Some("file,maker,licence,line,cup_mm,animals"));
    lines.map(sample_of).collect()
}

fn sample_of(line: &str) -> Sample {
    let cells: Vec<&str> = line.split(',').collect();
    assert_eq!(cells.len(), 6, "{line}");
    Sample {
        file: cells[0].into(),
        line: cells[3].into(),
        cup_mm: (!cells[4].is_empty()).then(|| cells[4].parse().expect("millimetres")),
        animals: cells[5].parse().expect("a count"),
    }
}

/// The sample whose file name begins so.
pub fn sample(start: &str) -> Sample {
    let found = samples().into_iter().find(|s| s.file.starts_with(start));
    found.unwrap_or_else(|| panic!("no sample image begins with {start}"))
}

/// The sample graded with its line and cup; graded once for all tests.
pub fn graded(sample: &Sample) -> &'static Graded {
    static DONE: Mutex<BTreeMap<String, &'static OnceLock<Graded>>> = Mutex::new(BTreeMap::new());
    let cell = *DONE
        .lock()
        .expect("no test panics while it holds the lock")
        .entry(sample.file.clone())
        .or_insert_with(|| Box::leak(Box::default()));
    cell.get_or_init(|| {
        grade_photo(
            &sample.file,
            sample.bytes(),
            &sample.order(),
            &Shelf::default(),
        )
        .unwrap_or_else(|e| panic!("{}: {e}", sample.file))
    })
}

/// A picture of body numbers.
#[derive(Debug)]
pub struct Mask {
    pub width: usize,
    pub height: usize,
    pub ids: Vec<u8>,
}

/// One true animal.
#[derive(Debug, Clone)]
pub struct TrueAnimal {
    pub id: u8,
    pub cut: bool,
    pub head: [f64; 2],
    pub tail: [f64; 2],
    pub length_px: f64,
    pub length_mm: f64,
    /// From mask and alpha: share of body pixels with opacity 0.5 or more.
    pub coverage: f64,
    /// From mask and alpha: mean opacity over those pixels.
    pub opacity: Option<f64>,
    /// What the renderer itself noted of the two.
    pub noted: [f64; 2],
    /// Clear share of the middle third.
    pub clear_middle: f64,
    /// Ripe, whether or not colour hides it.
    pub has_saddle: bool,
}

/// The truth of a sample.
#[derive(Debug)]
pub struct Truth {
    pub mask: Mask,
    pub animals: Vec<TrueAnimal>,
}

/// Reads the truth of a sample.
pub fn truth(sample: &Sample) -> Truth {
    truth_in(&|ending| sample.beside(ending))
}

/// 255 times the opacity of the pigment at each pixel of a sample.
pub fn alpha(sample: &Sample) -> Vec<u8> {
    let picture = image::open(sample.beside("alpha.png"));
    picture.expect("a truth picture").to_luma8().into_raw()
}

/// Reads the truth in the files with these endings.
pub fn truth_in(file: &dyn Fn(&str) -> std::path::PathBuf) -> Truth {
    let text = std::fs::read_to_string(file("json")).expect("a truth file");
    let json: Value = serde_json::from_str(&text).expect("a JSON file");
    let grey = |ending: &str| {
        image::open(file(ending))
            .expect("a truth picture")
            .to_luma8()
    };
    let (mask, alpha) = (grey("mask.png"), grey("alpha.png"));
    assert_eq!(mask.dimensions(), alpha.dimensions());
    let mask = Mask {
        width: mask.width() as usize,
        height: mask.height() as usize,
        ids: mask
            .into_raw()
            .into_iter()
            .map(|v| if v < FIRST_NO_BODY { v } else { 0 })
            .collect(),
    };
    let animals = json["animals"].as_array().expect("a list of animals");
    let animals = animals
        .iter()
        .map(|a| true_animal(a, &mask, alpha.as_raw()))
        .collect();
    Truth { mask, animals }
}

fn true_animal(json: &Value, mask: &Mask, alpha: &[u8]) -> TrueAnimal {
    let number = |key: &str| json[key].as_f64().unwrap_or_else(|| panic!("no {key}"));
    let point = |key: &str| [0, 1].map(|i| json[key][i].as_f64().expect("a point"));
    let id = number("id") as u8;
    let (mut body, mut covered, mut sum) = (0usize, 0usize, 0.0);
    for (_, &a) in mask.ids.iter().zip(alpha).filter(|(k, _)| **k == id) {
        body += 1;
        let opacity = f64::from(a) / 255.0;
        if opacity >= COVERED {
            covered += 1;
            sum += opacity;
        }
    }
    TrueAnimal {
        id,
        cut: json["cut"].as_bool().expect("cut is true or false"),
        head: point("head_xy"),
        tail: point("tail_xy"),
        length_px: number("body_length_px"),
        length_mm: number("total_length_mm"),
        coverage: covered as f64 / body as f64,
        opacity: (covered > 0).then(|| sum / covered as f64),
        noted: [
            number("coverage"),
            json["mean_opacity_covered"].as_f64().unwrap_or(f64::NAN),
        ],
        clear_middle: 1.0 - json["coverage_thirds"][1].as_f64().expect("a share"),
        has_saddle: json["has_saddle"].as_bool().expect("true or false"),
    }
}

/// A found animal and the true one it stands for.
#[derive(Debug)]
pub struct Pair<'a> {
    pub found: &'a AnimalMeasures,
    pub true_one: &'a TrueAnimal,
    /// Intersection over union of the two bodies.
    pub iou: f64,
}

/// Found and true animals brought together one to one, best overlap first, at 0.5 or more.
#[derive(Debug)]
pub struct Matches<'a> {
    pub pairs: Vec<Pair<'a>>,
    /// True uncut animals without a partner.
    pub missed: usize,
    /// Found animals without a partner.
    pub extra: usize,
}

/// How several scoops together agree with their truth.
#[derive(Debug, Default)]
pub struct Tally {
    found: usize,
    astray: usize,
    overlap: f64,
    coverage_off: f64,
}

impl Tally {
    /// Counts one scoop.
    pub fn add(&mut self, matched: &Matches) {
        self.astray += matched.missed + matched.extra;
        for pair in &matched.pairs {
            self.found += 1;
            self.overlap += pair.iou;
            let coverage = pair.found.coverage.value().expect("a coverage");
            self.coverage_off += (coverage - pair.true_one.coverage).abs();
        }
    }

    /// F1 at an overlap of 0.5, missed and extra animals against those found.
    pub fn f1(&self) -> f64 {
        let twice = 2.0 * self.found as f64;
        twice / (twice + self.astray as f64)
    }

    /// Mean intersection over union of the matched bodies.
    pub fn overlap(&self) -> f64 {
        self.overlap / self.found as f64
    }

    /// Mean absolute error of coverage.
    pub fn coverage_off(&self) -> f64 {
        self.coverage_off / self.found as f64
    }
}

/// Matches the animals of a graded sample with the true ones.
pub fn matches<'a>(graded: &'a Graded, truth: &'a Truth) -> Matches<'a> {
    let found: Vec<&AnimalMeasures> = graded.scoop.animals.iter().map(|a| &a.measures).collect();
    let mut overlaps = Vec::new();
    for (i, animal) in found.iter().enumerate() {
        for (iou, k) in overlaps_of(animal, &truth.mask) {
            overlaps.push((iou, i, k));
        }
    }
    overlaps.sort_by(|a, b| b.0.total_cmp(&a.0).then(a.1.cmp(&b.1)));
    let mut pairs: Vec<Pair> = Vec::new();
    for (iou, i, k) in overlaps.into_iter().take_while(|o| o.0 >= 0.5) {
        let taken = |p: &Pair| p.found.no == found[i].no || p.true_one.id == k;
        if pairs.iter().any(taken) {
            continue;
        }
        let true_one = truth.animals.iter().find(|a| a.id == k);
        pairs.push(Pair {
            found: found[i],
            true_one: true_one.expect("the mask holds only listed animals"),
            iou,
        });
    }
    let met = |a: &&TrueAnimal| !a.cut && pairs.iter().all(|p| p.true_one.id != a.id);
    Matches {
        missed: truth.animals.iter().filter(met).count(),
        extra: found.len() - pairs.len(),
        pairs,
    }
}

/// Intersection over union of one found body with every true body that it overlaps.
fn overlaps_of(animal: &AnimalMeasures, mask: &Mask) -> Vec<(f64, u8)> {
    let body = fill(&animal.outline, &animal.holes, mask.width, mask.height);
    let (mut both, mut all) = ([0usize; 256], [0usize; 256]);
    let mut area = 0;
    for (&id, &inside) in mask.ids.iter().zip(&body) {
        all[id as usize] += 1;
        if inside {
            both[id as usize] += 1;
            area += 1;
        }
    }
    (1..FIRST_NO_BODY)
        .filter(|&k| both[k as usize] > 0)
        .map(|k| {
            let shared = both[k as usize];
            let union = area + all[k as usize] - shared;
            (k, shared as f64 / union as f64)
        })
        .map(|(k, iou)| (iou, k))
        .collect()
}

/// Pixels inside a chain of border pixels, the border included; borders of holes are body as well.
pub fn fill(
    outline: &[[i32; 2]],
    holes: &[Vec<[i32; 2]>],
    width: usize,
    height: usize,
) -> Vec<bool> {
    let mut inside = vec![false; width * height];
    toggle(outline, width, height, &mut inside);
    for hole in holes {
        toggle(hole, width, height, &mut inside);
    }
    for chain in std::iter::once(outline).chain(holes.iter().map(Vec::as_slice)) {
        for [x, y] in chain {
            if (0..width as i32).contains(x) && (0..height as i32).contains(y) {
                inside[*y as usize * width + *x as usize] = true;
            }
        }
    }
    inside
}

/// Flips every pixel that lies inside the chain by the even-odd rule.
fn toggle(chain: &[[i32; 2]], width: usize, height: usize, inside: &mut [bool]) {
    for y in 0..height as i32 {
        let mut crossings: Vec<f64> = Vec::new();
        for (a, b) in chain.iter().zip(chain.iter().cycle().skip(1)) {
            if (a[1] <= y) != (b[1] <= y) {
                let along = f64::from(y - a[1]) / f64::from(b[1] - a[1]);
                crossings.push(f64::from(a[0]) + along * f64::from(b[0] - a[0]));
            }
        }
        crossings.sort_by(f64::total_cmp);
        for pair in crossings.chunks_exact(2) {
            let from = pair[0].ceil().max(0.0) as usize;
            let to = (pair[1].floor() + 1.0).clamp(0.0, width as f64) as usize;
            for x in from..to {
                inside[y as usize * width + x] ^= true;
            }
        }
    }
}

/// The middle value; the upper one of two.
pub fn median(values: &mut [f64]) -> f64 {
    assert!(!values.is_empty(), "no values to take the median of");
    values.sort_by(f64::total_cmp);
    values[values.len() / 2]
}
