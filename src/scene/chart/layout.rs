//! Which square is which patch: the published colours tell turn and place, also where only a part of the chart is seen.

use super::flat::Flat;
use super::lattice::{LEAST_LINKED, Place};
use super::published::{COLUMNS, PATCHES, ROWS};

/// Squares told apart: the patch (column, row) of each, and how badly the colours fit.
#[derive(Debug, Clone)]
pub(super) struct Layout {
    /// Number of the flat square, column and row of its patch.
    pub patches: Vec<(usize, [i32; 2])>,
    /// Mean difference of square-rooted light over the squares, white = 1.
    pub misfit: f64,
}

/// A single square counts at most so much: one under glare must not decide.
const MOST_MISFIT: f64 = 0.25;
/// Difference at which a square counts half in fitting the light's colour.
const HALF_MISFIT: f64 = 0.08;
/// Largest misfit of a chart. Measured: charts under 2500 to 9000 K through cameras of other primaries 0.02 to 0.07,
/// other grids of squares from 0.12.
const FITS: f64 = 0.085;
/// Any other turn or place must fit worse by this factor.
const PLAINLY: f64 = 1.25;
/// Share of a lattice's squares that must lie on the chart.
const MOSTLY: f64 = 0.75;

/// The layout of a lattice; `None` where the colours are not those of the chart. `lit` is the square-rooted light of each flat square.
pub(super) fn layout(
    places: &[Place],
    flats: &[Flat],
    lit: &[[f64; 3]],
    published: &[[f64; 3]; PATCHES],
) -> Option<Layout> {
    debug_assert_eq!(flats.len(), lit.len());
    let mut all: Vec<Layout> = (0..4)
        .flat_map(|quarter| placings(&turned(places, quarter)))
        .filter(|patches| patches.len() >= LEAST_LINKED)
        .filter(|patches| patches.len() as f64 >= MOSTLY * places.len() as f64)
        .map(|patches| Layout {
            misfit: misfit(&patches, lit, published),
            patches,
        })
        .collect();
    all.sort_by(|a, b| a.misfit.total_cmp(&b.misfit));
    let next = all.get(1).map_or(f64::INFINITY, |l| l.misfit);
    let best = all.into_iter().next()?;
    (best.misfit < FITS && next > PLAINLY * best.misfit).then_some(best)
}

/// The places turned by quarters, counted from their left and upper ends.
fn turned(places: &[Place], quarter: usize) -> Vec<(usize, [i32; 2])> {
    let turn = |[c, r]: [i32; 2]| match quarter {
        0 => [c, r],
        1 => [-r, c],
        2 => [-c, -r],
        _ => [r, -c],
    };
    let all: Vec<(usize, [i32; 2])> = places.iter().map(|p| (p.flat, turn(p.at))).collect();
    let low = |k: usize| all.iter().map(|(_, at)| at[k]).min().unwrap_or(0);
    let (left, top) = (low(0), low(1));
    all.into_iter()
        .map(|(i, at)| (i, [at[0] - left, at[1] - top]))
        .collect()
}

/// All ways to lay them on the chart; squares beside it are left out.
fn placings(places: &[(usize, [i32; 2])]) -> Vec<Vec<(usize, [i32; 2])>> {
    let span = |k: usize| places.iter().map(|(_, at)| at[k] + 1).max().unwrap_or(0);
    let shifts = |size: i32, span: i32| (size - span).min(0)..=(size - span).max(0);
    let on_chart =
        |[c, r]: [i32; 2]| (0..COLUMNS as i32).contains(&c) && (0..ROWS as i32).contains(&r);
    shifts(COLUMNS as i32, span(0))
        .flat_map(|dc| shifts(ROWS as i32, span(1)).map(move |dr| [dc, dr]))
        .map(|[dc, dr]| {
            places
                .iter()
                .map(|(i, [c, r])| (*i, [c + dc, r + dr]))
                .filter(|(_, at)| on_chart(*at))
                .collect()
        })
        .collect()
}

/// Mean difference between what is seen and the published colours under a light of any colour.
fn misfit(patches: &[(usize, [i32; 2])], lit: &[[f64; 3]], published: &[[f64; 3]; PATCHES]) -> f64 {
    let pairs: Vec<([f64; 3], [f64; 3])> = patches
        .iter()
        .map(|(i, at)| {
            let patch = published[number(*at)].map(|v| v.max(0.0).sqrt());
            (lit[*i], patch)
        })
        .collect();
    let mut weights = vec![1.0; pairs.len()];
    let mut apart = vec![0.0; pairs.len()];
    for _ in 0..4 {
        let gain = gains(&pairs, &weights);
        for (k, (seen, patch)) in pairs.iter().enumerate() {
            let sum: f64 = (0..3).map(|c| (seen[c] / gain[c] - patch[c]).abs()).sum();
            apart[k] = sum / 3.0;
            weights[k] = 1.0 / (1.0 + (apart[k] / HALF_MISFIT).powi(2));
        }
    }
    apart.iter().map(|e| e.min(MOST_MISFIT)).sum::<f64>() / pairs.len().max(1) as f64
}

/// Gain of each channel, square-rooted light.
fn gains(pairs: &[([f64; 3], [f64; 3])], weights: &[f64]) -> [f64; 3] {
    std::array::from_fn(|c| {
        let (mut both, mut own) = (0.0, 0.0);
        for ((seen, patch), weight) in pairs.iter().zip(weights) {
            both += weight * seen[c] * patch[c];
            own += weight * patch[c] * patch[c];
        }
        (both / f64::max(own, 1e-9)).max(1e-3)
    })
}

/// Number of a patch, row by row.
fn number([column, row]: [i32; 2]) -> usize {
    row as usize * COLUMNS + column as usize
}
