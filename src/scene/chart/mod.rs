//! The 24-patch chart: found at any turn and read, or refused with a reason.
//!
//! Patches are flat areas, about square, of like size, linked to neighbours at a common pitch; the published colours tell
//! which is which. The chart's plane is then known, and with it every patch that is hidden, under glare or in shadow.

mod flat;
mod lattice;
mod layout;
mod perspective;
pub mod published;
pub mod reading;
mod refine;

use super::grid::Grid;
use flat::flat_squares;
use lattice::lattices;
use layout::{Layout, layout};
use perspective::Perspective;
use published::{COLUMNS, ChartSet, PATCHES, ROWS};
pub use reading::PatchReading;

/// Where a chart lies.
#[derive(Debug, Clone, Copy)]
pub(super) struct ChartPlace(Perspective);

/// A chart in the picture that it was read in.
#[derive(Debug, Clone)]
pub(super) struct ChartSeen {
    /// Corners around the chart, pixels: the corner beyond the first patch of the coloured rows, then along
    /// the six patches, then around to the white end of the neutral row.
    pub corners: [[f32; 2]; 4],
    /// Pixels to one pitch at the chart's middle.
    pub pitch: f64,
    /// Light of the patches, row by row.
    pub patches: [PatchReading; PATCHES],
    /// Patches of which not all is in the picture.
    pub outside: usize,
}

/// Frame beyond the outer patches' centres, in pitches (common charts: half a patch and a narrow border).
const BORDER: f64 = 0.56;
/// Lattices that are held against the published colours: a chart is among the largest.
const MOST_TRIED: usize = 12;
/// How far a square's middle may lie from its patch's, in pitches: others are cut by glare or shadow.
const OFF_CENTRE: f64 = 0.1;

/// Where a chart lies on a picture `times` as fine as `planes` (linear light); `None` where there is none.
pub(super) fn find_chart(planes: &[Grid; 3], times: usize) -> Option<ChartPlace> {
    let flats = flat_squares(planes);
    let published = ChartSet::Since2014.linear();
    let lit: Vec<[f64; 3]> = flats
        .iter()
        .map(|f| std::array::from_fn(|c| middle_light(&planes[c], f.x, f.y).max(0.0).sqrt()))
        .collect();
    let best = lattices(&flats)
        .iter()
        .take(MOST_TRIED)
        .filter_map(|places| layout(places, &flats, &lit, &published))
        .max_by(|a, b| worth(a).total_cmp(&worth(b)))?;
    plane_of(&best, |i| {
        [flats[i].x, flats[i].y].map(|v| (f64::from(v) + 0.5) * times as f64 - 0.5)
    })
    .map(ChartPlace)
}

/// The chart at a place found before, on the planes of the finer picture.
pub(super) fn read_chart(planes: [&Grid; 3], place: ChartPlace) -> ChartSeen {
    seen(planes, &refine::refined(planes, place.0))
}

/// Many squares that fit well.
fn worth(layout: &Layout) -> f64 {
    layout.patches.len() as f64 * (0.15 - layout.misfit)
}

/// Light about a square's middle.
fn middle_light(plane: &Grid, x: f32, y: f32) -> f64 {
    let mut sum = 0.0;
    for k in 0..9 {
        let at = plane.at(x + (k % 3) as f32 - 1.0, y + (k / 3) as f32 - 1.0);
        sum += f64::from(at.unwrap_or(0.0));
    }
    sum / 9.0
}

/// The chart's plane through the squares' middles, squares off their places left out.
fn plane_of(layout: &Layout, middle: impl Fn(usize) -> [f64; 2]) -> Option<Perspective> {
    let mut pairs: Vec<([f64; 2], [f64; 2])> = layout
        .patches
        .iter()
        .map(|(i, at)| (at.map(f64::from), middle(*i)))
        .collect();
    let mut map = Perspective::fit(&pairs)?;
    for _ in 0..2 {
        let pitch = map.pitch(2.5, 1.5);
        let off = |(place, point): &([f64; 2], [f64; 2])| {
            let at = map.at(place[0], place[1]);
            (at[0] - point[0]).hypot(at[1] - point[1]) / pitch
        };
        let kept: Vec<_> = pairs
            .iter()
            .filter(|p| off(p) < OFF_CENTRE)
            .copied()
            .collect();
        if kept.len() == pairs.len() || kept.len() < 6 {
            break;
        }
        map = Perspective::fit(&kept)?;
        pairs = kept;
    }
    Some(map)
}

/// The chart as the fine picture shows it.
fn seen(fine: [&Grid; 3], map: &Perspective) -> ChartSeen {
    let (right, bottom) = ((COLUMNS - 1) as f64 + BORDER, (ROWS - 1) as f64 + BORDER);
    let corners = [
        (-BORDER, -BORDER),
        (right, -BORDER),
        (right, bottom),
        (-BORDER, bottom),
    ]
    .map(|(c, r)| map.at(c, r).map(|v| v as f32));
    let inside =
        |[x, y]: [f64; 2]| x >= 0.0 && y >= 0.0 && x < fine[0].w as f64 && y < fine[0].h as f64;
    let is_outside = |k: &usize| {
        let (c, r) = ((k % COLUMNS) as f64, (k / COLUMNS) as f64);
        [(-0.4, -0.4), (0.4, -0.4), (0.4, 0.4), (-0.4, 0.4)]
            .iter()
            .any(|(dc, dr)| !inside(map.at(c + dc, r + dr)))
    };
    ChartSeen {
        corners,
        pitch: map.pitch(2.5, 1.5),
        patches: reading::read_patches(fine, map),
        outside: (0..PATCHES).filter(is_outside).count(),
    }
}
