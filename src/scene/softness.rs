//! Whether anything on the floor has sharp edges at all: blur is seen here even where no animal can be found for it.

use super::edges::{DIRECTIONS, EdgeWidths, summary, width_along};
use super::grid::Grid;

/// Adult body length that a floor of known scale is judged by, mm, and its share of the grid's longer side where the scale
/// is unknown (cups fill most of the frame). An eighth of it is the body unit.
const ADULT_MM: f64 = 25.0;
const ADULT_SHARE: f32 = 0.2;
/// Least step of light (natural log) over a body unit, so that shade is not taken for a blurred animal.
const LEAST_RISE: f32 = 0.16;
/// Edges that are looked at, steepest first.
const MOST_EDGES: usize = 500;

/// Widths, in body units, of the steepest edges on the floor (1 in `floor`, pixels of `light`), on a grid `k` times as
/// coarse; `None` where hardly anything stands out. `px_per_mm` is of the pixels of `light`.
pub(super) fn softness(
    light: &Grid,
    floor: &[u8],
    k: usize,
    px_per_mm: Option<f64>,
) -> Option<EdgeWidths> {
    let grid = light.reduced(k);
    let longer = grid.w.max(grid.h) as f32;
    let length = px_per_mm.map_or(ADULT_SHARE * longer, |s| (s * ADULT_MM) as f32 / k as f32);
    let unit = (length / 8.0).clamp(3.0, 40.0);
    let mut widths: [Vec<f32>; DIRECTIONS] = Default::default();
    let inside = |x: usize, y: usize| floor[(y * k + k / 2) * light.w + x * k + k / 2] > 0;
    for (x, y, normal) in steepest(&grid, &inside, unit) {
        let at = |x: f32, y: f32| {
            grid.at(
                x.clamp(0.0, grid.w as f32 - 1.0),
                y.clamp(0.0, grid.h as f32 - 1.0),
            )
            .unwrap_or(0.0)
        };
        if let Some((width, direction)) = width_along(at, [x as f32, y as f32], normal, unit) {
            widths[direction].push(width);
        }
    }
    let found = summary(&mut widths)?;
    Some(EdgeWidths {
        width_px: found.width_px / f64::from(unit),
        ..found
    })
}

/// Places where light rises most along its own direction, steepest first, with that direction.
fn steepest(
    grid: &Grid,
    inside: &impl Fn(usize, usize) -> bool,
    unit: f32,
) -> Vec<(usize, usize, [f32; 2])> {
    let (w, h) = (grid.w, grid.h);
    if w < 8 || h < 8 {
        return Vec::new();
    }
    let smooth = grid.clone().log(0.01).blurred(1);
    let slope = |x: usize, y: usize| {
        let i = y * w + x;
        [
            smooth.px[i + 1] - smooth.px[i - 1],
            smooth.px[i + w] - smooth.px[i - w],
        ]
        .map(|d| 0.5 * d)
    };
    let mut places = Vec::new();
    for y in 2..h - 2 {
        for x in (2..w - 2).filter(|x| inside(*x, y)) {
            let [gx, gy] = slope(x, y);
            let steep = gx.hypot(gy);
            if steep * unit < LEAST_RISE {
                continue;
            }
            let normal = [gx / steep, gy / steep];
            let (dx, dy) = (normal[0].round() as isize, normal[1].round() as isize);
            let beside = |way: isize| {
                let [bx, by] = slope(
                    (x as isize + way * dx) as usize,
                    (y as isize + way * dy) as usize,
                );
                bx.hypot(by)
            };
            if steep >= beside(1) && steep > beside(-1) {
                places.push((steep, x, y, normal));
            }
        }
    }
    places.sort_by(|a, b| b.0.total_cmp(&a.0).then((a.2, a.1).cmp(&(b.2, b.1))));
    places.truncate(MOST_EDGES);
    places
        .into_iter()
        .map(|(_, x, y, normal)| (x, y, normal))
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Dark discs on a white floor, their edge rising over `soft` pixels.
    fn discs(soft: f32) -> Grid {
        let (w, h) = (320, 240);
        let px = (0..w * h)
            .map(|i| {
                let (x, y) = ((i % w) as f32, (i / w) as f32);
                let away = [[80.0, 80.0], [220.0, 90.0], [150.0, 180.0]]
                    .map(|[cx, cy]: [f32; 2]| (x - cx).hypot(y - cy));
                let rim = away.into_iter().fold(f32::INFINITY, f32::min) - 20.0;
                0.2 + 0.5 * (rim / soft + 0.5).clamp(0.0, 1.0)
            })
            .collect();
        Grid { w, h, px }
    }

    #[test]
    fn wider_edges_are_softer() {
        let of = |soft| {
            softness(&discs(soft), &vec![1; 320 * 240], 1, None)
                .expect("edges")
                .width_px
                * 8.0
        };
        let (sharp, soft) = (of(1.0), of(6.0));
        assert!(sharp < 2.2 && (4.0..9.0).contains(&soft), "{sharp} {soft}");
    }

    #[test]
    fn bare_floor_has_no_edges() {
        let px = (0..320 * 240)
            .map(|i| 0.5 + 0.3 * (i % 320) as f32 / 320.0)
            .collect();
        assert_eq!(
            softness(&Grid { w: 320, h: 240, px }, &vec![1; 320 * 240], 1, None),
            None
        );
    }
}
