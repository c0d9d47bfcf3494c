//! Fits an additive logistic model to labelled feature rows.

use catchcup::animals::additive::{Additive, Curve};
use linfa::prelude::*;
use linfa_logistic::LogisticRegression;
use ndarray::{Array1, Array2};

/// Shares of the training values at which a curve may bend.
const BENDS: [f64; 4] = [0.2, 0.5, 0.8, 0.95];

/// Labelled rows, all of one length.
#[derive(Default)]
pub struct Rows {
    pub features: Vec<Vec<f32>>,
    pub labels: Vec<bool>,
}

impl Rows {
    pub fn push(&mut self, features: &[f32], label: bool) {
        self.features.push(features.to_vec());
        self.labels.push(label);
    }
}

/// The model fitted to the rows with ridge penalty `alpha` on standardised columns.
pub fn fit(rows: &Rows, names: &[&str], alpha: f64) -> Additive {
    let knots: Vec<Vec<f32>> = (0..names.len()).map(|c| bends(rows, c)).collect();
    let width: usize = knots.iter().map(|k| k.len() + 1).sum();
    let n = rows.features.len();
    let mut x = Array2::<f64>::zeros((n, width));
    for (i, row) in rows.features.iter().enumerate() {
        let mut j = 0;
        for (value, knots) in row.iter().zip(&knots) {
            x[[i, j]] = f64::from(*value);
            j += 1;
            for k in knots {
                x[[i, j]] = f64::from((value - k).max(0.0));
                j += 1;
            }
        }
    }
    let (mean, spread) = standardise(&mut x);
    let y = Array1::from_iter(rows.labels.iter().map(|&b| usize::from(b)));
    let model = LogisticRegression::default()
        .alpha(alpha)
        .max_iterations(150)
        .gradient_tolerance(1e-3 * n as f64 / 1000.0)
        .fit(&Dataset::new(x, y))
        .expect("rows of both classes");
    let sign = if model.labels().pos.class == 1 {
        1.0
    } else {
        -1.0
    };
    let slopes: Vec<f64> = model
        .params()
        .iter()
        .zip(&spread)
        .map(|(w, s)| sign * w / s)
        .collect();
    let bias = sign * model.intercept() - slopes.iter().zip(&mean).map(|(w, m)| w * m).sum::<f64>();
    let mut j = 0;
    let curves = names
        .iter()
        .zip(knots)
        .map(|(name, knots)| {
            let own = slopes[j..j + knots.len() + 1]
                .iter()
                .map(|&v| v as f32)
                .collect();
            j += knots.len() + 1;
            Curve {
                name: name.to_string(),
                knots,
                slopes: own,
            }
        })
        .collect();
    Additive {
        bias: bias as f32,
        curves,
    }
}

fn bends(rows: &Rows, c: usize) -> Vec<f32> {
    let mut v: Vec<f32> = rows.features.iter().step_by(5).map(|r| r[c]).collect();
    v.sort_by(f32::total_cmp);
    let mut knots: Vec<f32> = BENDS
        .iter()
        .map(|q| v[((v.len() - 1) as f64 * q) as usize])
        .collect();
    knots.dedup_by(|a, b| (*a - *b).abs() < 1e-3);
    knots
}

fn standardise(x: &mut Array2<f64>) -> (Vec<f64>, Vec<f64>) {
    let n = x.nrows() as f64;
    let mut out = (Vec::new(), Vec::new());
    for mut column in x.columns_mut() {
        let mean = column.sum() / n;
        let spread = (column.iter().map(|v| (v - mean).powi(2)).sum::<f64>() / n)
            .sqrt()
            .max(1e-6);
        column.mapv_inplace(|v| (v - mean) / spread);
        out.0.push(mean);
        out.1.push(spread);
    }
    out
}
