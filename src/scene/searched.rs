//! Where animals may lie: inside the cup, or on the whole bare ground, without borders and chart.

use super::cup::shape::Outline;

/// Light below which a pixel at the edge of the frame belongs to a black border (linear).
const BORDER_BELOW: f32 = 0.004;
/// Animals lean on the wall just beyond the floor's edge (measured on rendered cups: bodies reach 1.00 of the floor).
const BEYOND_FLOOR: f32 = 1.06;

/// Pixels of a black border: dark ones that hang together with the edge of the frame along straight wedges.
/// `light` is the linear luminance. Only wedges that keep to the frame's edge count, so a dark table stays.
pub(super) fn black_border(light: &[f32], w: usize, h: usize) -> Vec<bool> {
    let mut border = vec![false; w * h];
    let deepest = (w.max(h) / 12).max(1);
    let mut eat = |start: usize, pace: isize, steps: usize| {
        let mut at = start as isize;
        for _ in 0..steps.min(deepest) {
            if light[at as usize] >= BORDER_BELOW {
                break;
            }
            border[at as usize] = true;
            at += pace;
        }
    };
    for x in 0..w {
        eat(x, w as isize, h);
        eat((h - 1) * w + x, -(w as isize), h);
    }
    for y in 0..h {
        eat(y * w, 1, w);
        eat(y * w + w - 1, -1, w);
    }
    border
}

/// Marks the pixels inside a four-sided figure, widened by `margin` pixels.
pub(super) fn bar_quad(barred: &mut [bool], w: usize, corners: &[[f32; 2]; 4], margin: f32) {
    let h = barred.len() / w.max(1);
    let turn: f32 = (0..4)
        .map(|k| cross(corners[k], corners[(k + 1) % 4]))
        .sum::<f32>()
        .signum();
    for y in 0..h {
        for x in 0..w {
            let p = [x as f32, y as f32];
            let inside = (0..4).all(|k| {
                let (a, b) = (corners[k], corners[(k + 1) % 4]);
                let along = [b[0] - a[0], b[1] - a[1]];
                let len = along[0].hypot(along[1]).max(1e-6);
                turn * cross(along, [p[0] - a[0], p[1] - a[1]]) / len > -margin
            });
            barred[y * w + x] |= inside;
        }
    }
}

fn cross(a: [f32; 2], b: [f32; 2]) -> f32 {
    a[0] * b[1] - a[1] * b[0]
}

/// The mask: inside the cup and a little beyond the floor's edge, or everywhere when there is no cup, never on barred pixels.
pub(super) fn searched(cup: Option<&Outline>, barred: &[bool], w: usize) -> Vec<u8> {
    let Some(floor) = cup else {
        return barred.iter().map(|b| u8::from(!b)).collect();
    };
    let wide = floor.scaled(BEYOND_FLOOR);
    let mut mask = vec![0u8; barred.len()];
    let rows = mask
        .chunks_exact_mut(w.max(1))
        .zip(barred.chunks_exact(w.max(1)));
    for (y, (row, barred)) in rows.enumerate() {
        let [from, to] = wide.columns(y as f32, w);
        for (out, bar) in row[from..to].iter_mut().zip(&barred[from..to]) {
            *out = u8::from(!bar);
        }
    }
    mask
}
