//! Two records of the same photo, and two photos of a dispute.

use serde_json::Value;
use sha2::{Digest, Sha256};

use super::key::hex;
use super::manifest::Manifest;
use crate::colour::ciede2000;
use crate::photo::strip;
use crate::scoop::KeptAnimal;

/// Digits to which the record rounds a number of that name: see the record's own text.
fn digits(name: &str) -> i32 {
    match name {
        "hue_deg" | "length_px" | "area_px" | "head" | "tail" | "centre" | "axes" | "corners" => 1,
        "lab" | "lab_abs" | "chroma" | "line_de00" | "length_mm" | "de00_before" | "de00_after"
        | "minutes_in_cup" => 2,
        "chances" => 3,
        _ => 4,
    }
}

/// The first member in which two records differ by more than a unit of the last digit they are rounded to; `None` where none
/// does. The version of the program and the course of outlines are passed over.
pub fn apart(one: &Value, other: &Value) -> Option<String> {
    differs("", one, other)
}

fn differs(name: &str, one: &Value, other: &Value) -> Option<String> {
    let here = || {
        Some(if name.is_empty() {
            "record".into()
        } else {
            name.to_string()
        })
    };
    match (one, other) {
        (Value::Object(a), Value::Object(b)) => {
            if a.len() != b.len() {
                return here();
            }
            a.iter()
                .filter(|(key, _)| !matches!(key.as_str(), "program" | "outline" | "holes"))
                .find_map(|(key, value)| match b.get(key) {
                    Some(other) => differs(inner(name, key), value, other),
                    None => Some(key.clone()),
                })
        }
        (Value::Array(a), Value::Array(b)) => {
            if a.len() != b.len() {
                return here();
            }
            a.iter().zip(b).find_map(|(a, b)| differs(name, a, b))
        }
        (Value::Number(a), Value::Number(b)) => {
            let (a, b) = (a.as_f64()?, b.as_f64()?);
            let unit = 10f64.powi(-digits(name));
            let whole = a.fract() == 0.0 && b.fract() == 0.0 && digits(name) == 4;
            let most = if whole { 0.0 } else { 1.01 * unit };
            ((a - b).abs() > most).then(here).flatten()
        }
        (a, b) => (a != b).then(here).flatten(),
    }
}

/// Uncertainties are named after their measure, so a length's is rounded as the length.
fn inner<'a>(_: &str, key: &'a str) -> &'a str {
    key
}

/// What can be said of a buyer's photo beside the seller's.
#[derive(Debug, Clone, PartialEq)]
pub struct Beside {
    /// Animals in the seller's photo and in the buyer's.
    pub animals: [usize; 2],
    /// Of these, those of another colour than the page's line: off-type by the page's own rules.
    pub off_type: [usize; 2],
    /// CIEDE2000 between the mean colours of both photos' animals; `None` where one has no chart of its own.
    pub same_chart_de00: Option<f64>,
    /// Standard error of the mean colours together, from the animals' own spread; with the distance.
    pub spread_de00: Option<f64>,
    /// Mean coverage of both, 0..=1, where known.
    pub coverage: [Option<f64>; 2],
    /// Mean length of both, millimetres, where known.
    pub length_mm: [Option<f64>; 2],
}

impl Beside {
    /// True where most of the buyer's animals are of another colour than the page's line, and more of them than on the page.
    pub fn other_line(&self) -> bool {
        let [page, buyer] = self.off_type;
        buyer > 0
            && 2 * buyer >= self.animals[1]
            && buyer * self.animals[0] > page * self.animals[1]
    }
}

/// True where `photo` is the very picture of the page: the seller's original, the published file, or either without what the
/// camera noted.
pub fn same_picture(manifest: &Manifest, photo: &[u8]) -> bool {
    let digest = |bytes: &[u8]| hex(&Sha256::digest(bytes));
    let published = manifest.files.iter().find(|f| f.name == manifest.photo());
    let is_published = |sha256: String| published.is_some_and(|f| f.sha256 == sha256);
    digest(photo) == manifest.original_sha256
        || is_published(digest(photo))
        || strip::published(photo).is_ok_and(|stripped| is_published(digest(&stripped)))
}

/// The animals of two photos beside each other. Colours are held together only where each photo carried a chart, so that
/// both are absolute.
pub fn beside(seller: &[KeptAnimal], buyer: &[KeptAnimal]) -> Beside {
    let labs = [seller, buyer].map(|animals| -> Vec<[f64; 3]> {
        animals.iter().filter_map(|a| a.colour?.lab_abs).collect()
    });
    let same_chart_de00 = match (mean_lab(&labs[0]), mean_lab(&labs[1])) {
        (Some(a), Some(b)) => Some(ciede2000(a, b)),
        _ => None,
    };
    Beside {
        animals: [seller.len(), buyer.len()],
        off_type: [seller, buyer].map(|all| all.iter().filter(|a| a.is_off_type()).count()),
        spread_de00: same_chart_de00.map(|_| {
            let [a, b] = labs.each_ref().map(|all| standard_error(all));
            a.hypot(b)
        }),
        same_chart_de00,
        coverage: [seller, buyer]
            .map(|all| mean(all.iter().filter_map(|a| Some(a.coverage?.value)))),
        length_mm: [seller, buyer]
            .map(|all| mean(all.iter().filter_map(|a| Some(a.length_mm?.value)))),
    }
}

fn mean(values: impl Iterator<Item = f64>) -> Option<f64> {
    crate::stats::mean(&values.collect::<Vec<f64>>())
}

fn mean_lab(labs: &[[f64; 3]]) -> Option<[f64; 3]> {
    let n = labs.len() as f64;
    let sum = |c: usize| labs.iter().map(|lab| lab[c]).sum::<f64>();
    (!labs.is_empty()).then(|| [0, 1, 2].map(|c| sum(c) / n))
}

/// Root mean square CIEDE2000 of the animals to their mean, over the square root of their number.
fn standard_error(labs: &[[f64; 3]]) -> f64 {
    let Some(centre) = mean_lab(labs) else {
        return 0.0;
    };
    let squares: f64 = labs.iter().map(|lab| ciede2000(*lab, centre).powi(2)).sum();
    squares.sqrt() / labs.len() as f64
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::json;

    #[test]
    fn rounding_is_passed_over_and_no_more() {
        let one = json!({"animals": [{"no": 1, "coverage": 0.9123, "colour": {"lab": [40.01, 2.0, 3.0]}, "rung": "G4"}], "program": {"version": "1"}});
        let near = json!({"animals": [{"no": 1, "coverage": 0.9124, "colour": {"lab": [40.02, 2.0, 3.0]}, "rung": "G4"}], "program": {"version": "2"}});
        assert_eq!(apart(&one, &near), None);
        for (path, value, name) in [
            ("/animals/0/coverage", json!(0.9126), "coverage"),
            ("/animals/0/no", json!(2), "no"),
            ("/animals/0/rung", json!("G5"), "rung"),
            ("/animals/0/colour/lab/0", json!(40.04), "lab"),
            ("/animals/0/colour", json!(null), "colour"),
        ] {
            let mut far = one.clone();
            *far.pointer_mut(path).expect("the path is there") = value;
            assert_eq!(apart(&one, &far).as_deref(), Some(name));
        }
    }
}
