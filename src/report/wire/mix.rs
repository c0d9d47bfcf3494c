//! The grade mix's part of the record.

use std::collections::BTreeMap;

use serde::Serialize;

use super::round;
use crate::scoop::mix::{AtOrAbove, GradeMix, LEVEL, METHOD, RungShare};

#[derive(Serialize)]
pub(super) struct MixObject {
    n: u32,
    left_out: BTreeMap<&'static str, u32>,
    off_type: u32,
    judged: u32,
    method: &'static str,
    level: f64,
    rungs: Vec<RungObject>,
}

#[derive(Serialize)]
struct RungObject {
    rung: String,
    count: u32,
    between: u32,
    share: Option<f64>,
    low: f64,
    high: f64,
    at_or_above: AtOrAboveObject,
}

#[derive(Serialize)]
struct AtOrAboveObject {
    sure: u32,
    undecided: u32,
    low: f64,
    high: f64,
}

pub(super) fn mix(mix: &GradeMix) -> MixObject {
    MixObject {
        n: mix.n,
        left_out: mix.left_out.clone(),
        off_type: mix.off_type,
        judged: mix.judged(),
        method: METHOD,
        level: LEVEL,
        rungs: mix.rungs.iter().map(rung).collect(),
    }
}

fn rung(row: &RungShare) -> RungObject {
    let AtOrAbove {
        sure,
        undecided,
        low,
        high,
    } = row.at_or_above;
    RungObject {
        rung: row.rung.to_string(),
        count: row.count,
        between: row.between,
        share: row.share.map(|share| round(share, 4)),
        low: round(row.low, 4),
        high: round(row.high, 4),
        at_or_above: AtOrAboveObject {
            sure,
            undecided,
            low: round(low, 4),
            high: round(high, 4),
        },
    }
}
