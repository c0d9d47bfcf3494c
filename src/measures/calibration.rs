//! Weights of the uncertainties from readings with known errors.

use super::uncertain::Weights;
use crate::stats;

/// A reading: the group of photos it comes from, true coverage of the animal, error, parts of its uncertainty.
#[derive(Debug, Clone, PartialEq)]
pub struct Row {
    /// Photos of the same animals have the same group.
    pub group: String,
    /// True coverage, 0..=1.
    pub coverage: f64,
    /// Found minus true; relative for lengths.
    pub error: f64,
    /// Values of the parts.
    pub parts: Vec<f64>,
}

/// Readings of the three measures.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Rows {
    /// Coverage.
    pub coverage: Vec<Row>,
    /// Opacity.
    pub opacity: Vec<Row>,
    /// Length, relative.
    pub length: Vec<Row>,
}

impl Rows {
    /// Rows from lines `photo,measure,true coverage,error,part,part...`; `None` where a line is another.
    pub fn parse(text: &str) -> Option<Self> {
        let mut rows = Self::default();
        for line in text.lines() {
            let fields: Vec<&str> = line.split(',').collect();
            let numbers: Vec<f64> = fields
                .get(2..)?
                .iter()
                .map(|f| f.parse().ok())
                .collect::<Option<_>>()?;
            let row = Row {
                group: fields[0].split('_').next()?.to_string(),
                coverage: *numbers.first()?,
                error: *numbers.get(1)?,
                parts: numbers[2..].to_vec(),
            };
            match fields[1] {
                "coverage" => rows.coverage.push(row),
                "opacity" => rows.opacity.push(row),
                "length" => rows.length.push(row),
                _ => return None,
            }
        }
        Some(rows)
    }
}

/// Share of errors within one and within two standard uncertainties that is reached at the least. A normal distribution has 0.68
/// and 0.95; a little less is aimed at, as the readings come from a finding fitted to half of the scenes, and that in use to all.
const WITHIN_ONE: f64 = 0.66;
const WITHIN_TWO: f64 = 0.93;

/// Weights of the parts for one measure: the most likely ones, then all scaled until the shares within one and within two
/// standard uncertainties are reached both. `None` without rows.
pub fn fitted(rows: &[&Row]) -> Option<Vec<f64>> {
    let parts: Vec<Vec<f64>> = rows.iter().map(|r| r.parts.clone()).collect();
    let errors: Vec<f64> = rows.iter().map(|r| r.error).collect();
    let weights = stats::variance_parts(&parts, &errors)?;
    let off: Vec<f64> = rows
        .iter()
        .map(|r| r.error.abs() / spread(r, &weights).max(1e-9))
        .collect();
    let scale = stats::quantile(&off, WITHIN_ONE)?.max(0.5 * stats::quantile(&off, WITHIN_TWO)?);
    Some(weights.iter().map(|w| w * scale).collect())
}

/// Standard uncertainty of a reading with these weights.
pub fn spread(row: &Row, weights: &[f64]) -> f64 {
    row.parts
        .iter()
        .zip(weights)
        .map(|(p, w)| (p * w).powi(2))
        .sum::<f64>()
        .sqrt()
}

/// The weights of all measures; `None` when a measure has no rows or other parts.
pub fn weights(rows: &Rows) -> Option<Weights> {
    let of = |rows: &[Row]| fitted(&rows.iter().collect::<Vec<_>>());
    Some(Weights {
        coverage: of(&rows.coverage)?.try_into().ok()?,
        opacity: of(&rows.opacity)?.try_into().ok()?,
        length: of(&rows.length)?.try_into().ok()?,
    })
}
